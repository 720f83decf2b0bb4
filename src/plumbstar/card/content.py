"""Everything on the card, from time, site, kit, skyline and the evening's order of targets."""

from __future__ import annotations

import dataclasses

from plumbstar.card.beside import corrections, is_closed
from plumbstar.card.evening import evening, night_of
from plumbstar.card.model import Card, CardStop, Hour, clean
from plumbstar.card.pairs import hours_of, moments
from plumbstar.card.stops import stops_of
from plumbstar.controller.believed import Believed
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky import coordinates
from plumbstar.sky.lists.catalogue import Catalogue
from plumbstar.sky.local_time import offset_words
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import say
from plumbstar.targets.model import Route

#: A short line each. The tool gives guidance only.
CAUTIONS = (
    "Never point at or near the Sun: it blinds at once and for good. Cover the telescope by dawn.",
    "Light pointers: only as the local law allows, never toward aircraft, people or roads.",
    "Dark, cold, trip and lift: know the ground by day, dress warm, do not lift alone.",
    "Local rules and trained people decide; this card only advises.",
)


#: So many of what found no room are named, the most rewarding first.
MOST_LEFT_OUT = 8


def make(
    asked: Instant,
    site: Site,
    kit: Kit,
    skyline: Skyline,
    stars: Catalogue,
    *,
    field_deg: float,
    field_name: str,
    route: Route | None = None,
    priors: Priors | None = None,
    noise: Noise | None = None,
    time_zone: str = "",
    hours: float = 3.0,
    nights: Believed | None = None,
) -> Card:
    """The card for the night under way at ``asked``, else the coming one.

    ``field_deg`` and ``field_name`` are those of the eyepiece the hit chances are for; ``priors``
    None takes the kit's; ``time_zone`` (local_time) is that of its times; the star pairs are for
    dusk and the full hours after it, for so many ``hours``. ``noise``: with the hand as learnt,
    the kit's without it; ``nights``: what earlier ones beside a closed controller taught.
    """
    noise = noise or Noise.from_kit(kit)
    e = evening(asked, site, time_zone)
    times: list[Instant] = []
    if e.first is not None:
        times = moments(e.first, min(e.last, e.first.plus_seconds(3600.0 * hours)), time_zone)
    pairs, fields = hours_of(
        times,
        stars,
        site,
        kit,
        priors or Priors.from_kit(kit),
        field_deg,
        skyline,
        noise,
        nights,
    )
    date, name = night_of(e.anchor, site.lon_deg)
    left_out = route.left_out[:MOST_LEFT_OUT] if route is not None else ()
    stops = stops_of(route, site, kit) if route is not None else ()
    if is_closed(kit) and route is not None:
        stops = _beside(stops, pairs, route, stars, site, kit, noise, nights)
    return Card(
        date=date,
        night=name,
        site=clean(site.name),
        place=coordinates.words(site.lat_deg, site.lon_deg, site.elevation_m),
        telescope=clean(telescope_words(kit)),
        field_name=clean(field_name),
        time_zone=time_zone,
        zone=offset_words(e.anchor, time_zone),
        sky=e.sky,
        moments=e.moments,
        hours=pairs,
        hours_note=e.reason,
        fields=fields,
        stops=stops,
        left_out=tuple((clean(p.target.label), say.left_out(why)) for p, why in left_out),
        has_route=route is not None,
        cautions=CAUTIONS,
        beside=is_closed(kit),
    )


def _beside(
    stops: tuple[CardStop, ...],
    hours: tuple[Hour, ...],
    route: Route,
    stars: Catalogue,
    site: Site,
    kit: Kit,
    noise: Noise,
    nights: Believed | None,
) -> tuple[CardStop, ...]:
    """With the push on from a closed controller's zero, for the pair of the first hour."""
    first = next((h for h in hours if h.stars), None)
    if first is None:
        return stops
    a, b = (stars.find(s.name) for s in first.stars)
    targets = [v.prospect.target for v in route.visits]
    told = corrections((a, b), first.instant, targets, stops, site, kit, noise, nights)
    return tuple(
        dataclasses.replace(s, on=t.on, chosen=clean(t.chosen))
        for s, t in zip(stops, told, strict=True)
    )


def telescope_words(kit: Kit) -> str:
    """ "Ridge box, 280 mm f/5.2"."""
    scope = kit.telescope
    return f"{kit.name}, {scope.aperture_mm:g} mm f/{scope.focal_ratio:.1f}"
