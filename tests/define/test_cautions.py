"""Cautions: every hazard has one, and an unknown hazard is not passed over."""

import pytest

from workbench.define import DEFERRAL, HAZARDS, cautions_for
from workbench.errors import DefinitionError


def test_every_hazard_has_words_and_a_basis():
    for caution in cautions_for(HAZARDS):
        assert caution.title
        assert caution.text.endswith(".")
        assert "no source" in caution.basis or "trade guidance" in caution.basis


@pytest.mark.parametrize(
    ("hazard", "said"),
    [
        ("instant adhesive", "Never pull bonded skin or eyelids apart"),
        ("cyanoacrylate", "get medical help"),
        ("solvent", "ignition source"),
        ("activator vapour", "flammable"),
        ("acrylate", "gloves may let"),
        ("flux fume", "Extract it at the tip"),
        ("hot iron", "burn"),
        ("high-voltage magnetising", "can kill after it is switched off"),
        ("strong magnets", "implants"),
        ("pressurised dispenser", "Release the pressure"),
    ],
)
def test_what_must_be_said(hazard, said):
    (caution,) = cautions_for([hazard])
    assert said in caution.text


def test_each_is_said_once_in_order_of_first_mention():
    found = cautions_for(["press", "oven", "press", "methacrylate", "acrylate"])
    assert [one.tag for one in found] == ["press", "oven", "acrylate"]


def test_an_unknown_hazard_names_the_known():
    with pytest.raises(DefinitionError, match="Did you mean 'solvent'") as caught:
        cautions_for(["solvents"])
    assert all(tag in caught.value.next_step for tag in HAZARDS)


def test_the_deferral_names_who_wins():
    for who in ("data sheets", "local codes", "licensed practice"):
        assert who in DEFERRAL
