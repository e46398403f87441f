"""What every test run says first and last, and a record that several folders look at."""

import csv
import io
import shutil
from collections import Counter

import numpy as np
import pytest

import workbench as wb

CHROMIUM = ("chromium", "chromium-browser", "google-chrome", "chrome")


def pytest_report_header():
    """Say in one line whether the browser tests can run here."""
    found = next((path for name in CHROMIUM if (path := shutil.which(name))), None)
    if found is None:
        return "browser tests: left out, no Chromium here (on Debian: apt-get install chromium)"
    return f"browser tests: with {found}"


def pytest_terminal_summary(terminalreporter):
    """Say where the time went: the checks have a budget for each of these."""
    seconds = Counter()
    for reports in terminalreporter.stats.values():
        for report in reports:
            if hasattr(report, "duration") and hasattr(report, "nodeid"):
                seconds[_kind(report.nodeid)] += report.duration
    spent = ", ".join(f"{kind} {total:.0f}" for kind, total in sorted(seconds.items()))
    terminalreporter.write_line(f"seconds in {spent}")


def _kind(nodeid):
    folders = {
        "tests/browser": "browser",
        "notebooks": "notebooks",
        "tests/simulation": "simulations",
    }
    return next((kind for start, kind in folders.items() if nodeid.startswith(start)), "tests")


@pytest.fixture(scope="session")
def demo_record():
    """The lid seal demo as a record: every run done once, at its planned settings."""
    folder = wb.files.demo_folder("lid_seal")
    trial = wb.files.read_trial(folder)
    plan = wb.files.read_plan(folder, trial)
    words = (folder / "results_as_typed.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(words)))
    ones = np.ones(len(plan), dtype=np.int64)
    readings = {
        one.name: wb.run.Readings(
            row=np.arange(len(plan)),
            part=ones.copy(),
            reading=ones.copy(),
            value=np.array([float(row[f"{one.name} ({one.unit})"]) for row in rows]),
            mark=0 * ones,
        )
        for one in trial.outcomes
    }
    return wb.run.Record(
        trial=trial,
        plan=plan,
        run=np.arange(1, len(plan) + 1),
        planned=plan.settings,
        as_run=plan.settings,
        block=0 * ones,
        block_labels=("1",),
        setup=np.arange(1, len(plan) + 1),
        status=(wb.run.Status.DONE,) * len(plan),
        reason=("",) * len(plan),
        readings=readings,
    )
