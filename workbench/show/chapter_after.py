"""The last chapters: the window, cautions, what was not tested, the decision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.decide.windows import NoWindow
from workbench.errors import Unavailable
from workbench.show.cautions import caution_blocks, caution_count, deferral
from workbench.show.chance_steps import chance_caption, chance_map, held_words
from workbench.show.chapter_beside import beside_screens
from workbench.show.decision_tables import (
    levels_table,
    limits_table,
    no_window_table,
    promise_table,
)
from workbench.show.escape import Html, text
from workbench.show.ladder import CAPTION, limits_ladder
from workbench.show.ladder_miss import MISS_CAPTION
from workbench.show.next_trial import next_screen_parts
from workbench.show.numbers import chance, fixed, in_hundred, limit_decimals, percent, with_unit
from workbench.show.page import Screen, figure, said_open
from workbench.show.rails import is_edge
from workbench.show.sentences import (
    chance_sentence,
    decision_sentence,
    miss_words,
    promise_words,
)
from workbench.show.words import counted, listed, sentence, spelled

if TYPE_CHECKING:
    from workbench.decide import ChanceMap
    from workbench.decide.windows import Decision, Limit, Window
    from workbench.define.trial import Trial
    from workbench.show.story import Decided, Story


def window_screens(story: Story) -> tuple[Screen, ...]:
    """Return the screens of the window: ladder, maps, promise; or why there is none."""
    decision = story.decision
    if decision is None or isinstance(decision, Unavailable):
        return (_open_window(decision),)
    best = decision.best
    found = [
        _no_window(story, decision, best)
        if isinstance(best, NoWindow)
        else _ladder(story, decision, best)
    ]
    found += [_map(story, decision, one, i=i) for i, one in enumerate(story.chance_maps)]
    if story.promises and not isinstance(best, NoWindow):
        found.append(_promise(story, best))
    found += beside_screens(story)
    return tuple(found)


def cautions_screen(story: Story) -> Screen:
    """Return what can hurt someone, and who has the last word on it."""
    count = caution_count(story.trial)
    if count == 0:
        claim = "No hazard has been named for this trial"
    else:
        claim = sentence(f"{counted(count, 'thing')} to know before anyone runs this")
    return Screen(
        key="cautions",
        chapter="Cautions",
        step="Cautions",
        claim=claim,
        say=(deferral(),),
        see=(
            caution_blocks(story.trial)
            if count
            else said_open("That none was named does not mean that there is none."),
        ),
    )


def not_tested_screen(story: Story) -> Screen:
    """Return what this trial cannot tell: its range, its lots, what was held, what was noted."""
    gaps = [*story.not_tested, *_edges(story), *_beyond(story.trial), *_lots(story)]
    return Screen(
        key="not-tested",
        chapter="Not tested",
        step="Not tested",
        claim="What this trial cannot tell you",
        say=("Dashed edge: open. Each could end the promise.",),
        see=tuple(Html(f'<p class="gap">{text(one)}</p>') for one in dict.fromkeys(gaps)),
    )


def decision_screen(story: Story) -> Screen:
    """Return what was decided and what is open, by whom, on which evidence."""
    last = story.decisions[-1] if story.decisions else None
    see: list[Html] = []
    decision = story.decision
    if decision is not None and not isinstance(decision, Unavailable):
        see.append(limits_table(decision))
    if story.decisions:
        see += [Html("<h3>Decided</h3>"), *(_decided(one) for one in story.decisions)]
    if story.questions:
        see += [Html("<h3>Open questions</h3>"), *(_asked(one) for one in story.questions)]
    see.append(_signatures(last.by if last else story.trial.people))
    return Screen(
        key="decision",
        chapter="Decision",
        step="Decision",
        claim=last.what if last else "No decision has been recorded",
        say=(_taken(last),)
        if last
        else ('Keep it when it is taken: workbench decide DIR "TEXT".',),
        number=percent(story.trial.share) if story.trial.share is not None else "",
        number_of="share of parts asked for",
        check=story.trial.invented,
        check_lead="Note." if story.trial.invented else "",
        see=tuple(see),
    )


def _open_window(why: Unavailable | None) -> Screen:
    reason = why.reason if why else "no window has been computed yet"
    return Screen(
        key="window",
        chapter="Window",
        step="Window",
        claim="Where to run is open",
        see=(said_open(sentence(reason)),),
    )


def _ladder(story: Story, decision: Decision, best: Window) -> Screen:
    seen: list[Html] = [figure("ladder", limits_ladder(decision, story.record), CAPTION)]
    if len(decision.by_level) > 1:
        seen.append(levels_table(decision))
    seen += next_screen_parts(story.next_trials)
    return Screen(
        key="window",
        chapter="Window",
        step="Window",
        claim=decision_sentence(decision),
        say=(_corner_words(best), *best.notes),
        number=in_hundred(best.share),
        number_of=(
            f"parts meet every requirement anywhere in the window, with "
            f"{percent(best.confidence)} confidence; the chance at the set point is "
            f"{chance(best.chance_at_set_point)}"
        ),
        check=_window_check(story, decision, best),
        see=tuple(seen),
    )


def _no_window(story: Story, decision: Decision, missing: NoWindow) -> Screen:
    seen: list[Html] = []
    if missing.nearest_miss is not None and story.record is not None:
        seen.append(figure("ladder", limits_ladder(decision, story.record), MISS_CAPTION))
    seen.append(no_window_table(missing, story.trial))
    seen += next_screen_parts(story.next_trials)
    miss = missing.nearest_miss
    return Screen(
        key="window",
        chapter="Window",
        step="Window",
        claim=decision_sentence(decision),
        say=(sentence(missing.reason), miss_words(missing), *missing.notes),
        number=in_hundred(miss.assured_share) if miss else "none",
        number_of=f"parts assured at the best point; asked were {in_hundred(missing.share)}",
        check=f"What would change this: {missing.next_trial}",
        see=tuple(seen),
    )


def _map(story: Story, decision: Decision, drawn: ChanceMap, *, i: int) -> Screen:
    best = decision.best
    number, number_of = "", ""
    if not isinstance(best, NoWindow):
        for limit in best.limits:
            if limit.factor.name == drawn.x_factor.name:
                wide = fixed(
                    limit.high - limit.low, limit_decimals(limit.factor, (limit.low, limit.high))
                )
                number = with_unit(wide, limit.factor.unit)
                number_of = f"wide in {limit.factor.name}"
    return Screen(
        key=f"window-map-{i}",
        step="Window, as a map",
        claim=chance_sentence(decision, story.trial.outcomes),
        say=("Dark steps: nearly every part passes. Between steps nothing is to be read off.",),
        number=number,
        number_of=number_of,
        check=f"Each point stands {held_words(drawn)}; nowhere is the best taken."
        if drawn.held
        else "Both settings are on the map; no other was varied.",
        see=(
            figure(
                f"chance-{i}",
                chance_map(drawn, decision, record=story.record),
                chance_caption(drawn, decision),
            ),
        ),
    )


def _promise(story: Story, best: Window) -> Screen:
    last = story.promises[-1]
    return Screen(
        key="window-promise",
        step="Window, the promise",
        claim=promise_words(best),
        say=("Lowest: at the worst place in the window, as far as these runs can assure it.",),
        number=chance(last.lowest),
        number_of="assured at the worst place in the window",
        check="A part can miss two limits at once, so the rows need not add up to the last line.",
        see=(promise_table(story.promises, story.trial, best),),
    )


def _corner_words(best: Window) -> str:
    edges = sum(
        is_edge(stop) for one in best.limits for stop in (one.limited_by_low, one.limited_by_high)
    )
    words = "Any combination inside the bars keeps the promise, the corners included."
    if edges:
        ends = "side ends" if edges == 1 else "sides end"
        words += (
            f" {sentence(spelled(edges))} {ends} where we stopped looking, not where the process "
            "stops."
        )
    return words


def _window_check(story: Story, decision: Decision, best: Window) -> str:
    said = []
    if best.model_form:
        right = decision.if_right
        said.append(
            "The model form is not taken as right: its doubt is in the promise. "
            + (
                f"No window is offered that takes it as right: {right.reason}"
                if isinstance(right, NoWindow)
                else "Taken as right, the window would be "
                f"{_times(right.volume, best.volume)} as large."
            )
        )
    else:
        said.append("The model form is taken as right: a bend that it cannot draw is not in it.")
    other = story.decision_with_excluded
    if other is not None:
        said.append(f"With the excluded runs put back: {_other(other)}.")
    return " ".join(said)


def _times(right: float, ours: float) -> str:
    return f"{right / ours:.1f} times" if ours > 0 else "many times"


def _other(other: Decision | Unavailable) -> str:
    if isinstance(other, Unavailable):
        return other.reason
    if isinstance(other.best, NoWindow):
        return "no window"
    ranges = [_range(one) for one in other.best.limits]
    return listed(ranges, most=6)


def _range(limit: Limit) -> str:
    decimals = limit_decimals(limit.factor, (limit.low, limit.high))
    high = with_unit(fixed(limit.high, decimals), limit.factor.unit)
    return f"{limit.factor.name} {fixed(limit.low, decimals)} to {high}"


def _edges(story: Story) -> list[str]:
    decision = story.decision
    if (
        decision is None
        or isinstance(decision, Unavailable)
        or isinstance(decision.best, NoWindow)
    ):
        return []
    gaps = []
    for one in decision.best.limits:
        decimals = limit_decimals(one.factor, (one.low, one.high))
        for stop, side, value in (
            (one.limited_by_low, "below", one.low),
            (one.limited_by_high, "above", one.high),
        ):
            if is_edge(stop):
                place = with_unit(fixed(value, decimals), one.factor.unit)
                name = one.factor.name
                gaps.append(f"{name} {side} {place}: the window ends there because the trial did.")
    return [sentence(gap) for gap in gaps]


def _beyond(trial: Trial) -> list[str]:
    gaps = [
        sentence(f"{one.name} other than {with_unit(one.value, one.unit)}: it was held.")
        for one in trial.held
    ]
    gaps.append("Settings outside the ranges tried, and anything that this trial did not vary.")
    return gaps


def _lots(story: Story) -> list[str]:
    record = story.record
    if record is None or len(record.block_labels) < 2:
        return []
    kind = record.blocked_by or "block"
    return [
        (
            f"Other lots: the answers are for a {kind} like those tried "
            f"({listed(list(record.block_labels), most=6)})."
        )
    ]


def _decided(one: Decided) -> Html:
    evidence = f"<br><span class='u'>{text(one.evidence)}</span>" if one.evidence else ""
    return Html(f'<p class="decided"><b>{text(one.what)}</b> {text(_taken(one))}{evidence}</p>')


def _asked(one: Decided) -> Html:
    why = f"<br>{text(one.evidence)}" if one.evidence else ""
    when = f"Asked by {listed(list(one.by), most=8)} on {one.date}."
    return Html(
        f'<p class="open"><b>{text(one.what)}</b>{why}<br><span class="u">{text(when)}</span></p>'
    )


def _taken(one: Decided) -> str:
    when = f" on {one.date}" if one.date else ""
    who = f" by {listed(list(one.by), most=8)}" if one.by else ""
    return f"Taken{when}{who}." if when or who else "Who took it and when was not written down."


def _signatures(people: tuple[str, ...]) -> Html:
    names = people or ("process", "quality", "line")
    return Html(f'<div class="sign">{"".join(f"<div>{text(one)}</div>" for one in names)}</div>')
