"""The trial folder on disk: plain text in, plain text out, the whole file or nothing."""

from workbench.files.atomic import write_text_atomically
from workbench.files.demo_data import demo_folder, demo_notebook, read_process
from workbench.files.evidence import published, published_names

# Sorted; one line a name, so that two people can add theirs.
__all__ = [
    "demo_folder",
    "demo_notebook",
    "published",
    "published_names",
    "read_process",
    "write_text_atomically",
]
