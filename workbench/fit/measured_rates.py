"""How often tests and intervals were wrong in simulation, where that was not what they say.

Numbers are those of tests/studies/count_and_grade_errors.txt: 600 simulated sets a line, plans of
16 runs with four main effects; the standard error of a share is about 1 %.
"""

from __future__ import annotations

WHERE = (
    "600 simulated plans of 16 runs with four main effects (tests/studies/count_and_grade_errors)"
)


def count_rates(*, out_of: bool, scatters: bool) -> str:
    """Return what the 5 % tests and 95 % intervals of counts did in simulation."""
    if out_of and scatters:
        return (
            "Counts out of n that scatter more than chance: 95 % intervals are somewhat too short "
            "and tests somewhat too ready. With beta-binomial counts out of 20 (correlation .1) "
            "intervals held the truth in 92 %, and 5 % tests of a factor that does nothing called "
            f"it in 6.7 %, of three together in 6.2 %, of {WHERE}."
        )
    if out_of:
        return (
            "Counts out of n that scatter no more than chance: tests are cautious. Of a factor "
            "that does nothing a 5 % test called it in 2.3 %, of three together in 2.0 %, and "
            f"95 % intervals held the truth in 98 %, of {WHERE} with counts out of 20."
        )
    if scatters:
        return (
            "Counts that scatter more than chance: 5 % tests are somewhat too ready. With "
            "negative binomial counts about 5 (squared coefficient of variation of the rate .5) "
            "they called a factor that does nothing in 7.2 %, three together in 8.3 %, and 95 % "
            f"intervals held the truth in 94 %, of {WHERE}."
        )
    return (
        "Counts that scatter no more than chance: tests of several columns together are cautious. "
        f"With counts about 5 a 5 % test of three that do nothing called them in 2.2 % of {WHERE}."
    )


def grade_rates() -> str:
    """Return what the 5 % tests of grades did beside a factor that works strongly."""
    return (
        "Where one factor moves the grades strongly, tests of the others are cautious: beside a "
        "slope of 2 logits a half range a 5 % test of a factor that does nothing called it in "
        f"2.7 %, of three together in 1.3 %, of {WHERE} with four grades."
    )
