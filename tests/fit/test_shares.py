"""Draws of the share of good parts against closed forms and published tolerance factors."""

import numpy as np
import pytest
from scipy import stats

import workbench as wb
from workbench.define.factors import Categorical, Continuous, Role, Spread, Stepped
from workbench.define.outcomes import Measured, at_least, at_most, between
from workbench.define.settings import from_coded
from workbench.define.trial import Trial
from workbench.errors import Unavailable
from workbench.files.evidence import published
from workbench.fit.left_out import left_out_exponents, tried_exponents
from workbench.run.record import Readings, Record, Status

FORCE = Measured(name="peel force", unit="N", requirement=at_least(0))
N_DRAWS = 40_000


def dwell(**more):
    return Continuous(
        **({"name": "dwell", "low": 2, "high": 6, "unit": "s", "setting_sd": 0.0} | more)
    )


def fitted(factors, coded, values, *, outcome=FORCE, terms="second-order", **more):
    values = np.asarray(values, dtype=float).reshape(len(coded), -1)
    n, m = values.shape
    chosen = from_coded(factors, coded)
    trial = Trial(title="t", question="q", factors=tuple(factors), outcomes=(outcome,))
    seen = Readings(
        row=np.repeat(np.arange(n), m),
        part=np.tile(np.arange(1, m + 1), n),
        reading=np.ones(n * m, dtype=np.int64),
        value=values.ravel(),
        mark=np.zeros(n * m, dtype=np.int64),
    )
    record = Record(
        trial=trial,
        plan=None,
        run=np.arange(1, n + 1),
        planned=chosen,
        as_run=chosen,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("all",),
        setup=np.arange(1, n + 1),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={outcome.name: seen},
    )
    wanted = wb.define.parse_terms(terms, tuple(factors))
    return wb.fit.outcome(record, outcome.name, terms=wanted, **more)


def scaled(n, *, mean, sd):
    """Return n numbers of exactly this mean and standard deviation."""
    z = np.random.default_rng(n).standard_normal(n)
    return mean + sd * (z - z.mean()) / z.std(ddof=1)


@pytest.mark.published("NIST/SEMATECH e-Handbook 7.2.6.3, one-sided normal tolerance factors")
@pytest.mark.parametrize("n", [10, 20, 30, 50])
def test_assured_share_is_that_of_the_one_sided_tolerance_factor(n):
    """With one estimated mean the draws are the theory behind the tolerance factor k1.

    A limit k1 standard deviations below the mean of n is met by 95 % of parts with confidence
    95 %. At the middle of an orthogonal two-level plan the mean is known like that of the n runs
    and the scatter with one degree of freedom less, for which the same theory (noncentral t)
    gives the factor.
    """
    table = published("tolerance-factors-normal").tables["data"]
    row = table[(table["n"] == n) & (table["proportion"] == 0.95) & (table["confidence"] == 0.95)]
    factor = float(row["k1_exact"].iloc[0])
    z = stats.norm.ppf(0.95)
    assert stats.nct.ppf(0.95, n - 1, z * np.sqrt(n)) / np.sqrt(n) == pytest.approx(
        factor, abs=6e-6
    )
    coded = np.tile([-1.0, 1.0], n)[:n, None]
    y = scaled(n, mean=0, sd=1)
    y -= np.where(coded[:, 0] > 0, y[coded[:, 0] > 0].mean(), y[coded[:, 0] < 0].mean())
    one = fitted([dwell()], coded, y, terms="first-order")
    s = np.sqrt(one.residual_variance)
    own = stats.nct.ppf(0.95, n - 2, z * np.sqrt(n)) / np.sqrt(n)
    limit = Measured(name=FORCE.name, unit="N", requirement=at_least(-own * s))
    one = fitted([dwell()], coded, y, terms="first-order", outcome=limit)
    draws = one.share_draws(
        from_coded([dwell()], np.zeros((1, 1))), n_draws=N_DRAWS, seed=1, model_form=0.3
    )
    # The 5 % quantile of 40,000 draws has a standard error below 0.0006 here.
    assert np.quantile(draws.share[:, 0], 0.05) == pytest.approx(0.95, abs=0.003)


