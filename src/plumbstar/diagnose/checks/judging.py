"""What the numbers of a bench check mean: one function each, from values to a verdict.

The descriptions that go with them are in :mod:`plumbstar.diagnose.checks.checks`. Intervals are 95
% and honest about few readings (:mod:`plumbstar.solve.smallsample`). Values are as
:meth:`plumbstar.diagnose.checks.checks.Check.read` gives them: degrees, lists of degrees, words.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from plumbstar.choose.forecast import Belief
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.errors import UserError
from plumbstar.kit import Circle, Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.solve import smallsample as few
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import TERM_WORDS, percent
from plumbstar.turns import half_turn_deg

Values = Mapping[str, Any]
State = Literal["good", "mend", "unsure"]


@dataclass(frozen=True)
class Number:
    """One result, with its 95 % interval where there is one."""

    key: str
    label: str
    value: float
    unit: str = "deg"
    low: float | None = None
    high: float | None = None
    is_chance: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Plain values; an interval that does not exist is null."""
        return {
            "key": self.key,
            "label": self.label,
            "value": self.value,
            "unit": self.unit,
            "low": self.low,
            "high": self.high,
        }

    def __str__(self) -> str:
        if self.low is None or self.high is None:
            return f"{self.label}: {_figures(self.value)} {self.unit}".rstrip()
        return (
            f"{self.label}: {_figures(self.value)} {self.unit} "
            f"({_figures(self.low)} to {_figures(self.high)})"
        )


def _figures(x: float) -> str:
    """Three figures of a small number, five of a large one: counts and degrees of a turn."""
    return f"{x:.3g}" if abs(x) < 10 else f"{x:.5g}"


@dataclass(frozen=True)
class Verdict:
    """What the numbers mean: one sentence, the figures, and what to do."""

    state: State
    sentence: str
    numbers: tuple[Number, ...]
    mend: str

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "state": self.state,
            "sentence": self.sentence,
            "numbers": [n.to_dict() for n in self.numbers],
            "mend": self.mend,
        }


def _number(key: str, label: str, e: few.Estimate, unit: str = "deg") -> Number:
    known = math.isfinite(e.low)
    return Number(key, label, e.value, unit, e.low if known else None, e.high if known else None)


def _chance(key: str, label: str, value: float) -> Number:
    return Number(key, label, value, "", is_chance=True)


def _named(key: str) -> str:
    """A term with what a positive value means."""
    said = TERM_WORDS[key]
    return f"{said.name} ({said.positive})"


def _circle(kit: Kit, axis: str) -> Circle:
    return kit.azimuth if axis == "azimuth" else kit.altitude


def _same_length(values: Values, *keys: str) -> None:
    counts = {k: len(values[k]) for k in keys}
    if len(set(counts.values())) > 1:
        raise UserError(
            ", ".join(f"{n} for {k}" for k, n in counts.items()),
            "as many of each",
            "Give one of each for every time you did it",
        )


def wrap(x: float) -> float:
    """An angle as -180 to 180 degrees."""
    return half_turn_deg(x)


def _arcmin(deg: float) -> str:
    return f"{abs(deg) * 60:.0f}'" if abs(deg) < 1 else f"{abs(deg):.2f}°"


# ---- once round ---------------------------------------------------------------------------------


