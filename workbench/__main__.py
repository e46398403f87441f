"""Run the command line as `python -m workbench`."""

from __future__ import annotations

import sys

from workbench.cli import main

sys.exit(main())
