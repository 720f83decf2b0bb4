"""Promises kept: pushes of a logbook whose outings were walked in a geometry of their own."""

import math

import numpy as np
import pytest

from experiments import load
from plumbstar.diagnose.score import Score, score_of, score_sentence
from plumbstar.kit import Kit
from plumbstar.logbook.store import Logbook
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve

weeks = load("weeks")
SITE = Site(47.2, 11.6, 940.0)
START = Instant.parse("2027-01-03T19:00:00Z")
KIT, NOISE = Kit(), Noise.from_kit(Kit())
RADIUS = 0.4


def evening_with(landed, not_there, elsewhere):
    """A logbook of one outing: three stars or more, then so many pushes that landed, objects that
    were not seen, and objects found a degree and a half away; and the chance of each."""
    rng, book = np.random.default_rng(4), Logbook.open(":memory:")
    o = book.start_outing(SITE, KIT, "", START)
    rows = weeks.evening(weeks.telescope(rng), rng)[0]
    for k, s in enumerate(rows):
        timed = type(s)(
            s.star, s.true_az_deg, s.true_alt_deg, s.az_reading_deg, s.alt_reading_deg,
            START.plus_seconds(60.0 * k),
        )  # fmt: skip
        book.add_sighting(o.id, timed, "typed")
    fix = solve(rows, Priors.from_kit(KIT), NOISE)
    near, chances = rows[-1].az_reading_deg, []
    for k in range(landed + not_there + elsewhere):
        az, alt = rng.uniform(0, 360), rng.uniform(25, 65)
        read = fix.reading_for(az, alt, near)
        # As it was stated: with each push in vain since the last star less sure.
        pushes = 1 + min(not_there, max(0, k - landed))
        chances.append(0.98**pushes * float(fix.hit_chance(az, alt, 2 * RADIUS, near)))
        off = 0.1 if k < landed else 1.5
        found = None if landed <= k < landed + not_there else (float(read[0]), float(read[1]) + off)
        at = START.plus_seconds(3600.0 + 60.0 * k)
        book.add_find(o.id, f"object {k}", at, (float(read[0]), float(read[1])), found, RADIUS)
    return book, chances


def test_each_push_is_promised_what_its_fix_said_and_counted_where_it_landed():
    book, chances = evening_with(6, 2, 1)
    score = score_of(book, KIT)
    assert (score.pushes, score.landed) == (9, 6)
    assert score.promised == pytest.approx(sum(chances), abs=1e-6)
    assert score.sigma == pytest.approx(math.sqrt(sum(c * (1 - c) for c in chances)), abs=1e-6)


def test_what_came_after_a_push_does_not_change_its_promise():
    book, _ = evening_with(6, 0, 0)
    before = score_of(book, KIT)
    rng = np.random.default_rng(9)
    rows = weeks.evening(weeks.telescope(rng), rng)[0]
    later = START.plus_seconds(7 * 86400.0)
    o = book.start_outing(SITE, KIT, "", later)
    for s in rows:
        book.add_sighting(o.id, s, "typed")
    assert score_of(book, KIT) == before


@pytest.mark.parametrize(
    ("landed", "said"),
    [(20, "too high"), (30, "as promised"), (40, "too low")],
)
def test_more_than_chance_is_said(landed, said):
    """Of 40 pushes at three in four each, 30 are promised, give or take 2.7."""
    told = score_sentence(Score.of([(0.75, k < landed) for k in range(40)]))
    assert f"Of your last 40 pushes 30 were promised to land in the field, and {landed} did" in told
    assert said in told


def test_a_few_pushes_or_none_tell_nothing():
    assert score_of(Logbook.open(":memory:"), KIT) is None
    assert score_sentence(None) == score_sentence(Score.of([(0.9, False)] * 4)) == ""
