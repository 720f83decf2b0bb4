"""The answer to a newcomer's numbers, to paste: without a term of the trade."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbstar.diagnose.explain import Explanation
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
from plumbstar.text.words import chance


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
        lines += [f"What happened: {first.happened} (I am {_sure(first.at_all)}.)", ""]
        lines.append(f"Try next: {first.try_next}")
    else:
        close = [c for c in e.causes if c.probability > 0.15][:2] or [first]
        lines.append("What happened: I cannot tell yet.")
        lines += [f"- Perhaps ({chance(c.at_all)}): {c.happened}" for c in close]
        lines += ["", f"Try next: {_next_star(e, heard, site, zone)}"]
    return "\n".join(lines)


def _sure(p: float) -> str:
    return "nearly certain" if p > 0.95 else "fairly sure" if p > 0.8 else "not quite sure"


def _next_star(e: Explanation, heard: Sequence[Heard], site: Site, zone: str | None) -> str:
    """The star that would tell most: the computed check, else a bright star well away."""
    check = e.causes[0].star
    last = heard[-1].sighting.utc
    assert last is not None  # listen() times every sighting
    zone = zone if heard[-1].zone is None else heard[-1].zone
    if check is not None and check.sigmas > TELLING and check.utc is not None:
        utc = Instant.parse(check.utc.iso())  # the minute's second, as it is written
        az, alt = places.place_of(find_target(check.star), utc, site)
        mine, other = check.this_deg, check.rival_deg
        return (
            f"Find {check.star}, {words.where(az, alt)}, put it in the middle and write down "
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
    return well_away(heard, site, last)


def well_away(heard: Sequence[Heard], site: Site, when: Instant) -> str:
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