def once_round(v: Values, kit: Kit) -> Verdict:
    """Turns of the base, each read at the same mark: 360 degrees, or the count is wrong, or slips.

    A reading that runs on gains a turn, one that folds comes back to itself; both are understood.
    A line through the readings at the mark, each hit within ``mark_arcmin``: its slope is the turn,
    and what is left over is chi-square with (turns - 1) degrees of freedom unless something slips.
    """
    readings, side = v["readings"], 1.0 if v["turned"] == "right" else -1.0
    step = kit.azimuth.resolution_deg
    mark = math.hypot(float(v["mark_arcmin"]) / 60.0, step / math.sqrt(12.0))
    # All within one turn after whole turns: the reading folds, and only the remainder is seen.
    folds = max(readings) - min(readings) <= 360.0
    steps = [side * (b - a) for a, b in itertools.pairwise(readings)]
    turns = [360.0 + wrap(t) if folds else t for t in steps]
    n = len(turns)
    run_on = [0.0, *itertools.accumulate(turns)]
    e = few.slope_of(run_on, step)
    if n == 1:
        e = few.Estimate(turns[0], -math.inf, math.inf, mark, 1)
    middle = n / 2.0
    sxx = sum((i - middle) ** 2 for i in range(n + 1))
    sigma = (max(mark, e.spread) if n > 1 else mark) / math.sqrt(sxx)
    off = e.value - 360.0
    numbers = [
        _number("turn", "one turn reads", e),
        Number("error", "error of a quarter turn's push", off / 4.0),
    ]
    ticks = kit.azimuth.ticks_per_turn
    if ticks:
        true_ticks = ticks * e.value / 360.0
        numbers.append(Number("ticks", "counts in one turn", true_ticks, "counts",
                              ticks * (e.value - 2 * sigma) / 360.0,
                              ticks * (e.value + 2 * sigma) / 360.0))  # fmt: skip
    if e.value < 0:
        return Verdict(
            "mend",
            "The azimuth counts the wrong way round.",
            tuple(numbers),
            f"Set [azimuth] reversed = {'false' if kit.azimuth.reversed else 'true'} in the kit, "
            "or check which way you turned",
        )
    start = sum(run_on) / (n + 1) - e.value * middle
    chi2 = sum((r - start - e.value * i) ** 2 for i, r in enumerate(run_on)) / mark**2
    slips = n > 1 and chi_square_survival(chi2, n - 1) < 0.01
    if slips:
        worst = max(range(n), key=lambda i: abs(turns[i] - float(np.median(turns))))
        return Verdict(
            "mend",
            f"The turns do not agree: the readings at the mark scatter by {_arcmin(e.spread)}, and "
            f"the mark allows {_arcmin(mark)}. Turn {worst + 1} stands out. That is slip.",
            tuple(numbers),
            "Tighten what couples the encoder to the base (set screw, belt, friction roller), "
            "clean it, and repeat. Do not change the tick count for a slip",
        )
    if abs(off) > 3 * sigma:
        if ticks:
            mend = (
                f"Set [azimuth] ticks_per_turn = {round(ticks * e.value / 360.0)} in the kit and "
                "repeat"
            )
        else:
            mend = "The circle is drawn or printed at the wrong scale: print it anew and repeat"
        again = "" if n >= 3 else " Do three turns before you believe it."
        return Verdict(
            "mend",
            f"One turn reads {e.value:.2f}° instead of 360: the count of a turn is wrong, not "
            f"slipping, if it is so every time.{again}",
            tuple(numbers),
            mend,
        )
    if n == 1 and sigma > 0.1:
        return Verdict(
            "unsure",
            f"One turn agrees within what the mark allows ({_arcmin(math.sqrt(2) * mark)}).",
            tuple(numbers),
            "Do three turns and read each",
        )
    return Verdict(
        "good",
        f"One turn is one turn: {e.value:.2f}°, and the mark is hit within {_arcmin(mark)}. "
        "No slip, and the count is right.",
        tuple(numbers),
        "Nothing to mend",
    )


# ---- there and back -----------------------------------------------------------------------------


