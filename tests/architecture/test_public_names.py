"""A public name is what it says even after every module has been loaded."""

import importlib
import pkgutil
import types

import pytest

import workbench

pytestmark = pytest.mark.architecture

FOLDERS = ("define", "plan", "run", "fit", "decide", "show", "files", "steps", "jupyter")


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_module_hides_a_public_name(folder):
    package = importlib.import_module(f"workbench.{folder}")
    for one in pkgutil.walk_packages(workbench.__path__, "workbench."):
        if not one.name.endswith("__main__"):
            importlib.import_module(one.name)
    hidden = [
        name for name in package.__all__ if isinstance(getattr(package, name), types.ModuleType)
    ]
    assert package.__all__
    assert hidden == []
