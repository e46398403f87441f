"""Make invented trials importable: the bond of the run sheet, and one outcome of every kind."""

import importlib.util
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
PLACES = {
    "seal_confirm": TESTS / "steps" / "seal_confirm.py",
    "invented_bond": TESTS / "steps" / "bond.py",
    "invented_kinds": TESTS / "show" / "invented_kinds.py",
    "seal_handover": TESTS / "steps" / "seal_handover.py",
}

for name, place in PLACES.items():
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, place)
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
