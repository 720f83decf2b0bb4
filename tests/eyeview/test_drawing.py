"""The drawing: well-formed, of one hue, and each thing where the picture says."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from plumbstar import kit as kits
from plumbstar.eyeview import EyeView, eye_view, finder_view, say, svg, thumbnail
from plumbstar.eyeview.drawing import star_radius
from plumbstar.eyeview.model import Outline
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.times import Instant

NIGHT = Instant.parse("2027-01-28T18:30:00Z")
SITE = thornback_ridge().site
SVG = "{http://www.w3.org/2000/svg}"
TARGETS = ("M 31", "M 37", "Moon", "Saturn", "Vega", "05h35m17s -05d23m")


def view_of(name: str) -> EyeView:
    kit = kits.example()
    return eye_view(find_target(name), NIGHT, SITE, kit, kit.eyepiece[0])


@pytest.mark.parametrize("name", TARGETS)
def test_well_formed_and_every_star_drawn(name: str) -> None:
    view = view_of(name)
    root = ET.fromstring(svg(view))
    stars = [e for e in root.iter(f"{SVG}circle") if e.get("class") == "eye-star"]
    assert len(stars) == len(view.stars)
    # Faintest first, so that no bright star hides under a faint one.
    for e, s in zip(reversed(stars), view.stars, strict=True):
        assert float(e.attrib["cx"]) == pytest.approx(240 + 186 * s.x, abs=0.06)
        assert float(e.attrib["cy"]) == pytest.approx(240 - 186 * s.y, abs=0.06)
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == f"{view.label}: {say.sentence(view)}"


@pytest.mark.parametrize("name", TARGETS)
def test_one_hue_at_night_and_none_by_day(name: str) -> None:
    night = set(re.findall(r"#[0-9a-f]{3,6}", svg(view_of(name), "night")))
    assert night <= {"#f00", "#d10000", "#000"}
    day = set(re.findall(r"#[0-9a-f]{3,6}", svg(view_of(name), "day")))
    assert day <= {"#000", "#333", "#fff"}


def test_brighter_is_larger() -> None:
    sizes = [star_radius(m, 10.0) for m in (10.0, 9.0, 7.0, 4.0)]
    assert sizes == sorted(sizes)
    assert len(set(sizes)) == 4
    assert star_radius(-1.4, 10.0) == 9.0


def test_the_ellipse_lies_as_its_angle_says() -> None:
    """SVG counts angles clockwise, the picture anticlockwise."""
    view = replace(view_of("M 81"), outline=Outline(0.0, 0.0, 0.5, 0.2, 30.0))
    e = next(ET.fromstring(svg(view)).iter(f"{SVG}ellipse"))
    assert e.attrib["transform"].startswith("rotate(-30.0 ")
    assert float(e.attrib["rx"]) == pytest.approx(93.0)
    assert float(e.attrib["ry"]) == pytest.approx(37.2)


def test_up_and_drift_do_not_lie_on_each_other() -> None:
    view = view_of("M 37")
    both = svg(replace(view, drift=view.zenith))
    assert ">up, drift<" in both
    assert ">drift<" not in both


def test_names_only_in_the_wide_picture_and_escaped() -> None:
    wide = finder_view(find_target("Capella"), NIGHT, SITE)
    assert ">Almaaz<" in svg(wide)
    assert "HIP" not in svg(wide)
    assert "eye-name" not in svg(view_of("M 42"))
    odd = replace(wide, target=replace(wide.target, name="<&>"))
    assert "<title>&lt;&amp;&gt;:" in svg(odd)


def test_what_brightens_to_the_middle_is_drawn_so() -> None:
    """A galaxy and a globular cluster; not an open cluster, nor what is judged not to show."""
    for name, glows in (("M 31", True), ("M 15", True), ("M 42", False), ("M 45", False)):
        view = view_of(name)
        assert ("radialGradient" in svg(view)) is glows, name
        assert ("radialGradient" in thumbnail(view)) is glows, name
    hidden = replace(view_of("M 31"), shows=False)
    assert "radialGradient" not in svg(hidden)
    assert "radialGradient" not in thumbnail(hidden)
