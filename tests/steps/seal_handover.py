"""A window handed over without being searched for: the lid seal demo, results in, limits given.

Plant, product and numbers are invented.
"""

import shutil
from pathlib import Path

import workbench as wb
from workbench.decide.verdict import Answer, SeenPlace, Tally, Verdict
from workbench.decide.windows import Decision, Limit, Window
from workbench.errors import Unavailable
from workbench.steps.fitting import fit_all
from workbench.steps.take import take_table
from workbench.steps.trials import open_trial
from workbench.steps.windows import WindowAnswer

LEAKS = "leak rate above 0.6 mm³/s (leaks)"
SQUEEZED = "squeeze-out width above 1.6 mm (squeezes out too far)"
PEELS = "peel force below 25 N (peels too easily)"
EDGE = "edge of the range tried"
ENDS = {
    "bead volume": (320, 345, 365, LEAKS, SQUEEZED),
    "nozzle height": (0.7, 0.95, 1.2, SQUEEZED, LEAKS),
    "nozzle speed": (17.5, 22, 27.5, SQUEEZED, LEAKS),
    "cure humidity": (45, 52, 65, PEELS, EDGE),
}


def window_of(trial, *, share=0.95, confidence=0.95, ends=ENDS):
    """Return a window with these limits, as if it had been found."""
    limits = tuple(
        Limit(
            factor=trial.factor(name),
            low=low,
            set_point=centre,
            high=high,
            limited_by_low=below,
            limited_by_high=above,
        )
        for name, (low, centre, high, below, above) in ends.items()
    )
    return Window(
        limits=limits,
        levels=(),
        share=share,
        confidence=confidence,
        chance_at_set_point=0.9996,
        lowest_share=0.953,
        volume=0.05,
        model_form=0.3,
        seed=11,
        n_draws=64,
        notes=("Model form: an assumption.",),
    )


def opened_seal(folder: Path):
    """Return the demo in a folder, its plan and its results in place."""
    shutil.copytree(wb.files.demo_folder("lid_seal"), folder)
    take_table(folder, folder / "results_as_typed.csv", who="Mira Osei")
    return open_trial(folder)


def answer_of(opened, window):
    """Return the answer as `window` gives it."""
    decision = Decision(best=window, by_level=(((), window),), if_right=window)
    fits = tuple(one.fit for one in fit_all(opened))
    return WindowAnswer(decision=decision, fits=fits, accepted="")


def seen_place(name, settings, answer, *, met, failed=0):
    """Return what parts at a place have shown."""
    return SeenPlace(
        name=name,
        settings=tuple(settings.items()),
        answer=answer,
        judged_by="counting",
        tally=Tally(planned=met + failed, met=met, failed=failed, lost=0, unknown=0),
        share_low=0.9,
        share_high=1.0,
        share_at_least=0.951,
        by_measure=Unavailable(reason="parts are counted"),
        reasons=(),
        outcomes=(),
    )


def verdict_of(window, answer=Answer.HOLDS, *, place_answers=None, **changed):
    """Return a verdict on the set point and one corner of a window."""
    answers = place_answers or (answer, answer)
    corner = {one.factor.name: one.high for one in window.limits}
    places = (
        seen_place("set point", window.set_point(), answers[0], met=59),
        seen_place("corner 1", corner, answers[1], met=57, failed=2),
    )
    said = {
        "answer": answer,
        "share": window.share,
        "confidence": window.confidence,
        "places": places,
        "reasons": (),
        "to_do": ("Do as the verdict says.",),
    }
    return Verdict(**(said | changed))
