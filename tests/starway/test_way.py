"""The way to a star is true to the sky, in both hemispheres, and never leads near the Sun."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.starway import drawing, known, say
from plumbstar.starway.way import way_to

RIDGE, FLAT = Site(47.2, 11.6, 940.0), Site(-31.5, 21.0, 1200.0)
WINTER, SOUTHERN = Instant.parse("2027-01-28T18:30:00Z"), Instant.parse("2027-07-05T18:30:00Z")
STARS = catalogue.load()


def direction(place: tuple[float, float]) -> np.ndarray:
    az, alt = np.radians(place)
    return np.array([np.cos(alt) * np.sin(az), np.cos(alt) * np.cos(az), np.sin(alt)])


@pytest.mark.parametrize(
    ("star", "site", "at", "way"),
    [
        ("Betelgeuse", RIDGE, WINTER, "From the three in a row go up and left, one hand"),
        ("Aldebaran", RIDGE, WINTER, "Follow the line of the three in a row on, up, for two hands"),
        ("Polaris", RIDGE, WINTER, "Follow the line of the Plough’s two end stars on"),
        ("Canopus", FLAT, SOUTHERN, "From the Southern Cross go down, four hands and a half"),
        ("Hadar", FLAT, SOUTHERN, "Hadar is one of the Pointers beside the Southern Cross"),
    ],
)
def test_the_words(star: str, site: Site, at: Instant, way: str) -> None:
    found = way_to(STARS.find(star), at, site)
    assert found is not None
    assert say.way(found).startswith(way)


def test_whoever_walks_as_told_arrives() -> None:
    """Turned into a step on the sphere here, by vectors: the way ends at the star."""
    begun = 0
    for site, at in ((RIDGE, WINTER), (FLAT, SOUTHERN)):
        for i in STARS.brighter_than(1.0):
            star = STARS[int(i)]
            found = way_to(star, at, site)
            if found is None or found.begin is None:
                continue
            begun += 1
            b = found.begin
            start = direction(b.start)
            right = np.cross(start, [0.0, 0.0, 1.0])
            right /= np.linalg.norm(right)
            up = np.cross(right, start)
            step = b.right_deg * right + b.up_deg * up
            far = math.radians(b.distance_deg)
            there = start * math.cos(far) + step / np.linalg.norm(step) * math.sin(far)
            assert there @ direction(place_of(star, at, site)) > math.cos(math.radians(0.01)), star
            assert b.distance_deg <= 55.0
    assert begun > 8


def test_a_landmark_behind_the_roof_or_down_is_not_begun_from() -> None:
    star = STARS.find("Betelgeuse")
    wall = Skyline(((90.0, 48.0), (200.0, 48.0)))
    found = way_to(star, WINTER, RIDGE, wall)
    assert found is not None
    assert found.begin is None or found.begin.landmark.name != "the three in a row"
    south = way_to(STARS.find("Achernar"), SOUTHERN, FLAT)
    assert south is not None
    assert "It stands just over the horizon in the south" in say.in_words(south)


def test_in_twilight_a_faint_figure_is_for_later() -> None:
    dusk = Instant.parse("2027-01-28T16:40:00Z")
    found = way_to(STARS.find("Aldebaran"), dusk, RIDGE)
    assert found is not None
    assert say.way(found).startswith("When it is darker, ")


def test_nothing_leads_near_the_sun_nor_by_day() -> None:
    assert way_to(STARS.find("Capella"), Instant.parse("2027-01-28T11:30:00Z"), RIDGE) is None
    # Early May, the Sun 2 degrees down: Aldebaran and the Seven Sisters stand beside it.
    dusk = Instant.parse("2027-05-08T18:50:00Z")
    sun = place_of(Body("Sun"), dusk, RIDGE)
    assert -4.0 < sun[1] < -0.9
    asked = [STARS[int(i)] for i in STARS.brighter_than(2.0)]
    told = [w for s in asked if (w := way_to(s, dusk, RIDGE)) is not None]
    assert len(told) > 8
    for w in told:
        spots = [w.place, *([w.begin.start] if w.begin else [])]
        for spot in spots:
            assert direction(spot) @ direction(sun) < math.cos(math.radians(20.0)), w.star.label


def test_the_drawing_is_whole_and_says_what_it_shows() -> None:
    for name, site, at in (("Aldebaran", RIDGE, WINTER), ("Canopus", FLAT, SOUTHERN)):
        found = way_to(STARS.find(name), at, site)
        assert found is not None
        text = drawing.svg(found, "night")
        root = ET.fromstring(text)
        space = "{http://www.w3.org/2000/svg}"
        assert root.findtext(f"{space}title") == say.in_words(found)
        words = [t.text for t in root.iter(f"{space}text")]
        assert name in words
        assert "one hand" in words
        assert set(re.findall(r"#[0-9a-f]{3,6}", text)) <= {"#f00", "#a00", "#000"}
        # The ring is round the star: as far from the landmark as the hand says.
        (ring,) = [c for c in root.iter(f"{space}circle") if c.get("fill") == "none"]
        assert abs(float(ring.get("cx", "999"))) < 180
        assert abs(float(ring.get("cy", "999"))) < 180


def test_every_landmark_has_its_stars_and_lines_of_its_own() -> None:
    for mark in known.landmarks():
        own = {s.key for s in mark.stars}
        assert all({a.key, b.key} <= own for _, a, b in mark.lines)
        assert mark.rank in (0, 1, 2)
