"""Trials there and back: the same noun, comments kept, nothing written on a mistake."""

import dataclasses
from unicodedata import normalize

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from workbench.define import (
    HAZARDS,
    RESERVED,
    Budget,
    Categorical,
    Continuous,
    Counted,
    Forbidden,
    Graded,
    Held,
    LinearLimit,
    Measured,
    PassFail,
    Requirement,
    Role,
    Spread,
    Stepped,
    Trial,
    between,
    normal_unit,
    target,
)
from workbench.errors import DefinitionError, FileError
from workbench.files import read_trial, starter_text, trial_from_text, trial_text, write_trial
from workbench.files.trial_write import edited_text

NASTY = [
    "C",
    "Q",
    "Intercept",
    "1",
    "None",
    "a.b",
    "a = 1",
    '"',
    "'",
    "[x]",
    "# no",
    "é µ",
    "\\",
    "a\nb",
]
names = st.one_of(st.sampled_from(NASTY), st.text(min_size=1, max_size=8)).filter(
    lambda name: name == name.strip() and name not in RESERVED
)
texts = st.text(max_size=12)
numbers = st.floats(-1e9, 1e9, allow_subnormal=False)
sizes = st.floats(1e-6, 1e6)
units = st.one_of(st.sampled_from(["mm3", "N", "1", "°C", ""]), texts).filter(
    lambda unit: normal_unit(unit) != "not stated"
)
hazards = st.lists(st.sampled_from(HAZARDS), max_size=2, unique=True).map(tuple)
spreads = st.builds(
    Spread, shape=st.sampled_from(["normal", "uniform"]), centre=numbers, width=sizes
)


@st.composite
def factors(draw, name):
    role = draw(st.sampled_from(Role))
    common = {
        "name": name,
        "role": role,
        "slow": draw(st.booleans()),
        "reset_cost": draw(texts),
        "hazards": draw(hazards),
    }
    if draw(st.booleans()):
        levels = st.lists(
            st.text(min_size=1, max_size=4).filter(str.strip), min_size=2, unique=True
        )
        return Categorical(levels=tuple(draw(levels)), **common)
    common["unit"] = draw(units)
    common["setting_sd"] = draw(st.one_of(st.none(), st.just(0.0), sizes))
    common["spread"] = draw(spreads) if role is Role.NOISE else None
    steps = sorted(draw(st.lists(numbers, min_size=2, max_size=4, unique=True)))
    if draw(st.booleans()):
        return Stepped(steps=tuple(steps), **common)
    return Continuous(low=steps[0], high=steps[-1], **common)


@st.composite
def requirements(draw):
    low, high = sorted(draw(st.lists(numbers, min_size=2, max_size=2, unique=True)))
    aim = low + (high - low) / 4
    return draw(
        st.sampled_from(
            [
                None,
                Requirement(low=low),
                Requirement(high=high),
                Requirement(low=low, target=high),
                between(low, high),
                Requirement(low=low, high=high, target=aim),
                target(low, tolerance=draw(st.floats(0.1, 1e6))),
            ]
        )
    )


@st.composite
def outcomes(draw, name):
    common = {
        "name": name,
        "method": draw(texts),
        "destructive": draw(st.booleans()),
        "wait": draw(texts),
    }
    kind = draw(st.sampled_from(["measured", "pass/fail", "graded", "counted"]))
    if kind == "pass/fail":
        return PassFail(**common, fails="bad", passes=draw(st.sampled_from(["ok", "1", "é"])))
    if kind == "graded":
        limit = draw(st.sampled_from([None, Requirement(high=1), Requirement(low=0, high=2)]))
        return Graded(**common, grades=("none", "0", "'bad'"), requirement=limit)
    if kind == "counted":
        places = draw(st.one_of(st.none(), st.integers(3, 10**6)))
        return Counted(**common, unit="skips", out_of=places, requirement=Requirement(high=2.0))
    return Measured(
        **common,
        unit=draw(units),
        requirement=draw(requirements()),
        worth_finding=draw(st.one_of(st.none(), sizes)),
        expected_sd=draw(st.one_of(st.none(), sizes)),
        resolution=draw(st.one_of(st.none(), sizes)),
        gauge_low=draw(st.sampled_from([None, -2e9])),
        gauge_high=draw(st.sampled_from([None, 2e9])),
        too_low=draw(texts),
        too_high=draw(texts),
    )


