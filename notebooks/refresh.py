"""Run every notebook again and store its outputs, so that a second run changes nothing.

Run as `python notebooks/refresh.py`, for a few with their names after it (`evidence`); with
`--check` it says whether a refresh is due and runs nothing.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
from nbclient import NotebookClient

if TYPE_CHECKING:
    from nbformat import NotebookNode

HERE = Path(__file__).parent
TIMEOUT_SECONDS = 300
KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}


def refreshed(notebook: NotebookNode) -> NotebookNode:
    """Return the notebook with its cells run again and nothing in it that varies by itself."""
    notebook.metadata = nbformat.from_dict({"kernelspec": KERNEL})
    for number, cell in enumerate(notebook.cells, start=1):
        cell.id = f"cell-{number:02d}"
        cell.metadata = nbformat.from_dict({})
    client = NotebookClient(
        notebook,
        timeout=TIMEOUT_SECONDS,
        kernel_name=KERNEL["name"],
        record_timing=False,
        store_widget_state=False,
        coalesce_streams=True,
        resources={"metadata": {"path": str(HERE)}},
    )
    client.execute()
    notebook.metadata = nbformat.from_dict({"kernelspec": KERNEL})
    nbformat.validate(notebook)
    return notebook


def has_outputs(notebook: NotebookNode) -> bool:
    """Return whether every code cell has been run, in order, without an error."""
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    in_order = [cell.execution_count for cell in code] == list(range(1, len(code) + 1))
    kinds = [output.output_type for cell in code for output in cell.outputs]
    return in_order and "error" not in kinds


def chosen(names: list[str]) -> list[Path]:
    """Return the notebooks of these names, with or without ending; all if there are none."""
    known = {path.stem: path for path in sorted(HERE.glob("*.ipynb"))}
    unknown = [name for name in names if name.removesuffix(".ipynb") not in known]
    if unknown:
        sys.exit(f"There is no notebook {unknown[0]!r}. Known: {', '.join(known)}")
    return [known[name.removesuffix(".ipynb")] for name in names] or list(known.values())


def main(arguments: list[str]) -> int:
    """Refresh the notebooks named, or all; with --check say which have no complete outputs."""
    stale = []
    for path in chosen([one for one in arguments if one != "--check"]):
        notebook = nbformat.read(path, as_version=4)
        if "--check" in arguments:
            stale += [] if has_outputs(notebook) else [path.name]
        else:
            nbformat.write(refreshed(notebook), path)
            sys.stdout.write(f"{path.name}: run and stored\n")
    for name in stale:
        sys.stdout.write(f"{name}: not run from top to bottom; run notebooks/refresh.py\n")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
