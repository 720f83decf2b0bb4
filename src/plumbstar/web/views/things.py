"""Things in the sky as a search lists them: what each is, where it stands, its chance of a hit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.contract.asked import FoundThing, SearchAnswer
from plumbstar.contract.parts import ThingRecord
from plumbstar.controller.showing import ObjectPlaces
from plumbstar.guide.sun import TOO_NEAR
from plumbstar.logbook.places import log_name
from plumbstar.mount import kinematics
from plumbstar.sky import bodies
from plumbstar.sky.lists import catalogue, doubles
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.naming import lookup
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.sky.places import Target, magnitude_of, observed_many
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.numbers import number, rounded


def thing(target: Target, now: Instant) -> ThingRecord:
    """What is known of a target besides its place."""
    if isinstance(target, bodies.Body):
        size, constellation = None, ""
    elif isinstance(target, Star):
        size, constellation = None, target.constellation
    else:
        size, constellation = target.size_arcmin, target.constellation
    pair = target if isinstance(target, Double) else None
    if isinstance(target, Star):
        pair = doubles.of(target)
    return ThingRecord(
        name=log_name(target),
        label=target.label,
        kind=target.kind,
        constellation=CONSTELLATIONS[constellation][0] if constellation else "",
        v_mag=number(magnitude_of(target, now), 1),
        size_arcmin=number(size, 1),
        double=pair.at(now.julian_year).summary if pair else "",
    )


def found(e: Evening, targets: Sequence[Target], now: Instant) -> SearchAnswer:
    """Targets with their places now and their chance of being hit."""
    bare = [thing(t, now) for t in targets]
    # Where things stand is not known while the clocks disagree whether it is night.
    if not targets or e.site is None or e.guidance.unsure() is not None:
        return SearchAnswer(results=tuple(_found(t) for t in bare))
    az, alt = observed_many(list(targets), [now] * len(targets), e.site)
    clear = e.guidance.clear_of_sun(kinematics.unit(az, alt), now)
    out = []
    chances = _chances(e, targets, az, alt)
    for t, a, h, p, ok in zip(bare, az, alt, chances, clear, strict=True):
        az_deg, alt_deg = one_turn_deg(math.degrees(a)), math.degrees(h)
        chance = p if alt_deg > 0.0 and ok else None
        out.append(
            _found(
                t,
                az_deg=rounded(az_deg, 2),
                alt_deg=rounded(alt_deg, 2),
                up=alt_deg > max(0.0, float(e.ground.skyline.altitude_deg(az_deg))),
                where=words.where(az_deg, alt_deg) if ok else TOO_NEAR,
                hit_chance=chance,
                hit_chance_words=words.chance(chance),
            )
        )
    return SearchAnswer(results=tuple(out))


def _found(
    t: ThingRecord,
    az_deg: float | None = None,
    alt_deg: float | None = None,
    up: bool | None = None,
    where: str = "",
    hit_chance: float | None = None,
    hit_chance_words: str = "",
) -> FoundThing:
    return FoundThing(
        name=t.name,
        label=t.label,
        kind=t.kind,
        constellation=t.constellation,
        v_mag=t.v_mag,
        size_arcmin=t.size_arcmin,
        double=t.double,
        az_deg=az_deg,
        alt_deg=alt_deg,
        up=up,
        where=where,
        hit_chance=hit_chance,
        hit_chance_words=hit_chance_words,
    )


def _chances(e: Evening, targets: Sequence[Target], az: Array, alt: Array) -> list[float | None]:
    """Hit chance of targets at places (n,), radians; None without a fix to go by. Beside a closed
    controller: pushed on from its zero."""
    seen = e.beside.outlook
    if seen is not None:
        sky = np.stack([az, alt], axis=-1)
        lies = seen.lies(ObjectPlaces(sky, sky), e.instrument.field_deg)
        return [number(x.hit_chance, 3) for x in lies]
    if e.fix is None or not e.fix_holds:
        return [None] * len(az)
    chances = e.fix.hit_chance(np.degrees(az), np.degrees(alt), e.instrument.field_deg)
    still = [e.still_chance(t.key) for t in targets]
    return [number(float(p) * s, 3) for p, s in zip(chances, still, strict=True)]


def search(e: Evening, text: str, kind: str) -> SearchAnswer:
    """For a search box: best match first."""
    text = text.strip()[:60]
    targets: Sequence[Target]
    if kind == "star":
        targets = catalogue.load().search(text, 12)
    else:
        targets = [t for t in lookup.search_targets(text, 13) if t.label != "Sun"][:12]
    lines = found(e, targets, e.now()).results
    # What can be seen comes before what is down, unless it was named in full.
    named = text.casefold()
    return SearchAnswer(
        results=tuple(sorted(lines, key=lambda r: named != r.label.casefold() and not r.up))
    )
