"""The picture of the mount over its outings: where things stand on it, against a hidden truth."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.commands.mount import command
from plumbstar.diagnose.history import drawing, from_logbook
from plumbstar.diagnose.history.strip import Strip
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Noise
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import HiddenMount
from plumbstar.sky.times import Instant

KIT = kits.example()
START = Instant.parse("2027-01-03T19:00:00Z")
OUTINGS, MENDED, CHANGED, WRONG = 16, 5, 10, 7
PLACES = [(40, 35), (150, 50), (260, 40), (330, 60)]


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Sixteen evenings: the stop is shimmed and told before the sixth, knocked and not told before
    the eleventh; on the eighth all sightings contradict one another. The leans are kept."""
    path = tmp_path_factory.mktemp("strip") / "logbook.sqlite3"
    rng, leans = np.random.default_rng(11), []
    with Logbook.open(path) as book:
        for i in range(OUTINGS):
            t = START.plus_seconds(i * 86400.0)
            o = book.start_outing(None, KIT, kits.example_text(), t)
            terms = np.zeros(12)
            terms[0], terms[2:4] = rng.uniform(-3, 3), rng.normal(size=2) * math.radians(1.0)
            stop = 1.2 if i < MENDED else 0.1 if i < CHANGED else -0.9
            terms[INDEX["altitude_zero"]] = math.radians(stop)
            leans.append(np.degrees(terms[2:4]))
            mount = HiddenMount(terms, Noise.from_kit(KIT), rng)
            for n, (az, alt) in enumerate(PLACES):
                off = 25.0 * n * (-1) ** n if i == WRONG else 0.0
                s = mount.sight(f"star {n}", az, alt, t)
                book.add_sighting(o.id, moved(s, off), "typed")
        before = START.plus_seconds((MENDED - 0.5) * 86400.0)
        book.add_mend(KIT.name, ("altitude_zero",), "shimmed <1 mm>", before)
        summary, said = from_logbook.summary_of(book, KIT, 1.5)
        return path, from_logbook.strip_from(book, KIT, summary, said), np.array(leans)


def moved(s, off_deg):
    return replace(s, alt_reading_deg=s.alt_reading_deg + off_deg)


def drawn(strip: Strip, width: float = drawing.SHEET) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.svg(strip, "day", width))


def of(tree: ElementTree.Element, sort: str) -> list[ElementTree.Element]:
    return [e for e in tree.iter() if sort in (e.get("class") or "").split()]


def test_the_facts_of_the_strip(told):
    _, strip, leans = told
    assert [n.left_out for n in strip.nights] == [i == WRONG for i in range(OUTINGS)]
    assert [(m.at, m.kind, m.sure) for m in strip.marks] == [
        (MENDED, "mend", True), (CHANGED, "changed", True),
    ]  # fmt: skip
    stop = next(b for b in strip.bands if b.name == "altitude_zero")
    for i, true in ((2, 1.2), (8, 0.1), (14, -0.9)):
        assert stop.held[i].value == pytest.approx(true, abs=4 * stop.held[i].sigma)
        assert stop.held[i].sigma < stop.dots[i].sigma
    assert stop.now.value == pytest.approx(-0.9, abs=0.2)
    assert stop.dots[WRONG] is None
    assert stop.held[WRONG] == stop.held[WRONG - 1]
    off = [
        (n.leaned.amount_deg - float(np.hypot(*true))) / n.leaned.sigma_deg
        for n, true in zip(strip.nights, leans, strict=True)
        if n.leaned is not None
    ]
    assert len(off) == OUTINGS - 1
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(1.0, abs=0.45)


def test_what_is_drawn_stands_where_it_belongs(told):
    _, strip, _ = told
    tree = drawn(strip)
    # A dot for each outing that tells, on each of three bands; level and key lie lower.
    dots = [e for e in of(tree, "strip-dot") if float(e.get("cy")) < 402]
    told_of = [sum(d is not None for d in b.dots) for b in strip.bands]
    assert told_of[0] == OUTINGS - 1
    assert len(dots) == sum(told_of) + OUTINGS - 1
    columns = sorted({float(e.get("cx")) for e in dots})
    assert len(columns) == OUTINGS - 1
    stop = sorted((e for e in dots if float(e.get("cy")) < 134), key=lambda e: float(e.get("cx")))
    heights = [float(e.get("cy")) for e in stop]
    # A higher value stands higher: before the mend above what follows, and that above the rest.
    assert max(heights[:MENDED]) < min(heights[MENDED : CHANGED - 1])
    assert max(heights[MENDED : CHANGED - 1]) < min(heights[CHANGED - 1 :])
    lines = [e for e in of(tree, "strip-ink") if e.get("x1") == e.get("x2")]
    x = [float(e.get("x1")) for e in lines]
    assert x[0] == pytest.approx((columns[MENDED - 1] + columns[MENDED]) / 2, abs=0.2)
    assert x[1] == pytest.approx((columns[CHANGED - 2] + columns[CHANGED - 1]) / 2, abs=0.2)
    assert len(of(tree, "strip-wedge")) == 2  # the mend, and the key
    assert len(of(tree, "strip-cross")) == 2  # the outing left out, and the key
    said = " ".join("".join(e.itertext()) for e in tree.iter() if e.tag.endswith("title"))
    assert "shimmed <1 mm>" in said
    assert "16 outings with Ridge box" in said


def test_all_lies_within_the_paper(told):
    _, strip, _ = told
    for width in (drawing.PHONE, drawing.SHEET):
        tree = drawn(strip, width)
        height = float(tree.get("viewBox").split()[3])
        for e in tree.iter():
            limits = {"cx": width, "x1": width, "x2": width, "x": width}
            limits |= {"cy": height, "y1": height, "y2": height, "y": height}
            for key, most in limits.items():
                if e.get(key) is not None:
                    assert -6 <= float(e.get(key)) <= most + 6, (e.tag, e.attrib)


def test_the_command_draws_and_gathers(told, tmp_path):
    path, _, _ = told
    place = tmp_path / "weeks.svg"

    def run(*args: str) -> str:
        done = CliRunner().invoke(command, ["--logbook", str(path), *args])
        assert done.exception is None, done.output
        return done.output

    out = run("--svg", str(place), "--dress", "night")
    assert str(place) in out
    night = place.read_text()
    assert ElementTree.fromstring(night).get("class") == "outings"
    assert set(re.findall(r'(?:fill|stroke)="(#\w+)"', night)) <= {
        "#f00", "#d10000", "#6b0000", "#000",
    }  # fmt: skip
    # Of the stop the latest four by themselves; no row reaches over the mend or the change.
    rows = re.findall(r"(\d+)(?:-(\d+))? \|", out.split("squareness:")[0])
    spans = [(int(a), int(b or a)) for a, b in rows]
    assert spans[-4:] == [(13, 13), (14, 14), (15, 15), (16, 16)]
    assert all(not (a <= edge < b) for a, b in spans for edge in (MENDED, CHANGED))
    assert len(out.splitlines()) < 75
    every = run("--all").split("squareness:")[0]
    assert len(re.findall(r"\d+ \|", every)) == OUTINGS - 1
