"""Error rates of the pass/fail fit: a simulation, run by hand, its results kept below.

Usage: python tests/studies/pass_fail_errors.py N_TRIALS [runs|setups]

runs: a 2^4 plan in 16 runs of 3 parts, main effects; the fourth factor works (0.8 logits a half
range), the first does nothing: "size" is the share of its 5 % tests that call it, "cover" that
of its 95 % profile intervals which hold 0, "working" those of the fourth which hold the truth,
"rate" the coverage of the 95 % interval for the pass rate at the centre. "apart" is the share of
trials in which plain maximum likelihood has no finite estimate. Run scatter is an sd in logits.

setups: 8 setups of 4 runs, two factors between setups and two within; intercept scatter between
setups in logits. "between" and "within" are sizes of tests of factors that do nothing.

Results (seeded; standard error about .01 at 400 trials) are in pass_fail_errors.txt.
"""

import sys
from itertools import product

import numpy as np
from scipy.special import expit

from workbench.define.factors import Continuous
from workbench.define.outcomes import PassFail
from workbench.define.settings import from_coded
from workbench.define.terms import preset
from workbench.define.trial import Trial
from workbench.errors import Unavailable
from workbench.fit.pass_fail_answers import PassAnswers, Yardstick
from workbench.fit.pass_fail_outcome import pass_fail_outcome
from workbench.fit.pass_fail_setups import RunCounts, setup_answers
from workbench.fit.run_means import Wanted
from workbench.numerics.pass_counts import pass_counts
from workbench.numerics.pass_dispersion import pass_dispersion
from workbench.numerics.penalised_logistic import intercept_shift, penalised_logistic
from workbench.run.record import Readings, Record, Status

NAMES = ("idle", "second", "third", "works")
WETTED = PassFail(name="wetted")
SLOPE = 0.8


def factors(slow=()):
    """Return four coded factors, some of them slow."""
    return tuple(
        Continuous(name=name, low=-1, high=1, unit="", setting_sd=0.0, slow=name in slow)
        for name in NAMES
    )


def record(x, passed, *, parts, setup=None, slow=()):
    """Return the record of a trial: coded settings (n, 4), passes (n,) of parts a run."""
    n, chosen = len(x), from_coded(factors(slow), x)
    trial = Trial(title="study", question="honest?", factors=factors(slow), outcomes=(WETTED,))
    values = (np.arange(parts) < passed[:, None]).astype(float).ravel()
    readings = Readings(
        row=np.repeat(np.arange(n), parts),
        part=np.tile(np.arange(1, parts + 1), n),
        reading=np.ones(n * parts, dtype=np.int64),
        value=values,
        mark=np.zeros(n * parts, dtype=np.int64),
    )
    return Record(
        trial=trial,
        plan=None,
        run=np.arange(1, n + 1),
        planned=chosen,
        as_run=chosen,
        block=np.zeros(n, dtype=np.int64),
        block_labels=("all",),
        setup=np.arange(1, n + 1) if setup is None else setup,
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={"wetted": readings},
    )


def fitted(one):
    """Return the first-order fit of a record."""
    terms = preset("first-order", one.trial.factors)
    return pass_fail_outcome(one, WETTED, terms, wanted=Wanted(factors=NAMES))


def p_of(fit, name):
    """Return the p of a factor, NaN where there is none (it then counts as not called)."""
    found = next(one.p for one in fit.tests if str(one.term) == name)
    return np.nan if isinstance(found, Unavailable) else found


def holds(fit, name, truth):
    """Return whether the interval of an effect (in logits) holds the truth."""
    estimate = next(one.estimate for one in fit.effects if one.name == name)
    return np.log(estimate.low) <= truth <= np.log(estimate.high)


