"""Which columns are outcomes, which say that a reading is cut off, which repeat another column."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.steps.adopt_censoring import is_cut_off_word
from workbench.steps.adopt_facts import (
    BLOCK_WORDS,
    PART_WORDS,
    are_counts,
    coded_form_of,
    labels_combinations,
)
from workbench.steps.adopt_options import OutcomeWish
from workbench.steps.adopt_sorting import Question, listed

if TYPE_CHECKING:
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_sorting import Sorting

FEW_SETTINGS = 5
CUT_OFF_WORDS = (
    "cens", "censor", "censored", "censoring", "status", "event", "suspended", "unfailed",
)  # fmt: skip
ROUNDING_OF_SHARES = 0.011  # shares written with two places may miss 1 by 0.01


def leave_out_copies(sorting: Sorting) -> None:
    """Leave out columns that are the coded form of another, or mostly empty."""
    numeric = [f for f in sorting.facts.values() if f.numbers is not None]
    for facts in sorting.left():
        original = coded_form_of(facts, numeric)
        if original is not None:
            sorting.take(facts.heading)
            blank = len(facts.texts) - facts.n_filled
            beside = f", {blank} of {len(facts.texts)} cells blank" if blank else ""
            sorting.say(
                facts,
                f"−1, 0 and 1 where {original.name!r} is low, middle and high{beside}",
                f"the coded form of {original.name!r}; left out",
            )
        elif 2 * facts.n_filled < len(facts.texts):
            sorting.take(facts.heading)
            sorting.say(
                facts,
                f"{facts.n_filled} of {len(facts.texts)} cells filled",
                f'left out; --factor "{facts.name}" or --outcome "{facts.name}" takes it in',
            )


def shares_of_a_mixture(sorting: Sorting) -> set[str]:
    """Return the headings of three or more columns that add to 1, or to 100, in every row."""
    known = [*sorting.left(), *(sorting.facts[h] for h in sorting.factors)]
    numeric = [f for f in known if f.numbers is not None and np.isfinite(f.numbers).all()]
    for whole in (1.0, 100.0):
        shares = [f for f in numeric if _may_be_share(f, whole)]
        if len(shares) < 3:
            continue
        total = np.sum([f.numbers for f in shares if f.numbers is not None], axis=0)
        if (np.abs(total - whole) <= ROUNDING_OF_SHARES * whole).all():
            for facts in shares:
                sorting.say(
                    facts,
                    f"adds to {whole:g} with {listed([f.name for f in shares if f is not facts])} "
                    "in every row",
                    "a share of a mixture: it never changes alone, so no effect of it alone "
                    f'can be told; --factor "{facts.name}:kind=continuous" decides otherwise',
                    sure=True,
                )
            return {f.heading for f in shares}
    return set()


def _may_be_share(facts: Facts, whole: float) -> bool:
    numbers = facts.numbers
    return (
        numbers is not None
        and facts.n_distinct > 1
        and bool((numbers >= 0).all() and (numbers <= whole).all())
    )


def take_outcome(sorting: Sorting, shares: set[str]) -> None:
    """Take the one column that can be the outcome, or ask which is."""
    if sorting.outcomes:
        return
    numeric = [
        f
        for f in sorting.left()
        if f.number_share >= 0.5
        and f.heading not in shares
        and not f.words & {*BLOCK_WORDS, *CUT_OFF_WORDS}
        and not any(one.heading == f.heading for one in sorting.questions)
    ]
    found = _likely(numeric, len(sorting.table))
    if len(found) != 1:
        _ask_outcome(sorting, found or numeric)
        return
    facts = sorting.take(found[0].heading)
    sorting.outcomes.append((facts, OutcomeWish(name=facts.name)))
    sorting.say(
        facts,
        f"{facts.n_distinct} different numbers in {len(facts.texts)} rows, no other column so",
        'the outcome; --outcome "NAME" decides otherwise',
    )


def _likely(numeric: list[Facts], n_rows: int) -> list[Facts]:
    """Return the columns that scatter as an outcome does, by the first rule that finds any."""
    numeric = [f for f in numeric if not f.words & set(PART_WORDS)] or numeric
    scattered = [f for f in numeric if f.n_distinct > n_rows / 2]
    many = [f for f in numeric if f.n_distinct > FEW_SETTINGS]
    only = [f for f in numeric if f.n_distinct > 2] if len(numeric) == 1 else []
    return scattered or many or only


def _ask_outcome(sorting: Sorting, likely: list[Facts]) -> None:
    named = likely or sorting.left() or list(sorting.facts.values())
    found = listed([f.name for f in likely]) or "no column"
    options = " or ".join(f'--outcome "{f.name}"' for f in named[-3:][::-1])
    several = " (several may be)" if len(likely) > 1 else ""
    sorting.questions.append(
        Question(
            heading="",
            what=f"It cannot be told which column is the outcome: {found} could be.",
            options=f"{options}{several}",
        )
    )


def ask_counts(sorting: Sorting) -> None:
    """Ask what whole numbers with zeros among them are: they seldom are measured values."""
    for facts, wish in sorting.outcomes:
        is_said = wish.kind or wish.status or wish.unit or facts.unit
        if is_said or not are_counts(facts) or "0" not in facts.texts:
            continue
        kinds = ["kind=counted", "kind=measured"]
        if facts.n_distinct <= 2:
            kinds = ["kind=pass-fail,passes=0", "kind=pass-fail,passes=1", *kinds]
        sorting.ask(
            facts,
            "The outcome holds whole numbers from 0 up, "
            f"{facts.texts.count('0')} of {len(facts.texts)} of them 0: counts, or measured "
            "values, which are seldom exactly 0.",
            *(f'--outcome "{wish.name}:{kind}"' for kind in kinds),
            by_name=False,
        )


def ask_cut_off(sorting: Sorting) -> None:
    """Ask whether a column of marks says which readings of the outcome are cut off."""
    measured = [wish.name for _, wish in sorting.outcomes if not wish.status]
    for facts in sorting.left():
        marks = {text.casefold() for text in facts.texts if text}
        is_headed = bool(facts.words & set(CUT_OFF_WORDS))
        is_marked = marks <= {"0", "1"} or all(is_cut_off_word(one) for one in marks)
        if not (is_headed and is_marked and facts.n_filled):
            continue
        outcome = measured[0] if measured else "OUTCOME"
        sorting.ask(
            facts,
            f"The column holds {listed(sorted(marks))} and is headed like one that says which "
            "readings are cut off (not failed yet when the test ended): cut-off marks, another "
            "outcome, or a factor.",
            f'--outcome "{outcome}:status={{}}"', "--outcome", "--factor", "--ignore",
        )  # fmt: skip


def leave_out_labels(sorting: Sorting) -> None:
    """Leave out columns that number the combinations of others, or label every row."""
    n = len(sorting.table)
    for facts in sorting.left():
        others = [f for f in sorting.left() if f is not facts and f.n_distinct > 1]
        others += [sorting.facts[h] for h in sorting.factors]
        if labels_combinations(facts, others):
            sorting.take(facts.heading)
            sorting.say(
                facts,
                f"one label for each combination of {listed([f.name for f in others])}",
                f'left out; --factor "{facts.name}" takes it in',
            )
        elif facts.number_share == 0 and facts.n_distinct == n >= 4:
            sorting.take(facts.heading)
            sorting.say(facts, "a different text in every row", "a remark or label; left out")