def there_and_back(v: Values, kit: Kit) -> Verdict:
    """Away and back to one mark: what the reading has lost."""
    _same_length(v, "before", "after")
    step = _circle(kit, v["axis"]).resolution_deg
    lost = [wrap(b - a) for a, b in zip(v["before"], v["after"], strict=True)]
    mark = math.hypot(float(v["mark_arcmin"]) / 60.0, step / math.sqrt(12.0)) * math.sqrt(2.0)
    e = few.mean_of(lost, step)
    n = len(lost)
    numbers = (
        _number("lost", "reading lost on the way", e),
        Number("largest", "largest", max(lost, key=abs)),
        Number("mark", "what the mark alone allows, 1 sigma", mark),
    )
    chi2 = sum(x * x for x in lost) / mark**2
    if chi_square_survival(chi2, n) < 0.01:
        return Verdict(
            "mend",
            f"The {v['axis']} reading does not come back: {_arcmin(max(lost, key=abs))} lost at "
            f"worst, where the mark allows {_arcmin(mark)}. The encoder slips.",
            numbers,
            "Tighten the encoder's coupling, turn slowly through the whole swing, and see where it "
            "is lost. If only fast swings lose it, poll faster or turn more slowly",
        )
    if n < 3:
        return Verdict(
            "unsure",
            f"Nothing lost within what the mark allows ({_arcmin(mark)}), but {n} swing"
            f"{'' if n == 1 else 's'} prove little.",
            numbers,
            "Do it three to five times, once fast",
        )
    return Verdict(
        "good", f"The {v['axis']} reading comes back every time.", numbers, "Nothing to mend"
    )


# ---- the stop -----------------------------------------------------------------------------------


def stop_repeat(v: Values, kit: Kit) -> Verdict:
    """The spread of the reading at the stop, against what a fix and a field can bear."""
    step = kit.altitude.resolution_deg
    readings = v["readings"]
    s = few.spread_interval(readings, step)
    slope = few.slope_of(readings, step)
    limit = max(kit.centring_arcmin / 60.0, 0.05)
    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    numbers = (
        _number("spread", "spread of the stop, 1 sigma", s),
        Number("range", "highest less lowest", max(readings) - min(readings)),
        _number("trend", "change from one time to the next", slope),
        Number("limit", "what your centring hides anyway", limit),
        Number(
            "share", "spread over the radius of your widest field", s.value / (field_deg / 2), ""
        ),
    )
    said = f"The stop comes back within {_arcmin(s.value)} (1 sigma; 95 %: {_arcmin(s.low)} to {_arcmin(s.high)})"  # fmt: skip # noqa: E501
    grain = s.value <= 1.01 * step / math.sqrt(12.0)
    if grain:
        said += f", which is no more than the step of the reading ({_arcmin(step)}) shows"
    if slope.sure_sign and abs(slope.value) * (len(readings) - 1) > limit:
        return Verdict(
            "mend",
            f"{said}, and it creeps: {60 * slope.value:+.1f}' each time.",
            numbers,
            "Something yields or slips: a soft pad, a loose screw, or the encoder itself. Make it "
            "hard against hard, and repeat",
        )
    if s.low > limit:
        return Verdict(
            "mend",
            f"{said}: worse than your centring ({_arcmin(limit)}).",
            numbers,
            "Let one hard point bear on one hard face, clean both, and press with the same gentle "
            "force each time. Until then let every fix solve the stop",
        )
    if s.high > limit and not grain:
        return Verdict(
            "unsure",
            f"{said}: {len(readings)} times do not settle whether that is good enough "
            f"({_arcmin(limit)}).",
            numbers,
            "Do it ten times more, and give all the readings together"
            if len(readings) >= 10
            else "Do it ten times or more",
        )
    return Verdict("good", f"{said}: good enough.", numbers, "Nothing to mend")


