"""Two commands that look at a trial as it lies there: check it, export it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace

SOUND = 0
TO_MEND = 2


def check(chosen: Namespace) -> int:
    """Look through the folder and say everything that is wrong."""
    from workbench.cli.check_words import check_text
    from workbench.cli.json_out import print_json
    from workbench.steps.check_answers import check_answer
    from workbench.steps.checking import check_trial

    found = check_trial(chosen.folder)
    if chosen.json:
        print_json(check_answer(found))
    else:
        print(check_text(found))
    return SOUND if found.is_sound else TO_MEND


def export(chosen: Namespace) -> int:
    """Write every reading and what each column means as plain tables."""
    from workbench.cli.json_out import print_json
    from workbench.steps.check_answers import export_answer
    from workbench.steps.exporting import export_trial

    made = export_trial(chosen.folder, to=chosen.to)
    if chosen.json:
        print_json(export_answer(made))
        return SOUND
    for path in made.files:
        print(f"wrote {path}")
    print(
        f"{made.n_rows} readings in {made.files[0].name}; dictionary.csv says what each column is"
    )
    return SOUND
