"""Tables as people keep them, adopted as they came: what each was taken to mean.

The files are public practice data met in the field; the wire bonds are from a regression textbook
(Montgomery, Peck and Vining 2012, table of 25 bonds).
"""

from pathlib import Path

import numpy as np
import pytest

from workbench import files, run
from workbench.define.algebra import parse_terms
from workbench.define.factors import Categorical, Continuous
from workbench.define.model_matrix import model_matrix
from workbench.steps.adopt import adopt
from workbench.steps.adopt_options import (
    AdoptOptions,
    parse_exclusion,
    parse_factor,
    parse_outcome,
)

CASES = Path(__file__).parents[1] / "cases"


def adopted(folder, case, *, name="data.csv", **options):
    table = next(CASES.glob(f"{case}_*")) / name
    answer = adopt(table, folder / "trial", AdoptOptions(who="Mira", **options))
    trial = files.read_trial(answer.folder)
    assert trial == answer.trial
    record = files.read_record(answer.folder, trial, files.read_plan(answer.folder, trial))
    return answer, record


def said(answer, column):
    return [line for line in answer.receipt.lines if f"column {column!r}" in line.where]


def least_squares(record, terms, outcome):
    """Return the coefficients by the normal equations, apart from our own fit."""
    used = record.used()
    X = model_matrix(parse_terms(terms, record.trial.factors), record.as_run.rows(used)).X
    readings = record.readings[outcome]
    y = np.array([readings.value[readings.row == i].mean() for i in np.flatnonzero(used)])
    return np.linalg.solve(X.T @ X, X.T @ y)


def test_two_adhesives(tmp_path):
    answer, record = adopted(tmp_path, "05")
    adhesive, temperature = answer.trial.factors
    assert isinstance(adhesive, Categorical)
    assert adhesive.levels == ("A1", "A2")
    assert isinstance(temperature, Continuous)
    assert (temperature.low, temperature.high, temperature.unit) == (60, 100, "")
    assert answer.trial.model == "interactions"
    assert len(record) == 12
    lines = said(answer, "Temperatura")
    assert "kind=categorical" in lines[0].understood
    assert not lines[0].sure
    assert any("no column of run numbers" in line.met for line in answer.receipt.lines)
    # A1 3.45 + 0.725 t, A2 2.97 + 1.545 t with t = (T − 80) / 20: mean 3.21, slope 1.135.
    mean, own, slope, own_slope = least_squares(record, "interactions", "Y")
    assert mean + own == pytest.approx(3.45, abs=0.005)
    assert slope + own_slope == pytest.approx(0.725, abs=0.005)
    assert slope - own_slope == pytest.approx(1.545, abs=0.005)


def test_mould_length_is_saturated(tmp_path):
    answer, record = adopted(tmp_path, "08")
    assert [one.name for one in answer.trial.factors] == [
        "mould_temp_C",
        "cool_time_s",
        "hold_press_bar",
    ]
    assert all(one.unit == "" for one in answer.trial.factors)
    assert len(parse_terms(answer.trial.model, answer.trial.factors)) == 7
    effects = 2 * least_squares(record, answer.trial.model, "length_mm")[1:4]
    np.testing.assert_allclose(effects, [-0.0925, 0.1225, 0.3375], atol=5e-5)


@pytest.mark.parametrize(("name", "sheet"), [("data.csv", None), ("raw.xlsx", "Raw Data")])
def test_printed_bars(tmp_path, name, sheet):
    answer, record = adopted(tmp_path, "13", name=name, sheet=sheet)
    assert [one.name for one in answer.trial.factors] == ["Infill percentage", "Print speed"]
    assert answer.trial.factor("Print speed").unit == "mm/min"
    assert [one.name for one in answer.trial.outcomes] == ["Max Stress"]
    assert "run numbers" in said(answer, "Sample")[0].understood
    assert "one label for each combination" in said(answer, "Treatment")[0].met
    formulas = [line for line in answer.receipt.lines if "36 cells with formulas" in line.met]
    assert len(formulas) == (sheet is not None)
    cell = (record.as_run.column("Infill percentage") == 30) & (
        record.as_run.column("Print speed") == 1500
    )
    readings = record.readings["Max Stress"]
    assert readings.value[np.isin(readings.row, np.flatnonzero(cell))].mean() == pytest.approx(
        12.21, abs=0.005
    )


DRIFTED = [50.378, 5.464, 10.184, 1.034]


def test_drifted_settings(tmp_path):
    stated = [
        parse_factor(text)
        for text in ("T:low=120,high=160", "P:low=40,high=80", "C:low=15,high=30")
    ]
    answer, record = adopted(tmp_path, "14", outcomes=(parse_outcome("Y"),), factors=tuple(stated))
    assert any("byte-order mark" in line.met for line in answer.receipt.lines)
    assert "without any value" in said(answer, "xT")[0].met
    assert "the coded form of 'P'" in said(answer, "xP")[0].understood
    assert "the coded form of 'C'" in said(answer, "xC")[0].understood
    assert answer.trial.model == "first-order"
    found = least_squares(record, "first-order", "Y")
    np.testing.assert_allclose(found, DRIFTED, atol=5e-4)


def test_drifted_settings_beside_their_plan(tmp_path):
    planned = next(CASES.glob("14_*")) / "planned.csv"
    answer, record = adopted(tmp_path, "14", outcomes=(parse_outcome("Y"),), planned=planned)
    assert answer.plan is not None
    assert answer.plan.recipe.kind == "adopted"
    what = run.happened(record)
    assert (what.n_planned, what.n_done, what.missing) == (12, 11, (4,))
    assert any("planned run 4 (T 160, P 80, C 15)" in line.met for line in answer.receipt.lines)
    shifts = {(one.run, one.factor): one.as_run for one in what.deviations}
    assert shifts[9, "T"] == 142
    assert shifts[8, "P"] == 83
    np.testing.assert_allclose(least_squares(record, "first-order", "Y"), DRIFTED, atol=5e-4)
    assert record.planned.column("T")[8] == 140


def test_wire_pull(tmp_path):
    answer, record = adopted(
        tmp_path, "33", outcomes=(parse_outcome("pull_strength:unit=gf,at_least=10"),)
    )
    outcome = answer.trial.outcome("pull_strength")
    assert (outcome.unit, outcome.requirement.low) == ("gf", 10)
    assert answer.trial.model == "first-order"
    readings = record.readings["pull_strength"]
    columns = np.column_stack([np.ones(25), record.as_run.values])
    found, *_ = np.linalg.lstsq(columns, readings.value, rcond=None)
    np.testing.assert_allclose(found, [2.2638, 2.7443, 0.0125], atol=5e-5)


def test_an_exclusion_is_kept_with_its_reason_and_its_readings(tmp_path):
    _, record = adopted(tmp_path, "08", exclude=(parse_exclusion("3=core pin stuck"),))
    assert record.reason[2] == "core pin stuck"
    assert record.used().sum() == 7
    assert len(record.readings["length_mm"]) == 8


def test_the_journal_holds_the_digest_of_the_table(tmp_path):
    answer, _ = adopted(tmp_path, "05")
    last = files.read_journal(answer.folder).entries[-1].entry
    assert isinstance(last, files.ReceiptEntry)
    table = files.read_table(next(CASES.glob("05_*")) / "data.csv")
    assert last.digest == table.digest
    assert (answer.folder / "results.csv").exists()