def constraints(several):
    found = []
    for one in several:
        if isinstance(one, Categorical):
            found.append(Forbidden(levels=((one.name, one.levels[0]),), reason="never"))
        else:
            found.append(LinearLimit(coefficients=((one.name, 0.1),), at_most=1 / 3, reason="why"))
            found.append(Forbidden(where=((one.name, one.low, one.high),), reason="why"))
    return tuple(found)


@st.composite
def trials(draw):
    # No trial has two names that look alike in Unicode.
    unlike = st.lists(names, min_size=3, max_size=6, unique_by=lambda n: normalize("NFC", n))
    called = draw(unlike)
    chosen = tuple(draw(factors(name)) for name in called[2:])
    shares = st.one_of(st.none(), st.floats(0.5, 0.999))
    return Trial(
        title=draw(texts),
        question=draw(texts),
        factors=chosen,
        outcomes=(draw(outcomes(called[0])),),
        constraints=draw(st.sampled_from([(), constraints(chosen)])),
        held=draw(st.sampled_from([(), (Held(name=called[1], value=draw(texts), unit="mm"),)])),
        budget=Budget(parts=draw(st.sampled_from([None, 60])), days=draw(st.none() | sizes)),
        share=draw(shares),
        confidence=draw(shares),
        model=draw(st.sampled_from(["", "first-order", "interactions"])),
        hazards=draw(hazards),
        cautions=tuple(draw(st.lists(texts, max_size=2))),
        people=tuple(draw(st.lists(texts, max_size=2))),
        date=draw(texts),
        invented=draw(texts),
        seed=draw(st.integers(0, 2**63 - 1)),
    )