def stop_direction(v: Values, kit: Kit) -> Verdict:
    """Which way added thickness tips the tube, and the lever arm it implies: t / tan(change)."""
    step = kit.altitude.resolution_deg
    e = few.difference_of(v["before"], v["after"], step)
    mm = float(v["thickness_mm"])
    numbers = [_number("change", "change of the reading at the stop", e)]
    fine = step < 0.4 * abs(e.value)
    sure = e.sure_sign if math.isfinite(e.low) else abs(e.value) > 3 * step
    if not sure or e.value == 0.0:
        return Verdict(
            "unsure",
            f"The change, {e.value:+.2f}°, is too small beside its uncertainty to tell.",
            tuple(numbers),
            "Use a thicker piece (5 or 10 mm), read three times without and three times with it, "
            "and do not set the altitude anew in between",
        )
    adding = "raises" if e.value > 0 else "lowers"
    arm = mm / math.tan(math.radians(abs(e.value)))
    ends = [abs(x) for x in (e.low, e.high)] if math.isfinite(e.low) else []
    low, high = (
        (mm / math.tan(math.radians(max(ends))), mm / math.tan(math.radians(min(ends))))
        if ends and min(ends) > 0
        else (None, None)
    )
    numbers.append(Number("lever_arm_mm", "lever arm it implies", arm, "mm", low, high))
    numbers.append(Number("per_mm", "each millimetre tips the tube by", e.value / mm))
    stated = kit.stop.lever_arm_mm
    doubt = ""
    if stated and low is not None and high is not None and not low * 0.9 <= stated <= high * 1.1:
        doubt = f" The kit says an arm of {stated:g} mm, which does not fit: measure it again."
    keep = f"{arm:.0f}" if not stated or doubt else f"{stated:g}"
    done = kit.stop.adding == adding and not doubt
    return Verdict(
        "good" if done else "mend",
        f"Adding thickness {adding} the tube: {e.value:+.2f}° for {mm:g} mm, so the lever arm "
        f"is about {arm:.0f} mm.{doubt}"
        + ("" if fine or e.count > 2 else " One reading each: enough for the direction only."),
        tuple(numbers),
        "The kit says the same: nothing to do"
        if done
        else f'Write into the kit, under [stop]: adding = "{adding}" and lever_arm_mm = {keep}',
    )


# ---- backlash -----------------------------------------------------------------------------------


def backlash(v: Values, kit: Kit) -> Verdict:
    """One mark come upon from both sides: the readings differ by the play."""
    step = _circle(kit, v["axis"]).resolution_deg
    anchor = v["one_way"][0]
    one = [wrap(x - anchor) for x in v["one_way"]]
    other = [wrap(x - anchor) for x in v["other_way"]]
    e = few.difference_of(one, other, step)
    limit = max(kit.centring_arcmin / 60.0, 0.05)
    numbers = (
        _number("play", "the other way less the one way", e),
        Number("limit", "what your centring hides anyway", limit),
    )
    if e.sure_sign and abs(e.value) > limit:
        where = "rising" if v["axis"] == "altitude" else "turning right"
        return Verdict(
            "mend",
            f"There is {_arcmin(e.value)} of play in {v['axis']}.",
            numbers,
            f"Take it out of the coupling; until then come upon every star and object {where}, so "
            "that the play is the same each time",
        )
    if max(abs(e.low), abs(e.high)) <= limit or (
        e.sure_sign and abs(e.value) <= limit and e.count >= 4
    ):
        return Verdict(
            "good",
            f"The play in {v['axis']}, {_arcmin(e.value)}, is less than your centring hides.",
            numbers,
            "Nothing to mend",
        )
    return Verdict(
        "unsure",
        f"{e.value * 60:+.0f}' between the two ways, but {e.count} readings do not settle whether "
        "that is play or a careless hand.",
        numbers,
        "Come upon the mark three to five times from each side",
    )


# ---- level --------------------------------------------------------------------------------------


