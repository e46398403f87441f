"""Every noun that a notebook can hold is shown as a table, in words, with nothing left blank."""

import inspect
from dataclasses import is_dataclass
from types import SimpleNamespace

import invented_kinds as kinds
import numpy as np
import pytest
from IPython.core.formatters import DisplayFormatter

import workbench as wb
from workbench.errors import Unavailable
from workbench.jupyter import progress_line
from workbench.jupyter.facts import facts, in_words, line
from workbench.jupyter.renderers import all_renderers, markup, register
from workbench.steps import ANSWERS
from workbench.steps.fitting import OutcomeFit

ODD = 'leak <script>alert("1")</script> & $x$'
LAYERS = (wb.define, wb.plan, wb.run, wb.fit, wb.decide)


def public_nouns():
    things = [getattr(layer, name) for layer in LAYERS for name in layer.__all__]
    return [one for one in things if inspect.isclass(one) and is_dataclass(one)]


def test_no_public_noun_is_without_a_renderer():
    shown = tuple(one.kind for one in all_renderers())
    assert len(public_nouns()) > 60
    assert [one.__name__ for one in public_nouns() if not issubclass(one, shown)] == []


def test_each_kind_has_one_renderer():
    assert len({one.kind for one in all_renderers()}) == len(all_renderers())


def test_answers_of_steps_are_known_by_name():
    assert {"OpenTrial", "WindowAnswer", "PlanAnswer", "OutcomeFit"} <= set(ANSWERS)


def test_a_noun_without_a_table_says_all_that_it_holds():
    shown = markup(wb.define.Budget(parts=36, days=2.5))
    for words in ("<caption>Budget</caption>", "parts per run", "36", "2.5", "not stated"):
        assert words in shown


def test_nouns_inside_a_noun_have_a_table_of_their_own():
    found = wb.run.OUTLIER_RULE
    assert isinstance(found, str)
    terms = wb.define.parse_terms("interactions", kinds.trial().factors)
    tables = facts(terms)
    assert len(tables) == 2
    assert tables[1].count("<tr>") == len(terms.terms) + 1


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "not stated"),
        (True, "yes"),
        ("", "none"),
        ((), "none"),
        (0.25, "0.25"),
        (Unavailable(reason="too few runs"), "cannot be told: too few runs"),
        (np.arange(3.0), "0, 1, 2"),
        (np.linspace(0, 1, 40).reshape(4, 10), "4 × 10 values, 0 to 1"),
        (tuple(range(30)), "0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, and 18 more"),
        ({"dwell": 2.0}, "dwell: 2"),
        (wb.run.Status.DONE, "done"),
    ],
)
def test_values_are_said_in_words(value, words):
    assert in_words(value) == words


def test_words_of_a_user_are_escaped_in_every_way_of_showing():
    factor = wb.define.Continuous(name=ODD, low=1, high=2, unit="s", setting_sd=0)
    for shown in (
        markup(factor),
        markup((factor, factor)),
        markup(wb.define.Held(name=ODD, value=ODD)),
    ):
        assert "<script" not in shown
        assert "&lt;script&gt;" in shown
    assert "\n" not in line(factor)


def test_a_tuple_of_nouns_is_shown_and_any_other_is_left_to_the_notebook(monkeypatch):
    shell = SimpleNamespace(display_formatter=DisplayFormatter())
    monkeypatch.setattr("workbench.jupyter.renderers.get_ipython", lambda: shell)
    register()
    one = wb.run.Finding(kind=wb.run.Kind.PAUSE, sentence="A night lies between.", runs=(3,))
    found = (one, one)
    formatted, _ = shell.display_formatter.format(found)
    assert formatted["text/html"].count("<table") == 1
    plain, _ = shell.display_formatter.format((1, 2))
    assert set(plain) == {"text/plain"}
    fits = (kinds.fit("smear"), kinds.fit("skips"))
    assert markup(fits).count("<style>") == 1


def test_an_answer_of_a_step_shows_the_nouns_in_it(monkeypatch):
    shell = SimpleNamespace(display_formatter=DisplayFormatter())
    monkeypatch.setattr("workbench.jupyter.renderers.get_ipython", lambda: shell)
    register()
    fit = kinds.fit("smear")
    answer = OutcomeFit(outcome=fit.outcome, fit=fit, with_excluded=None, crossings=())
    formatted, _ = shell.display_formatter.format(answer)
    assert formatted["text/html"].count("<table") == 1 + markup(fit).count("<table")


def test_why_there_is_no_window_is_said_with_the_nearest_miss():
    miss = wb.decide.NearestMiss(
        settings=(("dwell", 2.0),), chance=0.8, assured_share=0.6, limited_by="leaks"
    )
    none = wb.decide.NoWindow(
        reason="No setting holds.",
        share=0.95,
        confidence=0.95,
        nearest_miss=miss,
        next_trial="Add runs.",
        notes=("Few runs.",),
    )
    shown = markup(none)
    for words in ("No setting holds.", "Add runs.", "Few runs.", "leaks", "dwell"):
        assert words in shown


class Shown:
    def __init__(self):
        self.seen = []

    def update(self, one):
        self.seen.append(one.data)


@pytest.fixture
def handle(monkeypatch):
    shown = Shown()
    monkeypatch.setattr(progress_line, "get_ipython", SimpleNamespace)
    monkeypatch.setattr(progress_line, "_display", lambda *_, **__: shown)
    return shown


def test_progress_is_drawn_in_place_and_says_how_to_stop(handle, monkeypatch):
    monkeypatch.setattr(progress_line, "BETWEEN", 0.0)
    say = wb.jupyter.progress("window <b>")
    for done in range(4):
        say(done, 3)
    assert len(handle.seen) == 4
    assert 'max="3" value="2"' in handle.seen[2]
    assert "Interrupt" in handle.seen[2]
    assert "window &lt;b&gt;: done in" in handle.seen[3]


def test_progress_is_not_drawn_more_often_than_anyone_can_see(handle):
    say = wb.jupyter.progress("window")
    for done in range(1000):
        say(done, 1000)
    say(1000, 1000)
    assert len(handle.seen) < 20
    assert "done in" in handle.seen[-1]


def test_a_search_can_be_interrupted(handle):
    def stopped(*_):
        raise KeyboardInterrupt

    fit = kinds.fit("drop test")
    with pytest.raises(KeyboardInterrupt):
        wb.decide.window((fit,), share=0.9, confidence=0.9, seed=1, n_draws=128, progress=stopped)
    assert handle.seen == []


def test_outside_a_notebook_progress_is_silent(monkeypatch, capsys):
    monkeypatch.setattr(progress_line, "get_ipython", lambda: None)
    wb.jupyter.progress("window")(1, 2)
    assert capsys.readouterr() == ("", "")
