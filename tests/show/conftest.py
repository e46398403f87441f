"""Make the invented trial importable by the tests beside it."""

import importlib.util
import sys
from pathlib import Path

PLACE = Path(__file__).with_name("invented.py")

if "invented_lid_seal" not in sys.modules:
    spec = importlib.util.spec_from_file_location("invented_lid_seal", PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_lid_seal"] = module
    spec.loader.exec_module(module)
