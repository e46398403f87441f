"""The text of a model: its own small grammar, read letter by letter and never evaluated.

model   = preset | term ("," term)*
term    = power (("*" | "×") power)*
power   = name [("^" whole number) | raised digits]
name    = letters, digits and underscores, or anything in ' or " (a quote inside is doubled)
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING

from workbench.define.terms import PRESETS, Terms, preset, sorted_terms, term, with_heredity
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from workbench.define.factors import Factor
    from workbench.define.terms import Term

RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹"
HIGHEST_POWER = 4  # a polynomial above this bends between settings in ways no small plan can check
HIGHEST_ORDER = (
    10  # heredity adds every divisor of a term, so their number doubles with each factor
)

_TOKEN = re.compile(
    rf"""\s*(?:
        (?P<quoted>'(?:[^']|'')*'|"(?:[^"]|"")*")
      | (?P<name>[^\W{RAISED}][^\W{RAISED}]*(?:[\u0300-\u036f]+[^\W{RAISED}]*)*)
      | (?P<raised>[{RAISED}]+)
      | (?P<sign>[,*×^])
      | (?P<other>\S)
    )""",
    re.VERBOSE,
)
_BARE = re.compile(rf"[^\W\d{RAISED}][^\W{RAISED}]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Token:
    kind: str
    text: str
    at: int


class _Reader:
    """Takes tokens one by one; knows the text for the sake of its messages."""

    def __init__(self, text: str, factors: tuple[Factor, ...]) -> None:
        self.text = text
        self.factors = factors
        self.tokens = tuple(_tokens(text))
        self.next = 0

    def peek(self) -> _Token:
        return self.tokens[self.next]

    def take(self) -> _Token:
        token = self.tokens[self.next]
        self.next += 1
        return token

    def takes(self, *signs: str) -> bool:
        """Return whether one of the signs stood next, and step over it."""
        token = self.peek()
        found = token.kind == "sign" and token.text in signs
        self.next += found
        return found

    def refuse(
        self, token: _Token, wrong: str, *, next_step: str, why: str = ""
    ) -> DefinitionError:
        return DefinitionError(
            wrong,
            why=why or "A model is a list of terms such as a, b, a * b, a^2.",
            next_step=next_step,
            place=f"model {self.text!r}, character {token.at + 1}",
        )


def parse_terms(text: str, factors: Iterable[Factor], *, heredity: bool = True) -> Terms:
    """Return the terms that a preset or a list such as `a, b, a * b, a^2` asks for.

    A term that stands twice counts once. With `heredity` every term brings its parents along
    (`a * b` brings `a` and `b`). A preset wins over a factor of its name: quote the factor.

    Raises
    ------
    DefinitionError
        If the text is no model of these factors; the place says at which character.

    Examples
    --------
    >>> from workbench.define.factors import Continuous
    >>> dwell = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1)
    >>> drop = Continuous(name="drop volume", low=2, high=6, unit="µL", setting_sd=0.2)
    >>> print(parse_terms("'drop volume' * dwell, dwell^2", (drop, dwell)))
    drop volume, dwell, drop volume × dwell, dwell²
    """
    chosen = tuple(factors)
    asked = text.strip()
    if asked in PRESETS:
        return preset(asked, chosen)
    reader = _Reader(text, chosen)
    found = {_term(reader)}
    while reader.takes(","):
        found.add(_term(reader))
    if reader.peek().kind != "end":
        raise _left_over(reader)
    listed = Terms(terms=sorted_terms(found, chosen), asked=asked)
    return with_heredity(listed, chosen) if heredity else listed


def terms_text(terms: Iterable[Term]) -> str:
    """Return terms as text that `parse_terms` reads back, names quoted where they must be."""
    return ", ".join(
        " * ".join(
            _quoted(name) + (f"^{power}" if power > 1 else "") for name, power in one.powers
        )
        for one in terms
    )


def _quoted(name: str) -> str:
    if _BARE.fullmatch(name) and name not in PRESETS:
        return name
    return "'" + name.replace("'", "''") + "'"


def _tokens(text: str) -> list[_Token]:
    found = [
        _Token(kind=str(m.lastgroup), text=m[str(m.lastgroup)], at=m.start(str(m.lastgroup)))
        for m in _TOKEN.finditer(text)
    ]
    return [*found, _Token(kind="end", text="", at=len(text))]


def _term(reader: _Reader) -> Term:
    start = reader.peek()
    powers = [_power(reader)]
    while reader.takes("*", "×"):
        powers.append(_power(reader))
    order = sum(power for _, power in powers)
    if order > HIGHEST_ORDER:
        raise reader.refuse(
            start,
            f"The term has order {order}.",
            why="Heredity brings every divisor of it along, more terms than a trial has runs.",
            next_step=f"Stay at order {HIGHEST_ORDER} or below.",
        )
    try:
        return term(*powers, factors=reader.factors)
    except DefinitionError as problem:
        raise problem.at(f"model {reader.text!r}, character {start.at + 1}") from None


def _power(reader: _Reader) -> tuple[str, int]:
    name = _name(reader)
    token = reader.peek()
    if token.kind == "raised":
        reader.take()
        return name, _whole(reader, token, "".join(str(RAISED.index(d)) for d in token.text))
    if reader.takes("^"):
        token = reader.take()
        return name, _whole(reader, token, token.text)
    return name, 1


def _whole(reader: _Reader, token: _Token, digits: str) -> int:
    is_number = re.fullmatch(r"[0-9]{1,3}", digits) is not None
    if is_number and 1 <= int(digits) <= HIGHEST_POWER:
        return int(digits)
    raise reader.refuse(
        token,
        f"{digits!r} is no power that a term can have.",
        why=f"Powers are whole numbers from 1 to {HIGHEST_POWER}; the mean is always in a model.",
        next_step="Write it as in dwell^2.",
    )


def _name(reader: _Reader) -> str:
    token = reader.take()
    if token.kind == "quoted":
        quote = token.text[0]
        name = token.text[1:-1].replace(quote * 2, quote)
        return _known(reader, token, name)
    if token.kind == "name":
        return _known(reader, token, token.text)
    raise _no_name(reader, token)


def _known(reader: _Reader, token: _Token, name: str) -> str:
    names = [factor.name for factor in reader.factors]
    if name in names:
        return name
    # A letter with an accent has two spellings in Unicode that look alike.
    alike = [
        n for n in names if unicodedata.normalize("NFC", n) == unicodedata.normalize("NFC", name)
    ]
    if len(alike) == 1:
        return alike[0]
    raise _unknown(reader, token, name)


def _unknown(reader: _Reader, token: _Token, name: str) -> DefinitionError:
    names = [factor.name for factor in reader.factors]
    here = reader.text[token.at :]
    bare = [n for n in names if not _BARE.fullmatch(n) and here.startswith(n)]
    if bare:
        return reader.refuse(
            token,
            f"The name {bare[0]!r} stands without quotes.",
            why="A name with a blank or a sign in it cannot be told from two names.",
            next_step=f"Write {_quoted(bare[0])}.",
        )
    if name in ("0", "1"):
        return reader.refuse(
            token,
            f"{name!r} is no factor of this trial.",
            why="The mean is in every model.",
            next_step="Leave it out.",
        )
    near = get_close_matches(name, [*names, *PRESETS], n=1)
    hint = f"Did you mean {_suggested(near[0])}? " if near else ""
    return reader.refuse(
        token,
        f"The term names {name!r}, which is no factor of this trial.",
        why="Only factors can stand in a model.",
        next_step=f"{hint}Use {', '.join(map(_quoted, names))}, "
        f"or one of the presets {', '.join(PRESETS)}.",
    )


def _suggested(name: str) -> str:
    return name if name in PRESETS else _quoted(name)


def _no_name(reader: _Reader, token: _Token) -> DefinitionError:
    if token.kind == "other" and token.text in "'\"":
        return reader.refuse(
            token,
            f"The quote {token.text} is not closed.",
            next_step=f"Add {token.text} at the end of the name.",
        )
    if token.kind == "other":
        return _strange_sign(reader, token)
    met = f"{token.text!r} stands" if token.text else "the text ends"
    example = ", ".join(_quoted(factor.name) for factor in reader.factors[:2])
    return reader.refuse(
        token,
        f"A factor's name is missing where {met}.",
        next_step=f"Write names with one sign between two, such as {example or 'a, b'}.",
    )


def _left_over(reader: _Reader) -> DefinitionError:
    token = reader.peek()
    if token.kind == "other" and token.text not in "'\"":
        return _strange_sign(reader, token)
    return reader.refuse(
        token,
        f"{token.text!r} follows a term without a sign between.",
        next_step="Put a comma between two terms, * between the factors of one, and quotes "
        'around a name with blanks or signs, such as "drop volume".',
    )


def _strange_sign(reader: _Reader, token: _Token) -> DefinitionError:
    separators = {"+": "Separate terms by commas.", ":": "Write a product as a * b."}
    return reader.refuse(
        token,
        f"The sign {token.text!r} has no meaning in a model.",
        next_step=separators.get(
            token.text, "Put a name that holds it in quotes, such as 'drop-volume'."
        ),
    )
