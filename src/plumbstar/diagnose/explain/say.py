"""Plain words for each cause: a title, the evidence in numbers, a check, a mend."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from plumbstar.diagnose.explain.check import TELLING, StarCheck, expected_reading
from plumbstar.diagnose.explain.hypotheses import Outing
from plumbstar.diagnose.explain.judge import Judged
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.sky.local_time import local
from plumbstar.text import words
from plumbstar.text.advice import Advice, Do
from plumbstar.turns import one_turn_deg

#: What a kind is called that has no particulars.
PLAIN = {
    "nothing": "nothing is wrong",
    "coarse_centring": "merely coarse centring",
    "stop_off": "the upright stop is far off",
    "cone": f"the tube is not square to its bearings ({words.term('cone')})",
    "squareness": "the altitude bearings are not square to the azimuth axis "
    f"({words.term('squareness')})",
    "runout": "the azimuth disc sits off centre",
    "base_leaning": "the base leans far from level",
    "several": "several things at once, or something not on this list",
}
#: Below this probability a cause is not worth a comparison.
FAR_FETCHED = 1e-6


def arc(degrees: float) -> str:
    """A size a person can picture: minutes of arc when small, else degrees."""
    a = abs(degrees)
    if a * 60 < 0.5:
        return "under 1′"
    return f"{a * 60:.0f}′" if a < 0.7 else f"{a:.1f}°"


def term_deg(j: Judged, name: str) -> tuple[float, float]:
    """Value and 1 sigma of a term, degrees."""
    i = INDEX[name]
    value = math.degrees(j.mean[i])
    if name == "altitude_zero":
        value += float(j.best.detail.get("entered_deg", 0.0))
    return value, math.degrees(math.sqrt(max(0.0, j.covariance[i, i])))


def extra_deg(j: Judged, k: int) -> tuple[float, float]:
    """Value and 1 sigma of an extra number, degrees."""
    i = N_TERMS + k
    return math.degrees(j.mean[i]), math.degrees(math.sqrt(max(0.0, j.covariance[i, i])))


def agree_deg(o: Outing, j: Judged) -> float:
    """How closely the sightings agree under a cause: root mean square on the sky, degrees."""
    rows = [i for i in range(o.n) if not (_by_hand(j) and i == j.best.detail["sighting"])]
    r = j.residuals[rows]
    return math.degrees(math.sqrt(float(np.mean(np.sum(r * r, axis=1)))))


def _by_hand(j: Judged) -> bool:
    return j.kind == "careless_sighting" and j.best.detail["how"] != "misread"


def _star(o: Outing, i: int) -> str:
    return o.sightings[i].star


def _gap(o: Outing, after: int) -> str:
    return f"{_star(o, after)} and {_star(o, after + 1)}"


def _span(seconds: float) -> str:
    s = abs(seconds)
    if s == 86400:
        return "one day"
    hours, minutes = int(s // 3600), round(s % 3600 / 60)
    parts = [f"{hours} h"] if hours else []
    return " ".join([*parts, *([f"{minutes} min"] if minutes or not hours else [])])


def _factor(factor: float) -> str:
    if factor == -1:
        return "runs backwards"
    if factor >= 1:
        return f"turns {factor:.4g} times too far"
    return f"turns only {factor:.4g} of what it should"


def title(o: Outing, j: Judged) -> str:
    """The cause in a few words, with its particulars."""
    d = j.best.detail
    if j.kind == "wrong_star":
        return f"wrong star: {d['star']} was sighted for {_star(o, d['sighting'])}"
    if j.kind == "careless_sighting":
        star = _star(o, d["sighting"])
        if d["how"] == "misread":
            axis = ("azimuth", "altitude")[d["axis"]]
            return f"the {axis} of {star} misread by {abs(d['amount_deg']):g}°"
        if d["how"] == "number":
            return f"the {('azimuth', 'altitude')[d['axis']]} of {star} noted wrongly"
        noted = ", or its reading was noted wrongly" if o.read_by_eye else ""
        return f"{star} was not well centred{noted}"
    if j.kind == "slip":
        axis = ("azimuth", "altitude")[d["axis"]]
        return f"the {axis} encoder slipped between {_gap(o, d['after'])}"
    if j.kind == "base_moved":
        return f"the base moved or settled between {_gap(o, d['after'])}"
    if j.kind == "ticks":
        axis = "azimuth and altitude" if d["axis"] == "both" else d["axis"]
        circle = getattr(o.kit, "altitude" if d["axis"] == "altitude" else "azimuth", None)
        ticked = circle is None or circle.ticks_per_turn
        what = "wrong tick count" if ticked else "wrong scale (ticks, gearing or gauge)"
        what = "direction reversed" if d["factor"] == -1 else what
        return f"{axis}: {what}"
    if j.kind == "clock_or_site":
        return {
            "zone": "the time zone is wrong",
            "date": "the date is wrong",
            "minutes": "the clock is wrong",
            "longitude_sign": "the site's longitude has the wrong sign",
            "latitude_sign": "the site's latitude has the wrong sign",
            "exchanged": "the site's latitude and longitude are exchanged",
            "far": "the site is wrong",
        }[d["how"]]
    return PLAIN[j.kind]


def evidence(o: Outing, j: Judged, nothing: Judged) -> str:
    """One sentence with the numbers that speak for it."""
    d = j.best.detail
    agree, plain = arc(agree_deg(o, j)), arc(agree_deg(o, nothing))
    centring = f"{math.degrees(o.noise.centring) * 60:.0f}′"
    then = f"the sightings then agree to {agree}, where as written they miss by {plain}"
    if agree_deg(o, j) > 0.8 * agree_deg(o, nothing):
        then = f"the sightings agree about as well either way, to {agree}"
    if j.kind == "nothing":
        stop, sigma = term_deg(j, "altitude_zero")
        return (
            f"The sightings agree to {agree} (stated centring {centring}) with a stop that reads "
            f"{_low(stop)} (± {sigma:.1f}°) and a base leaning {_lean(j)}, as such mounts do."
        )
    if j.kind == "coarse_centring":
        coarse = arc(math.degrees(o.noise.centring) * d["factor"])
        return f"The sightings scatter as if each star was centred to {coarse}, not {centring}."
    if j.kind == "wrong_star":
        return (
            f"{d['star']} (magnitude {d['v_mag']:.1f}) stands {d['apart_deg']:.1f}° from "
            f"{_star(o, d['sighting'])}; {then}."
        )
    if j.kind == "careless_sighting":
        i = d["sighting"]
        if d["how"] == "misread":
            axis, amount = ("azimuth", "altitude")[d["axis"]], d["amount_deg"]
            right = math.degrees(j.best.readings[i, d["axis"]])
            right = one_turn_deg(right) if d["axis"] == 0 else right
            return (
                f"With {axis} {right:.1f}° for {_star(o, i)} ({abs(amount):g}° "
                f"{'less' if amount > 0 else 'more'} than written), {then}."
            )
        off = arc(math.degrees(float(np.linalg.norm(j.residuals[i]))))
        return (
            f"{_star(o, i)} lies {off} from where the others put it; without it they agree to "
            f"{agree}, with it they miss by {plain}."
        )
    if j.kind == "several":
        if j.probability < 0.5:
            return f"As written the sightings miss by {agree}; one cause alone may do that too."
        return f"Together the sightings miss by {agree}, and no single cause brings them near."
    if j.kind == "slip":
        amount, sigma = extra_deg(j, 0)
        axis = ("azimuth", "altitude")[d["axis"]]
        return (
            f"From {_star(o, d['after'] + 1)} on, the {axis} would read {_low(amount)} "
            f"(± {sigma:.1f}°) against before; {then}."
        )
    if j.kind == "base_moved":
        turn = extra_deg(j, 0)[0]
        lean = math.hypot(extra_deg(j, 1)[0], extra_deg(j, 2)[0])
        return (
            f"From {_star(o, d['after'] + 1)} on, the base would be turned by {arc(turn)} and "
            f"tipped by {arc(lean)}; {then}."
        )
    if j.kind == "ticks":
        return f"If the {_which(j)}, {then}."
    if j.kind == "clock_or_site":
        return f"If {_clock(d)}, {then}."
    if j.kind == "base_leaning":
        expected = math.degrees(o.prior.sigma[INDEX["lean_north"]])
        return f"The base would lean {_lean(j)} (within ± {expected:.0f}° is usual); {then}."
    if j.kind == "runout":
        size = math.hypot(
            term_deg(j, "azimuth_runout_sin")[0], term_deg(j, "azimuth_runout_cos")[0]
        )
        return f"Once a turn the azimuth would read up to {arc(size)} wrong either way; {then}."
    name = {"stop_off": "altitude_zero"}.get(j.kind, j.kind)
    value, sigma = term_deg(j, name)
    usual = math.degrees(o.prior.sigma[INDEX[name]])
    what = {
        "stop_off": f"The stop would read {_low(value)}",
        "cone": f"The tube would point {arc(value)} {'right' if value > 0 else 'left'} of square",
        "squareness": (
            f"The {'right' if value > 0 else 'left'}-hand bearing would be {arc(value)} low"
        ),
    }[j.kind]
    return f"{what} (± {sigma:.1f}°; within ± {usual:.1f}° was expected); {then}."


def _low(value: float) -> str:
    return f"{arc(value)} {'low' if value > 0 else 'high'}"


def _lean(j: Judged) -> str:
    north, west = term_deg(j, "lean_north")[0], term_deg(j, "lean_west")[0]
    where = words.compass(one_turn_deg(math.degrees(math.atan2(-west, north))), 8)
    return f"{arc(math.hypot(north, west))} toward {where}"


def _which(j: Judged) -> str:
    d = j.best.detail
    axis = "azimuth and the altitude" if d["axis"] == "both" else d["axis"]
    if d["fitted"]:
        i = INDEX[f"{axis}_scale"]
        off, sigma = 100 * j.mean[i], 100 * math.sqrt(max(0.0, j.covariance[i, i]))
        way = "too little" if off > 0 else "too far"
        return f"{axis} reading turns {abs(off):.2g} % {way} (± {sigma:.2g} %)"
    return f"{axis} reading {_factor(d['factor'])}"


def _clock(d: Any) -> str:
    how = d["how"]
    if "late_s" in d:
        late = d["late_s"]
        return f"the true time was {_span(late)} {'later' if late > 0 else 'earlier'} than written"
    if how == "far":
        return "the site's latitude or longitude is off by some degrees"
    site = d["site"]
    return f"the site is really at {site.lat_deg:.1f}, {site.lon_deg:.1f}"


def mend(o: Outing, j: Judged) -> str:
    """What to turn, in plain words."""
    d = j.best.detail
    if j.kind == "nothing":
        return "Nothing to mend; use the fix."
    if j.kind == "coarse_centring":
        return (
            "Centre with the highest power you have, throw the star out of focus to judge the "
            "middle, and let the tube come to rest before you note the reading."
        )
    if j.kind == "wrong_star":
        return f"Set that sighting aside, or enter it as {d['star']}; then sight the right star."
    if j.kind == "careless_sighting":
        if d["how"] == "misread":
            return "Correct that number if you are sure; otherwise set the sighting aside."
        return f"Set that sighting aside and sight {_star(o, d['sighting'])} again with care."
    if j.kind == "stop_off":
        return _stop(o, term_deg(j, "altitude_zero")[0])
    if j.kind == "slip":
        axis = ("azimuth", "altitude")[d["axis"]]
        return (
            f"Tighten the {axis} encoder's grub screw or clamp on its shaft; then use only "
            f"sightings from {_star(o, d['after'] + 1)} on, and add one."
        )
    if j.kind == "base_moved":
        return (
            "Put firm pads under the feet and move the tube without leaning on it; then use only "
            f"sightings from {_star(o, d['after'] + 1)} on, and add two."
        )
    if j.kind == "ticks":
        if d["factor"] == -1:
            keys = ("azimuth", "altitude") if d["axis"] == "both" else (d["axis"],)
            return (
                "Change `reversed` in the kit under "
                + " and ".join(f"[{k}]" for k in keys)
                + ", or exchange the encoder's two signal wires."
            )
        return _tick_words(o, j)
    if j.kind == "clock_or_site":
        if d["how"] in ("zone", "minutes", "date"):
            return f"Correct the time: {_clock(d)}. Enter UTC."
        if d["how"] == "far":
            return "Enter the site again: degrees north, degrees east."
        return f"Correct the site: {_clock(d)}. North and east are positive."
    if j.kind == "several":
        return (
            "Set all sightings aside, check clock, site and star names, and sight three stars anew."
        )
    if j.kind == "cone":
        value = term_deg(j, "cone")[0]
        side = "left" if value > 0 else "right"
        return f"Shim the tube in its cradle, or turn the mirror's screws, to bring its aim {side}."
    if j.kind == "squareness":
        value = term_deg(j, "squareness")[0]
        return f"Raise the {'right' if value > 0 else 'left'}-hand altitude bearing a little."
    if j.kind == "runout":
        return (
            "Centre the azimuth disc on its axis, or allow for it: set runout_sigma_deg in the kit."
        )
    return "Level the base with wedges under its feet; the fix allows for what is left."


def advice(o: Outing, j: Judged) -> Advice | None:
    """What helps with the mend, and is done elsewhere in the program."""
    d = j.best.detail
    if j.kind == "clock_or_site" and d["how"] in ("zone", "minutes", "date"):
        return Advice(Do.CORRECT_TIMES, f"{d['late_s']:.0f}")
    if j.kind == "stop_off" and o.kit is not None and abs(term_deg(j, "altitude_zero")[0]) <= 25:
        stop = o.kit.stop
        if stop.lever_arm_mm > 0 and stop.adding == "unknown":
            return Advice(Do.FIND_WHICH_WAY_THE_STOP_WORKS)
    return None


def _tick_words(o: Outing, j: Judged) -> str:
    d = j.best.detail
    said = []
    for axis in ("azimuth", "altitude") if d["axis"] == "both" else (d["axis"],):
        factor = d["factor"]
        if d["fitted"]:
            factor = 1.0 / (1.0 + float(j.mean[INDEX[f"{axis}_scale"]]))
        circle = getattr(o.kit, axis) if o.kit is not None else None
        if circle is not None and circle.ticks_per_turn:
            right = circle.ticks_per_turn * factor
            count = (
                "turn the mount once round and take the count it changes by"
                if axis == "azimuth"
                else "lift the tube from level to upright and take four times the count it changes "
                "by"
            )
            said.append(
                f"Set ticks_per_turn of the {axis} near {right:.0f} (now {circle.ticks_per_turn}): "
                f"{count}."
            )
        else:
            said.append(
                f"The {axis} circle reads {factor:.3f} of the true turn: check its scale or "
                "gearing."
            )
    return " ".join(said)


def _stop(o: Outing, off_deg: float) -> str:
    """The stop's mend; positive means that the tube stands higher than the reading says."""
    which = "lower" if off_deg > 0 else "higher"
    if abs(off_deg) > 25:
        return (
            f"Set the altitude anew with the tube at the stop: the reading is {arc(off_deg)} too "
            f"{'low' if off_deg > 0 else 'high'}, as when an upright tube is entered as level."
        )
    text = f"Make the tube stand {arc(off_deg)} {which} at the stop"
    stop = o.kit.stop if o.kit is not None else None
    if stop is not None and stop.lever_arm_mm > 0:
        mm = stop.lever_arm_mm * math.tan(math.radians(abs(off_deg)))
        if stop.adding == "unknown":
            text += f": {mm:.1f} mm of thickness"
        else:
            add = (stop.adding == "raises") == (off_deg < 0)
            text += f": {'add' if add else 'take away'} {mm:.1f} mm"
    return text + ". The fix allows for it meanwhile."


