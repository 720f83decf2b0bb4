"""One mark, directly and with the tube over the top."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from plumbstar.diagnose.checks.check import SUN_FIRST, Check, Input, told
from plumbstar.diagnose.checks.verdict import (
    State,
    Values,
    Verdict,
    arcmin,
    named,
    number_of,
    same_length,
    step_of,
    wrap,
)
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.text.advice import CHECK_TITLES, Advice, Do

#: A cone of less is not worth a screw. Common practice, no source.
_MATTERS_DEG = 0.1
#: No tube points so far to the side: two marks. Nor is a stop so far off that it must be believed.
#: Both common practice, no source.
MOST_DEG, MOST_STOP_DEG = 10.0, 20.0


@dataclass(frozen=True)
class TwoFaces:
    """Cone and stop, degrees; ``high_deg``: the altitude of the highest mark used; ``mixed_deg``:
    what bearings off square may add to the cone there, 95 %."""

    stop: few.Estimate
    cone: few.Estimate
    high_deg: float
    mixed_deg: float

    @property
    def state(self) -> State:
        c = self.cone
        if c.count < 2:
            return "unsure"
        if c.sure_sign and abs(c.value) > _MATTERS_DEG:
            return "mend"
        return "unsure" if max(abs(c.low), abs(c.high)) > _MATTERS_DEG else "good"


def measure(v: Values, kit: Kit) -> TwoFaces:
    """One mark, directly and with the tube over the top: cone and altitude zero without the sky.

    In the mount's own frame, squareness zero: the direct pointing stands at E' = E + e0 with
    azimuth A + atan(tan c / cos E'), the reverse at 180 deg - E' with azimuth A + 180 deg -
    atan(tan c / cos E'). So e0 = (180 - E1 - E2) / 2 and tan c = cos E' tan((A2 - 180 - A1) / 2),
    both exact; lean, azimuth zero and droop cancel. With squareness s it finds c + s sin E'.
    (The surveyor's two faces: any text on the theodolite; derived again in docs/checks.md.)
    """
    if kit.telescope.max_alt_deg <= 95.0:
        raise UserError(
            f"a tube that stops at {kit.telescope.max_alt_deg:g}°, as the kit has it",
            "one that can pass over the top",
            Advice(Do.FIND_THE_CONE_FROM_STARS),
        )
    same_length(
        v,
        direct_az="of azimuth, direct",
        direct_alt="of altitude, direct",
        reverse_az="of azimuth, over the top",
        reverse_alt="of altitude, over the top",
    )
    if any(x < 90.0 for x in v["reverse_alt"]):
        raise UserError(
            f"a reverse altitude of {min(v['reverse_alt']):g}°",
            "past 90, as read with the tube over the top",
            "If your display folds at 90, give 180 less what it shows",
        )
    grain = max(step_of(v, kit.azimuth), step_of(v, kit.altitude))
    rows = zip(v["direct_az"], v["direct_alt"], v["reverse_az"], v["reverse_alt"], strict=True)
    stops, cones = [], []
    for a1, e1, a2, e2 in rows:
        e0 = (180.0 - e1 - e2) / 2.0
        up = math.radians(e1 + e0)
        half = math.radians(wrap(a2 - 180.0 - a1) / 2.0)
        stops.append(e0)
        cones.append(math.degrees(math.atan(math.cos(up) * math.tan(half))))
    cone = few.mean_of(cones, grain)
    if abs(far := max(stops, key=abs)) > MOST_STOP_DEG:
        raise UserError(
            f"altitudes that would put the stop {abs(far):.0f}° off",
            f"less than {MOST_STOP_DEG:g}°: direct and over the top make nearly 180 together",
            "Check that the altitude was not set anew in between, and that all are of one mark",
        )
    if abs(cone.value) > MOST_DEG:
        raise UserError(
            f"a tube that points {abs(cone.value):.0f}° to the side",
            f"less than {MOST_DEG:g}°",
            "Check that the four lists belong together and that none of them is of another mark",
        )
    # Squareness is seen along with the cone, x sin alt: nobody has measured it here.
    high = max(v["direct_alt"])
    mixed = kit.priors.squareness_sigma_deg * abs(math.sin(math.radians(high)))
    return TwoFaces(few.mean_of(stops, grain), _widened(cone, 1.96 * mixed), high, 1.96 * mixed)


def _widened(e: few.Estimate, by: float) -> few.Estimate:
    """An estimate with a second, independent half-width."""
    more = math.hypot((e.high - e.low) / 2, by) - (e.high - e.low) / 2
    return replace(e, low=e.low - more, high=e.high + more) if math.isfinite(e.low) else e


def say(f: TwoFaces) -> Verdict:
    """Cone and stop in words."""
    cone, high = f.cone, f.high_deg
    tail, next_step = "", "Do three rounds"
    if cone.count < 2:
        tail = " One round has no interval."
    elif f.state == "unsure":
        most = arcmin(max(abs(cone.low), abs(cone.high)))
        tail = f" A cone of up to {most} could be there."
        # The bearings do not average out; from which share on, common practice, no source.
        next_step = (
            "Take a mark nearer the horizon: more rounds of this one will not settle it"
            if f.mixed_deg > 0.7 * (cone.high - cone.low) / 2
            else "Do more rounds, and give them all together"
        )
    # From how high up the bearings are spoken of: common practice, no source.
    low_mark = (
        ""
        if high < 5
        else f" The mark is {high:.0f}° up: what the bearings are off square is mixed in, and the "
        "interval allows for it."
    )
    if f.state == "good":
        tail = f" More than {arcmin(max(abs(cone.low), abs(cone.high)))} would have shown."
    side, back = ("right", "left") if cone.value > 0 else ("left", "right")
    return Verdict(
        f.state,
        f"The tube points {arcmin(cone.value)} {side} of square, and the stop is "
        f"{f.stop.value:+.2f}° off (positive: the circle reads low).{low_mark}{tail}",
        (
            number_of("cone", named("cone"), cone),
            number_of("altitude_zero", named("altitude_zero"), f.stop),
        ),
        "Nothing to mend"
        if f.state == "good"
        else next_step
        if f.state == "unsure"
        else f"Shim the tube in its cradle so that it turns {arcmin(cone.value)} to the {back}, "
        "then repeat; a fix solves the cone meanwhile",
    )


CHECK = Check(
    "both-sides",
    CHECK_TITLES["both-sides"],
    "Gives the cone and the stop by daylight, with no star and no level.",
    ("a tube that can pass over the top", "a mark a kilometre away or more, near the horizon"),
    (
        "Wait until the Sun is down but the mark still shows. If it must be by day: the Sun "
        "off to one side, neither near the mark nor opposite to it, and the cap on for every "
        "swing.",
        "Centre the mark at high power. Write down azimuth and altitude readings.",
        "Cap the tube. Lift it over the top, turn the base half round, uncap, and centre the "
        "same mark again. Write both readings down: the altitude is now past 90.",
        "Three rounds.",
    ),
    (
        Input("direct_az", "azimuth readings, direct", many=True, low=-1e5, high=1e5),
        Input("direct_alt", "altitude readings, direct", many=True, low=-20, high=80),
        Input("reverse_az", "azimuth readings, over the top", many=True, low=-1e5, high=1e5),
        Input("reverse_alt", "altitude readings, over the top", many=True, low=0, high=200),
    ),
    told(measure, say),
    SUN_FIRST + " Over the top the tube sweeps down the opposite side of the sky, where the "
    "Sun is if it was behind you: cap the tube before it moves.",
)  # fmt: skip