@pytest.mark.published("NIST/SEMATECH e-Handbook 7.2.6.3, one-sided normal tolerance factors")
@pytest.mark.parametrize("n", [10, 20, 30, 50])
def test_posterior_of_a_plain_sample_gives_the_printed_factor(n):
    from workbench.numerics.posterior import coefficient_draws, normal_share, variance_draws

    table = published("tolerance-factors-normal").tables["data"]
    factor = float(table.loc[table["n"] == n, "k1_exact"].iloc[0])
    rng = np.random.default_rng(n)
    variances = variance_draws(rng, 1.0, df=n - 1, n_draws=200_000)
    means = coefficient_draws(rng, np.zeros(1), unscaled=np.array([[1 / n]]), variances=variances)[
        :, 0
    ]
    share = normal_share(((means + factor) / np.sqrt(variances)).astype(np.float32))
    assert np.quantile(share, 0.05) == pytest.approx(0.95, abs=0.0015)


def quadratic_fit(**more):
    factors = [dwell(**more.pop("factor", {}))]
    coded = np.tile([-1.0, 0.0, 1.0], 10)[:, None]
    rng = np.random.default_rng(4)
    y = 5 + 2 * coded[:, 0] + 3 * coded[:, 0] ** 2 + rng.normal(0, 1, 30)
    return fitted(factors, coded, y, **more)


def test_a_draw_is_the_same_process_wherever_it_is_looked_at():
    one = quadratic_fit()
    points = from_coded(one.settings.factors, np.linspace(-1, 1, 9)[:, None])
    together = one.share_draws(points, n_draws=500, seed=3, model_form=0.3).share
    alone = one.share_draws(points.rows(np.array([4])), n_draws=500, seed=3, model_form=0.3).share
    np.testing.assert_allclose(together[:, [4]], alone, atol=1e-6)
    other = one.share_draws(points, n_draws=500, seed=4, model_form=0.3).share
    assert not np.allclose(together, other)


@pytest.mark.reference("simulation in NumPy")
def test_setting_error_moves_mean_and_adds_variance():
    """Share by its first two moments against parts made with scattered settings."""
    sd = 0.25  # coded; large on purpose
    requirement = Measured(name=FORCE.name, unit="N", requirement=between(3.5, 9.0))
    exact = quadratic_fit(outcome=requirement)
    held = quadratic_fit(outcome=requirement, factor={"setting_sd": sd * 2})
    point = from_coded(held.settings.factors, np.array([[0.3]]))
    rng = np.random.default_rng(8)
    x = 0.3 + sd * rng.standard_normal(400_000)
    b = exact.estimates
    y = b[0] + b[1] * x + b[2] * x**2
    draws = held.share_draws(point, n_draws=N_DRAWS, seed=1, model_form=0.0)
    sharp = exact.share_draws(point, n_draws=N_DRAWS, seed=1, model_form=0.0)
    s = np.sqrt(exact.residual_variance)
    moments = stats.norm(y.mean(), np.hypot(y.std(), s))
    expected = moments.cdf(9.0) - moments.cdf(3.5)
    plain = stats.norm(b[0] + b[1] * 0.3 + b[2] * 0.09, s)
    without = plain.cdf(9.0) - plain.cdf(3.5)
    assert abs(expected - without) > 0.03
    # Draws average over what is not known too; the change by setting error is compared.
    change = draws.share.mean() - sharp.share.mean()
    assert change == pytest.approx(expected - without, abs=0.02)


def test_planned_settings_hold_their_error_already():
    stated = {"setting_sd": 0.5}
    planned = quadratic_fit(factor=stated, uses_as_run=False)
    exact = quadratic_fit(uses_as_run=False)
    point = from_coded(planned.settings.factors, np.array([[0.4]]))
    again = from_coded(exact.settings.factors, np.array([[0.4]]))
    one = planned.share_draws(point, n_draws=400, seed=1, model_form=0.3).share
    two = exact.share_draws(again, n_draws=400, seed=1, model_form=0.3).share
    np.testing.assert_array_equal(one, two)