_HAND_CHECK = {
    "nothing": "push to a star you have not sighted; it should be in the field",
    "coarse_centring": "sight one star twice, coming from either side, and compare the readings",
    "stop_off": "hold a spirit level along the tube at the stop",
    "slip": "draw a pencil line across encoder shaft and coupling, swing the mount, see if it "
    "still meets",
    "base_moved": "press on each corner of the base while watching a star: it should not stir",
    "ticks": "turn the mount once round, or lift the tube from level to upright: the reading must "
    "change by 360° or 90°, growing to the right and upward",
    "clock_or_site": "compare the clock, its zone and date, and the site's signs with a telephone",
    "cone": "lay a spirit level across the two altitude bearings, then turn the mount half round: "
    "a bubble off to the same side of the mount both times clears the tube and accuses the "
    "bearings; otherwise it is the tube",
    "squareness": "lay a spirit level across the two altitude bearings, then turn the mount half "
    "round: a bubble off to the same side of the mount both times is the bearings; one that "
    "changes sides is only the base's lean",
    "runout": "hold a pointer to the disc's edge while the mount turns: the gap must not change",
    "base_leaning": "lay a spirit level on the base, two ways",
    "several": "sight one star, push away and back, and sight it again: the readings must return",
}


def hand_check(o: Outing, j: Judged) -> str:
    """The check that needs no other star, as an instruction without capital or full stop."""
    d = j.best.detail
    if j.kind == "wrong_star":
        az, alt = expected_reading(o, j, d["sighting"])
        return (
            f"find {_star(o, d['sighting'])} again by its neighbours on a chart: at the same "
            f"moment it should have read azimuth {az:.1f}°, altitude {alt:.1f}°"
        )
    if j.kind == "careless_sighting":
        az, alt = expected_reading(o, j, d["sighting"])
        return (
            f"sight {_star(o, d['sighting'])} again with care: at the same moment it should have "
            f"read azimuth {az:.1f}°, altitude {alt:.1f}°"
        )
    return _HAND_CHECK[j.kind]


def check(o: Outing, j: Judged, rival: Judged, star: StarCheck | None) -> str:
    """The one check that best separates a cause from its rival."""
    by_hand = hand_check(o, j)
    if star is None or star.sigmas < TELLING:
        return f"{words.upper_first(by_hand)}."
    at = ""
    if star.utc is not None and o.heaven is not None:
        at = f" at {local(star.utc, o.heaven.site.time_zone, with_zone=True)}"
    again = " again" if star.again else ""
    first = (
        f"Sight {star.star}{again}{at}: if this is the cause it should read azimuth "
        f"{star.this_deg[0]:.1f}°, altitude {star.this_deg[1]:.1f}°"
    )
    if rival.probability < FAR_FETCHED < j.probability:
        # Against a cause that is out of the question a reading would only confuse.
        return f"{first}. Or {by_hand}."
    return (
        f'{first}; if instead "{title(o, rival)}", azimuth {star.rival_deg[0]:.1f}°, altitude '
        f"{star.rival_deg[1]:.1f}°. Or {by_hand}."
    )
