"""What JupyterLab shows of a noun: `%load_ext workbench` turns it on."""

from workbench.jupyter.renderers import register

__all__ = ["register"]
