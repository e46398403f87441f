"""A page of screens: each a claim, a figure, one number and what would prove it wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from plotly.offline import get_plotlyjs

from workbench.show.canvas import bare
from workbench.show.escape import Html, script_json, text, unescape
from workbench.show.presenting import BAR, made_block, presenting_script
from workbench.show.style import MARK, style_sheet
from workbench.show.theme import dark_partners

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.show.presenting import Made

PRINT_WIDTH = 860  # of a figure, px, before it is scaled to the width of the paper
PRINT_SCALE = 0.79  # 15 px letters come out at 9 pt, 860 px inside A4 and Letter

# Draws every figure from the JSON beside it; dark paper swaps each colour for its partner, paper
# always takes the light ones and a fixed width, or the right edge would be cut.
DRAW = """
const partners = %s, SHRUNK = %s;
const isDark = () => { const asked = document.documentElement.dataset.theme;
  return asked ? asked === 'dark' : matchMedia('(prefers-color-scheme: dark)').matches; };
function shrink(place, width, height) {
  const box = place.querySelector('.svg-container');
  place.style.height = height * SHRUNK + 'px';
  Object.assign(box.style, {width: width * SHRUNK + 'px', height: height * SHRUNK + 'px'});
  for (const one of place.querySelectorAll('.main-svg')) {
    one.setAttribute('viewBox', `0 0 ${width} ${height}`);
    one.setAttribute('width', width * SHRUNK); one.setAttribute('height', height * SHRUNK);
  }
}
function draw(printing) {
  for (const place of document.querySelectorAll('.plot')) {
    let said = document.getElementById(place.id + '-data').textContent;
    if (!printing && isDark()) said = said.replace(/#[0-9A-F]{6}/g, one => partners[one] || one);
    const figure = JSON.parse(said);
    if (printing) Object.assign(figure.layout,
      {width: Math.min(%d, Number(place.dataset.width)), autosize: false});
    Plotly.react(place, figure.data, figure.layout,
      {responsive: !printing, displayModeBar: false, doubleClick: false, showTips: false});
    if (printing) shrink(place, figure.layout.width, figure.layout.height);
  }
}
function redraw() { // from nothing: a figure drawn over itself no longer follows the window
  for (const place of document.querySelectorAll('.plot')) {
    Plotly.purge(place); place.style.height = ''; }
  draw(false);
}
draw(false);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', redraw);
let unfolded = [];
addEventListener('beforeprint', () => {
  unfolded = [...document.querySelectorAll('details.print:not([open])')];
  for (const fold of unfolded) fold.open = true;
  draw(true); });
addEventListener('afterprint', () => {
  for (const fold of unfolded) fold.open = false;
  redraw(); });
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One screen: `step` says which of the job, `claim` is its answer, `see` what shows it.

    `chapter` is its entry in the trail; empty for a screen within a chapter.

    `number` with `number_of` is the one number; `check` says what would prove the claim wrong
    and whether it did. All but `see` and `say` is plain text. `made` says how its numbers came.
    """

    key: str
    step: str
    claim: str
    say: tuple[str | Html, ...] = ()
    number: str = ""
    number_of: str = ""
    check: str = ""
    check_lead: str = "Counter-check."
    see: tuple[str | Html, ...] = ()
    chapter: str = ""
    made: Made | None = None


def figure(key: str, drawn: go.Figure, caption: str = "") -> Html:
    """Return a figure to stand in a page: a place, and the JSON it is drawn from.

    The sentence of the figure is read out in its place; on the page the claim says it.
    """
    title = _said(drawn.layout.title.text)
    width = int(drawn.layout.width or PRINT_WIDTH)
    said = script_json(bare(drawn).to_plotly_json())
    under = f"<figcaption>{text(caption)}</figcaption>" if caption else ""
    name = text(title)
    return Html(
        f'<figure><div class="plot" id="{text(key)}" data-width="{width}" role="img" '
        f'style="max-width:{width + 120 if width > 800 else width}px" aria-label="{name}"></div>'
        f'<script type="application/json" id="{text(key)}-data">{said}</script>'
        f"{under}</figure>"
    )


def described(drawn: go.Figure) -> str:
    """Return the sentence of a figure and the line under it, for a page that does not say them."""
    under = _said(drawn.layout.title.subtitle.text)
    title = _said(drawn.layout.title.text)
    return f"{title}. {under}" if under else title


def _said(written: str | None) -> str:
    return unescape((written or "").replace("<br>", " "))


def folded(summary: str, *inside: Html, printed: bool = False) -> Html:
    """Return something to open on demand, open from the start and on paper if `printed`."""
    kind = ' class="print" open' if printed else ""
    return Html(f"<details{kind}><summary>{text(summary)}</summary>{''.join(inside)}</details>")


def said_open(words: str) -> Html:
    """Return words on something that is open, in the dashed edge of what is not known."""
    return Html(f'<p class="open">{text(words)}</p>')


def page(title: str, trail: str, screens: tuple[Screen, ...], *, foot: str = "") -> str:
    """Return one page of HTML that needs nothing from outside; `trail` names the trial."""
    links = "".join(
        f'<a href="#{text(one.key)}">{text(one.chapter)}</a>' for one in screens if one.chapter
    )
    body = "".join(_screen(one, first=i == 0) for i, one in enumerate(screens))
    drawing = DRAW % (script_json(dark_partners()), PRINT_SCALE, PRINT_WIDTH)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{text(title)}</title><style>{style_sheet()}</style></head>"
        f'<body><header class="trail">{MARK}<span>{text(trail)}</span>'
        f'<nav aria-label="Steps">{links}</nav></header><main>{body}</main>'
        f'<footer class="colophon">{text(foot)}</footer>{BAR}'
        f"<script>{get_plotlyjs()}</script><script>{drawing}</script>"
        f"<script>{presenting_script()}</script></body></html>"
    )


def _screen(one: Screen, *, first: bool) -> str:
    head = "h1" if first else "h2"
    words = "".join(_block(said) for said in one.say)
    number = (
        f'<p class="num"><b>{text(one.number)}</b><small>{text(one.number_of)}</small></p>'
        if one.number
        else ""
    )
    check = (
        f'<p class="check"><b>{text(one.check_lead)}</b> {text(one.check)}</p>'
        if one.check
        else ""
    )
    return (
        f'<section class="claim" id="{text(one.key)}"><div class="say">'
        f'<p class="step">{text(one.step)}</p><{head}>{text(one.claim)}</{head}>'
        f'{words}{number}{check}</div><div class="see">{"".join(map(_block, one.see))}</div>'
        f"{made_block(one.made)}</section>"
    )


def _block(said: str | Html) -> str:
    return str(said) if isinstance(said, Html) else f"<p>{text(said)}</p>"
