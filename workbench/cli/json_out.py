"""Print an answer as JSON."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from workbench.cli.screen import STEERING

if TYPE_CHECKING:
    from workbench.steps.json_values import JsonObject


def print_json(answer: JsonObject) -> None:
    """Print one JSON object on standard output."""
    from workbench.steps.answers import as_text

    # An encoding that lacks a sign must not change a name: then every such sign is escaped.
    is_unicode = (sys.stdout.encoding or "utf-8").lower().replace("-", "").startswith("utf")
    written = as_text(answer, ascii_only=not is_unicode)
    # Within JSON, what the screen would show in another way is written as JSON escapes it.
    print(STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", written))
