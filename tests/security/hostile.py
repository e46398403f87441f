"""An invented trial by somebody who means harm: every text in it tries to be more than text."""

import csv
import io

import numpy as np

from workbench import files
from workbench.define.factors import Categorical, Continuous, Held
from workbench.define.outcomes import Graded, Measured, PassFail, at_least
from workbench.define.settings import settings as settings_of
from workbench.define.terms import preset
from workbench.define.trial import Trial
from workbench.plan.plans import Plan, Recipe

# alert, onerror, fetch: what would run; https://outside.example: what would be asked for.
MARKUP = '<img src=x onerror="alert(1)">'
SCRIPT = "</script><script>alert(2)</script>"
TEMPLATE = "${alert(3)}{{7*7}}"
LINK = '<a href="https://outside.example/a">b</a>'
PICTURE = "<svg/onload=alert(4)>"
FRAME = "<iframe src=https://outside.example></iframe>"
FORMULA = '=HYPERLINK("https://outside.example";"x")'
COMMAND = "+cmd|' /C calc'!A0"
CODE = "__import__('os').system('touch owned')"
MARKDOWN = "[x](javascript:alert(5)) ![y](https://outside.example/p.png)"
TURNED = "user\u202egnp.exe"
SCREEN = "\x1b]0;owned\x07\x1b[31mred\x1b[2J"
ZERO = "nul\x00byte"
STYLE = "</style><style>@import url(https://outside.example/s.css)</style>"
ATTRIBUTE = '" onmouseover="alert(6)" x="'

ALL = (
    MARKUP,
    SCRIPT,
    TEMPLATE,
    LINK,
    PICTURE,
    FRAME,
    FORMULA,
    COMMAND,
    CODE,
    MARKDOWN,
    TURNED,
    SCREEN,
    ZERO,
    STYLE,
    ATTRIBUTE,
)

NUMERIC = f"dwell {MARKUP}"
CATEGORY = f"{FORMULA} {SCRIPT}"
LEVELS = (f"{COMMAND}", f"{PICTURE}{TEMPLATE}")
FORCE = f"{CODE} {ATTRIBUTE}"
TIGHT = f"@tight {FRAME}"
LOOK = f"look {STYLE}"

TRIAL = Trial(
    title=f"Invented {SCRIPT} {MARKUP} {TURNED} {SCREEN}",
    question=f"{MARKDOWN} {PICTURE} {ZERO} {TEMPLATE}",
    factors=(
        Continuous(
            name=NUMERIC,
            low=1,
            high=3,
            unit="s",
            setting_sd=0.05,
            slow=True,
            reset_cost=MARKUP,
        ),
        Categorical(name=CATEGORY, levels=LEVELS),
    ),
    outcomes=(
        Measured(
            name=FORCE,
            unit="N",
            requirement=at_least(3),
            method=f"{MARKUP} {SCREEN}",
            wait="2 h",
            too_low=PICTURE,
            too_high=SCRIPT,
            expected_sd=1.0,
            worth_finding=2.0,
        ),
        PassFail(name=TIGHT, passes=f"-{MARKUP}", fails=f"={SCRIPT}"),
        Graded(name=LOOK, grades=(f"@{PICTURE}", f"+{FRAME}")),
    ),
    held=(Held(name=f"=held {MARKUP}", value=SCRIPT, unit="mm"),),
    share=0.9,
    confidence=0.9,
    model="first-order",
    stopping_rule=f"{MARKUP} {MARKDOWN}",
    cautions=ALL,
    people=(SCREEN, MARKUP, FORMULA),
    invented=f"Invented. {MARKUP}",
    seed=3,
)
WHO = f"{MARKUP} {SCREEN} ../../x"
REASON = f"{FORMULA} {SCRIPT} {SCREEN}"
NOTE = f"{COMMAND} {PICTURE} {MARKDOWN}"


def plan():
    """Every combination three times."""
    rows = [
        {NUMERIC: dwell, CATEGORY: level}
        for _ in range(3)
        for dwell in (1, 2, 3)
        for level in LEVELS
    ]
    n = len(rows)
    return Plan(
        settings=settings_of(TRIAL.planned_factors, rows),
        block=np.array([1 + i // 9 for i in range(n)]),
        setup=np.array(list(range(1, n + 1))),
        point=("factorial",) * n,
        standard=np.array(list(range(1, n + 1))),
        parts_per_run=1,
        terms=preset("first-order", TRIAL.planned_factors),
        recipe=Recipe(kind="full", options=(), seed=1, version="0", notes=(f"{MARKUP} {SCRIPT}",)),
    )


def results():
    """The filled-in table, as text, with words that a hand could have typed."""
    stream = io.StringIO()
    writer = csv.writer(stream)
    force, tight, look = TRIAL.outcomes
    writer.writerow(["run", "block", f"{force.name} (N)", tight.name, look.name, *ENDS])
    for i in range(18):
        status, reason = ("excluded", REASON) if i == 4 else ("", "")
        dwell = (1, 2, 3)[(i // 2) % 3]
        writer.writerow(
            [
                i + 1,
                f"lot {MARKUP} {1 + i // 9}",
                4 + dwell + (i % 2) * 0.5 + (i * 7 % 5) * 0.1,
                tight.passes if i % 3 else tight.fails,
                look.grades[i % 2],
                status,
                reason,
                NOTE if i == 2 else "",
            ]
        )
    return stream.getvalue()


ENDS = ("status", "reason", "notes")


def make(folder):
    """Write the trial, its plan and its results into a folder."""
    from workbench.steps.take import take_table

    folder.mkdir(parents=True, exist_ok=True)
    files.write_trial(folder, TRIAL)
    files.write_plan(folder, plan())
    table = folder / "typed.csv"
    table.write_text(results(), encoding="utf-8")
    take_table(folder, table, who=WHO)
    return folder
