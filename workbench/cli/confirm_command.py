"""The command `confirm`: plan and lock, take parts in, say the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import OptionError

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable

    from workbench.steps.confirm import ConfirmWish
    from workbench.steps.trials import OpenTrial

ANSWERED = 0
CANNOT = 4


def confirm(
    chosen: Namespace,
    *,
    opened_by: Callable[[Namespace], OpenTrial],
    progress: Callable[[int, int], None] | None,
) -> int:
    """Plan and lock a confirmation, take its parts in, or say its verdict."""
    if chosen.take is not None and chosen.verdict:
        raise OptionError(
            "--take and --verdict are given together.",
            why="Parts are taken in first; what was met on the way should be read before.",
            next_step="Give --take TABLE, then --verdict.",
        )
    if chosen.take is not None:
        return _take(chosen)
    if chosen.verdict:
        return _verdict(chosen)
    return _plan(chosen, opened_by(chosen), progress)


def _plan(
    chosen: Namespace, opened: OpenTrial, progress: Callable[[int, int], None] | None
) -> int:
    from workbench.cli.confirm_words import confirmation_text
    from workbench.cli.json_out import print_json
    from workbench.decide.windows import NoWindow
    from workbench.steps.confirm import plan_confirmation
    from workbench.steps.confirm_answers import confirmation_answer, no_confirmation_answer

    made = plan_confirmation(opened, _wish(chosen), progress=progress)
    if isinstance(made, NoWindow):
        if chosen.json:
            print_json(no_confirmation_answer(made))
        else:
            print(f"There is no window to confirm: {made.reason}\nnext: {made.next_trial}")
        return CANNOT
    if chosen.json:
        print_json(confirmation_answer(made.locked))
        return ANSWERED
    print(confirmation_text(made.locked.plan, opened.trial))
    print(f"\nwrote {chosen.folder}/confirmation.toml (locked) and {made.page}")
    print(f"wrote {made.folder}/run_sheet.html to print; run_sheet.csv or .xlsx to fill in")
    print(f"next: make the parts, then workbench confirm {chosen.folder} --take TABLE")
    return ANSWERED


def _wish(chosen: Namespace) -> ConfirmWish:
    from workbench.decide.confirmation import JudgedBy
    from workbench.decide.confirmation_made import SITTINGS, ConfirmationWish
    from workbench.steps.confirm import ConfirmWish

    return ConfirmWish(
        share=chosen.share,
        confidence=chosen.confidence,
        seed=chosen.seed,
        who=chosen.who,
        again=chosen.again,
        parts=ConfirmationWish(
            parts=chosen.parts,
            corners=chosen.corners,
            failures=chosen.failures,
            judged_by=None if chosen.by is None else JudgedBy(chosen.by),
            sittings=tuple(chosen.sitting) or SITTINGS,
        ),
    )


def _take(chosen: Namespace) -> int:
    from workbench.cli.json_out import print_json
    from workbench.cli.read_wish import read_options
    from workbench.cli.run_words import receipt_text
    from workbench.cli.tables import folded
    from workbench.steps.answers import receipt_answer
    from workbench.steps.confirm_parts import take_parts
    from workbench.steps.people import who_is_it

    taken = take_parts(
        chosen.folder,
        chosen.take,
        who=who_is_it(chosen.who),
        settles=chosen.settle,
        reason=chosen.reason,
        read=read_options(chosen),
    )
    off = taken.off_plan
    if chosen.json:
        said = None if off is None else str(off)
        print_json(receipt_answer(taken.receipt) | {"off_plan": said})
        return ANSWERED
    print(receipt_text(taken.receipt))
    if off is not None:
        print(folded(f"\nThe verdict will refuse this: {off.wrong}"))
        print(folded(f"next: {off.next_step}", hanging="  "))
        return ANSWERED
    print(f"\nnext: workbench confirm {chosen.folder} --verdict")
    return ANSWERED


def _verdict(chosen: Namespace) -> int:
    from workbench.cli.confirm_words import verdict_text
    from workbench.cli.json_out import print_json
    from workbench.decide.verdict import Answer
    from workbench.steps.confirm_answers import verdict_answer
    from workbench.steps.confirm_parts import judge_confirmation, write_verdict

    judged = judge_confirmation(chosen.folder)
    page = write_verdict(chosen.folder, judged)
    if chosen.json:
        print_json(verdict_answer(judged.verdict))
    else:
        print(verdict_text(judged.verdict))
        print(f"\nwrote {page}")
    return CANNOT if judged.verdict.answer is Answer.OPEN else ANSWERED
