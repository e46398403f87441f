"""Central composites: published distances, counts and blocks; what is refused and noted."""

import numpy as np
import pytest

import workbench as wb
from workbench.define import Continuous, Stepped, model_matrix, parse_terms
from workbench.errors import PlanError

CHECK = wb.files.published("hb-response-surface-designs")
NAMES = tuple("abcdefgh")


def rows_of(plan, *points):
    return np.array([point in points for point in plan.point])


def notes_of(plan):
    return " ".join(plan.recipe.notes)


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.6.1, table 3.23; Box and Hunter 1957")
@pytest.mark.parametrize("name", CHECK.expected["rotatable_alpha"])
def test_rotatable_distances(numeric_trial, name):
    expected = CHECK.expected["rotatable_alpha"][name]
    k = int(name[1])
    core_runs = 2 ** (k - 1) if "-1" in name else 2**k
    plan = wb.plan.composite(numeric_trial(k, NAMES), seed=1, core_runs=core_runs)
    axial = plan.settings.coded()[rows_of(plan, "axial")]
    assert np.abs(axial).max() == pytest.approx(expected.value, abs=expected.tol)
    assert np.abs(axial).max() == pytest.approx(expected.recomputed or expected.value, rel=1e-11)


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.6.1, tables 3.22 to 3.28")
@pytest.mark.parametrize(
    ("name", "k", "core_runs"),
    [
        ("ccd_k2", 2, 4),
        ("ccd_k3", 3, 8),
        ("ccd_k4", 4, 16),
        ("ccd_k5_half_fraction", 5, 16),
        ("ccd_k5_full", 5, 32),
        ("ccd_k6_half_fraction", 6, 32),
        ("ccd_k6_full", 6, 64),
    ],
)
def test_run_counts(numeric_trial, name, k, core_runs):
    centre = CHECK.expected["center_runs"][name].value
    trial = numeric_trial(k, NAMES)
    plan = wb.plan.composite(trial, seed=1, core_runs=core_runs, centre_points=centre)
    assert len(plan) == CHECK.expected["run_counts"][name].value


@pytest.mark.published("Box and Hunter 1957: fourth moments of a rotatable plan are as 3 to 1")
@pytest.mark.parametrize("k", [2, 3, 4, 5, 6, 7, 8])
def test_moments_of_rotatable_plans(numeric_trial, k):
    plan = wb.plan.composite(numeric_trial(k, NAMES), seed=1)
    coded = plan.settings.coded()
    pure = (coded**4).sum(axis=0)
    mixed = (coded[:, 0] ** 2 * coded[:, 1] ** 2).sum()
    np.testing.assert_allclose(pure, 3 * mixed)
    assert plan.recipe.resolution is None or plan.recipe.resolution >= 5


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.6.3, low 10 and high 20")
def test_settings_in_natural_units(trial_of):
    factors = [Continuous(name=name, low=10, high=20, unit="mm", setting_sd=0) for name in "abc"]
    printed = CHECK.expected["natural_units_low10_high20_k3"]
    around = wb.plan.composite(trial_of(*factors), seed=1)
    column = around.settings.column("a")
    for end, name in ((min, "circumscribed_axial_low"), (max, "circumscribed_axial_high")):
        assert end(column) == pytest.approx(printed[name].recomputed, abs=1e-9)
    assert "a: from 6.59104 to 23.409 mm" in notes_of(around)
    within = wb.plan.composite(trial_of(*factors), seed=1, inscribed=True)
    assert (within.settings.values.min(), within.settings.values.max()) == (10, 20)
    corners = within.settings.column("a")[rows_of(within, "factorial")]
    for end, name in ((min, "inscribed_factorial_low"), (max, "inscribed_factorial_high")):
        assert end(corners) == pytest.approx(printed[name].recomputed, abs=1e-9)
    faced = wb.plan.composite(trial_of(*factors), seed=1, axial="face")
    assert set(faced.settings.values.ravel()) == {10.0, 15.0, 20.0}
    assert "beyond" not in notes_of(faced)


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.6.4, tables 3.29 to 3.32")
@pytest.mark.parametrize(
    ("design", "options"),
    [
        ("2f-2b", {"blocks": 2, "centre_points": 6}),
        ("3f-3b", {"blocks": 3, "centre_points": 6}),
        ("4f-3b", {"blocks": 3, "centre_points": 6}),
    ],
)
def test_blocked_composites_hold_the_printed_runs(numeric_trial, design, options):
    table = CHECK.tables["data"]
    table = table[table["design"] == design].dropna(axis=1)
    k = int(design[0])
    plan = wb.plan.composite(numeric_trial(k, NAMES), seed=1, **options)
    columns = [f"x{j}" for j in range(1, k + 1)]
    printed = {
        tuple(sorted(map(tuple, part[columns].round(4).to_numpy() + 0.0)))
        for _, part in table.groupby("block")
    }
    coded = np.round(plan.settings.coded(), 4) + 0.0
    ours = {
        tuple(sorted(map(tuple, coded[plan.block == block])))
        for block in range(1, options["blocks"] + 1)
    }
    assert ours == printed


@pytest.mark.published("Box and Hunter 1957: orthogonal blocks")
@pytest.mark.parametrize(
    ("name", "k", "blocks", "core_runs", "core_centres", "axial_centres"),
    [
        ("k2_two_blocks_3+3_center", 2, 2, 4, 3, 3),
        ("k3_three_blocks_2+2_2", 3, 3, 8, 4, 2),
        ("k4_three_blocks_2+2_2", 4, 3, 16, 4, 2),
        ("k5_half_two_blocks_6+1", 5, 2, 16, 6, 1),
    ],
)
def test_orthogonal_distances(name, k, blocks, core_runs, core_centres, axial_centres):
    assert blocks in (2, 3)
    distance = wb.plan.orthogonal_axial_distance(
        k, core_runs, core_centres=core_centres, axial_centres=axial_centres
    )
    expected = CHECK.expected["orthogonal_blocking_alpha"][name]
    assert distance == pytest.approx(expected.value, abs=expected.tol)


