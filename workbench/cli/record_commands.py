"""Two commands that add to a record: attach a file to a run, confirm a zero."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace

DONE = 0


def attach(chosen: Namespace) -> int:
    """Attach a file to a run."""
    from workbench.cli.json_out import print_json
    from workbench.steps.attaching import AttachWish, attach_answer, attach_file
    from workbench.steps.people import who_is_it

    wish = AttachWish(
        run=chosen.run,
        who=who_is_it(chosen.who),
        part=chosen.part,
        outcome=chosen.outcome,
        note=chosen.note,
    )
    made = attach_file(chosen.folder, chosen.file, wish)
    if chosen.json:
        print_json(attach_answer(made))
        return DONE
    if made.was_copied:
        print(f"copied {chosen.file} to {chosen.folder}/{made.attachment.path}")
    if made.is_new:
        print(f"attached {made.attachment.path} to {made.belongs_to}; do not change the file")
    else:
        print(f"{made.attachment.path} belongs to {made.belongs_to} already; nothing was added")
    return DONE


def confirm_zero(chosen: Namespace) -> int:
    """Confirm zeros that look like not measured."""
    from workbench.cli.json_out import print_json
    from workbench.steps.people import who_is_it
    from workbench.steps.true_zeros import (
        ConfirmWish,
        confirm_zeros,
        confirmed_answer,
        parse_zero,
    )

    wish = ConfirmWish(
        zeros=[parse_zero(one) for one in chosen.confirm_zero],
        reason=chosen.reason,
        who=who_is_it(chosen.who),
    )
    made = confirm_zeros(chosen.folder, wish)
    if chosen.json:
        print_json(confirmed_answer(made))
        return DONE
    for one in made.readings:
        print(
            f"confirmed: run {one.run}, {one.outcome}, part {one.part}, reading {one.reading}: 0"
        )
    if made.n_before:
        print(f"{made.n_before} confirmed before; nothing was added for those")
    return DONE