quick = settings(
    max_examples=50,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


@pytest.mark.property
@quick
@given(trial=trials())
def test_there_and_back(trial):
    assert trial_from_text(trial_text(trial)) == trial


@pytest.mark.property
@quick
@given(old=trials(), new=trials())
def test_one_trial_edited_into_another(old, new):
    assert trial_from_text(edited_text(trial_text(old), new)) == new


@pytest.mark.property
@quick
@given(new=trials())
def test_the_starter_edited_into_another(new):
    text = edited_text(starter_text(seed=7), new)
    assert trial_from_text(text) == new
    assert "# Starts every random choice" in text


@pytest.mark.property
@quick
@given(trial=trials())
def test_through_a_folder(tmp_path, trial):
    write_trial(tmp_path, trial)
    assert read_trial(tmp_path) == trial


# ------------------------------------------------------------------------- comments


@pytest.fixture
def starter(tmp_path):
    (tmp_path / "trial.toml").write_text(starter_text(seed=7), encoding="utf-8")
    return tmp_path


def changed_lines(folder, trial):
    before = (folder / "trial.toml").read_text("utf-8").splitlines()
    write_trial(folder, trial)
    after = (folder / "trial.toml").read_text("utf-8").splitlines()
    return [one for one in before if one not in after], [one for one in after if one not in before]


def with_factor(trial, place, **changes):
    changed = list(trial.factors)
    changed[place] = dataclasses.replace(changed[place], **changes)
    return dataclasses.replace(trial, factors=tuple(changed))


def test_nothing_new_leaves_the_file_alone(starter):
    path = starter / "trial.toml"
    before = path.stat().st_mtime_ns
    write_trial(starter, read_trial(starter))
    assert path.stat().st_mtime_ns == before


def test_one_value_changes_one_line(starter):
    gone, come = changed_lines(starter, with_factor(read_trial(starter), 0, low=62.5))
    assert gone == [
        "low = 60            # the two ends to be tried: 4 to 5 times setting_sd apart, or more"
    ]
    assert come == [
        "low = 62.5            # the two ends to be tried: 4 to 5 times setting_sd apart, or more"
    ]


def test_a_new_key_stands_in_its_section(starter):
    gone, come = changed_lines(starter, with_factor(read_trial(starter), 0, slow=True))
    assert gone == []
    assert come == ["slow = true"]


def test_another_kind_of_requirement_takes_the_place_of_the_old(starter):
    trial = read_trial(starter)
    peel = dataclasses.replace(trial.outcomes[0], requirement=target(30.0, tolerance=5.0))
    gone, come = changed_lines(
        starter, dataclasses.replace(trial, outcomes=(peel, *trial.outcomes[1:]))
    )
    assert gone == ["at_least = 20"]
    assert come == ["target = 30", "tolerance = 5"]


def test_a_section_goes_with_its_comments_only(starter):
    trial = read_trial(starter)
    gone, come = changed_lines(
        starter, dataclasses.replace(trial, factors=(*trial.factors[:2], trial.factors[3]))
    )
    assert 'name = "nozzle_speed"' in gone
    assert come == []
    assert [one for one in gone if one.startswith("#")] == []


def test_sections_keep_their_comments_when_their_order_changes(starter):
    trial = read_trial(starter)
    write_trial(starter, dataclasses.replace(trial, factors=trial.factors[::-1]))
    assert read_trial(starter).factors == trial.factors[::-1]
    text = (starter / "trial.toml").read_text("utf-8")
    assert text.index('name = "nozzle_speed"') < text.index("a few settings only")


def test_windows_line_ends_stay(starter):
    path = starter / "trial.toml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    write_trial(starter, with_factor(read_trial(starter), 0, low=62.5))
    data = path.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n")
    assert read_trial(starter).factors[0].low == 62.5


@pytest.mark.parametrize(
    "written",
    [
        (
            'factor = [{name = "x", kind = "categorical", levels = ["a", "b"]}]\n'
            '[[outcome]]\nname = "y"\nkind = "pass/fail"\n'
        ),
        (
            '[[outcome]]\nname = "y"\nkind = "pass/fail"\n'
            '[[factor]]\nname = "x"\nkind = "categorical"\nlevels = ["a", "b"]\n[budget]\n'
        ),
        (
            'budget = {parts = 3}\n[[factor]]\nname = "x"\nkind = "continuous"\nlow = 1\n'
            'high = 2\nunit = "s"\nsetting_sd = 0\nrole = "noise"\n[factor.varies]  # by day\n'
            'shape = "normal"\ncentre = 1\nwidth = 1\n'
            '[[outcome]]\nname = "y"\nkind = "pass/fail"\n'
        ),
    ],
)
def test_other_ways_to_write_the_same_are_edited_too(written):
    text = f'schema = 1\ntitle = "t"  # kept\n{written}'
    new = trial_from_text(starter_text(seed=7))
    changed = edited_text(text, new)
    assert trial_from_text(changed) == new
    assert "# kept" in changed
    old = trial_from_text(text)
    assert trial_from_text(edited_text(text, dataclasses.replace(old, budget=Budget(days=2)))) == (
        dataclasses.replace(old, budget=Budget(days=2))
    )


# ------------------------------------------------------------------------- refusals


def test_a_broken_file_is_not_overwritten(starter):
    path = starter / "trial.toml"
    trial = read_trial(starter)
    path.write_text("schema = 1\nlow = 60,5\n")
    with pytest.raises(FileError, match=r"Write a decimal point"):
        write_trial(starter, trial)
    assert path.read_text() == "schema = 1\nlow = 60,5\n"


def test_a_trial_that_would_not_read_back_is_not_written(tmp_path):
    trial = trial_from_text(starter_text(seed=7))
    with pytest.raises(DefinitionError, match="'fire' has no caution text"):
        write_trial(tmp_path / "new", dataclasses.replace(trial, hazards=("fire",)))
    assert not (tmp_path / "new").exists()


def test_a_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="cannot be made"):
        write_trial(tmp_path / "file" / "new", trial_from_text(starter_text(seed=7)))


def test_a_file_changed_by_hand_since_it_was_read_is_not_undone(starter):
    path = starter / "trial.toml"
    trial = read_trial(starter)
    changed = dataclasses.replace(trial, title="from the panel")
    path.write_text(path.read_text("utf-8").replace("share = 0.99", "share = 0.9"), "utf-8")
    by_hand = path.read_text("utf-8")
    with pytest.raises(FileError, match=r"trial\.toml: The file was changed since it was read: "):
        write_trial(starter, changed, read_as=trial)
    assert path.read_text("utf-8") == by_hand
    again = read_trial(starter)
    write_trial(starter, dataclasses.replace(again, title="from the panel"), read_as=again)
    assert read_trial(starter).title == "from the panel"
    assert read_trial(starter).share == again.share
