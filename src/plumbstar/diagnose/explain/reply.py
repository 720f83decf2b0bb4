"""The answer to a newcomer's numbers, to paste: without a term of the trade."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbstar.diagnose.explain import Cause, Explanation
from plumbstar.diagnose.explain.check import TELLING, clear_of_sun
from plumbstar.diagnose.explain.coach import Heard
from plumbstar.diagnose.explain.stars import CHECK_MAGNITUDE
from plumbstar.mount import kinematics
from plumbstar.sky import local_time, places
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.text.words import in_hundred

_WHAT = {
    "nothing": "Your numbers fit together well. Nothing looks wrong with your telescope.",
    "coarse_centring": "Nothing is broken. The stars were only roughly in the middle when you took "
    "the numbers, so the numbers do not quite fit together.",
    "stop_off": "Your up-and-down number starts from the wrong place: it is about {stop} too "
    "{stop_low} all over the sky.",
    "slip": "Your {axis} circle seems to have slipped between {first} and {second}: everything "
    "from {second} on is shifted.",
    "base_moved": "The telescope's base seems to have been nudged or to have sunk a little between "
    "{first} and {second}.",
    "cone": "The tube does not point quite square from its mounting: it looks to one side.",
    "squareness": "One side of the tube's mounting sits lower than the other.",
    "runout": "The circle for left and right seems to sit off centre.",
    "several": "The numbers do not fit the sky, and no single slip explains them.",
    "base_leaning": "The base stands on quite a slope. That is allowed for, but less is better.",
}
_DO = {
    "nothing": "Go on and enjoy it.",
    "coarse_centring": "Use your strongest eyepiece and make the star blurry; a blurry disc is "
    "easier to put in the middle. Then take the numbers again.",
    "stop_off": "Check where the tube stands when you set the up-and-down number; a spirit level "
    "along the tube shows it.",
    "slip": "Tighten whatever clamps that circle or sensor, then start again with two stars.",
    "base_moved": "Make the feet firm, push the tube gently, and start again with two stars.",
    "cone": "Check that the tube sits straight in its cradle.",
    "squareness": "Lay a spirit level across the two supports of the tube and pad the lower one.",
    "runout": "Turn the base slowly round and see whether the circle wobbles against its pointer.",
    "several": "Start again with two stars you are sure of, and note the time, the star and both "
    "numbers for each at once.",
    "base_leaning": "Put something flat under the low side of the base until a spirit level is "
    "happy, then start again with two stars.",
}


def _plainly(c: Cause) -> str:
    """What happened, for somebody who knows no terms."""
    d = c.detail
    if c.kind == "wrong_star":
        return (
            f"One of the stars was probably another one: the numbers you wrote for "
            f"{d['sighted_as']} fit {d['star']}, {d['apart_deg']:.0f} degrees away, much better."
        )
    if c.kind == "careless_sighting":
        if d["how"] == "misread":
            axis = "left-right" if d["axis"] == "azimuth" else "up-down"
            return (
                f"The {axis} number for {d['sighted_as']} looks misread: it fits if it was "
                f"{abs(d['amount_deg']):g} degree{'' if abs(d['amount_deg']) == 1 else 's'} "
                f"{'less' if d['amount_deg'] > 0 else 'more'}."
            )
        return f"The numbers for {d['sighted_as']} do not fit the others."
    if c.kind == "ticks":
        both = {"azimuth": "left-right", "altitude": "up-down", "both": "left-right and up-down"}
        if d["factor"] == -1:
            return f"Your {both[d['axis']]} numbers run backwards."
        pace = "too fast or too slowly"
        if not d["fitted"]:
            size = max(d["factor"], 1 / d["factor"])
            pace = f"{size:.3g} times too {'fast' if d['factor'] > 1 else 'slowly'}"
        return f"Your {both[d['axis']]} numbers grow {pace} as the telescope turns."
    if c.kind == "clock_or_site":
        if "late_s" in d:
            size, unit = abs(d["late_s"]) / 3600.0, "hour"
            if size < 0.99:
                size, unit = size * 60.0, "minute"
            way = "later" if d["late_s"] > 0 else "earlier"
            amount = f"{size:g} {unit}{'' if size == 1 else 's'}"
            return f"The time looks wrong: the sky fits if it was really {amount} {way}."
        place = "The place you gave for the telescope looks wrong"
        mixed = {
            "longitude_sign": "; perhaps east and west were mixed up",
            "latitude_sign": "; perhaps north and south were mixed up",
            "exchanged": "; perhaps its two numbers were exchanged",
        }
        return f"{place}{mixed.get(d['how'], '')}."
    terms = d["terms_deg"]
    stop = terms.get("altitude_zero", 0.0)
    first, second = d.get("between", ("", ""))
    return _WHAT[c.kind].format(
        stop=f"{abs(stop):.1f} degrees",
        stop_low="low" if stop > 0 else "high",
        first=first,
        second=second,
        axis={"azimuth": "left-right", "altitude": "up-down"}.get(str(d.get("axis")), ""),
    )


def _do(c: Cause) -> str:
    d = c.detail
    if c.kind in ("wrong_star", "careless_sighting"):
        return (
            f"Point at {d['sighted_as']} once more, make sure it is the right star, and take both "
            "numbers again."
        )
    if c.kind == "ticks":
        if d["axis"] == "altitude":
            return (
                "Lift the tube from level to straight up: the up-down number must grow by 90. Tell "
                "me what it does."
            )
        return (
            "Turn the telescope once all the way round to the right: the left-right number must "
            "grow, and come back to where it began. Tell me what it does."
        )
    if c.kind == "clock_or_site":
        return "Check the time and the date, whether it is summer or winter time, and the place."
    return _DO[c.kind]


def reply(e: Explanation, heard: Sequence[Heard], site: Site, zone: str | None) -> str:
    """A short reply to paste: what was understood, what happened, one thing to try next."""
    lines = ["Thank you for the numbers. I read them as:"]
    for h in heard:
        s = h.sighting
        lines.append(
            f"- {s.star} at {h.local}: left-right {s.az_reading_deg:g}, "
            f"up-down {s.alt_reading_deg:g}"
        )
    lines += ["If any of that is wrong, tell me.", ""]
    first = e.causes[0]
    if e.can_tell:
        lines += [f"What happened: {_plainly(first)} (I am {_sure(first.probability)}.)", ""]
        lines.append(f"Try next: {_do(first)}")
    else:
        close = [c for c in e.causes if c.probability > 0.15][:2] or [first]
        lines.append("What happened: I cannot tell yet.")
        lines += [f"- Perhaps ({in_hundred(c.probability)}): {_plainly(c)}" for c in close]
        lines += ["", f"Try next: {_next_star(e, heard, site, zone)}"]
    return "\n".join(lines)


def _sure(p: float) -> str:
    return "nearly certain" if p > 0.95 else "fairly sure" if p > 0.8 else "not quite sure"


def _next_star(e: Explanation, heard: Sequence[Heard], site: Site, zone: str | None) -> str:
    """The star that would tell most: the computed check, else a bright star well away."""
    check = e.causes[0].detail.get("check")
    last = heard[-1].sighting.utc
    assert last is not None  # listen() times every sighting
    zone = zone if heard[-1].zone is None else heard[-1].zone
    if check and check["sigmas"] > TELLING and check["utc"]:
        utc = Instant.parse(check["utc"])
        az, alt = places.place_of(find_target(check["star"]), utc, site)
        mine, other = check["reading_deg"], check["rival_reading_deg"]
        return (
            f"Find {check['star']}, {words.where(az, alt)}, put it in the middle and write down "
            f"both numbers and the time. Around {local_time.local(utc, zone or '')} I expect about "
            f"{mine[0]:.1f} and {mine[1]:.1f} if the first guess is right, {other[0]:.1f} and "
            f"{other[1]:.1f} if the second is."
        )
    if len(heard) > 2 and e.causes[0].kind in ("cone", "squareness"):
        return (
            "Lay a spirit level across the two supports of the tube, note which side the bubble "
            "is on, turn the telescope half round and look again. Tell me both sides, as seen from "
            "behind the tube."
        )
    return _well_away(heard, site, last)


def _well_away(heard: Sequence[Heard], site: Site, when: Instant) -> str:
    """A bright star as far from all that were sighted as there is one."""
    stars = catalogue.load()
    index = stars.brighter_than(CHECK_MAGNITUDE)
    columns = places.Directions.take(stars, index)
    az_all, alt_all = places.observed_many(columns, [when], site, grid=True)
    clear = clear_of_sun(np.stack([az_all[0], alt_all[0]], axis=-1), when, site)
    high = (np.degrees(alt_all[0]) > 25) & (np.degrees(alt_all[0]) < 70)
    up = np.flatnonzero(high & clear)
    if not len(up):
        return (
            "Wait until it is dark and point at one more bright star, well away from the others. "
            "Never point the telescope at or near the Sun."
        )
    there = kinematics.unit(az_all[0][up], alt_all[0][up])
    been = kinematics.unit(
        np.radians([h.sighting.true_az_deg for h in heard]),
        np.radians([h.sighting.true_alt_deg for h in heard]),
    )
    k = int(up[int(np.argmin(np.max(there @ been.T, axis=1)))])
    star = stars[int(index[k])]
    where = words.where(float(np.degrees(az_all[0][k])), float(np.degrees(alt_all[0][k])))
    return (
        f"Find {star.label}, {where}, well away from the others. Put it in the middle, and send me "
        "both numbers and the time."
    )
