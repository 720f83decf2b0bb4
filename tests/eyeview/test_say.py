"""The sentence says what the geometry says."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from plumbstar import kit as kits
from plumbstar.eyeview import EyeStar, EyeView, Outline, eye_view, say
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.times import Instant

NIGHT = Instant.parse("2027-01-28T18:30:00Z")
SITE = thornback_ridge().site
M81 = find_target("M 81")


@pytest.fixture(scope="module")
def plain() -> EyeView:
    kit = kits.example()
    return eye_view(M81, NIGHT, SITE, kit, kit.eyepiece[0])


def said(view: EyeView, *stars: EyeStar, outline: Outline | None = None) -> str:
    return say.sentence(replace(view, stars=stars, outline=outline))


def test_an_oval_and_a_pair(plain: EyeView) -> None:
    """The example of the job: a third of the field, slanting, a pair just below."""
    text = said(
        plain, EyeStar(0.05, -0.2, 6.0), EyeStar(-0.05, -0.2, 6.2), EyeStar(0.9, 0.0, 9.0),
        outline=Outline(0.0, 0.0, 0.34, 0.15, 135.0),
    )  # fmt: skip
    assert text == (
        "A pale oval a third of the field long, slanting from upper left to lower right; "
        "a pair of stars of equal brightness just below, of magnitude 6.1."
    )


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (0.0, "lying level"), (179.0, "lying level"), (90.0, "standing upright"),
        (45.0, "slanting from lower left to upper right"),
        (120.0, "slanting from upper left to lower right"),
    ],
)  # fmt: skip
def test_slant(angle: float, words: str) -> None:
    assert say.slant(angle) == words


def test_slant_agrees_with_the_ends_of_the_ellipse() -> None:
    for angle in range(0, 180, 7):
        x, y = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        words = say.slant(angle)
        if "to upper right" in words:
            assert x * y > 0.0
        if "to lower right" in words:
            assert x * y < 0.0


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (0.0, 0.0, "in the middle"), (0.0, 0.2, "just above"), (0.0, -0.5, "below"),
        (0.5, 0.0, "to the right"), (-0.3, -0.3, "to the lower left"),
        (0.7, 0.7, "near the upper right edge"), (0.0, -0.95, "near the lower edge"),
    ],
)  # fmt: skip
def test_place(x: float, y: float, words: str) -> None:
    assert say.place(x, y) == words


def test_sizes(plain: EyeView) -> None:
    def size(half: float) -> str:
        return said(plain, outline=Outline(0.0, 0.0, half, half, math.nan))

    assert size(0.01).startswith("A small pale smudge; no star to magnitude 10.0")
    assert size(0.5).startswith("A pale round glow, half of the field across")
    assert size(0.95).startswith("A pale round glow, nearly the whole field across")
    assert size(1.4).startswith("A pale round glow, larger than the field")


def test_unlike_stars_are_no_pair_and_the_brightest_leads(plain: EyeView) -> None:
    text = said(plain, EyeStar(0.0, 0.5, 5.0, "orange"), EyeStar(0.1, 0.5, 7.0))
    assert text.endswith("the brightest star, orange and of magnitude 5.0, above.")
    text = said(plain, EyeStar(-0.5, 0.0, 5.0, "orange", "Testa"), EyeStar(0.1, 0.5, 7.0))
    assert text.endswith("the brightest star, Testa, orange, of magnitude 5.0, to the left.")
    text = said(plain, EyeStar(-0.5, 0.0, 5.0, "", "HIP 1"))
    assert text.endswith("one star of magnitude 5.0, to the left.")


def test_every_kind_of_target_makes_a_sentence() -> None:
    kit = kits.example()
    for name in ("M 31", "M 42", "M 37", "M 13", "M 57", "M 1", "M 78", "M 40", "Moon", "Venus",
                 "Jupiter", "Saturn", "Vega", "05h35m17s -05d23m"):  # fmt: skip
        view = eye_view(find_target(name), NIGHT, SITE, kit, kit.eyepiece[0])
        assert say.sentence(view)[0].isupper()
        assert say.sentence(view).endswith(".")
        assert say.sentence(view).count(";") == 1
        assert "nan" not in say.sentence(view) + say.ways(view)


def test_ways_name_a_mirror(plain: EyeView) -> None:
    assert "mirror" not in say.ways(plain)
    kit = kits.example()
    other = eye_view(M81, NIGHT, SITE, kit, kit.eyepiece[0], view="mirrored")
    assert "as in a mirror" in say.ways(other)
    assert "the zenith lies toward the top" in say.ways(other)
    assert "the zenith lies toward the bottom" in say.ways(plain)
