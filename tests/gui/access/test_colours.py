"""The colours that are used on each other: legible, and told apart by eyes that see fewer colours.

Contrast is that of WCAG 2.x, success criteria 1.4.3 and 1.4.11 (level AA): 4.5 for text, 3 for large text, for signs, lines
and for what shows where the keys are. How colours look to those who lack a kind of cone is simulated by the matrices of
Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency" (2009), severity
1.0, for linear sRGB (values from memory; each row must add up to 1, since grey stays grey). Distances are those of CIE 1976
L*a*b* (D65).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from debrief.gui.style.shapes import SHAPE_ROLE
from debrief.gui.style.theme import Theme
from debrief.session.texts.story import SHAPE_WORDS
from debrief.words.colours import COLOUR_ROLE, CONTRAST, DARK, LIGHT, ON_PAPER
from debrief.words.events import SIGNS
from tests.gui.contrast import contrast, linear

PALETTES = (LIGHT, DARK, CONTRAST, ON_PAPER)
TRACES = ("speed", "temperature", "torque", "voltage")
GROUNDS = ("ground", "panel", "selection")
TINTS = ("tint_limit", "tint_caution", "tint_possible")
TEXT, LINE = 4.5, 3.0

USED = (
    ("words on all grounds", ("ink",), (*GROUNDS, *TINTS), TEXT),
    ("small words, numbers of the axes, what cannot be used now", ("muted",), (*GROUNDS, *TINTS), TEXT),
    ("words of findings, in banner, story and lanes", ("limit", "caution"), (*GROUNDS, *TINTS), TEXT),
    ("titles of lanes and measured values", TRACES, (*GROUNDS, *TINTS), TEXT),
    ("a value that is out of its limit", ("on_limit",), ("limit",), TEXT),
    ("the first button", ("panel",), ("ink",), TEXT),
    ("traces on lanes and shaded stretches", TRACES, (*GROUNDS, *TINTS), LINE),
    ("signs, limit lines and red lines", ("limit", "caution"), (*GROUNDS, *TINTS), LINE),
    ("green arcs", ("normal",), GROUNDS, LINE),
    ("frames of fields, boxes and ticks; handles of scroll bars", ("muted",), GROUNDS, LINE),
    ("frames of what has the keys, of chosen rows and pages", ("ink",), (*GROUNDS, *TINTS), LINE),
)
"""What stands on what: roles of the palette, and the least contrast."""

SIMULATED = {
    "all cones": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
SRGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
TOLD_APART = 15.0
"""Some six times what is just told apart beside each other."""


def test_the_formulas_give_the_published_values():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # the known grey that just fails
    for matrix in SIMULATED.values():
        assert matrix.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-6)
    assert lab("#FFFFFF", np.eye(3)) == pytest.approx([100.0, 0.0, 0.0], abs=0.01)
    assert lab("#FF0000", np.eye(3)) == pytest.approx([53.24, 80.09, 67.20], abs=0.02)


@pytest.mark.parametrize("palette", PALETTES, ids=lambda one: one.name)
def test_what_stands_on_what_is_legible(palette):
    weak = {
        f"{what}: {role} on {ground} {ratio:.2f}"
        for what, roles, grounds, least in USED
        for role in roles
        for ground in grounds
        if (ratio := contrast(getattr(palette, role), getattr(palette, ground))) < least
    }
    assert weak == set()


@pytest.mark.parametrize("palette", [LIGHT, DARK, CONTRAST], ids=lambda one: one.name)
def test_words_and_traces_are_legible_on_the_bands_of_a_chart(qapp, palette):
    theme = Theme(palette.name)
    for kind, grade in (("chart", 0.0), ("chart", 0.5), ("chart", 1.0), ("caution", 0.0), ("limit", 0.0)):
        tint = theme.band_tint(kind, grade).name()
        assert contrast(palette.ink, tint) >= TEXT
        for role in (*TRACES, "limit"):
            assert contrast(getattr(palette, role), tint) >= LINE, (role, kind, grade)


@pytest.mark.parametrize("palette", PALETTES, ids=lambda one: one.name)
@pytest.mark.parametrize("eyes", SIMULATED)
def test_colours_are_told_apart_by_all_eyes(palette, eyes):
    for roles in (TRACES, sorted(set(COLOUR_ROLE.values()) | {"normal"})):
        seen = {role: lab(getattr(palette, role), SIMULATED[eyes]) for role in roles}
        for one, other in combinations(roles, 2):
            apart = float(np.linalg.norm(seen[one] - seen[other]))
            assert apart >= TOLD_APART, f"{one} and {other}: {apart:.1f}"


def test_no_colour_of_a_finding_is_without_a_shape_and_a_word():
    assert set(SIGNS) == set(COLOUR_ROLE)
    shapes = list(SIGNS.values())
    assert len(set(shapes)) == len(shapes), "each severity has a shape of its own"
    for severity, shape in SIGNS.items():
        assert SHAPE_ROLE[shape] == COLOUR_ROLE[severity]
        assert SHAPE_WORDS[shape]


def lab(colour: str, eyes: np.ndarray) -> np.ndarray:
    """Return a colour in CIE 1976 L*a*b* as these eyes see it."""
    seen = np.clip(eyes @ np.array(linear(colour)), 0.0, 1.0)
    part = SRGB_TO_XYZ @ seen / (SRGB_TO_XYZ @ np.ones(3))
    f = np.where(part > (6 / 29) ** 3, np.cbrt(part), part / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])
