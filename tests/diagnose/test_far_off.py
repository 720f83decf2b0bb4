"""A stop far from what the kit expects is learnt, not refused; a contradictory outing is, still.
The mounts are walked.py's, which shares nothing with the program's."""

from __future__ import annotations

import math

import numpy as np
import pytest

from experiments import load
from plumbstar import kit as kits
from plumbstar.diagnose.evidence import evidence_from
from plumbstar.diagnose.history import from_logbook
from plumbstar.diagnose.teach import evidence_of, learnt_priors
from plumbstar.errors import UserError
from plumbstar.logbook.store import Logbook
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

weeks, walked = load("weeks"), load("walked")
SITE = Site(47.2, 11.6, 940.0)
START = Instant.parse("2026-01-03T19:00:00Z")
#: Stop and cone are open: of few terms a run is quick to weigh.
TEXT = """name = "far"
[priors]
squareness_sigma_deg = 0.0
droop_sigma_deg = 0.0
azimuth_scale_sigma_percent = 0.0
altitude_scale_sigma_percent = 0.0
"""


def day(i):
    return START.plus_seconds(i * 7 * 86400.0)


def logged(stop_deg, outings, seed=1):
    rng, book, kit = np.random.default_rng(seed), Logbook.open(":memory:"), kits.loads(TEXT)
    lasting = np.zeros(walked.N_TERMS)
    lasting[walked.E0] = math.radians(stop_deg)
    for i in range(outings):
        o = book.start_outing(SITE, kit, TEXT, day(i))
        for s in weeks.evening(lasting, rng)[0]:
            book.add_sighting(o.id, s, "typed")
    return book, kit


@pytest.mark.parametrize("stop_deg", [7.0, -5.0])
def test_a_far_stop_is_learnt_as_a_far_stop(stop_deg):
    book, kit = logged(stop_deg, 4)
    told = evidence_of(book, kit)
    assert told.left_out == ()
    stop = learnt_priors(book, kit).term("altitude_zero")
    assert len(stop.outings) == 4
    assert math.degrees(stop.mean) == pytest.approx(stop_deg, abs=0.25)
    assert math.degrees(stop.sigma) < 0.4
    s, _ = from_logbook.summary_of(book, kit, 1.5)
    assert s.term("altitude_zero").now == pytest.approx(stop_deg, abs=0.25)
    assert not s.changes


def test_one_far_outing_is_enough_to_look_there_the_next_night():
    book, kit = logged(7.0, 1)
    stop = learnt_priors(book, kit).term("altitude_zero")
    assert abs(math.degrees(stop.mean) - 7.0) < 2 * math.degrees(stop.sigma)
    assert math.degrees(stop.sigma) < 2.0


def test_faults_are_not_learnt_as_far_terms():
    """Wrong stars and slips of several degrees: seldom is one told as a stop that far off."""
    kit, told = kits.loads(TEXT), 0
    for seed in range(24):
        rng = np.random.default_rng([9, seed])
        fault = ("wrong star", "altitude slips", "azimuth slips", "base moves")[seed % 4]
        rows, _ = weeks.evening(np.zeros(walked.N_TERMS), rng, fault)
        e = evidence_from(rows, kit)
        if e is not None and e.information[0, 0] > 0:
            told += abs(e.vector[0] / e.information[0, 0]) > math.radians(3.5)
    assert told <= 2


def test_where_no_outing_agrees_on_one_mount_that_is_said():
    book, kit = Logbook.open(":memory:"), kits.loads(TEXT)
    o = book.start_outing(SITE, kit, TEXT, day(0))
    for k in range(4):
        wild = Sighting("x", 100.0 * k, 40.0, 50.0 * k * k, 10.0 + 17 * k)
        book.add_sighting(o.id, wild, "typed")
    with pytest.raises(UserError, match="the sightings of none agree on one mount"):
        from_logbook.summary_of(book, kit, 1.5)
