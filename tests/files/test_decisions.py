"""decisions.toml: added to, never rewritten."""

import pytest

from workbench.errors import FileError
from workbench.files import decisions
from workbench.files.decisions import NAME, DecisionEntry, add_decision, read_decisions

FIRST = DecisionEntry(
    what="lines are straight", reason='a "quote" = 1', by="Mira", at="2026-03-09"
)
SECOND = DecisionEntry(what="released", reason="see report", by="Tomas", at="2026-03-12")


def test_there_and_back_with_comments_kept(tmp_path):
    assert read_decisions(tmp_path) == ()
    add_decision(tmp_path, FIRST)
    path = tmp_path / NAME
    path.write_text(path.read_text("utf-8") + "# agreed in the Monday meeting\n", "utf-8")
    add_decision(tmp_path, SECOND)
    assert read_decisions(tmp_path) == (FIRST, SECOND)
    assert "# agreed in the Monday meeting" in path.read_text("utf-8")


@pytest.mark.parametrize("text", ["[[decision]\n", '[[decision]]\nwhat = "x"\n', "decision = 3\n"])
def test_what_is_not_understood_is_named_and_kept(tmp_path, text):
    path = tmp_path / NAME
    path.write_text(text, "utf-8")
    with pytest.raises(FileError, match=r"not TOML|not understood"):
        add_decision(tmp_path, FIRST)
    assert path.read_text("utf-8") == text


def test_a_decision_added_by_someone_else_meanwhile_is_not_lost(tmp_path, monkeypatch):
    add_decision(tmp_path, FIRST)
    path = tmp_path / NAME
    real = decisions.in_schema

    def meanwhile(text, **said):
        if "by hand" not in path.read_text("utf-8"):
            path.write_text(path.read_text("utf-8") + "# by hand\n", "utf-8")
        return real(text, **said)

    monkeypatch.setattr(decisions, "in_schema", meanwhile)
    with pytest.raises(FileError, match="was changed or removed on the disk since it was read"):
        add_decision(tmp_path, SECOND)
    assert path.read_text("utf-8").endswith("# by hand\n")
    add_decision(tmp_path, SECOND)
    assert read_decisions(tmp_path) == (FIRST, SECOND)
