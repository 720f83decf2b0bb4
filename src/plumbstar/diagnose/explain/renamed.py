"""Two stars that each were another: which ones, as the fix finds them.

Each alone may be any of hundreds, and the two are told by one another: so the namings that fit are
those of :mod:`plumbstar.nameless`, by which the fix doubts its names. Here they are weighed beside
every other cause.
"""

from __future__ import annotations

from collections.abc import Iterator

from plumbstar.diagnose.explain.causes import wrong_star
from plumbstar.diagnose.explain.forms import Observations, Variant
from plumbstar.nameless.contradicted import sky_by_night
from plumbstar.nameless.eligible import Eligible
from plumbstar.nameless.namings import AS_NAMED, namings

#: Of more sightings than this the namings are too many.
MOST = 8


def two_renamed(o: Observations) -> Iterator[Variant]:
    """Every model by which two of the sightings were of other stars, the rest as named."""
    if o.sky is None or not 3 <= o.n <= MOST:
        return
    stars = sky_by_night(o.sightings, o.sky.site)
    if stars is None:
        return
    for naming in namings(o.sightings, stars, o.prior, o.noise, doubt_names=True):
        wrong = [i for i, star in enumerate(naming.stars) if star != AS_NAMED]
        if len(wrong) == 2 and all(naming.stars[i] >= 0 for i in wrong):
            a, b = (_in_place(o, i, naming.stars[i], stars) for i in wrong)
            yield wrong_star.of_two(o, a, b)


def _in_place(o: Observations, i: int, star: int, stars: Eligible) -> wrong_star.StarInPlace:
    """The star of that list among the sky's others."""
    assert o.sky is not None
    place = o.sky.others_places[i]
    apart, probability = wrong_star.in_place(o, i, place)
    k = o.sky.others_names.index(stars.names[star])
    return wrong_star.StarInPlace(0.0, i, k, place[k], float(probability[k]), float(apart[k]))
