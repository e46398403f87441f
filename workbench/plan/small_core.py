"""Small cores of composite plans: products of two apart, though mixed with main effects."""

from __future__ import annotations

from itertools import combinations

# Most columns of 2^r runs whose pairwise products all differ: the lengths of binary linear codes
# of distance five with r checks, plus one (from memory of the coding literature). Beyond them a
# search would only take time.
MOST = {2: 3, 3: 4, 4: 6, 5: 7, 6: 9, 7: 12}


def small_core(k: int, runs: int) -> tuple[int, ...] | None:
    """Return columns of k factors in `runs` runs with all products of two in columns apart.

    A product may share its column with a main effect, which axial runs part from it (Hartley
    1959, Biometrics 15, 611-624). None if there are no such columns; the basic ones come first.
    """
    n_basic = runs.bit_length() - 1
    if runs != 2**n_basic or not n_basic < k <= MOST.get(n_basic, 0):
        return None
    basic = tuple(1 << i for i in range(n_basic))
    taken = frozenset(a ^ b for a, b in combinations(basic, 2))
    return _grown(basic, taken, (k, runs))


def _grown(
    columns: tuple[int, ...], taken: frozenset[int], size: tuple[int, int]
) -> tuple[int, ...] | None:
    """Return the columns with more added up to k of them, `taken` by products; None if stuck."""
    k, runs = size
    if len(columns) == k:
        return columns
    n_basic = runs.bit_length() - 1
    last = columns[-1] if len(columns) > n_basic else 0
    for new in range(last + 1, runs):
        products = {new ^ column for column in columns}
        if new in columns or not taken.isdisjoint(products):
            continue
        found = _grown((*columns, new), taken | products, size)
        if found is not None:
            return found
    return None