def runs_study(n_trials, *, base, sd, with_rates=True):
    """Return size, cover, working, rate, apart and trials of 16 runs of 3 parts."""
    x = np.array(list(product([-1.0, 1.0], repeat=4)))
    centre = from_coded(factors(), np.zeros((1, 4)))
    rng = np.random.default_rng([16, int(10 * base), int(10 * sd)])
    nodes, weights = np.polynomial.hermite_e.hermegauss(30)
    rate = float(weights @ expit(base + sd * nodes) / weights.sum())
    rows = []
    for _ in range(n_trials):
        logits = base + SLOPE * x[:, 3] + sd * rng.standard_normal(16)
        fit = fitted(record(x, rng.binomial(3, expit(logits)), parts=3))
        if isinstance(fit, Unavailable):
            continue
        told = fit.predict(centre, confidence=0.95) if with_rates else None
        rows.append(
            (
                p_of(fit, "idle") < 0.05,
                holds(fit, "idle", 0.0),
                holds(fit, "works", 2 * SLOPE),
                told is None or told.mean_low[0] <= rate <= told.mean_high[0],
                any("runs off" in note for note in fit.notes),
            )
        )
    return (*np.mean(rows, axis=0), len(rows))


def setups_study(n_trials, *, parts, sd, lost=0):
    """Return the sizes between and within setups, and trials, of 8 setups of 4 runs."""
    setup = np.repeat(np.arange(1, 9), 4)
    between = np.repeat(list(product([-1.0, 1.0], repeat=2)) * 2, 4, axis=0)
    within = np.tile(list(product([-1.0, 1.0], repeat=2)), (8, 1))
    # idle and third differ between setups, second and works within them.
    x = np.column_stack([between[:, 0], within[:, 0], between[:, 1], within[:, 1]])
    rng = np.random.default_rng([8, parts, int(10 * sd), lost])
    rows = []
    for _ in range(n_trials):
        kept = np.sort(rng.permutation(32)[lost:])
        logits = 1.4 + SLOPE * x[:, 3] + sd * rng.standard_normal(8)[setup - 1]
        passed = rng.binomial(parts, expit(logits)).astype(float)[kept]
        if 0 < passed.sum() < parts * kept.size:
            answers = judged(x[kept], passed, parts=parts, setup=setup[kept])
            rows.append([answers.joint(np.array([one])).p < 0.05 for one in (1, 2)])
    return (*np.mean(rows, axis=0), len(rows))


def judged(x, passed, *, parts, setup):
    """Return the answers of runs that share setups, as the fit makes them."""
    X, tried = np.column_stack([np.ones(len(x)), x]), np.full(len(x), float(parts))
    counts = pass_counts(X, passed, tried)
    fit = penalised_logistic(counts)
    shift = intercept_shift(counts, counts.X @ fit.estimates)
    rates = expit(X @ fit.estimates + shift)
    found = pass_dispersion((passed, tried), rates, group=np.arange(len(x)), n_columns=5)
    differ = parts > 1 and found > 1
    yardstick = Yardstick(
        dispersion=found if differ else 1.0, error_df=len(x) - 5.0 if differ else np.inf
    )
    runs = RunCounts(X=X, passed=passed, parts=tried, rates=rates, setup=setup)
    return setup_answers(runs, PassAnswers(fit=fit, yardstick=yardstick), ("idle", "third"))


def say(line):
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(n_trials, which):
    """Run a study and print it."""
    if which == "runs":
        say("base  run sd  size  cover  working  rate   apart  trials")
        for base, sd in product((1.0, 2.0, 3.0), (0.0, 0.8)):
            size, cover, working, rate, apart, n = runs_study(n_trials, base=base, sd=sd)
            say(
                f"{base:4.1f}  {sd:6.1f}  {size:.3f} {cover:.3f}  {working:.3f}    {rate:.3f}  "
                f"{apart:.3f}  {n}"
            )
        return
    say("parts  setup sd  lost  between  within  trials")
    for parts, sd, lost in product((1, 3), (0.0, 1.0, 2.0), (0, 5)):
        between, within, n = setups_study(n_trials, parts=parts, sd=sd, lost=lost)
        say(f"{parts:5d}  {sd:8.1f}  {lost:4d}  {between:.3f}    {within:.3f}   {n}")


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "runs")
