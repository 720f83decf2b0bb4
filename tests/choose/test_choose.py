"""Tonight's stars: usable, look-alikes, the best, at both demo sites and at the poles."""

from __future__ import annotations

import numpy as np
import pytest

from plumbstar.choose.candidates import _between, candidates, when_to_sight
from plumbstar.choose.lookalikes import lookalikes_of
from plumbstar.choose.ranking import choose, next_star
from plumbstar.choose.say import look_alike, next_sentence
from plumbstar.errors import UserError
from plumbstar.guide.sun import SunRefusal, may_be_sighted
from plumbstar.kit import Telescope
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount
from plumbstar.simulate.scenario import saltpan_flat, thornback_ridge
from plumbstar.sky.bodies import sun_altitude
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve

CAT = catalogue.load()
T = thornback_ridge()
PRIOR, NOISE = Priors.from_kit(T.kit), Noise.from_kit(T.kit)


def test_usable_stars_are_up_clear_and_bright() -> None:
    stars = candidates(CAT, T.start, T.site, skyline=T.skyline)
    assert 20 <= len(stars) <= 60
    for c in stars:
        assert 15 <= c.alt_deg <= 80
        assert c.alt_deg > T.skyline.altitude_deg(c.az_deg)
        assert c.star.v_mag <= 3.0
    behind = candidates(CAT, T.start, T.site, skyline=Skyline(((0, 60), (359, 60))))
    assert all(c.alt_deg > 60 for c in behind)
    assert [c.star.v_mag for c in stars] == sorted(c.star.v_mag for c in stars)


def test_twins_are_named_with_which_is_which() -> None:
    stars = {c.star.label: c for c in candidates(CAT, T.start, T.site)}
    twin = stars["Castor"].lookalikes[0]
    assert twin.star.label == "Pollux"
    # Castor to Pollux: 4.5 degrees (common knowledge, from memory).
    assert twin.distance_deg == pytest.approx(4.5, abs=0.05)
    # In the east in January Pollux follows Castor up: it lies below.
    assert twin.up_deg < 0
    assert "below" in look_alike(twin, stars["Castor"].star)
    assert "brighter" in look_alike(twin, stars["Castor"].star)
    back = stars["Pollux"].lookalikes[0]
    assert back.star.label == "Castor"
    assert back.up_deg == pytest.approx(-twin.up_deg, abs=0.3)
    assert not stars["Capella"].lookalikes
    assert [a.star.label for a in lookalikes_of(CAT.find("Castor"), CAT, T.start, T.site)] == [
        a.star.label for a in stars["Castor"].lookalikes
    ]


def test_brighter_stars_show_earlier_in_twilight() -> None:
    stars = candidates(CAT, T.start, T.site)
    shows = [c.visible_from for c in stars]
    assert all(s is not None for s in shows)
    assert shows == sorted(shows, key=lambda s: s.to_unix())
    # Sunset at the site that day is about 16:15 UTC; the first star cannot show before it.
    assert Instant.parse("2027-01-28T16:15:00Z") < shows[0] < T.start


def test_by_day_the_stars_are_chosen_for_dusk() -> None:
    noon = Instant.parse("2027-01-28T12:00:00Z")
    dusk = when_to_sight(noon, T.site)
    # Civil dusk that day, by the same Sun: between sunset and the scenario's start.
    assert Instant.parse("2027-01-28T16:30:00Z") < dusk < T.start
    assert when_to_sight(T.start, T.site) == T.start
    polar_day = Instant.parse("2027-06-21T12:00:00Z")
    assert when_to_sight(polar_day, Site(80.0, 0.0)) == polar_day


def test_stars_that_came_out_before_midnight_still_say_when() -> None:
    late = candidates(CAT, Instant.parse("2027-01-29T03:00:00Z"), T.site)
    assert all(
        Instant.parse("2027-01-28T16:00:00Z")
        < c.visible_from
        < Instant.parse("2027-01-28T18:00:00Z")
        for c in late
        if c.visible_from
    )
    assert late[0].visible_from


def test_no_star_is_offered_while_the_sun_is_up() -> None:
    with pytest.raises(SunRefusal, match="blinds at once"):
        candidates(CAT, Instant.parse("2027-06-21T22:00:00Z"), Site(70.0, 20.0))


def test_no_star_near_the_sun_may_be_sighted_until_it_is_well_down() -> None:
    az, alt = np.radians([100.0, 100.0, 280.0]), np.radians([16.0, 19.0, 40.0])
    for sun_alt, may in (
        (0.0, [False, False, False]),
        (-2.0, [False, True, True]),  # 18, 21 degrees from it, and far away
        (-6.0, [True, True, True]),
    ):
        assert may_be_sighted(az, alt, 100.0, sun_alt).tolist() == may


def test_only_what_the_telescope_reaches_is_offered() -> None:
    low = candidates(CAT, T.start, T.site, telescope=Telescope(max_alt_deg=50.0))
    assert (
        max(c.alt_deg for c in low)
        <= 50.0
        < max(c.alt_deg for c in candidates(CAT, T.start, T.site))
    )


