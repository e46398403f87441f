"""Claims of one thing (a setting, an outcome) by place: each key's own, or a table's together.

Nearly all keys of a large table are claimed by that table alone. They lie in arrays; only a key
that a second entry speaks of gets claims of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar, cast

import numpy as np

from workbench.files.merging import Claims

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator

    from numpy.typing import NDArray

    from workbench.files.journal import Stamped

Said = TypeVar("Said", bound="Hashable")
Key = TypeVar("Key")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chunk(Generic[Said]):
    """What one entry that settles nothing says of ascending keys (n,).

    `values` (n,) are numbers, or words as objects; `marks` (n,) stand beside readings. `live` are
    the keys that no other entry has spoken of; it alone changes.
    """

    stamped: Stamped
    keys: NDArray[np.int64]
    values: NDArray[np.float64] | NDArray[np.object_]
    marks: NDArray[np.int64] | None
    live: NDArray[np.bool_]
    places: dict[int, int] = field(
        default_factory=dict
    )  # of the keys, when one is first asked for

    def at(self, key: int) -> int | None:
        """Return the place of a live key, None if it is none."""
        if not self.places:
            self.places.update(zip(self.keys.tolist(), range(self.keys.size), strict=True))
        place = self.places.get(key)
        return place if place is not None and self.live[place] else None

    def claims(self, place: int) -> Claims[Said]:
        """Return the claims of one key: this entry's alone."""
        found: Claims[Said] = Claims()
        found.add(self.stamped, self._said(place), settles=False)
        return found

    def _said(self, place: int) -> Said:
        value = self.values[place]
        if self.marks is not None:
            return cast("Said", (float(value), int(self.marks[place])))
        if isinstance(value, float):
            return cast("Said", None if np.isnan(value) else float(value))
        return cast("Said", value)


@dataclass(slots=True)
class Pile(Generic[Said]):
    """All claims of one thing by key."""

    single: dict[int, Claims[Said]] = field(default_factory=dict)
    chunks: list[Chunk[Said]] = field(default_factory=list)

    def get(self, key: int) -> Claims[Said] | None:
        """Return the claims of a key, None if nobody speaks of it."""
        found = self.single.get(key)
        if found is None:
            for chunk in self.chunks:
                place = chunk.at(key)
                if place is not None:
                    return chunk.claims(place)
        return found

    def own(self, key: int) -> Claims[Said]:
        """Return the claims of a key as its own, to add to them."""
        found = self.single.get(key)
        if found is not None:
            return found
        for chunk in self.chunks:
            place = chunk.at(key)
            if place is not None:
                chunk.live[place] = False
                found = chunk.claims(place)
                break
        self.single[key] = found = Claims() if found is None else found
        return found

    def are_claimed(self, keys: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return of which keys (n,) anybody speaks."""
        claimed = np.zeros(keys.size, dtype=np.bool_)
        if self.single:
            claimed |= np.isin(keys, np.fromiter(self.single, np.int64, len(self.single)))
        for chunk in self.chunks:
            claimed |= np.isin(keys, chunk.keys[chunk.live])
        return claimed

    def keys(self) -> NDArray[np.int64]:
        """Return the keys of which anybody speaks, ascending."""
        single = np.fromiter(self.single, np.int64, len(self.single))
        return np.sort(np.concatenate([single, *(one.keys[one.live] for one in self.chunks)]))


@dataclass(frozen=True, slots=True)
class Claimed(Mapping[Key, Claims[Said]]):
    """Claims by key, in piles by thing; `split` and `joined` say how a key is one."""

    split: Callable[[Key], tuple[str, int]]
    joined: Callable[[str, NDArray[np.int64]], list[Key]]
    piles: dict[str, Pile[Said]] = field(default_factory=dict)

    def pile(self, thing: str) -> Pile[Said]:
        """Return the pile of a thing, a new one if there is none."""
        found = self.piles.get(thing)
        if found is None:
            found = self.piles[thing] = Pile()
        return found

    def find(self, key: Key) -> Claims[Said] | None:
        """Return the claims of a key, None if nobody speaks of it."""
        thing, number = self.split(key)
        pile = self.piles.get(thing)
        return None if pile is None else pile.get(number)

    def __getitem__(self, key: Key) -> Claims[Said]:
        found = self.find(key)
        if found is None:
            raise KeyError(key)
        return found

    def __iter__(self) -> Iterator[Key]:
        for thing, pile in self.piles.items():
            yield from self.joined(thing, pile.keys())

    def __len__(self) -> int:
        return sum(pile.keys().size for pile in self.piles.values())

    def disputable(self) -> list[Key]:
        """Return the keys of which more than one entry may speak."""
        return [
            key
            for thing, pile in self.piles.items()
            for key in self.joined(thing, np.fromiter(pile.single, np.int64, len(pile.single)))
        ]
