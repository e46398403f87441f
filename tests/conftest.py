"""What every test run says first and last."""

import shutil
from collections import Counter

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
