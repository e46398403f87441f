"""The one place where text of a user becomes text that a browser or a figure shows as it is."""

from __future__ import annotations

import html
import json
import re

# A figure decodes entities after it has looked for tags, so an entity is shown as its sign. The
# dollar sign is written so too: a pair of them would otherwise be typeset as a formula where a
# notebook has a formula engine loaded.
_BLANKS = re.compile(r"[\s\u2028\u2029]+")


def text(words: object) -> str:
    """Return words with everything escaped that HTML would act on, quotes included.

    >>> text("<b>5 & 6</b>")
    '&lt;b&gt;5 &amp; 6&lt;/b&gt;'
    """
    return html.escape(str(words), quote=True)


def label(words: object) -> str:
    """Return words for a title, tick or note of a figure, where a few tags would be obeyed.

    >>> label("leak <b>rate</b> in $")
    'leak &lt;b&gt;rate&lt;/b&gt; in &#36;'
    """
    flat = _BLANKS.sub(" ", str(words).replace("\u00a0", "\0")).replace("\0", "\u00a0")
    return html.escape(flat, quote=False).replace("$", "&#36;")


def unescape(written: str) -> str:
    """Return the words that `text` or `label` escaped; never into a page without `text`."""
    return html.unescape(written)


def script_json(value: object) -> str:
    r"""Return JSON that can stand inside a script element: no tag can end or open there.

    >>> script_json({"a": "</script>"})
    '{"a":"\\u003c/script\\u003e"}'
    """
    written = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign, code in (("<", "\\u003c"), (">", "\\u003e"), ("&", "\\u0026")):
        written = written.replace(sign, code)
    return written.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def identifier(words: str) -> str:
    """Return words as an id: letters, digits and hyphens, the same for the same words.

    >>> identifier("Peel force (N)")
    'peel-force-n'
    """
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-") or "x"


class Html(str):
    """Text that is markup already: every word of a user in it went through `text`."""

    __slots__ = ()


def cell(value: object) -> str:
    """Return what goes into a page: markup as it is, everything else escaped."""
    return str(value) if isinstance(value, Html) else text(value)
