"""The best pair of stars for each hour, and the drawings by which to know them."""

from __future__ import annotations

import string
from collections.abc import Sequence

from plumbstar.card.beside import is_closed, ranked
from plumbstar.card.model import CardStar, Dot, Field, Hour
from plumbstar.choose.candidates import Candidate, candidates
from plumbstar.choose.ranking import StarSet, choose
from plumbstar.choose.say import look_alike
from plumbstar.controller.believed import Believed
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky import surroundings
from plumbstar.sky.lists.catalogue import Catalogue, Star
from plumbstar.sky.local_time import next_full_hour
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.starway import say
from plumbstar.starway.way import way_to
from plumbstar.text import words

#: A pair that was best an hour ago is kept while it is within this hit chance of the best: it is
#: known by then, and its drawing is on the card. Common practice, no source.
STAY = 0.01
#: The faintest star in a drawing: what shows by eye soon after dusk. Common practice, no source.
FIELD_MAG = 4.5
#: As many drawings as the paper has room for.
MOST_FIELDS = 8
#: The first full hour must be so long after dusk to be worth a row of its own.
_APART_S = 20 * 60.0


def moments(first: Instant, last: Instant, zone: str) -> list[Instant]:
    """Dusk, then full hours of the zone's clock until ``last``."""
    out = [first]
    hour = next_full_hour(first, zone)
    if hour.minus(first) < _APART_S:
        hour = hour.plus_seconds(3600.0)
    while hour <= last:
        out.append(hour)
        hour = hour.plus_seconds(3600.0)
    return out


def hours_of(
    times: Sequence[Instant],
    stars: Catalogue,
    site: Site,
    kit: Kit,
    priors: Priors,
    field_deg: float,
    skyline: Skyline,
    noise: Noise,
    nights: Believed | None = None,
) -> tuple[tuple[Hour, ...], tuple[Field, ...]]:
    """The best pair at each moment, and a drawing of each star at the hour it is first wanted.

    ``nights``: what earlier ones beside a closed controller taught.
    """
    hours: list[Hour] = []
    fields: dict[str, Field] = {}
    before: tuple[str, ...] = ()
    for t in times:
        try:
            usable = candidates(stars, t, site, skyline=skyline, telescope=kit.telescope)
            aimed: tuple[Candidate, ...]
            if is_closed(kit):
                found = ranked(usable, kit, priors, noise, field_deg, nights)
                aimed, score = _still(found, before)
                before = tuple(c.star.key for c in aimed)
            else:
                sets = choose(usable, t, priors, noise, field_deg, skyline=skyline, show=12).sets
                best = _stay_or_go(sets, before)
                before = tuple(c.star.key for c in best.stars)
                aimed, score = best.stars, best.mean_hit_chance
        except UserError as e:
            hours.append(Hour(t, (), 0.0, f"{words.upper_first(e.came)}."))
            before = ()
            continue
        for c in aimed:
            if c.star.key not in fields and len(fields) < MOST_FIELDS:
                fields[c.star.key] = field_of(c, stars, t, site, len(fields) + 1)
        aims = tuple(_aim(c, t, fields.get(c.star.key)) for c in aimed)
        hours.append(Hour(t, aims, score))
    return tuple(hours), tuple(fields.values())


def _stay_or_go(ranked: Sequence[StarSet], before: tuple[str, ...]) -> StarSet:
    """The pair of the hour before, while it is nearly as good as the best; else the best."""
    best = ranked[0]
    for s in ranked:
        if {c.star.key for c in s.stars} == set(before):
            lost = (best.mean_hit_chance - best.cost) - (s.mean_hit_chance - s.cost)
            return s if lost <= STAY else best
    return best


def _still(
    found: Sequence[tuple[tuple[Candidate, Candidate], float]], before: tuple[str, ...]
) -> tuple[tuple[Candidate, Candidate], float]:
    """The same beside a closed controller, where the order counts too."""
    best = found[0]
    same = (f for f in found if tuple(c.star.key for c in f[0]) == before)
    return next((f for f in same if best[1] - f[1] <= STAY), best)


def _aim(c: Candidate, hour: Instant, field: Field | None) -> CardStar:
    return CardStar(
        name=c.star.label,
        designation=_designation(c),
        where=words.where(c.az_deg, c.alt_deg),
        az_deg=c.az_deg,
        alt_deg=c.alt_deg,
        v_mag=c.star.v_mag,
        colour=words.colour(c.star.bv),
        shows=c.visible_from if c.visible_from and c.visible_from > hour else None,
        field=field.number if field else None,
    )


def _designation(c: Candidate) -> str:
    return c.star.designation if c.star.name and c.star.designation != c.star.label else ""


def way_words(star: Star, instant: Instant, site: Site) -> str:
    """How to find it with the eye; empty where nothing leads there."""
    found = way_to(star, instant, site)
    return " ".join(x for x in (say.way(found), say.place(found)) if x) if found else ""


def field_of(c: Candidate, stars: Catalogue, instant: Instant, site: Site, number: int) -> Field:
    """The drawing of one star's surroundings, its look-alikes lettered."""
    letters = {
        a.star.key: letter for letter, a in zip(string.ascii_uppercase, c.lookalikes, strict=False)
    }
    limit = max(FIELD_MAG, c.star.v_mag + 0.5)
    dots = tuple(
        Dot(n.right_deg, n.up_deg, n.star.v_mag, letters.get(n.star.key, ""))
        for n in surroundings.around(c.star, stars, instant, site, limit_mag=limit)
    )
    return Field(
        number=number,
        name=c.star.label,
        designation=_designation(c),
        instant=instant,
        where=words.where(c.az_deg, c.alt_deg),
        radius_deg=surroundings.AROUND_DEG,
        dots=dots,
        alike=tuple((letters[a.star.key], look_alike(a, c.star)) for a in c.lookalikes),
        way=way_words(c.star, instant, site),
    )
