"""Make the made-up records importable by the tests of what happened."""

import importlib.util
import sys
from pathlib import Path

PLACE = Path(__file__).with_name("made_up_runs.py")

if "made_up_runs" not in sys.modules:
    spec = importlib.util.spec_from_file_location("made_up_runs", PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules["made_up_runs"] = module
    spec.loader.exec_module(module)
