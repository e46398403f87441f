"""The trial.toml that `workbench new` writes: a whole invented example, each key explained."""

from __future__ import annotations

from workbench.files.toml_edit import written

_TEXT = """\
# A trial: what is asked, which settings are tried, what the parts must meet.
# Everything below is an INVENTED example (plant Alder Bench, a silicone bead that seals a
# two-part housing). Change it line by line to your own process; every key can stay in any order
# within its section. Ranges and tolerances are common practice, no source.
# What the maker's data sheets, local codes and licensed practice say always comes first.
schema = 1
title = {title}
question = "Which bead settings seal the housing without squeezing out into the window?"

# The share of new parts that must meet every requirement, and how sure you want to be of that.
# Nothing is assumed: without these two no window is computed.
share = 0.99
confidence = 0.95

# The model asked for: "first-order", "interactions", "second-order", or a list of terms such as
# "bead_volume, dwell, bead_volume * dwell, dwell^2" (names with blanks or signs in quotes ' ').
model = "second-order"

# Starts every random choice, so that the same file gives the same plan.
seed = {seed}

# When the trial is broken off; printed on the run sheet.
stopping_rule = "Stop if two housings in a row crack, or if the nozzle touches the part."

# Hazards of the whole bench; each prints its caution. An unknown one names those there are.
hazards = ["silicone", "pressurised dispenser"]
# Anything else that must be read before work starts, in your own words.
cautions = []
people = []
date = {date}

# Remove this line when the trial is your own: it is printed wherever the trial is shown.
invented = "Invented example: no real process, part or plant."

[budget]
parts = 60          # how many parts may be used up
days = 3            # how long it may take
parts_per_run = 2   # parts made at one setting; they show part scatter, they are not repeats
# What `workbench candidates` needs to see days and cost; leave out what you do not know.
# runs_per_day = 12   # how many runs the line makes in a day
# resets_per_day = 3  # how often a slow setting can be changed in a day
# cost_per_part = 4.5   # in any currency, the same for both
# cost_per_reset = 120

# --- Factors: what is set on purpose. kind = "continuous", "stepped" or "categorical".
[[factor]]
name = "bead_volume"
kind = "continuous"
low = 60            # the two ends to be tried: 4 to 5 times setting_sd apart, or more
high = 100
unit = "mm3"        # required; "1" for a pure number
setting_sd = 2      # how well the line holds a set value (standard deviation): 0 if exactly,
                    # "not stated" if nobody knows yet (then no window is computed)

[[factor]]
name = "nozzle_height"
kind = "continuous"
low = 0.8
high = 1.6
unit = "mm"
setting_sd = 0.05

[[factor]]
name = "nozzle_speed"
kind = "stepped"    # a few settings only, such as a notched dial
steps = [10, 20, 30]
unit = "mm/s"
setting_sd = 0

[[factor]]
name = "cure_humidity"
kind = "continuous"
low = 40
high = 60
unit = "%RH"
setting_sd = 2
# role = "control"  # the usual one: we set it in production. Others: "noise" (set in the trial,
#                     varies in production: add varies = {{ shape = "normal", centre = 50,
#                     width = 4 }}), "observed" (only read), "held" (kept constant)
# slow = true       # hard to change: reset as seldom as possible
# reset_cost = "2 h until the chamber is steady"

# A category has levels instead of a range:
# [[factor]]
# name = "surface"
# kind = "categorical"
# levels = ["as moulded", "wiped"]
# hazards = ["solvent"]

# --- What is kept constant, printed on the sheet.
[[held]]
name = "nozzle bore"
value = "0.8"
unit = "mm"

# --- Outcomes: what is read. kind = "measured", "pass/fail", "graded" or "counted".
# The requirement is ONE of: at_least, at_most, between = [low, high], target with tolerance.
[[outcome]]
name = "peel_force"
kind = "measured"
unit = "N"
at_least = 20
worth_finding = 4   # the smallest difference that would matter to you
expected_sd = 2.5   # your guess at the run-to-run standard deviation, for sizing the plan
method = "90 degree peel on the in-house jig"
destructive = true
wait = "24 h after cure"
too_low = "lid comes off when dropped"

[[outcome]]
name = "squeeze_out"
kind = "measured"
unit = "mm"
between = [0.2, 1.2]
worth_finding = 0.2
expected_sd = 0.12
method = "width seen through the window, with a scale loupe"
resolution = 0.05   # the smallest step that can be read
too_low = "gap in the seal"
too_high = "silicone in the window"

[[outcome]]
name = "leak_rate"
kind = "measured"
unit = "Pa·m3/s"
at_most = 0.0002
scale = "log"       # scatter is even by ratio, so the two below are ratios
worth_finding = 1.5
expected_sd = 1.3
gauge_low = 0.000001 # the gauge reads nothing below
method = "pressure decay at 30 kPa"
too_high = "water reaches the board"

# --- Settings that must not be run, and why.
# A combination looks like this:
# [[constraint]]
# forbidden = {{ bead_volume = [95, 100], nozzle_height = [0.8, 0.9] }}
# reason = "the nozzle drags through the bead and clogs"
# An inequality on settings looks like this (sum of coefficient x setting is at most):
# [[constraint]]
# coefficients = {{ bead_volume = 1, nozzle_speed = 2 }}
# at_most = 150
# reason = "the dispenser cannot feed more"
"""


def starter_text(*, title: str = "Bead of the lid seal", seed: int, date: str = "") -> str:
    """Return the text of a filled-in, commented trial.toml that reads back without error."""
    return _TEXT.format(title=written(title), seed=seed, date=written(date))
