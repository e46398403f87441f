"""The run sheet: every run once, what changes marked, cautions and the stop rule on it."""

from dataclasses import replace
from html.parser import HTMLParser

import invented_lid_seal as lid
import numpy as np

import workbench as wb
from workbench import show
from workbench.define.cautions import DEFERRAL
from workbench.show.escape import text


class Sheet(HTMLParser):
    """Counts rows and boxes and remembers the classes of cells."""

    def __init__(self):
        super().__init__()
        self.runs, self.boxes, self.states, self.open = 0, 0, [], []

    def handle_starttag(self, tag, attrs):
        classes = (dict(attrs).get("class") or "").split()
        if tag not in ("meta", "br", "path", "rect", "link"):
            self.open.append(tag)
        if tag == "th" and dict(attrs).get("scope") == "row":
            self.runs += 1
            self.states.append([])
        if tag == "td" and "box" in classes:
            self.boxes += 1
        if tag == "td" and ({"new", "same"} & set(classes)):
            self.states[-1].append("new" if "new" in classes else "same")

    def handle_endtag(self, tag):
        if tag not in ("path", "rect"):
            assert self.open.pop() == tag


def parsed(page):
    sheet = Sheet()
    sheet.feed(page)
    assert not sheet.open
    return sheet


def test_every_run_stands_once_with_a_box_for_each_reading():
    sheet = parsed(show.run_sheet(lid.trial(), lid.plan()))
    assert sheet.runs == 30
    assert sheet.boxes == 30 * (3 + 2)  # a box a reading, one for really set, one for notes
    plan = replace(lid.plan(), parts_per_run=3)
    assert parsed(show.run_sheet(lid.trial(), plan)).boxes == 30 * (9 + 2)


def test_marks_say_what_to_change_from_the_run_before():
    plan = lid.plan()
    states = parsed(show.run_sheet(lid.trial(), plan)).states
    for i in range(1, len(plan)):
        if plan.block[i] != plan.block[i - 1]:
            assert states[i] == ["new"] * 4
            continue
        changed = plan.settings.values[i] != plan.settings.values[i - 1]
        assert states[i] == ["new" if one else "same" for one in changed]
    assert states[0] == ["new"] * 4


def test_cautions_stop_rule_seed_and_held_settings_are_on_it():
    page = show.run_sheet(lid.trial(), lid.plan())
    for words in (
        DEFERRAL,
        "Pressurised syringe",
        "Leak test at 30 kPa only, shield down.",
        "three parts in a row leak more than 5 mm³/s",
        "nozzle bore 1.2\u00a0mm",
        "seed 7",
        "Invented trial, made-up data.",
        "write &lt; 0.02",
        "after 72 h",
    ):
        assert words in page or text(words) in page, words


def test_the_deferral_stands_even_where_no_hazard_was_named():
    plain = replace(lid.trial(), hazards=(), cautions=())
    assert text(DEFERRAL) in show.run_sheet(plain, lid.plan())


def test_slow_settings_head_their_setups():
    slow = tuple(replace(f, slow=f.name == "cure humidity") for f in lid.trial().factors)
    trial = replace(lid.trial(), factors=slow)
    made = lid.plan()
    order = np.argsort(made.settings.column("cure humidity"), kind="stable")
    humid = made.settings.column("cure humidity")[order]
    setup = 1 + np.cumsum(np.r_[0, (np.diff(humid) != 0).astype(np.int64)])
    settings = replace(made.settings, factors=slow, values=made.settings.values[order])
    plan = replace(made, settings=settings, block=np.ones(30, dtype=np.int64), setup=setup)
    page = show.run_sheet(trial, plan)
    assert page.count("Set once, read:") == 3
    assert "Setup 2: cure humidity 50\u00a0%RH" in page


def test_many_boxes_turn_the_paper():
    assert 'class="sheet wide"' in show.run_sheet(
        lid.trial(), replace(lid.plan(), parts_per_run=4)
    )
    assert 'class="sheet"' in show.run_sheet(lid.trial(), lid.plan())


def test_nasty_names_are_escaped_and_nothing_is_fetched():
    trial = lid.nasty_trial()
    page = show.run_sheet(trial, wb.plan.full(trial, seed=1))
    assert "<img" not in page
    assert "http" not in page
    parsed(page)
