"""A report led through a meeting: keys and buttons, screen after screen, all of it on paper."""

import importlib.util
import io
import sys
from pathlib import Path

import pypdf
import pytest

from workbench import show

pytestmark = [pytest.mark.browser, pytest.mark.slow]

INVENTED = Path(__file__).parents[1] / "show" / "invented.py"
FOCUSED = "document.activeElement.textContent"
TOP = "document.activeElement.closest('section').getBoundingClientRect().top"
SHOWN = """() => [...document.querySelectorAll('.say > p, figcaption, .see .scroll, .made')]
  .filter(e => e.getClientRects().length).length"""
# Figures that reach over what stands below them.
SPILLING = """() => [...document.querySelectorAll('figure')].filter(one =>
  one.querySelector('.main-svg').getBoundingClientRect().bottom
  > one.getBoundingClientRect().bottom + 2).length"""


def story():
    name = "invented_lid_seal"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, INVENTED)
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name].story()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("meeting") / "report.html"
    path.write_text(show.report(story()), encoding="utf-8")
    return path


@pytest.fixture
def report(watched, written):
    watched.page.goto(written.as_uri(), wait_until="load")
    watched.page.wait_for_timeout(1200)
    yield watched.page
    assert watched.outside == []
    assert watched.complaints == []


def claims(page):
    return page.locator("section.claim").locator("h1, h2").all_text_contents()


def place(page):
    return page.inner_text(".present .place")


def test_keys_lead_through_every_screen_and_back(report):
    said = claims(report)
    assert len(said) > 12
    assert place(report) == f"1 of {len(said)}"
    for key, number in (("ArrowRight", 2), ("PageDown", 3), ("Space", 4), ("PageUp", 3)):
        report.keyboard.press(key)
        assert place(report) == f"{number} of {len(said)}"
        assert report.evaluate(FOCUSED) == said[number - 1]
        assert 0 <= report.evaluate(TOP) <= 60  # right under the trail
    report.keyboard.press("Shift+Space")
    report.keyboard.press("ArrowLeft")
    report.keyboard.press("ArrowLeft")  # there is none before the first
    assert place(report) == f"1 of {len(said)}"
    for _ in range(len(said) + 2):
        report.keyboard.press("ArrowRight")
    report.wait_for_timeout(200)
    assert place(report) == f"{len(said)} of {len(said)}"
    assert report.evaluate(FOCUSED) == said[-1]


def test_scrolling_by_hand_is_followed(report):
    report.locator("#cautions").scroll_into_view_if_needed()
    report.evaluate("document.querySelector('#cautions').scrollIntoView({behavior: 'instant'})")
    report.wait_for_timeout(200)
    ids = report.evaluate("[...document.querySelectorAll('section.claim')].map(one => one.id)")
    assert place(report) == f"{ids.index('cautions') + 1} of {len(ids)}"


def test_buttons_do_what_the_keys_do(report):
    said = claims(report)
    report.get_by_role("button", name="Next").focus()
    report.keyboard.press("Enter")
    assert report.evaluate(FOCUSED) == said[1]
    report.get_by_role("button", name="Previous").click()
    assert report.evaluate(FOCUSED) == said[0]
    hide = report.get_by_role("button", name="Hide detail")
    before = report.evaluate(SHOWN)
    hide.focus()
    report.keyboard.press("Space")  # presses the button, goes to no other screen
    assert hide.get_attribute("aria-pressed") == "true"
    assert place(report).startswith("1 of")
    assert report.evaluate(SHOWN) < before


def test_detail_is_hidden_and_comes_back_and_the_answer_stays(report):
    before = report.evaluate(SHOWN)
    report.keyboard.press("d")
    assert report.evaluate(SHOWN) < before
    for kept in (".num", ".check", "figure", "#cautions .caution", "#not-tested .gap"):
        assert report.locator(kept).first.is_visible(), kept
    assert not report.locator(".made").first.is_visible()
    report.keyboard.press("d")
    assert report.evaluate(SHOWN) == before


def test_keys_can_be_turned_off_and_leave_shortcuts_alone(report):
    report.keyboard.press("Control+ArrowRight")
    assert place(report).startswith("1 of")
    report.get_by_role("button", name="Keys on").click()
    report.keyboard.press("d")
    report.keyboard.press("ArrowRight")
    assert place(report).startswith("1 of")
    report.get_by_role("button", name="Keys off").click()
    report.keyboard.press("ArrowRight")
    assert place(report).startswith("2 of")


def test_each_screen_says_how_it_was_made(report):
    assert report.locator("section.claim .made").count() == len(claims(report))
    fold = report.locator("#effects-screen-0 .made, #what-matters .made").first
    code = fold.locator("code").first
    assert not code.is_visible()
    fold.locator("summary").click()
    assert code.is_visible()
    assert code.inner_text().startswith("workbench fit DIR --outcome")


def test_paper_holds_what_the_screen_hides(report):
    whole = report.pdf(format="A4", print_background=True)
    report.keyboard.press("d")
    hidden = report.pdf(format="A4", print_background=True)
    words = [
        [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
        for pdf in (whole, hidden)
    ]
    assert words[0] == words[1]
    assert "workbench window DIR" in " ".join(words[1])
    assert "Page Down" not in " ".join(words[1])
    assert not report.locator(".made code").first.is_visible()  # folded again after the print


def test_figures_stay_in_their_place_in_another_theme_and_a_narrow_window(report):
    report.emulate_media(color_scheme="dark", reduced_motion="reduce")
    report.set_viewport_size({"width": 768, "height": 900})
    report.wait_for_timeout(1200)
    assert report.evaluate(SPILLING) == 0
    report.keyboard.press("ArrowRight")
    assert place(report).startswith("2 of")
