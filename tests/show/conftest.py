"""Make the invented trials importable by the tests beside them."""

import importlib.util
import sys
from pathlib import Path

PLACES = {"invented_lid_seal": "invented.py", "invented_kinds": "invented_kinds.py"}

for name, file in PLACES.items():
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(file))
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