def test_noise_is_averaged_over_its_spread_wherever_the_point_says_it_stands():
    spread = {
        "role": Role.NOISE,
        "setting_sd": None,
        "spread": Spread(shape="uniform", centre=4, width=1.5),
    }
    noisy = quadratic_fit(factor=spread)
    points = from_coded(noisy.settings.factors, np.array([[-1.0], [0.0], [1.0]]))
    share = noisy.share_draws(points, n_draws=300, seed=1, model_form=0.3).share
    np.testing.assert_allclose(share[:, 0], share[:, 2], atol=1e-6)


def test_several_parts_a_run_scatter_by_run_and_part():
    """A new part's variance is run plus part; both are known here to 2 % and 1 %."""
    rng = np.random.default_rng(5)
    n, m, run_sd, part_sd = 4000, 4, 1.0, 2.0
    coded = np.tile([-1.0, 1.0], n // 2)[:, None]
    y = rng.normal(0, run_sd, (n, 1)) + rng.normal(0, part_sd, (n, m))
    limit = Measured(name=FORCE.name, unit="N", requirement=at_least(-3.0))
    one = fitted([dwell()], coded, y, terms="first-order", outcome=limit)
    draws = one.share_draws(
        from_coded([dwell()], np.zeros((1, 1))), n_draws=2000, seed=1, model_form=0.0
    )
    expected = stats.norm.cdf(3 / np.hypot(run_sd, part_sd))
    assert draws.share.mean() == pytest.approx(expected, abs=0.006)


def test_a_new_part_never_scatters_less_than_parts_of_one_run():
    """Run means of exactly equal parts sets would say that runs scatter less than nothing."""
    base = np.array([-3.0, -1.0, 1.0, 3.0])
    y = np.array([np.roll(base, i) for i in range(12)]) + np.linspace(-0.1, 0.1, 12)[:, None]
    coded = np.tile([-1.0, 1.0], 6)[:, None]
    limit = Measured(name=FORCE.name, unit="N", requirement=at_least(-2.6))
    one = fitted([dwell()], coded, y, terms="first-order", outcome=limit)
    draws = one.share_draws(
        from_coded([dwell()], np.zeros((1, 1))), n_draws=4000, seed=1, model_form=0.0
    )
    part_sd = np.sqrt(one.part_scatter.variance)
    assert draws.share.mean() == pytest.approx(stats.norm.cdf(2.6 / part_sd), abs=0.02)


@pytest.mark.parametrize(
    ("scale", "to_scale"),
    [("log", np.log), ("square root", np.sqrt), ("inverse", lambda v: 1 / v)],
)
def test_limits_are_taken_to_the_scale_of_the_model(scale, to_scale):
    rng = np.random.default_rng(6)
    coded = np.tile([-1.0, 1.0], 200)[:, None]
    u = rng.normal(3.0, 0.2, 400)
    back = {"log": np.exp, "square root": np.square, "inverse": lambda v: 1 / v}[scale]
    low, high = sorted((float(back(2.8)), float(back(3.3))))
    outcome = Measured(name="leak", unit="mL/min", requirement=between(low, high), scale=scale)
    one = fitted([dwell()], coded, back(u), terms="first-order", outcome=outcome)
    draws = one.share_draws(
        from_coded([dwell()], np.zeros((1, 1))), n_draws=500, seed=1, model_form=0.3
    )
    mean, sd = one.estimates[0], np.sqrt(one.residual_variance)
    below_low = stats.norm.cdf((to_scale(low) - mean) / sd)
    expected = 1 - below_low if scale == "inverse" else below_low
    assert draws.too_low.mean() == pytest.approx(expected, abs=0.02)
    assert draws.share.mean() == pytest.approx(
        abs(np.diff(stats.norm.cdf((to_scale(np.array([low, high])) - mean) / sd))[0]), abs=0.02
    )


def test_the_model_form_term_is_not_seen_by_the_runs_and_widens_what_is_not_known():
    coded = np.repeat(np.linspace(-1, 1, 3), 400)[:, None]
    rng = np.random.default_rng(7)
    y = 3 * coded[:, 0] + rng.normal(0, 0.5, 1200)
    limit = Measured(name=FORCE.name, unit="N", requirement=at_least(1.0))
    one = fitted([dwell()], coded, y, outcome=limit)
    points = from_coded(one.settings.factors, np.array([[0.0], [0.6], [1.0]]))
    with_term = one.share_draws(points, n_draws=4000, seed=2, model_form=0.3).share.std(axis=0)
    without = one.share_draws(points, n_draws=4000, seed=2, model_form=0.0).share.std(axis=0)
    # x³ − x is zero at all three levels tried: only between them does the form matter.
    assert with_term[0] == pytest.approx(without[0], rel=0.02)
    assert with_term[2] == pytest.approx(without[2], rel=0.02)
    assert with_term[1] > 3 * without[1]


def test_left_out_terms_are_the_ten_of_third_order_for_a_full_quadratic_in_three():
    factors = tuple(dwell(name=name) for name in ("a", "b", "c"))
    coded = np.vstack([np.eye(3), -np.eye(3), np.zeros((1, 3)), np.ones((1, 3))])
    terms = wb.define.parse_terms("second-order", factors)
    tried = tried_exponents(terms, from_coded(factors, coded), factors)
    left_out = left_out_exponents(tried, coded)
    assert left_out.shape == (10, 3)
    assert (left_out.sum(axis=1) == 3).all()


def test_powers_of_a_factor_tried_at_two_levels_are_a_matter_of_straightness():
    factors = tuple(dwell(name=name) for name in ("a", "b", "c"))
    coded = np.array(np.meshgrid(*[[-1.0, 1.0]] * 3)).reshape(3, -1).T
    terms = wb.define.parse_terms("interactions", factors)
    tried = tried_exponents(terms, from_coded(factors, coded), factors)
    assert left_out_exponents(tried, coded).tolist() == [[1, 1, 1]]


def test_levels_of_a_category_and_steps_are_told_apart():
    tip = Categorical(name="tip", levels=("flat", "bevel"))
    feed = Stepped(name="feed", steps=(1, 2, 3), unit="mm", setting_sd=0)
    grid = np.array([[x, level] for x in (-1.0, 0.0, 1.0) for level in (0, 1)] * 5)
    rng = np.random.default_rng(9)
    y = np.where(grid[:, 1] == 0, 2.0, -2.0) + grid[:, 0] + rng.normal(0, 0.5, len(grid))
    one = fitted([feed, tip], grid, y, terms="feed, tip, feed * tip, feed^2")
    points = from_coded([feed, tip], np.array([[0.0, 0], [0.0, 1]]))
    chance = one.share_draws(points, n_draws=1000, seed=1, model_form=0.3).share.mean(axis=0)
    assert chance[0] > 0.98
    assert chance[1] < 0.02


@pytest.mark.parametrize(
    ("factor", "outcome", "words"),
    [
        ({"setting_sd": None}, FORCE, "write setting_sd in s"),
        ({"role": Role.NOISE}, FORCE, "varies in production"),
        ({"role": Role.OBSERVED}, FORCE, "only read, not set"),
        ({}, Measured(name="peel force", unit="N"), "no requirement"),
    ],
)
def test_what_is_not_stated_is_said(factor, outcome, words):
    one = quadratic_fit(factor=factor, outcome=outcome)
    answer = one.share_draws(one.settings, n_draws=10, seed=1, model_form=0.3)
    assert isinstance(answer, Unavailable)
    assert words in answer.reason


def test_on_a_square_root_scale_no_part_is_below_zero():
    coded = np.tile([-1.0, 1.0], 10)[:, None]
    y = np.random.default_rng(1).normal(1, 0.5, 20) ** 2
    outcome = Measured(name="flaws", unit="mm²", requirement=at_least(0), scale="square root")
    one = fitted([dwell()], coded, y, terms="first-order", outcome=outcome)
    draws = one.share_draws(one.settings, n_draws=10, seed=1, model_form=0.0)
    np.testing.assert_array_equal(draws.share, 1)
    outcome = Measured(name="flaws", unit="mm²", requirement=at_most(0), scale="square root")
    one = fitted([dwell()], coded, y, terms="first-order", outcome=outcome)
    draws = one.share_draws(one.settings, n_draws=2000, seed=1, model_form=0.0)
    at_zero = stats.norm.cdf(-one.estimates[0] / np.sqrt(one.residual_variance))
    assert draws.share.mean() == pytest.approx(at_zero, abs=0.05)
