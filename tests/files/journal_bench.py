"""A bench that enters readings of one force: shared by the tests of the journal."""

from datetime import UTC, datetime

from workbench.files.entries import ReadingEntry
from workbench.files.journal import read_journal

NOON = datetime(2024, 5, 1, 12, tzinfo=UTC)


def reading(value, run=1):
    return ReadingEntry(
        run=run, part=1, reading=1, outcome="force", text=f"{value}", value=value, unit="N"
    )


def entries(folder):
    return [one.entry for one in read_journal(folder).entries]
