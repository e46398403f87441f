"""A noun in a notebook is a table, every word of the user escaped, and a short line of text."""

from types import SimpleNamespace

import invented_kinds as kinds
import pytest
from IPython.core.formatters import DisplayFormatter

import workbench as wb
from workbench.errors import Unavailable
from workbench.jupyter.renderers import RENDERERS, markup, register
from workbench.show.escape import text
from workbench.steps.asked_again import spread_of

ODD = 'leak <script>alert("1")</script> & $x$'


@pytest.fixture(scope="module")
def trial():
    return wb.files.read_trial(wb.files.demo_folder("lid_seal"))


@pytest.fixture(scope="module")
def record(demo_record):
    return demo_record


def test_a_trial_shows_what_is_set_read_and_held(trial):
    shown = markup(trial)
    for name in ("bead volume", "peel force", "nozzle bore", "invented"):
        assert name in shown
    assert shown.count("<table") == 3


def test_a_plan_and_a_record_show_every_run(record):
    for noun in (record.plan, record):
        assert markup(noun).count("<tr>") == len(record.plan) + 1


def test_a_fit_shows_every_effect_beside_its_interval(record):
    fit = wb.fit.outcome(record, "peel force")
    shown = markup(fit)
    assert all(effect.name.split(" × ")[0] in shown for effect in fit.effects)
    assert "95" in shown


@pytest.mark.parametrize("name", ["pull force", "drop test", "smear", "skips"])
def test_other_kinds_of_fit_show_effects_tests_facts_and_notes(name):
    fit = kinds.fit(name)
    shown = markup(fit)
    assert shown.count("<table") == 3
    for words in (fit.model, *fit.notes, *(fact.name for fact in fit.facts)):
        assert text(words) in shown


def test_a_fit_in_setups_shows_where_its_scatter_comes_from():
    fit = kinds.in_setups()
    shown = markup(fit)
    assert "Where the scatter of pull force comes from" in shown
    assert "between press force setups" in shown


def test_what_is_asked_beside_a_fit_has_its_tables(record):
    fit = wb.fit.outcome(record, "peel force")
    chosen = wb.fit.selection(fit, seed=2)
    assert text(chosen.words()) in markup(chosen)
    again = wb.fit.sensitivity(record, fit)
    assert text(again.words()) in markup(again)
    point = wb.fit.level_point(fit, levels={})
    assert markup(point).count("<table") == 2
    way = wb.fit.steepest_ascent(fit, levels={}, rises=True)
    assert "rises fastest" in markup(way)
    spread = spread_of(record, fit)
    assert text(spread.notes[0]) in markup(spread)
    lines = {type(one): _line(one) for one in (fit, chosen, again, point, way, spread)}
    assert all(words.strip() and "\n" not in words for words in lines.values())


def _line(noun):
    return next(one.line(noun) for one in RENDERERS if isinstance(noun, one.kind))


def test_an_answer_that_cannot_be_had_says_so():
    assert "Cannot be told: too few runs" in markup(Unavailable(reason="too few runs"))


def test_words_of_a_user_are_escaped():
    outcome = wb.define.Measured(name=ODD, unit="N")
    factor = wb.define.Continuous(name="dwell", low=1, high=2, unit="s", setting_sd=0)
    odd = wb.define.Trial(title=ODD, question=ODD, factors=(factor,), outcomes=(outcome,))
    shown = markup(odd)
    assert "<script" not in shown
    assert "&lt;script&gt;" in shown


def test_something_else_has_no_renderer():
    with pytest.raises(TypeError, match="no renderer for dict"):
        markup({})


def test_registering_reaches_the_session(trial, monkeypatch):
    shell = SimpleNamespace(display_formatter=DisplayFormatter())
    monkeypatch.setattr("workbench.jupyter.renderers.get_ipython", lambda: shell)
    register()
    formatted, _ = shell.display_formatter.format(trial)
    assert formatted["text/plain"] == f"trial: {trial.title}"
    assert formatted["text/html"] == markup(trial)


def test_registering_outside_a_session_changes_nothing(monkeypatch):
    monkeypatch.setattr("workbench.jupyter.renderers.get_ipython", lambda: None)
    register()


def test_each_kind_has_one_renderer():
    assert len({one.kind for one in RENDERERS}) == len(RENDERERS)
