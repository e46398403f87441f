"""Make what several tests share importable: the invented bond trial, the bench of the journal."""

import importlib.util
import sys
from pathlib import Path

HERE = Path(__file__).parent
SHARED = {
    "invented_bond": HERE.parent / "steps" / "bond.py",
    "journal_bench": HERE / "journal_bench.py",
}

for name, place in SHARED.items():
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, place)
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