@pytest.mark.parametrize(
    ("k", "blocks", "centre_points"), [(2, 2, 6), (3, 3, 6), (4, 3, 7), (5, 5, 10), (6, 9, 18)]
)
def test_orthogonal_blocks_leave_every_effect_alone(numeric_trial, k, blocks, centre_points):
    plan = wb.plan.composite(
        numeric_trial(k, NAMES),
        seed=3,
        blocks=blocks,
        centre_points=centre_points,
        axial="orthogonal blocks",
        core_runs=2**k,
    )
    X = model_matrix(plan.terms, plan.settings).X
    for block in range(1, blocks + 1):
        np.testing.assert_allclose(X[plan.block == block].mean(axis=0), X.mean(axis=0), atol=1e-12)
    assert "Blocks are orthogonal" in notes_of(plan)
    assert {plan.point[i] for i in np.flatnonzero(plan.block == blocks)} == {"axial", "centre"}


def test_blocks_that_are_not_orthogonal_say_what_would_be(numeric_trial):
    plan = wb.plan.composite(numeric_trial(3, NAMES), seed=1, blocks=3, centre_points=6)
    assert "not quite orthogonal to the squares at distance 1.682; 1.633" in notes_of(plan)


def test_the_model_is_carried_and_the_plan_remade(numeric_trial, same_plan):
    trial = numeric_trial(5, NAMES)
    for options in ({}, {"axial": "face"}, {"axial": 1.25, "blocks": 2}, {"inscribed": True}):
        plan = wb.plan.composite(trial, seed=11, **options)
        assert len(plan.terms) == 20
        assert wb.plan.cannot_be_told_apart(plan.terms, plan.settings) == ()
        assert same_plan(wb.plan.remake(trial, plan.recipe), plan)
    assert plan.recipe.resolution == 5
    assert plan.recipe.generators == ("e = a × b × c × d",)


@pytest.mark.published("Hartley 1959, Biometrics 15, 611-624: a core of resolution III can do")
def test_a_small_core_is_taken_only_if_it_carries_the_model(numeric_trial):
    plan = wb.plan.composite(numeric_trial(4, NAMES), seed=1, core_runs=8, terms="first-order")
    assert len(plan) == 8 + 8 + 4
    with pytest.raises(PlanError, match=r"a × b and c × e|b × c and d × e"):
        wb.plan.composite(numeric_trial(5, NAMES), seed=1, core_runs=8)
    small = wb.plan.composite(numeric_trial(3, NAMES), seed=1, core_runs=4)
    assert len(small) == 4 + 6 + 4
    assert wb.plan.cannot_be_told_apart(small.terms, small.settings) == ()


def test_categories_repeat_the_composite(number, category, trial_of):
    trial = trial_of(number("x"), category("tip", "flat", "cone", "knife"), number("y"))
    plan = wb.plan.composite(trial, seed=1, blocks=2)
    assert len(plan) == 3 * 12
    tips = plan.settings.column("tip")
    shapes = [
        sorted(map(tuple, plan.settings.coded()[tips == tip][:, [0, 2]])) for tip in (0, 1, 2)
    ]
    assert shapes[0] == shapes[1] == shapes[2]
    assert "at each of the 3 level combinations of tip" in notes_of(plan)
    assert parse_terms("second-order", trial.factors).terms == plan.terms.terms


def test_axial_runs_below_zero_are_pointed_out(trial_of, number):
    low = Continuous(name="bead volume", low=1, high=11, unit="mm³", setting_sd=0)
    plan = wb.plan.composite(trial_of(low, number("x")), seed=1)
    assert "bead volume: from -1.07107 to 13.0711 mm³, below zero" in notes_of(plan)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"axial": 0.0}, "axial distance 0.0 does not exist"),
        ({"axial": float("nan")}, "axial distance nan"),
        ({"axial": "spherical"}, "'spherical' does not exist.*rotatable, face"),
        ({"axial": "orthogonal blocks"}, "with one block"),
        ({"blocks": 4}, "no 4 blocks.*1, 2, 3, 5 or 9"),
        ({"blocks": 2, "centre_points": 1}, "at least 2 centre points"),
        ({"core_runs": 6}, "no two-level fraction of 3 factors in 6 runs"),
        ({"axial": 3**0.5, "centre_points": 0}, "mean, a², b² and c²"),
    ],
    ids=str,
)
def test_composites_that_do_not_exist_are_refused(numeric_trial, options, words):
    with pytest.raises(PlanError, match=words):
        wb.plan.composite(numeric_trial(3, NAMES), seed=1, **options)


def test_steps_and_categories_that_do_not_fit_are_refused(number, category, trial_of):
    dial = Stepped(name="dial", steps=(1, 2, 3), unit="V", setting_sd=0)
    with pytest.raises(PlanError, match=r"'dial' at 0.585786, 3.41421 V, which is none of"):
        wb.plan.composite(trial_of(number("x"), dial), seed=1)
    faced = wb.plan.composite(trial_of(number("x"), dial), seed=1, axial="face")
    assert set(faced.settings.column("dial")) == {1.0, 2.0, 3.0}
    with pytest.raises(PlanError, match="every factor is a category"):
        wb.plan.composite(trial_of(category("tip", "flat", "cone")), seed=1)
