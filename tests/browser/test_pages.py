"""Pages as a meeting sees them: complete without a network, and whole on paper."""

import importlib.util
import io
import sys
from pathlib import Path

import pypdf
import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PAPER = {"A4": (595, 842), "Letter": (612, 792)}  # points, portrait
MARGIN_MM = 10
POINTS_TO_PIXELS = 96 / 72
MM_TO_PIXELS = 96 / 25.4

# The right edge of the widest thing that prints, and of the paper that is left for it.
WIDEST = """() => {
  const boxes = [...document.querySelectorAll('body *')]
    .filter(e => e.getClientRects().length && !e.closest('defs, clipPath, [hidden], .modebar'));
  return Math.max(...boxes.map(e => e.getBoundingClientRect().right));
}"""


def sibling(name):
    """Return a module that stands beside this one."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / f"{name}.py")
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


def opened(watched, path):
    watched.page.goto(path.as_uri(), wait_until="load")
    watched.page.wait_for_timeout(1500)  # figures draw after the page has loaded
    return watched.page


def printed(page, paper):
    """Return the PDF of a page, as a person would print it."""
    return pypdf.PdfReader(io.BytesIO(page.pdf(format=paper, print_background=True)))


def assert_whole_on_paper(page, paper):
    """Lay the page out at the width of the paper and look for anything beyond its edge."""
    width = round(PAPER[paper][0] * POINTS_TO_PIXELS - 2 * MARGIN_MM * MM_TO_PIXELS)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": width, "height": 1000})
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.wait_for_timeout(700)
    assert page.evaluate(WIDEST) <= width + 1
    assert page.evaluate("document.documentElement.scrollWidth") <= width + 1


def assert_prints(page, paper, *, most_pages):
    """Print the page and look for sheets of another size, empty ones, and too many."""
    sheets = printed(page, paper).pages
    assert 1 <= len(sheets) <= most_pages
    for sheet in sheets:
        size = sorted((float(sheet.mediabox.width), float(sheet.mediabox.height)))
        assert size == pytest.approx(sorted(PAPER[paper]), abs=1.5)
        assert sheet.extract_text().strip(), "an empty page"


def assert_every_figure_is_drawn(page):
    figures = page.locator("figure")
    assert figures.count() >= 6
    for number in range(figures.count()):
        drawn = figures.nth(number).locator("svg, img").first
        drawn.scroll_into_view_if_needed()
        box = drawn.bounding_box()
        assert box["width"] > 200
        assert box["height"] > 80


@pytest.mark.parametrize("name", ["report.html", "run_sheet.html"])
def test_it_opens_without_a_network_and_without_complaint(watched, demo_trial, name):
    page = opened(watched, demo_trial / name)
    assert watched.outside == []
    assert watched.complaints == []
    assert page.title().strip()
    assert "invented" in page.inner_text("body").lower()
    if name == "report.html":
        assert_every_figure_is_drawn(page)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", ["report.html", "run_sheet.html"])
def test_it_is_open_to_all(watched, demo_trial, axe, name, theme):
    watched.page.emulate_media(color_scheme=theme)
    page = opened(watched, demo_trial / name)
    assert sibling("panel_page").barriers(page, axe) == []


@pytest.mark.parametrize(("name", "most_pages"), [("report.html", 36), ("run_sheet.html", 3)])
def test_it_is_whole_on_paper(watched, demo_trial, name, most_pages):
    page = opened(watched, demo_trial / name)
    for paper in PAPER:
        assert_prints(page, paper, most_pages=most_pages)
        assert_whole_on_paper(page, paper)


def test_every_planned_run_stands_on_the_printed_sheet(watched, demo_trial):
    runs = len((demo_trial / "plan.csv").read_text("utf-8").strip().splitlines()) - 1
    pages = printed(opened(watched, demo_trial / "run_sheet.html"), "A4").pages
    words = " ".join(page.extract_text() for page in pages).split()
    assert runs >= 25
    assert {str(number) for number in range(1, runs + 1)} <= set(words)