def level(v: Values, kit: Kit) -> Verdict:
    """What this lean of the base costs: hit chance with the base as it is and dead level."""
    lean = math.atan2(abs(float(v["rise_mm"])), float(v["over_mm"]))
    priors, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    radius = math.radians(field_deg) / 2
    base = Belief.from_priors(priors).with_term("lean_west", 0.0, 0.0)
    level_sigma = math.radians(0.1)

    def chance(leans: float, stars: int, level_assumed: bool) -> float:
        belief = base.with_term("lean_north", leans, 0.0)
        sigma = priors.sigma.copy()
        for t in ("lean_north", "lean_west"):
            sigma[INDEX[t]] = level_sigma if level_assumed else priors.sigma[INDEX[t]]
        return chance_over_sky(belief, Priors(priors.mean, sigma), GOOD_PAIR[:stars], noise, radius)

    solved, solved_level = chance(lean, 2, False), chance(0.0, 2, False)
    one, one_level = chance(lean, 1, False), chance(0.0, 1, True)
    # The forecast is linear in the lean; past two sigmas of the prior it is not to be trusted, and
    # such a lean is a board's work anyway.
    wide = lean > 2 * priors.sigma[INDEX["lean_north"]]
    degs = math.degrees(lean)
    numbers = (
        Number("lean", "the base leans", degs),
        _chance("two_stars", "hit chance, two good stars, as it stands", solved),
        _chance("two_stars_level", "the same, dead level", solved_level),
        _chance("one_star", "hit chance, one star only, as it stands", one),
        _chance("one_star_level", "one star only, levelled to 0.1° and told so", one_level),
    )
    cost = solved_level - solved
    if wide or cost > 0.02:
        return Verdict(
            "mend",
            f"This lean, {degs:.1f}°, is worth a board: two stars give {percent(solved)}, dead "
            f"level {percent(solved_level)}, and it is more than the kit's prior expects.",
            numbers,
            "Put a board under the low side, by eye; or raise lean_sigma_deg in the kit",
        )
    return Verdict(
        "good",
        f"No need to level: with two good stars a lean of {degs:.1f}° leaves {percent(solved)} "
        f"in the field, dead level {percent(solved_level)}, for the two stars solve the lean. With "
        f"one star only it is {percent(one)} as it stands and {percent(one_level)} on a base known "
        "to be level.",
        numbers,
        "Leave it. See only that it stands firm: a base that moves is another matter",
    )


# ---- both sides ---------------------------------------------------------------------------------


def both_sides(v: Values, kit: Kit) -> Verdict:
    """One mark, directly and with the tube over the top: cone and altitude zero without the sky.

    In the mount's own frame, squareness nought: the direct pointing stands at E' = E + e0 with
    azimuth A + atan(tan c / cos E'), the reverse at 180 deg - E' with azimuth A + 180 deg -
    atan(tan c / cos E'). So e0 = (180 - E1 - E2) / 2 and tan c = cos E' tan((A2 - 180 - A1) / 2),
    both exact; lean, azimuth zero and droop cancel. With squareness s it finds c + s sin E'.
    (The surveyor's two faces: any text on the theodolite; derived again in docs/checks.md.)
    """
    if kit.telescope.max_alt_deg <= 95.0:
        raise UserError(
            f"a tube that stops at {kit.telescope.max_alt_deg:g}° (telescope.max_alt_deg)",
            "one that can pass over the top",
            Advice(Do.FIND_THE_CONE_FROM_STARS),
        )
    _same_length(v, "direct_az", "direct_alt", "reverse_az", "reverse_alt")
    if any(x < 90.0 for x in v["reverse_alt"]):
        raise UserError(
            f"a reverse altitude of {min(v['reverse_alt']):g}°",
            "past 90, as read with the tube over the top",
            "If your display folds at 90, give 180 less what it shows",
        )
    grain = max(kit.azimuth.resolution_deg, kit.altitude.resolution_deg)
    rows = zip(v["direct_az"], v["direct_alt"], v["reverse_az"], v["reverse_alt"], strict=True)
    stops, cones = [], []
    for a1, e1, a2, e2 in rows:
        e0 = (180.0 - e1 - e2) / 2.0
        up = math.radians(e1 + e0)
        half = math.radians(wrap(a2 - 180.0 - a1) / 2.0)
        stops.append(e0)
        cones.append(math.degrees(math.atan(math.cos(up) * math.tan(half))))
    stop, cone = few.mean_of(stops, grain), few.mean_of(cones, grain)
    high = max(v["direct_alt"])
    numbers = (_number("cone", _named("cone"), cone),
               _number("altitude_zero", _named("altitude_zero"), stop))  # fmt: skip
    if cone.count < 2:
        state: State = "unsure"
        tail = " One round has no interval: do three."
    else:
        state, tail = ("mend" if cone.sure_sign and abs(cone.value) > 0.1 else "good"), ""
        if state == "good" and max(abs(cone.low), abs(cone.high)) > 0.1:
            state, tail = "unsure", " The interval is still wide: do more rounds."
    low_mark = (
        "" if high < 20 else f" The mark is {high:.0f}° up: squareness is mixed in (x sin alt)."
    )
    side = "right" if cone.value > 0 else "left"
    return Verdict(
        state,
        f"The tube points {_arcmin(cone.value)} {side} of square, and the stop is "
        f"{stop.value:+.2f}° off (positive: the circle reads low).{low_mark}{tail}",
        numbers,
        "Nothing to mend"
        if state == "good"
        else f"Shim the tube in its cradle so that it turns {_arcmin(cone.value)} to the "
        f"{'left' if side == 'right' else 'right'}, then repeat; a fix solves the cone meanwhile",
    )


