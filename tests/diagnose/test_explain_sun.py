"""The star that would settle what went wrong: none by day, and none near the Sun."""

import math

import numpy as np
import pytest

from plumbstar.diagnose.explain import explain
from plumbstar.diagnose.explain.check import clear_of_sun
from plumbstar.diagnose.explain.coach import listen
from plumbstar.diagnose.explain.reply import reply
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.bodies import Body
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

SITE = Site(47.2, 11.6, 940)
TOLD = "Capella 18:42 az 61.2 alt 55; Rigel 18:44 az 141 alt 28; Aldebaran 18:47 az 130 alt 58"


@pytest.mark.parametrize(
    ("when", "named"),
    [
        ("2027-01-28T19:00:00Z", True),
        ("2027-01-28T12:00:00Z", False),  # by day
        ("2027-01-28T16:05:00Z", False),  # its edge still shows
    ],
)
def test_a_check_names_a_star_by_night_only(when, named):
    heard = listen(TOLD, SITE, Instant.parse("2027-01-28T18:30:00Z"), False, None)
    at = Instant.parse(when)
    kit = Kit()
    found = explain(
        [h.sighting for h in heard], Priors.from_kit(kit), Noise.from_kit(kit),
        site=SITE, kit=kit, check_at=at,
    )  # fmt: skip
    stars = [c.star.star for c in found.causes if c.star is not None]
    assert bool(stars) == named
    for name in stars:
        assert apart(place_of(find_target(name), at, SITE), sun_at(at)) > 20.0


def test_a_reply_by_day_names_no_star():
    heard = listen(
        "Capella 12:02 az 61.2 alt 5; Vega 12:04 az 270 alt 50", SITE,
        Instant.parse("2027-01-28T12:05:00Z"), False, None,
    )  # fmt: skip
    kit = Kit()
    found = explain(
        [h.sighting for h in heard], Priors.from_kit(kit), Noise.from_kit(kit), site=SITE, kit=kit
    )
    said = reply(found, heard, SITE, None)
    assert "Find " not in said.split("Try next")[1]


def sun_at(t):
    return place_of(Body("Sun"), t, SITE)


def apart(a, b):
    """Haversine, degrees."""
    (az, alt), (az2, alt2) = np.radians(a), np.radians(b)
    h = math.sin((alt2 - alt) / 2) ** 2
    h += math.cos(alt) * math.cos(alt2) * math.sin((az2 - az) / 2) ** 2
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, h))))


def test_in_twilight_nothing_within_twenty_degrees_is_clear():
    dusk = Instant.parse("2027-01-28T16:25:00Z")
    sun = sun_at(dusk)
    assert -5.0 < sun[1] < -0.9
    rng = np.random.default_rng(1)
    places = np.stack([rng.uniform(-math.pi, math.pi, 4000), rng.uniform(0, 1.5, 4000)], axis=-1)
    clear = clear_of_sun(places, dusk, SITE)
    away = np.array([apart(np.degrees(p), sun) for p in places])
    assert ((away >= 20.0) == clear).all()
    assert 0 < (~clear).sum() < 400
