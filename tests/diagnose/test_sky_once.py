"""What an explanation asks of the sky is worked out once, and is what the sky says."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.ridge import RIDGE, sight
from plumbstar.diagnose.explain.causes.nothing import NoFault
from plumbstar.diagnose.explain.stars import SkyAtSightings
from plumbstar.sky import places


def _sky() -> SkyAtSightings:
    sky = SkyAtSightings.of(sight(NoFault()), RIDGE)
    assert sky is not None
    return sky


def test_places_under_a_wrong_clock_are_those_of_each_moment() -> None:
    """They are worked out together, a night at a time; a day either way is another night."""
    sky = _sky()
    late = np.array([-86400.0, -46800.0, *np.arange(-1800.0, 1801.0, 120.0), 46800.0, 86400.0])
    got = sky.later(late)
    assert got.shape == (len(late), len(sky.instants), 2)
    for row, seconds in zip(got, late, strict=True):
        when = [t.plus_seconds(float(seconds)) for t in sky.instants]
        az, alt = places.observed_many(sky.directions, when, RIDGE)
        assert row == pytest.approx(np.stack([az, alt], axis=-1), abs=1e-11)  # 2e-6 arcsec


def test_stars_to_check_by_are_placed_once_for_a_moment_and_a_site(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sky, asked = _sky(), []
    plain = places.observed_many

    def counted(*a: object, **k: object) -> object:
        asked.append(a)
        return plain(*a, **k)  # type: ignore[arg-type]

    monkeypatch.setattr(places, "observed_many", counted)
    when = sky.instants[-1].plus_seconds(300.0)
    first = sky.check_places(when)
    assert sky.check_places(when, RIDGE) is first
    assert len(asked) == 1
    assert not np.array_equal(sky.check_places(when.plus_seconds(3600.0)), first)
    assert len(asked) == 2
    with pytest.raises(ValueError, match="read-only"):
        first[0, 0] = 0.0
