"""The report: one page, no network, the whole story or as much of it as has happened."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import invented_lid_seal as lid
import pytest
from plotly.offline import get_plotlyjs

import workbench as wb
from workbench import show
from workbench.errors import Unavailable
from workbench.show.story import Story

CHAPTERS = ["Question", "Plan", "What happened", "What matters", "Window", "Cautions"]
CHAPTERS += ["Not tested", "Decision"]
VOID = {"meta", "br", "path", "rect", "img", "link", "hr", "input"}


class Page(HTMLParser):
    """Checks that tags close and collects links, ids, trail and figures."""

    def __init__(self):
        super().__init__()
        self.open, self.ids, self.fetched, self.trail, self.figures = [], [], [], [], []
        self.in_nav = False

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if "id" in found:
            self.ids.append(found["id"])
        for key in ("src", "href", "srcset", "action", "data"):
            if found.get(key) and not found[key].startswith("#"):
                self.fetched.append(found[key])
        self.in_nav = self.in_nav or tag == "nav"
        if found.get("class") == "plot":
            self.figures.append(found)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag
        if tag == "nav":
            self.in_nav = False

    def handle_data(self, data):
        if self.in_nav:
            self.trail.append(data)


def without_library(page):
    assert page.count(get_plotlyjs()) == 1
    return page.replace(get_plotlyjs(), "")


def parsed(page):
    found = Page()
    found.feed(without_library(page))
    assert not found.open
    return found


@pytest.fixture(scope="module")
def whole():
    return show.report(lid.story())


def test_chapters_stand_in_the_order_of_the_job(whole):
    assert parsed(whole).trail == CHAPTERS


def test_the_page_fetches_nothing(whole):
    assert not parsed(whole).fetched
    rest = without_library(whole)
    assert not re.search(r"https?://", rest)
    assert "@import" not in rest
    assert "url(" not in rest


def test_ids_are_unique_and_every_figure_has_its_numbers_and_words(whole):
    found = parsed(whole)
    assert len(set(found.ids)) == len(found.ids)
    assert (
        len(found.figures) == 3 * 4 + 4
    )  # effects and checks of each outcome; lines, maps, ladder
    for figure in found.figures:
        assert f"{figure['id']}-data" in found.ids
        assert len(figure["aria-label"]) > 20
        raw = re.search(rf'id="{figure["id"]}-data">(.*?)</script>', whole).group(1)
        drawn = json.loads(raw)
        assert drawn["data"]
        assert "width" not in drawn["layout"]


def test_same_story_same_page(whole):
    assert show.report(lid.story()) == whole


def test_the_answer_the_number_and_the_check_are_on_each_screen(whole):
    page = without_library(whole)
    assert "Set these four, and stay between the bars" in page
    assert "<b>95 of 100</b>" in page
    assert "What nozzle height does to leak rate depends on nozzle speed" in page
    assert page.index("What matters, together") < page.index("Effects on leak rate")
    assert page.count("Counter-check.") > 8


def test_a_plan_alone_makes_a_report():
    page = show.report(Story(trial=lid.trial(), plan=lid.plan()))
    found = parsed(page)
    assert found.trail == [
        "Question",
        "Plan",
        "What happened",
        "Cautions",
        "Not tested",
        "Decision",
    ]
    assert "Nothing has been run yet" in page
    assert "No decision has been recorded" in page


def test_a_trial_alone_makes_a_report():
    assert "There is no plan on file" in show.report(Story(trial=lid.trial()))


def test_no_window_is_told_with_the_nearest_miss_and_what_next():
    page = without_library(show.report(lid.story(decision=lid.no_window(), promises=())))
    assert "No window: nowhere within what was tried are 99 of 100 parts assured" in page
    assert "Repeat the best point five times" in page
    assert "93 of 100" in page
    assert "stay between the bars" not in page


def test_what_is_not_available_is_said_where_it_would_stand():
    fits = (*lid.story().fits[:2], ("peel force", Unavailable(reason="no model yet for grades")))
    page = show.report(
        lid.story(fits=fits, mean_maps=(), decision=Unavailable(reason="setting_sd is missing"))
    )
    assert "What moves peel force is open" in page
    assert "No model yet for grades" in page
    assert "Setting_sd is missing" in page or "setting_sd is missing" in page.lower()


def test_both_answers_stand_where_runs_were_excluded():
    seen = lid.record(excluded=(24,))
    names = [name for name, _ in lid.story().fits]
    left_out = tuple((n, wb.fit.outcome(seen, n)) for n in names)
    put_back = tuple((n, wb.fit.outcome(seen, n, with_excluded=True)) for n in names)
    page = without_library(
        show.report(lid.story(record=seen, fits=left_out, fits_with_excluded=put_back))
    )
    assert page.count("With the excluded runs put back: ") == len(names)
    assert page.count("The same effects with the excluded runs put back") == len(names)
    assert "tip was bent, seen at once" in page
    assert "<b>1 of 30</b>" in page


def test_nasty_text_is_never_obeyed():
    trial = lid.nasty_trial()
    plan = wb.plan.full(trial, seed=1)
    told = Story(
        trial=trial,
        plan=plan,
        cannot_tell_apart=(lid.NASTY,),
        fits=((lid.NASTY, lid.UNKNOWN),),
        not_tested=(lid.NASTY,),
        decisions=(
            replace(lid.story().decisions[0], what=lid.NASTY, evidence=lid.NASTY, by=(lid.NASTY,)),
        ),
        written=lid.NASTY,
    )
    page = without_library(show.report(told))
    assert "<img" not in page
    assert page.count("&lt;img src=x onerror=alert(1)&gt;") > 10


def test_nasty_outcomes_are_escaped_in_figures_too():
    fit = lid.fit("peel force")
    outcome = replace(fit.outcome, name=f"</script>{lid.NASTY}")
    nasty = replace(fit, outcome=outcome)
    page = without_library(show.report(lid.story(fits=((outcome.name, nasty),))))
    assert "<img" not in page
    parsed(show.report(lid.story(fits=((outcome.name, nasty),))))