# ---- drift --------------------------------------------------------------------------------------

#: The sky's turn, arcseconds per second of time (sidereal rate; IAU, from memory).
SIDEREAL_ARCSEC = 15.041


def drift_field(v: Values, kit: Kit) -> Verdict:
    """A star drifting across the field, drive none: seconds times 15.041" times cos dec.

    The small-circle trail is a little curved: under 0.1 % of the field below 70 deg of declination
    for fields to 3 deg (tests/diagnose/test_checks.py). A star that misses the middle takes less
    time, so where the times spread by over 3 % the longest is nearest the truth.
    """
    eyepiece = kit.eyepiece_named(v["eyepiece"]) if v["eyepiece"] else kit.finder_eyepiece()
    cos_dec = math.cos(math.radians(float(v["dec_deg"])))
    fields = [t * SIDEREAL_ARCSEC * cos_dec / 3600.0 for t in v["seconds"]]
    e = few.mean_of(fields, 0.5 * SIDEREAL_ARCSEC * cos_dec / 3600.0)
    uneven = e.count > 1 and e.spread > 0.03 * e.value
    best = max(fields) if uneven else e.value
    stated = kit.true_field_deg(eyepiece)
    stop_mm = 2.0 * kit.telescope.focal_length_mm * math.tan(math.radians(best) / 2.0)
    numbers = (
        _number("field", "mean true field", e),
        Number("field_arcmin", "true field, best value", best * 60.0, "arcmin"),
        Number("field_stop_mm", "field stop it implies", stop_mm, "mm"),
        Number("stated", f"the kit's field of the {eyepiece.name}", stated),
    )
    said = f"The {eyepiece.name} shows {best:.2f}° ({best * 60:.0f}')"
    if uneven:
        said += "; the times spread, so the longest counts: the others missed the middle"
    if e.count < 2:
        return Verdict("unsure", f"{said}, from one timing.", numbers, "Time it three times")
    within = abs(best / stated - 1.0) < 0.03 or (not uneven and e.low <= stated <= e.high)
    if within:
        return Verdict("good", f"{said}, as the kit says ({stated:.2f}).", numbers,
                       "Nothing to mend")  # fmt: skip
    return Verdict(
        "mend",
        f"{said}; the kit says {stated:.2f}.",
        numbers,
        f"Write field_stop_mm = {stop_mm:.1f} for the {eyepiece.name} into the kit, or check "
        "the telescope's focal length",
    )
