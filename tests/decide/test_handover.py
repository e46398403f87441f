"""What a hand-over makes of every kind of outcome and factor, and of a verdict."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import pytest

from workbench.decide.handover import Proof
from workbench.decide.handover_control import control_rows
from workbench.decide.handover_instruction import work_instruction
from workbench.decide.handover_proof import proof_of, refuted_at, standing_words
from workbench.decide.handover_words import percent, required
from workbench.decide.verdict import Answer
from workbench.decide.windows import Limit, Window
from workbench.define.factors import Categorical, Continuous, Held, Role, Spread, Stepped
from workbench.define.outcomes import Counted, Graded, Measured, PassFail, at_least, at_most
from workbench.define.trial import Trial

TEMPERATURE = Continuous(name="tip temperature", low=330, high=390, unit="°C", setting_sd=3)
DIAL = Stepped(name="dwell dial", steps=(1, 2, 3, 4), unit="", setting_sd=0)
OVEN = Continuous(
    name="oven", low=40, high=80, unit="°C", setting_sd=1, slow=True, reset_cost="1 h"
)
ROOM = Continuous(
    name="room humidity", low=30, high=60, unit="%RH", setting_sd=0, role=Role.OBSERVED
)
AGE = Continuous(
    name="flux age",
    low=0,
    high=9,
    unit="d",
    setting_sd=0,
    role=Role.NOISE,
    spread=Spread(shape="uniform", centre=4, width=3),
)
TIP = Categorical(name="tip shape", levels=("chisel", "bevel"))
OUTCOMES = (
    PassFail(name="wetted", passes="yes", fails="no", method="under the loupe"),
    PassFail(name="melted back", passes="no", fails="yes"),
    Graded(name="whitening", grades=("none", "faint", "heavy"), requirement=at_most(1)),
    Counted(name="skips", unit="skips", requirement=at_most(2)),
    Measured(name="pull force", unit="N", requirement=at_least(4), too_low="pulls off"),
    Measured(name="colour", unit="", method="by eye"),
)
TRIAL = Trial(
    title="wire",
    question="",
    factors=(TEMPERATURE, DIAL, OVEN, ROOM, AGE, TIP),
    outcomes=OUTCOMES,
    held=(Held(name="solder wire", value="0.5", unit="mm"),),
)


def _limit(factor, low, centre, high, below, above):
    return Limit(
        factor=factor,
        low=low,
        high=high,
        set_point=centre,
        limited_by_low=below,
        limited_by_high=above,
    )


WINDOW = Window(
    limits=(
        _limit(TEMPERATURE, 350, 360, 372, "wetted “no”", "melted back “yes”"),
        _limit(DIAL, 2, 2, 3, "pull force below 4 N (pulls off)", "edge of the range tried"),
        _limit(OVEN, 50, 60, 70, "whitening", "skips"),
    ),
    levels=(("tip shape", "chisel"),),
    share=0.9,
    confidence=0.9,
    chance_at_set_point=0.98,
    lowest_share=0.91,
    volume=0.1,
    model_form=0.0,
    seed=1,
    n_draws=64,
    notes=(),
)


@pytest.fixture(scope="module")
def seal():
    place = Path(__file__).parents[1] / "steps" / "seal_handover.py"
    spec = importlib.util.spec_from_file_location("seal_for_decide", place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


class TestInstruction:
    page = work_instruction(TRIAL, WINDOW)

    def test_a_dial_is_told_its_steps_and_a_category_its_level(self):
        lines = {one.name: one for one in self.page.settings}
        assert lines["dwell dial"].steps == (2, 3)
        assert lines["tip shape"].set_to == "chisel"
        assert lines["tip shape"].low is None

    def test_slow_settings_come_first_and_what_is_not_set_is_said(self):
        do = self.page.do
        assert do[0] == "Set oven first: slow to change. Wait until it reads steady."
        assert do[1].startswith("Set tip temperature, dwell dial and tip shape to the set point")
        assert "Read room humidity and write it down; it is not set." in do
        assert "Leave flux age as it comes: counted with at 4 d, half-width 3 d." in do

    def test_every_kind_of_requirement_has_its_sign(self):
        signs = [(one.sign, one.reading) for one in self.page.look_for]
        assert signs == [
            ("wetted “no”", "under the loupe"),
            ("melted back “yes”", "melted back"),
            ("whitening “heavy”", "whitening"),
            ("", "skips above 2 skips"),
            ("pulls off", "pull force below 4 N"),
        ]

    def test_too_cold_and_too_hot_are_told_apart(self):
        driven = {one.sign: one.comes_with for one in self.page.look_for}
        assert driven["wetted “no”"] == ("tip temperature below 350 °C",)
        assert driven["melted back “yes”"] == ("tip temperature above 372 °C",)
        assert driven["whitening “heavy”"] == ("oven below 50 °C",)

    def test_up_to_ten_in_a_hundred_may_miss(self):
        assert any("up to 10 in 100" in one for one in self.page.stop_if)


ROWS = {one.characteristic: one for one in control_rows(TRIAL, WINDOW)}


class TestControlPlan:
    def test_one_row_each_and_none_for_what_is_not_judged(self):
        assert list(ROWS) == [
            "tip temperature",
            "dwell dial",
            "oven",
            "tip shape",
            "solder wire",
            "wetted",
            "melted back",
            "whitening",
            "skips",
            "pull force",
        ]

    def test_words_and_grades_are_specified_by_themselves(self):
        assert ROWS["wetted"].specification == "“yes”, never “no”"
        assert ROWS["whitening"].specification == "“none” or “faint”"
        assert ROWS["skips"].specification == "at most 2 skips"
        assert required(OUTCOMES[-1]) == ""

    def test_a_miss_points_at_the_settings_that_drive_it(self):
        assert "Check tip temperature first" in ROWS["wetted"].reaction
        assert "above, melted back “yes”" in ROWS["tip temperature"].reaction


class TestProof:
    @pytest.fixture
    def window(self, seal):
        import workbench as wb

        return seal.window_of(wb.files.read_trial(wb.files.demo_folder("lid_seal")))

    @pytest.mark.parametrize(
        ("answer", "proof"),
        [(Answer.HOLDS, Proof.CONFIRMED), (Answer.OPEN, Proof.OPEN)],
        ids=["holds", "open"],
    )
    def test_of_this_window(self, seal, window, answer, proof):
        verdict = seal.verdict_of(window, answer)
        assert proof_of(window, verdict) is proof
        assert proof_of(window, None) is Proof.NONE

    @pytest.mark.parametrize("change", ["share", "confidence"])
    def test_a_weaker_promise_confirms_nothing(self, seal, window, change):
        verdict = seal.verdict_of(window, **{change: 0.9})
        assert proof_of(window, verdict) is Proof.OTHER

    def test_another_set_point_or_a_place_outside_confirms_nothing(self, seal, window):
        bead, *rest = window.limits
        moved = replace(window, limits=(replace(bead, set_point=350), *rest))
        assert proof_of(moved, seal.verdict_of(window)) is Proof.OTHER
        smaller = replace(window, limits=(replace(bead, high=360), *rest))
        assert proof_of(smaller, seal.verdict_of(window)) is Proof.OTHER

    def test_what_was_changed_since_takes_the_proof_away(self, seal, window):
        verdict = seal.verdict_of(window, changed=("Results of the trial were changed.",))
        assert proof_of(window, verdict) is Proof.CHANGED

    def test_it_is_refuted_only_inside_and_for_no_more_than_was_asked(self, seal, window):
        places = (Answer.HOLDS, Answer.FAILS)
        failed = seal.verdict_of(window, Answer.FAILS, place_answers=places)
        assert refuted_at(window, failed) == ("corner 1",)
        assert refuted_at(window, None) == ()
        assert refuted_at(window, replace(failed, share=0.99)) == ()
        bead, *rest = window.limits
        smaller = replace(window, limits=(replace(bead, high=360), *rest))
        assert refuted_at(smaller, failed) == ()

    @pytest.mark.parametrize("proof", Proof, ids=[one.name for one in Proof])
    def test_every_standing_is_one_clear_word_first(self, window, proof):
        words = standing_words(proof, window)
        assert words.startswith("Confirmed" if proof.is_confirmed else "Not confirmed")


def test_a_share_is_never_rounded_up_to_all():
    assert percent(0.99999) == "> 99.9 %"
    assert percent(0.953) == "95.3 %"
