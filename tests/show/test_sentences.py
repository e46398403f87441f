"""Titles are computed from the nouns, and say "open" where the runs cannot carry one."""

from dataclasses import replace

import invented_lid_seal as lid
import numpy as np
import pytest

from workbench.errors import Unavailable
from workbench.fit.nouns import Estimate
from workbench.show import sentences
from workbench.show.clarity import Clarity, clarity, zone
from workbench.show.numbers import NBSP


def _with(effect, low, high):
    estimate = Estimate(value=(low + high) / 2, std_error=1, low=low, high=high, df=9)
    return replace(effect, value=(low + high) / 2, estimate=estimate)


def _peel(*ends):
    """Return the peel fit with its first effects given these intervals, no others."""
    one = lid.fit("peel force")
    mains = [e for e in one.effects if e.term.order == 1][: len(ends)]
    return replace(
        one, effects=tuple(_with(e, *pair) for e, pair in zip(mains, ends, strict=True))
    )


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (1, 5, Clarity.CLEAR),
        (-5, -0.1, Clarity.CLEAR),
        (-1, 5, Clarity.OPEN),
        (-2.9, 3, Clarity.SMALL),
        (0.5, 2.5, Clarity.SMALL),
    ],
)
def test_standing_is_read_off_the_interval(low, high, expected):
    fit = _peel((low, high))
    assert zone(fit.outcome).high == 3
    assert clarity(fit.effects[0], fit) is expected


def test_clear_and_open_effects_are_named():
    fit = _peel((4, 6), (-1, 5), (-6, -4))
    assert sentences.effects_sentence(fit) == (
        "Bead volume and nozzle speed move peel force; nozzle height is open"
    )


def test_nothing_is_claimed_where_nothing_is_clear():
    assert sentences.effects_sentence(_peel((-1, 5), (-5, 1))) == (
        "No effect on peel force stands clear of scatter: what moves it is open"
    )
    assert sentences.effects_sentence(_peel((-1, 1), (-2, 1))) == (
        f"Nothing tried changes peel force by as much as 3{NBSP}N"
    )


def test_interactions_come_before_averages():
    said = sentences.effects_sentence(lid.fit("leak rate"))
    assert (
        said
        == "What nozzle height does to leak rate depends on nozzle speed; bead volume moves it too"
    )


def test_no_error_estimate_is_said_in_the_title():
    fit = lid.fit_without_error()
    assert isinstance(fit.residual_variance, Unavailable)
    assert sentences.effects_sentence(fit).startswith("Peel force: no error estimate; ")
    without = replace(fit, pseudo_error=Unavailable(reason="too few"))
    assert sentences.effects_sentence(without) == (
        "Peel force: no error estimate; sizes alone, nothing can be called clear"
    )


def test_a_constant_outcome_is_an_answer():
    fit = lid.fit("peel force")
    flat = replace(fit, response=np.full(fit.response.shape, 3.0))
    assert sentences.effects_sentence(flat) == (
        "Peel force was the same in every run: nothing tried moved it"
    )


def test_an_interaction_is_open_unless_its_interval_says_otherwise():
    lines = lid.lines()
    assert sentences.interaction_sentence(lines) == (
        "What nozzle height does to leak rate depends on nozzle speed"
    )
    doubtful = replace(lines, effect=_with(lines.effect, 0.9, 2.5))
    assert sentences.interaction_sentence(doubtful).endswith("to leak rate is open")
    slight = replace(lines, effect=_with(lines.effect, 1.1, 1.3))
    assert sentences.interaction_sentence(slight).endswith("but by too little to matter")
    assert sentences.interaction_sentence(replace(lines, effect=None)).endswith("is open")


def test_the_decision_says_what_to_set_or_that_there_is_no_window():
    assert sentences.decision_sentence(lid.decision()) == (
        "Set these four, and stay between the bars"
    )
    said = sentences.decision_sentence(lid.no_window())
    assert said == "No window: nowhere within what was tried are 99 of 100 parts assured"


def test_maps_say_where_the_mean_meets_its_requirement():
    drawn = lid.mean_map()
    force = f"at least 22{NBSP}N"
    assert sentences.mean_map_sentence(replace(drawn, mean=drawn.mean * 0 + 30)) == (
        f"Mean peel force is {force} everywhere on this map"
    )
    assert sentences.mean_map_sentence(replace(drawn, mean=drawn.mean * 0 + 3)) == (
        f"Mean peel force is {force} nowhere on this map"
    )
    blind = replace(drawn, inside=np.zeros_like(drawn.inside))
    assert "is open" in sentences.mean_map_sentence(blind)


def test_odd_runs_are_named_and_none_is_invented():
    fit = lid.fit("peel force")
    n = len(fit.run)
    calm = replace(fit.diagnostics, studentised=np.zeros(n))
    assert sentences.order_sentence(replace(fit, diagnostics=calm)).startswith("No run stands far")
    odd = np.zeros(n)
    odd[4] = -3.4
    found = replace(fit, diagnostics=replace(fit.diagnostics, studentised=odd))
    assert (
        sentences.order_sentence(found) == "Run 5 stands far from the fit: see what happened there"
    )
    saturated = lid.fit_without_error()
    assert "is open" in sentences.order_sentence(saturated)


def test_runs_that_do_not_count_are_counted():
    assert sentences.runs_sentence(lid.record()) == "All 30 runs were made and count"
    assert sentences.runs_sentence(lid.record(excluded=(3, 9))) == (
        "28 of 30 runs count; 2 excluded"
    )