def test_in_a_white_night_the_stars_are_chosen_for_the_lowest_sun() -> None:
    # At 64 N the solstice Sun sinks 90 - 64 - 23.4 = 2.6 deg, at about 23:00 UTC at 15 E.
    noon = Instant.parse("2027-06-21T12:00:00Z")
    when = when_to_sight(noon, Site(64.0, 15.0))
    assert Instant.parse("2027-06-21T22:30:00Z") < when < Instant.parse("2027-06-21T23:30:00Z")
    # And only for those that so bright a night shows: 2.6 deg down is enough for magnitude 0.
    shown = [c.star.label for c in candidates(CAT, when, Site(61.5, 15.0))]
    assert {"Vega", "Arcturus"} <= set(shown)
    assert not {"Dubhe", "Polaris"} & set(shown)
    # In the polar night no star "first shows", and all are there.
    assert "Dubhe" in {
        c.star.label for c in candidates(CAT, Instant.parse("2027-12-21T18:00:00Z"), Site(90, 0))
    }


@pytest.mark.parametrize("scenario", [T, saltpan_flat()])
def test_the_best_pair_beats_common_practice(scenario) -> None:
    stars = candidates(CAT, scenario.start, scenario.site, skyline=scenario.skyline)
    choice = choose(stars, scenario.start, PRIOR, NOISE, 1.0, skyline=scenario.skyline)
    assert choice.sets_scored == len(stars) * (len(stars) - 1) // 2
    best, usual = choice.best, choice.common_practice
    assert usual is not None
    assert best.mean_hit_chance > usual.mean_hit_chance
    assert best.mean_hit_chance > best.trusting_stop + 0.3
    after_costs = [s.mean_hit_chance - s.cost for s in choice.sets]
    assert after_costs == sorted(after_costs, reverse=True)


def test_common_practice_is_the_brightest_pair_over_35_degrees() -> None:
    stars = candidates(CAT, T.start, T.site, skyline=T.skyline)
    usual = choose(stars, T.start, PRIOR, NOISE, 1.0).common_practice
    assert usual is not None
    assert [c.star.label for c in usual.stars] == ["Capella", "Rigel"]


def test_targets_change_the_choice() -> None:
    stars = candidates(CAT, T.start, T.site)
    one = (np.radians([120.0]), np.radians([30.0]))
    sky = choose(stars, T.start, PRIOR, NOISE, 0.6)
    south = choose(stars, T.start, PRIOR, NOISE, 0.6, targets=one)
    assert south.best.mean_hit_chance > sky.best.mean_hit_chance


def test_next_star_is_a_new_one_and_says_what_it_buys() -> None:
    stars = candidates(CAT, T.start, T.site, skyline=T.skyline)
    hidden = HiddenMount(T.hidden, NOISE, np.random.default_rng(1))
    by_name = {c.star.label: c for c in stars}
    rows = [hidden.sight(n, by_name[n].az_deg, by_name[n].alt_deg) for n in ("Capella", "Rigel")]
    step = next_star(solve(rows, PRIOR, NOISE), stars, 1.0)
    assert step.candidate.star.label not in ("Capella", "Rigel")
    assert step.after > step.now + 0.1
    assert step.candidate.star.label in next_sentence(step)


@pytest.mark.parametrize(("lat", "lon"), [(90, 0), (-90, 0), (0, 180), (-17, -180)])
def test_poles_and_date_line(lat: float, lon: float) -> None:
    utc = "2027-12-21T12:00:00Z" if lat > 0 else "2027-06-21T12:00:00Z"
    stars = candidates(CAT, Instant.parse(utc), Site(lat, lon))
    choice = choose(stars, Instant.parse(utc), PRIOR, NOISE, 1.0)
    assert 0.8 < choice.best.mean_hit_chance <= 1


def test_too_few_stars_is_said_with_the_remedy() -> None:
    with pytest.raises(UserError, match="brighter than magnitude"):
        candidates(CAT, T.start, T.site, skyline=Skyline(((0, 89), (359, 89))))
    with pytest.raises(UserError, match="sets of 4"):
        choose(candidates(CAT, T.start, T.site), T.start, PRIOR, NOISE, 1.0, size=4)


@pytest.mark.parametrize("lat", [-89.0, -45.0, 0.0, 47.2, 68.0])
def test_the_sun_between_two_reckonings(lat: float) -> None:
    """Within 1 arcsec of what is reckoned at each step (away from a Sun straight below)."""
    site, every = Site(lat, 11.6), 10
    for day in (3, 80, 172, 300):
        begin = Instant.parse("2027-01-01T18:30:17Z").plus_seconds(86400.0 * day)
        steps = [begin.plus_seconds(120.0 * k) for k in range(300)]
        coarse = [begin.plus_seconds(120.0 * k) for k in range(-every, 300 + 2 * every, every)]
        exact = np.degrees(sun_altitude(steps, site))
        found = _between(np.degrees(sun_altitude(coarse, site)), every)[:300]
        twilight = np.abs(exact) < 40.0
        assert np.all(np.abs(found - exact)[twilight] < 1.0 / 3600.0)
        assert twilight.sum() > 50
