"""The palette keeps the contrast that it promises, and dark partners are complete."""

import pytest

from workbench.show import DARK, LIGHT, dark_partners, style_sheet
from workbench.show.theme import ONE_HUES, template

WORDS = ("ink", "quiet", "meets", "fails", "limit", "centre", "run", "high")
MARKS = ("unsure", "noise", "low")


def _luminance(hexadecimal):
    channels = [int(hexadecimal[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """Contrast ratio of two colours (W3C, Web Content Accessibility Guidelines 2.2, 1.4.3)."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.published("W3C, Web Content Accessibility Guidelines 2.2")
def test_contrast_of_black_on_white_is_21():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)


@pytest.mark.published("W3C, Web Content Accessibility Guidelines 2.2, 1.4.3 and 1.4.11")
@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_words_reach_4_5_and_marks_3(palette):
    for name in WORDS:
        assert contrast(getattr(palette, name), palette.paper) >= 4.5, name
    for name in ("ink", "quiet"):
        assert contrast(getattr(palette, name), palette.panel) >= 4.5, name
    for name in MARKS:
        assert contrast(getattr(palette, name), palette.paper) >= 3, name


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_the_better_of_line_and_casing_is_seen_on_every_chance_step(palette):
    for step in palette.chance:
        assert (
            max(contrast(palette.ink, step), contrast(palette.paper, step)) >= 4.25
        )  # 4.3 as rounded in the design


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_chance_steps_go_one_way_in_lightness(palette):
    tones = [_luminance(step) for step in palette.chance]
    assert tones in (sorted(tones), sorted(tones, reverse=True))


def test_every_light_colour_has_a_dark_partner_and_no_two_share_a_hex():
    partners = dark_partners()
    assert len(partners) == len(ONE_HUES) + len(LIGHT.chance)


def test_style_sheet_carries_the_palette_and_fetches_nothing():
    css = style_sheet()
    for name in ONE_HUES:
        assert f"--{name}:{getattr(LIGHT, name)}" in css
        assert f"--{name}:{getattr(DARK, name)}" in css
    assert "url(" not in css
    assert "@import" not in css


def test_template_is_small():
    assert len(template().to_plotly_json()["layout"]) < 16
    assert not template().to_plotly_json().get("data")
