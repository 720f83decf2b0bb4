"""Routes made by hand, names meant to do harm, and cards that several tests look at."""

import dataclasses
import functools

from plumbstar.card import make
from plumbstar.card.model import clean
from plumbstar.simulate.scenario import saltpan_flat, thornback_ridge
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.targets.model import Hitch, Prospect, Route, Visit, VisitNote

RIDGE, FLAT = thornback_ridge(), saltpan_flat()

#: Names that would be commands to one page or another if they were not escaped.
NASTY = (
    '#panic("x") $x$ \\ "quoted" *b* _c_ `d` @e <f> // g /* h',
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "</style></title>&amp;' onclick='x'",
    "Ёжик 🦉 αβγ 山の上 n\u0303 \u202eabc",
    "a;b,c\\n\r\nBEGIN:VALARM\x00\x07",
    "{{ 7 * 7 }}{% raw %} #eval(\"1\") #import \"x\"",
    "W" * 120,
)  # fmt: skip


GOES_DOWN = VisitNote(Hitch.GOES_DOWN, 0.8, 0.0)


def a_route(scene, names, *, start_s=4500.0, every_s=1500.0, **changes):
    """Visits to those objects in that order, at their true places."""
    visits = []
    for k, name in enumerate(names):
        target = lookup.find_target(name)
        start = scene.start.plus_seconds(start_s + k * every_s)
        az, alt = place_of(target, start, scene.site)
        p = Prospect(
            target=target, difficulty="fair", chance=0.8, margin_mag=1.6,
            moon_loss_mag=0.0, air_loss_mag=0.2, aperture_mm=280.0,
            parts=(0.5, 1.0, 1.6, float("-inf")), eyepiece="17 mm", second="9 mm", filter="",
            magnification=86.0, field_arcmin=400.0, minutes=15.0, best=start, first=start,
            last=start,
            sets=start.plus_seconds(3600.0) if k % 3 == 0 else None, az_deg=az, alt_deg=alt,
        )  # fmt: skip
        visits.append(
            Visit(dataclasses.replace(p, **changes), start, 15.0, az, alt, 20.0, GOES_DOWN)
        )
    return Route(tuple(visits), (), 5.0, 100.0)


TWELVE = (
    "M 31", "M 33", "M 34", "NGC 891", "M 45", "M 37", "M 36", "M 42", "NGC 2392", "M 81", "M 82",
    "M 44",
)  # fmt: skip


@functools.cache
def card(south=False, route=None, zone="", asked=None, name=None, hours=5.0):
    scene = FLAT if south else RIDGE
    site = scene.site if name is None else dataclasses.replace(scene.site, name=name)
    return make(
        asked or scene.start,
        site,
        scene.kit,
        scene.skyline,
        catalogue.load(),
        field_deg=0.76,
        field_name="17 mm",
        route=route,
        time_zone=zone,
        hours=hours,
    )


@functools.cache
def full():
    """The ridge's evening with twelve targets, local time an hour ahead."""
    return card(route=a_route(RIDGE, TWELVE), zone="+01:00")


def with_names(c, text):
    """The card with every word from outside replaced by one text, as ``make`` would clean it."""
    t = clean(text)
    return dataclasses.replace(
        c,
        site=t, telescope=t, field_name=t,
        stops=tuple(
            dataclasses.replace(s, name=t, what=t, eyepiece=t, reason=t, note=t) for s in c.stops
        ),
        left_out=((t, t),),
    )  # fmt: skip
