"""Make the invented trial with an outcome of every kind importable."""

import importlib.util
import sys
from pathlib import Path

PLACE = Path(__file__).parents[1] / "show" / "invented_kinds.py"

if "invented_kinds" not in sys.modules:
    spec = importlib.util.spec_from_file_location("invented_kinds", PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_kinds"] = module
    spec.loader.exec_module(module)
