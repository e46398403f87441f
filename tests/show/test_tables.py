"""Tables of nouns: right numbers, said gaps, nothing obeyed."""

from dataclasses import replace
from html.parser import HTMLParser

import invented_lid_seal as lid
import pytest

import workbench as wb
from workbench import show
from workbench.run.receipt import Receipt, ReceiptLine
from workbench.show.html_tables import html_table, name, number
from workbench.show.numbers import NBSP


class Cells(HTMLParser):
    """Collects the rows of a table as lists of text, and the tags met."""

    def __init__(self):
        super().__init__()
        self.rows, self.tags = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_data(self, data):
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data


def cells(markup):
    parser = Cells()
    parser.feed(markup)
    return parser


def test_a_table_has_caption_scopes_and_a_total():
    found = cells(html_table("Runs", [name("run"), number("N")], [("a", 1), ("b", 2)], total=True))
    assert found.rows == [["run", "N"], ["a", "1"], ["b", "2"]]
    assert ("caption", {}) in found.tags
    assert ("th", {"scope": "row"}) in found.tags
    assert [attrs for tag, attrs in found.tags if tag == "tr"][-1] == {"class": "sum"}


def test_effects_table_has_the_agreed_columns_and_the_fits_numbers():
    fit = lid.fit("peel force")
    head, *rows = cells(show.effects_table(fit)).rows
    assert [one.replace(NBSP, " ") for one in head[:8]] == [
        "effect of",
        "size",
        "unit",
        "95 % from",
        "to",
        "standard error",
        "error df",
        "p",
    ]
    assert len(rows) == len(fit.effects)
    bead = next(e for e in fit.effects if e.name == "bead volume")
    row = next(r for r in rows if r[0] == "bead volume")
    shown = [float(row[i].replace("−", "-")) for i in (1, 3, 4)]
    wanted = [bead.value, bead.estimate.low, bead.estimate.high]
    assert shown == pytest.approx(wanted, abs=0.051)
    assert row[6] == str(fit.error_df)


def test_no_error_estimate_is_said_where_the_numbers_would_stand():
    fit = lid.fit_without_error()
    _, *rows = cells(show.effects_table(fit)).rows
    reason = fit.effects[0].estimate.reason
    assert all(reason in row for row in rows)
    assert "nan" not in show.effects_table(fit).lower()
    assert fit.residual_variance.reason in show.summary_table(fit)


def test_plan_and_record_tables_have_a_row_for_each_run():
    assert len(cells(show.plan_table(lid.plan())).rows) == 31
    found = cells(show.record_table(lid.record(excluded=(3,)))).rows
    assert len(found) == 31
    assert found[3][-1] == "excluded: tip was bent, seen at once"


def test_limits_and_promise_tables():
    found = cells(show.limits_table(lid.decision())).rows
    assert found[1][:5] == ["bead volume", "315", "350", "385", "mm³"]
    assert found[3][-1] == "range edge / leaks"
    missing = show.limits_table(lid.no_window())
    assert "No window" in missing
    assert f"98.1{NBSP}%" in missing
    promised = show.promise_table(lid.story().promises, lid.trial(), lid.decision().best)
    assert cells(promised).rows[-1] == [
        "all together",
        "",
        "",
        f">{NBSP}99.9{NBSP}%",
        f"95.4{NBSP}%",
        f"95{NBSP}% asked",
    ]


def test_a_promise_below_the_share_asked_is_not_called_met():
    low = tuple(replace(one, lowest=0.9) for one in lid.story().promises)
    table = show.promise_table(low, lid.trial(), lid.decision().best)
    assert 'class="v meets"' not in table
    assert 'class="v unsure"' in table


def test_deviations_keep_their_factors_decimals():
    found = cells(show.deviations_table(wb.run.deviations(lid.record()), lid.trial())).rows
    assert found[1] == ["11", "nozzle height", "0.60", "0.75", "mm", "3.8"]


def test_receipt_says_what_is_not_sure():
    lines = (
        ReceiptLine(where="row 7", met="2,5", understood="2.5"),
        ReceiptLine(where="row 8", met="3.4.26", understood="3 April", sure=False),
    )
    table = show.receipt_table(Receipt(lines=lines, n_rows=8, columns=("a",)))
    assert "please check" in table
    assert cells(table).rows[1][:3] == ["row 7", "2,5", "2.5"]


def test_nasty_names_are_escaped_in_every_table():
    trial = lid.nasty_trial()
    plan = wb.plan.full(trial, seed=1)
    for table in (
        show.outcomes_table(trial),
        show.factors_table(trial),
        show.held_table(trial),
        show.plan_table(plan),
    ):
        assert "<img" not in table
        assert "&lt;img src=x" in table
