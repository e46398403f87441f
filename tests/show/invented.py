"""An invented lid seal trial for the tests of `show`: plan, readings, fits, window, maps."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

import workbench as wb
from workbench.decide.windows import Decision, Limit, NearestMiss, NoWindow, Window
from workbench.define.factors import Categorical, Continuous, Held
from workbench.define.outcomes import Measured, at_least, at_most, between
from workbench.define.settings import settings
from workbench.define.trial import Budget, Trial
from workbench.errors import Unavailable
from workbench.run.record import Readings, Record, Status
from workbench.show.nouns import Lines, MeanMap, Runs
from workbench.show.story import Decided, PlanFact, Promise, Story

NASTY = "<img src=x onerror=alert(1)>"


@cache
def trial() -> Trial:
    """Return the invented trial: four settings, three requirements, one held setting."""
    return Trial(
        title="lid_seal",
        question="Which settings of the bead seal the lid, and how far may the line drift?",
        factors=(
            Continuous(name="bead volume", low=260, high=440, unit="mm³", setting_sd=6),
            Continuous(name="nozzle height", low=0.6, high=1.4, unit="mm", setting_sd=0.04),
            Continuous(name="nozzle speed", low=12, high=36, unit="mm/s", setting_sd=0.6),
            Continuous(name="cure humidity", low=35, high=65, unit="%RH", setting_sd=2),
        ),
        outcomes=(
            Measured(
                name="leak rate",
                unit="mm³/s",
                requirement=at_most(0.5),
                scale="log",
                worth_finding=1.5,
                gauge_low=0.02,
                method="pressure decay, 30 kPa",
                too_high="leaks",
            ),
            Measured(
                name="squeeze-out width",
                unit="mm",
                requirement=between(0.3, 1.1),
                worth_finding=0.1,
                method="optical, 4 points, widest",
                too_high="squeezes out too far",
            ),
            Measured(
                name="peel force",
                unit="N",
                requirement=at_least(22),
                worth_finding=3,
                method="pull to destruction",
                destructive=True,
                wait="after 72 h",
                too_low="peels too easily",
            ),
        ),
        held=(Held(name="nozzle bore", value="1.2", unit="mm"),),
        budget=Budget(parts=60, days=3, parts_per_run=1),
        share=0.95,
        confidence=0.95,
        model="second-order",
        stopping_rule="three parts in a row leak more than 5 mm³/s; check the nozzle first.",
        hazards=("silicone", "pressurised dispenser", "pull test"),
        cautions=("Leak test at 30 kPa only, shield down.",),
        people=("M. Orlo, process", "I. Vance, quality", "T. Hale, line"),
        invented="Invented trial, made-up data.",
        seed=20260914,
    )


@cache
def plan():
    """Return a composite plan in two blocks."""
    return wb.plan.composite(trial(), seed=7, axial="face", centre_points=6, blocks=2)


@cache
def small_plan():
    """Return eight runs without replicates: no error estimate is left."""
    few = replace(trial(), factors=trial().factors[:3], model="interactions")
    return wb.plan.full(few, seed=3, replicates=1)


def record(*, excluded: tuple[int, ...] = (), of=None) -> Record:
    """Return readings of the plan from a made-up process, one setting off, some runs set aside."""
    planned = of or plan()
    rng = np.random.default_rng(4)
    n = len(planned)
    as_run = np.array(planned.settings.values)
    if of is None:
        as_run[10, 1] += 0.15
    status = [Status.EXCLUDED if i + 1 in excluded else Status.DONE for i in range(n)]
    reason = ["tip was bent, seen at once" if i + 1 in excluded else "" for i in range(n)]
    its_trial = trial() if of is None else replace(trial(), factors=planned.settings.factors)
    made = settings(planned.settings.factors, [])
    made = replace(made, values=as_run)
    return Record(
        trial=its_trial,
        plan=planned,
        run=np.arange(1, n + 1),
        planned=planned.settings,
        as_run=made,
        block=planned.block - 1,
        block_labels=tuple(f"lot {'ABCDEF'[i]}" for i in range(planned.n_blocks)),
        setup=np.array(planned.setup),
        status=tuple(status),
        reason=tuple(reason),
        readings=_readings(made.coded(), rng),
        blocked_by="housing lot" if planned.n_blocks > 1 else "",
    )


def _readings(coded: np.ndarray, rng: np.random.Generator) -> dict[str, Readings]:
    n = len(coded)
    full = np.zeros((n, 4))
    full[:, : coded.shape[1]] = coded
    bead, height, speed, humid = full.T
    leak = -2.1 - 0.75 * bead + 0.35 * height + 0.55 * speed + 0.45 * height * speed
    width = 0.7 + 0.16 * bead - 0.13 * height - 0.08 * speed + 0.03 * bead**2
    peel = 27.5 + 1.7 * bead - 1.2 * speed + 2.2 * humid - 0.8 * humid**2
    made = {
        "leak rate": np.exp(leak + rng.normal(0, 0.15, n)),
        "squeeze-out width": width + rng.normal(0, 0.04, n),
        "peel force": peel + rng.normal(0, 0.9, n),
    }
    rows = np.arange(n)
    ones = np.ones(n, dtype=np.int64)
    return {
        name: Readings(
            row=rows.copy(),
            part=ones.copy(),
            reading=ones.copy(),
            value=value.round(3),
            mark=0 * ones,
        )
        for name, value in made.items()
    }


@cache
def fit(name: str = "leak rate"):
    """Return the fit of one outcome."""
    return wb.fit.outcome(record(), name)


@cache
def fit_without_error(name: str = "peel force"):
    """Return a saturated fit: eight runs, seven effects."""
    one = record(of=small_plan())
    terms = wb.define.parse_terms(
        "'bead volume' * 'nozzle height' * 'nozzle speed', 'bead volume' * 'nozzle height', "
        "'bead volume' * 'nozzle speed', 'nozzle height' * 'nozzle speed'",
        one.trial.factors,
    )
    return wb.fit.outcome(one, name, terms=terms)


@cache
def decision() -> Decision:
    """Return a window with two sides at the edge of the range."""
    bead, height, speed, humid = trial().factors
    edge = "edge of the range tried"
    limits = (
        Limit(
            factor=bead,
            low=315,
            high=385,
            set_point=350,
            limited_by_low="peel force below 22 N (peels too easily)",
            limited_by_high="squeeze-out width above 1.1 mm (squeezes out too far)",
        ),
        Limit(
            factor=height,
            low=1.05,
            high=1.35,
            set_point=1.2,
            limited_by_low="squeeze-out width above 1.1 mm (squeezes out too far)",
            limited_by_high="leak rate above 0.5 mm³/s (leaks)",
        ),
        Limit(
            factor=speed,
            low=12,
            high=22,
            set_point=17,
            limited_by_low=edge,
            limited_by_high="leak rate above 0.5 mm³/s (leaks)",
        ),
        Limit(
            factor=humid,
            low=48,
            high=65,
            set_point=56,
            limited_by_low="peel force below 22 N (peels too easily)",
            limited_by_high=edge,
        ),
    )
    best = Window(
        limits=limits,
        levels=(),
        share=0.95,
        confidence=0.95,
        chance_at_set_point=0.9994,
        lowest_share=0.954,
        volume=0.04,
        model_form=0.3,
        seed=7,
        n_draws=4096,
        notes=(),
    )
    return Decision(best=best, by_level=(((), best),), if_right=replace(best, volume=0.07))


@cache
def no_window() -> Decision:
    """Return a decision without a window, with its nearest miss."""
    missing = NoWindow(
        reason="No settings within what was tried are assured.",
        share=0.99,
        confidence=0.95,
        nearest_miss=NearestMiss(
            settings=(
                ("bead volume", 355.0),
                ("nozzle height", 1.1),
                ("nozzle speed", 12.0),
                ("cure humidity", 61.0),
            ),
            chance=0.981,
            assured_share=0.93,
            limited_by="peel force below 22 N (peels too easily)",
        ),
        next_trial="Repeat the best point five times, and add runs above 65 %RH.",
    )
    return Decision(best=missing, by_level=(((), missing),), if_right=missing)


@cache
def lines() -> Lines:
    """Return leak rate along nozzle height at two speeds, from the fit."""
    one = fit()
    x = np.linspace(0.6, 1.4, 25)
    bands = []
    for speed in (12, 36):
        rows = [
            {"bead volume": 350, "nozzle height": h, "nozzle speed": speed, "cure humidity": 50}
            for h in x
        ]
        bands.append(one.predict(settings(trial().factors, rows), confidence=0.95))
    crossed = next(e for e in one.effects if str(e.term) == "nozzle height × nozzle speed")
    return Lines(
        outcome=one.outcome,
        along=trial().factor("nozzle height"),
        by=trial().factor("nozzle speed"),
        x=x,
        levels=("12 mm/s", "36 mm/s"),
        mean=np.array([b.mean for b in bands]),
        low=np.array([b.mean_low for b in bands]),
        high=np.array([b.mean_high for b in bands]),
        confidence=0.95,
        held="bead volume 350 mm³, cure humidity 50 %RH",
        effect=crossed,
        runs=Runs(
            x=np.array([0.6, 1.4, 0.6, 1.4]),
            y=np.array([0.06, 0.09, 0.10, 0.55]),
            line=np.array([0, 0, 1, 1]),
        ),
    )


@cache
def mean_map() -> MeanMap:
    """Return mean peel force over bead volume and humidity, from the fit."""
    one = fit("peel force")
    x, y = np.linspace(260, 440, 41), np.linspace(35, 65, 41)
    rows = [
        {"bead volume": a, "nozzle height": 1.0, "nozzle speed": 24, "cure humidity": b}
        for b in y
        for a in x
    ]
    there = one.predict(settings(trial().factors, rows), confidence=0.95)
    return MeanMap(
        outcome=one.outcome,
        x_factor=trial().factor("bead volume"),
        y_factor=trial().factor("cure humidity"),
        x=x,
        y=y,
        mean=there.mean.reshape(41, 41),
        inside=np.ones((41, 41), dtype=bool),
        held="nozzle height 1.0 mm, nozzle speed 24 mm/s",
        runs=Runs(
            x=np.array(one.settings.column("bead volume")),
            y=np.array(one.settings.column("cure humidity")),
        ),
    )


@cache
def chances():
    """Return a chance map shaped as `decide` returns it."""
    from scipy.special import ndtr

    x, y = np.linspace(260, 440, 41), np.linspace(0.6, 1.4, 41)
    a, b = np.meshgrid((x - 350) / 90, (y - 1.0) / 0.4)
    probit = 3.4 - 2.2 * (a - 0.55 * b - 0.05) ** 2 * 2.4 - 0.6 * b**2
    return wb.decide.ChanceMap(
        x_factor=trial().factor("bead volume"),
        y_factor=trial().factor("nozzle height"),
        x=x,
        y=y,
        chance=ndtr(probit),
        assured=ndtr(probit - 0.55),
        inside=(a < 0.95) | (b < 0.9),
        confidence=0.95,
        held="nozzle speed anywhere from 12 to 22 mm/s, cure humidity anywhere from 48 to 65 %RH",
    )


def story(**changes) -> Story:
    """Return the whole story; changes replace chapters."""
    names = ("leak rate", "squeeze-out width", "peel force")
    seen = record()
    told = Story(
        trial=trial(),
        plan=plan(),
        detectable=(PlanFact(term="bead volume", difference="1.9", error_df="14"),),
        detectable_for="in peel force, N (80 % chance, scatter 0.9 N)",
        record=seen,
        deviations=wb.run.deviations(seen),
        fits=tuple((name, fit(name)) for name in names),
        lines=(lines(),),
        mean_maps=(mean_map(),),
        decision=decision(),
        chance_maps=(chances(),),
        promises=(
            Promise(outcome="leak rate", at_set_point=0.99996, lowest=0.985),
            Promise(outcome="squeeze-out width", at_set_point=0.9999, lowest=0.962),
            Promise(outcome="peel force", at_set_point=0.9997, lowest=0.975),
            Promise(outcome="", at_set_point=0.9994, lowest=0.954),
        ),
        not_tested=("Life: no ageing, no thermal cycling.",),
        decisions=(
            Decided(
                what="Run the window from Monday, both shifts, with two checks a shift",
                by=("M. Orlo, process", "I. Vance, quality"),
                date="21 September",
                evidence="plan, journal and fit in the trial folder",
            ),
        ),
        written="Written 21 September 2026 by trial-workbench 0.1.0.",
    )
    return replace(told, **changes)


def nasty_trial() -> Trial:
    """Return a trial whose every text would be a tag if it were not escaped."""
    low = Continuous(name=f"bead {NASTY}", low=1, high=3, unit=f"mm{NASTY}", setting_sd=0.1)
    kind = Categorical(name=f"wipe {NASTY}", levels=(f"none {NASTY}", f"once {NASTY}"))
    read = Measured(
        name=f"force {NASTY}", unit=f"N{NASTY}", requirement=at_least(2), method=NASTY, wait=NASTY
    )
    return Trial(
        title=f"lid {NASTY}",
        question=f"why {NASTY}?",
        factors=(low, kind),
        outcomes=(read,),
        held=(Held(name=f"bore {NASTY}", value=NASTY),),
        stopping_rule=NASTY,
        cautions=(NASTY,),
        people=(NASTY,),
        invented=f"Invented {NASTY}",
    )


UNKNOWN = Unavailable(reason=f"no model yet {NASTY}")
