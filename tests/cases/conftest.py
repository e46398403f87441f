"""Tables from the field taken in as a user does, and what is asked instead."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from workbench import files
from workbench.define.factors import Categorical
from workbench.errors import WorkbenchError
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import AdoptOptions, parse_factor, parse_outcome

CASES = Path(__file__).parent


@dataclass(frozen=True, kw_only=True)
class Taken:
    """A table taken in, as it is read back from its folder."""

    trial: object
    record: object
    lines: tuple

    def line(self, words):
        """The one line of the receipt that holds these words."""
        (one,) = [x for x in self.lines if words in f"{x.where}: {x.met} → {x.understood}"]
        return one

    def values(self, name):
        return self.record.readings[name].value

    @property
    def kinds(self):
        """Levels of categories and ends of ranges, by the name of the factor."""
        return {
            one.name: one.levels if isinstance(one, Categorical) else (one.low, one.high)
            for one in self.trial.factors
        }


def _wishes(key, said):
    """What is said of outcomes and factors, as it is written on the command line."""
    parse = {"outcomes": parse_outcome, "factors": parse_factor}.get(key)
    return tuple(parse(text) for text in said) if parse else said


@pytest.fixture
def take(tmp_path):
    def take_in(case, *, name="data.csv", **said):
        table = next(CASES.glob(f"{case}_*")) / name
        said = {key: _wishes(key, value) for key, value in said.items()}
        answer = adopt(table, tmp_path / "trial", AdoptOptions(who="Mira", **said))
        plan = files.read_plan(answer.folder, answer.trial)
        assert files.read_trial(answer.folder) == answer.trial
        return Taken(
            trial=answer.trial,
            record=files.read_record(answer.folder, answer.trial, plan),
            lines=answer.receipt.lines,
        )

    return take_in


@pytest.fixture
def asked(take, tmp_path):
    def ask(case, **said):
        with pytest.raises(WorkbenchError) as met:
            take(case, **said)
        assert not (tmp_path / "trial").exists()
        return str(met.value)

    return ask
