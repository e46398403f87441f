"""Words in a row: lists, plurals and the first letter of a sentence, names left as they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def listed(names: Sequence[str], *, most: int = 4) -> str:
    """Return names as "a, b and c"; beyond `most`, how many more there are.

    >>> listed(["bead volume", "speed", "height"]), listed(list("abcdef"), most=3)
    ('bead volume, speed and height', 'a, b, c and 3 more')
    """
    shown = list(names[:most])
    if len(names) > most:
        shown.append(f"{len(names) - most} more")
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} and {shown[-1]}"


def counted(number: int, word: str, plural: str = "") -> str:
    """Return a count with its word, such as "1 run" or "12 runs".

    >>> counted(1, "run"), counted(3, "run")
    ('1 run', '3 runs')
    """
    return f"{number} {word if number == 1 else plural or word + 's'}"


def spelled(number: int) -> str:
    """Return a small count as a word, a large one as digits.

    >>> spelled(3), spelled(24)
    ('three', '24')
    """
    return NUMBERS[number] if 0 <= number < len(NUMBERS) else str(number)


def sentence(words: str) -> str:
    """Return words with a capital first letter, unless the first word has its own (pH, mRNA).

    >>> sentence("bead volume is open"), sentence("pH is open")
    ('Bead volume is open', 'pH is open')
    """
    first = words.split(" ", 1)[0]
    return words[:1].upper() + words[1:] if first.islower() else words
