"""Turns of the base, each read at the same mark."""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.diagnose.checks.check import MARK, Check, Input, told
from plumbstar.diagnose.checks.verdict import (
    Number,
    Values,
    Verdict,
    arcmin,
    number_of,
    smallest_step,
    step_of,
    unfolded,
    wrap,
)
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.solve import smallsample as few
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.text.advice import CHECK_TITLES

#: By eye a quarter turn is hit to within so much; a turn that reads less than that is none. Common
#: practice, no source.
BY_EYE, LEAST_TURN = 12.0, 45.0
#: Encoders count every edge, every second or every fourth; a factor six in a hundred or
#: more off these is believed only if it fits so many degrees better. Common practice, no source.
FACTORS, UNUSUAL = (0.25, 0.5, 1.0, 2.0, 4.0), 15.0
#: So much a count the wrong way has to fit better, in the same degrees, and so near a whole number
#: of turns has lost a reading. Common practice, no source.
BACKWARDS, NEAR_WHOLE = 3.0, 0.05
#: A turn that ends so far from where it began did not slip. Common practice, no source.
MISSED = 20.0


class OnceRound(Enum):
    """What the turns come to."""

    BACKWARDS = auto()
    SLIPS = auto()
    MISCOUNTS = auto()
    QUARTER_WANTED = auto()
    TOO_FEW = auto()
    GOOD = auto()


@dataclass(frozen=True)
class Turns:
    """What one turn reads, degrees; ``sigma_deg`` of it; ``mark_deg``: how the mark is hit.

    ``worst``: the turn that stands out, from 1. ``ticks``: the kit's count of a turn, 0 for none;
    ``reversed``: whether the kit says that it counts backwards.
    ``least_slip_deg``: the smallest slip in one turn that would have shown. ``open_count``: the
    readings are all within one turn, so half, twice or the wrong way round would look the same.
    """

    turn: few.Estimate
    sigma_deg: float
    mark_deg: float
    count: int
    slips: bool
    worst: int
    ticks: int
    reversed: bool
    least_slip_deg: float
    open_count: bool

    @property
    def miscounts(self) -> bool:
        """Whether a turn, either way, is another than 360 degrees."""
        return abs(abs(self.turn.value) - 360.0) > 3 * self.sigma_deg

    @property
    def finding(self) -> OnceRound:
        if self.turn.value < 0 and not self.slips:
            return OnceRound.BACKWARDS
        if self.slips:
            return OnceRound.SLIPS
        if self.open_count:
            return OnceRound.QUARTER_WANTED
        if self.miscounts:
            return OnceRound.MISCOUNTS
        # A coarse mark wants more turns than one: common practice, no source.
        if self.count == 1 and self.sigma_deg > 0.1:
            return OnceRound.TOO_FEW
        return OnceRound.GOOD


def measure(v: Values, kit: Kit) -> Turns:
    """Turns of the base, each read at the same mark: 360 degrees, or the count is wrong, or slips.

    A reading that runs on gains a turn, one that folds comes back to itself; both are understood.
    A line through the readings at the mark, each hit within ``mark_arcmin``: its slope is the turn,
    and what is left over is chi-square with (turns - 1) degrees of freedom unless something slips.
    """
    readings, side = v["readings"], 1.0 if v["turned"] == "right" else -1.0
    step = step_of(v, kit.azimuth)
    mark = math.hypot(float(v["mark_arcmin"]) / 60.0, step / math.sqrt(12.0))
    # All within one turn after whole turns: the reading may fold, and then only the remainder is
    # seen. One that folds shows 0 to 360, or 180 either way.
    low, high = min(readings), max(readings)
    folds = low >= -180.0 and high <= 360.0 and high - low <= 360.0
    steps = [side * (b - a) for a, b in itertools.pairwise(readings)]
    open_count = folds and v["quarter"] == ""
    turns = steps
    if folds:
        over = unfolded(steps, wrap(steps[0]))
        remainder = float(np.median(over))
        _none_missing_folded(over)
        whole = 360.0 + wrap(remainder) if open_count else _whole_turn(remainder, v, side)
        turns = [whole + x - remainder for x in over]
        # A count too large makes as much more of how the mark is missed; nobody knows yet by how
        # much where the count is open: twice is allowed for.
        mark *= max(abs(whole) / 360.0, 1.0)
    else:
        _none_missing(turns)
    n = len(turns)
    run_on = [0.0, *itertools.accumulate(turns)]
    e = few.slope_of(run_on, step)
    if n == 1:
        e = few.Estimate(turns[0], -math.inf, math.inf, mark, 1)
    middle = n / 2.0
    sxx = sum((i - middle) ** 2 for i in range(n + 1))
    start = sum(run_on) / (n + 1) - e.value * middle
    chi2 = sum((r - start - e.value * i) ** 2 for i, r in enumerate(run_on)) / mark**2
    return Turns(
        turn=e,
        sigma_deg=(max(mark, e.spread) if n > 1 else mark) / math.sqrt(sxx),
        mark_deg=mark,
        count=n,
        slips=n > 1 and chi_square_survival(chi2 / (4.0 if open_count else 1.0), n - 1) < 0.01,
        worst=1 + max(range(n), key=lambda i: abs(turns[i] - float(np.median(turns)))),
        ticks=kit.azimuth.ticks_per_turn,
        reversed=kit.azimuth.reversed,
        least_slip_deg=_least_slip(n, mark * (2.0 if open_count else 1.0)) if n > 1 else math.inf,
        open_count=open_count,
    )


def _factor(x: Turns) -> float:
    """How many times the stated count a turn has: one of those that encoders differ by, exactly,
    where the readings allow it."""
    times = x.turn.value / 360.0
    near = [f for f in FACTORS if abs(times - f) * 360.0 <= 3 * x.sigma_deg]
    return near[0] if near else times


def _whole_turn(remainder: float, v: Values, side: float) -> float:
    """What a whole turn reads, degrees, of which a folding display shows the remainder: the one
    whose quarter is nearest to what was read a quarter turn on, by eye.

    A count is wrong by a factor of two or four far more often than by another. Twice the
    counts the right way and the wrong way round look the same at a quarter; the right
    way is then taken. Raises :class:`UserError` where none is near.
    """
    seen = side * (float(v["quarter"]) - v["readings"][0])
    wholes = [remainder + 360.0 * k for k in range(-4, 5)]
    wholes = [w for w in wholes if abs(w) >= LEAST_TURN]
    # How far the eye would have been out, in degrees turned.
    off = {w: abs(wrap(seen - w / 4.0)) / (abs(w) / 360.0) for w in wholes}

    def odd(w: float) -> float:
        from_usual = min(abs(abs(w) / 360.0 / f - 1.0) for f in FACTORS)
        return off[w] + UNUSUAL * min(from_usual / 0.06, 1.0) + (BACKWARDS if w < 0 else 0.0)

    best = min(wholes, key=odd)
    # Both the count and the way wrong, and by an odd factor: nobody's encoder.
    far = best < 0 and min(abs(abs(best) / 360.0 / f - 1.0) for f in FACTORS) > 0.06
    if off[best] > BY_EYE or far:
        raise UserError(
            f"{wrap(seen):+.0f}° on after a quarter turn, where a whole turn ends "
            f"{remainder:+.1f}° from where it began: no count makes both",
            "a reading a quarter turn on from the mark, the same way as the others, by eye",
            "Go back to the mark, turn a quarter on, and read again",
        )
    return best


def _none_missing(turns: Sequence[float]) -> None:
    """Raises :class:`UserError` where one turn is as long as two or more of the others."""
    usual = statistics.median_low(turns) if turns[0] > 0 else statistics.median_high(turns)
    for i, t in enumerate(turns, 1):
        times = t / usual if usual else 0.0
        if round(times) > 1 and abs(times - round(times)) < NEAR_WHOLE:
            _ask_for_missing(i, f"{round(times)} turns")


def _none_missing_folded(over: Sequence[float]) -> None:
    """As :func:`_none_missing`, of what a folding display shows more after each turn; seen only
    where that is far from a whole turn."""
    usual = statistics.median_low(over)
    for i, x in enumerate(over, 1):
        near = abs(wrap(x - 2.0 * usual)) < NEAR_WHOLE * abs(wrap(usual))
        if near and abs(wrap(usual)) > MISSED:
            _ask_for_missing(i, "two turns")


def _ask_for_missing(i: int, turns: str) -> None:
    raise UserError(
        f"from reading {i} to reading {i + 1} are {turns}, and one between the others",
        "a reading after each turn",
        "Is one missing there? Give the readings from there on by themselves",
    )


def _least_slip(n: int, mark: float) -> float:
    """The smallest slip within one of n turns that would have been found, degrees."""
    at = np.arange(n + 1.0)
    line = np.stack([np.ones(n + 1), at], axis=1)
    shares = []
    for i in range(1, n + 1):
        step = (at >= i).astype(float)
        left = step - line @ np.linalg.lstsq(line, step, rcond=None)[0]
        shares.append(float(left @ left))
    return smallest_step(n - 1, mark, shares)


def say(x: Turns) -> Verdict:
    """The turns in words."""
    e, numbers, mark = x.turn, _numbers(x), arcmin(x.mark_deg)
    match x.finding:
        case OnceRound.BACKWARDS:
            return Verdict(
                "mend",
                "The azimuth counts the wrong way round."
                + (
                    f" And one turn reads {abs(e.value):.2f}° instead of 360: the count of a turn "
                    "is wrong, too."
                    if x.miscounts
                    else ""
                ),
                numbers,
                f"Set [azimuth] reversed = {'false' if x.reversed else 'true'} in the kit, "
                "or check which way you turned" + (". Then repeat it" if x.miscounts else ""),
                (("[azimuth]", "reversed", not x.reversed),),
                "If you turned the way that is told above, the button turns the figures round"
                + (". Then repeat it" if x.miscounts else ""),
            )
        case OnceRound.SLIPS:
            return Verdict(
                "mend",
                f"The turns do not agree: the readings at the mark scatter by {arcmin(e.spread)}, "
                f"and the mark allows {mark}. Turn {x.worst} stands out. That is slip.",
                numbers,
                "Tighten what couples the encoder to the base (set screw, belt, friction roller), "
                "clean it, and repeat. Do not change the count of a turn for a slip",
            )
        case OnceRound.MISCOUNTS:
            count = round(x.ticks * _factor(x))
            again = "" if x.count >= 3 else " Do three turns before you believe it."
            return Verdict(
                "mend",
                f"One turn reads {e.value:.2f}° instead of 360: the count of a turn is wrong, not "
                f"slipping, if it is so every time.{again}",
                numbers,
                f"Set [azimuth] ticks_per_turn = {count} in the kit and repeat"
                if x.ticks
                else "The circle is drawn or printed at the wrong scale: print it anew and repeat",
                (("[azimuth]", "ticks_per_turn", count),) if x.ticks else (),
                f"The button takes {count} counts for a turn, now {x.ticks}. Then repeat it"
                if x.ticks
                else "",
            )
        case OnceRound.QUARTER_WANTED:
            over = wrap(e.value)
            comes = (
                f"The reading comes back to itself within {arcmin(x.mark_deg)} each turn. If your "
                "display starts again at 360, it would do so, too, with twice or four times the "
                "counts, or counting the wrong way."
                if abs(over) <= 3 * x.sigma_deg
                else f"Each turn ends {over:+.2f}° from where it began, where it should come back "
                "to itself. So the count of a turn is wrong, and by how much a display that starts "
                "again at 360 does not show."
            )
            slip = (
                f" No turn slipped by more than {arcmin(x.least_slip_deg)}." if x.count > 1 else ""
            )
            return Verdict(
                "unsure",
                f"{comes}{slip}",
                numbers,
                "Turn a quarter to the same side from the mark, by eye, and give that reading as "
                "well (quarter): it should be near 90 on",
                on_pages="Turn a quarter to the same side from the mark, by eye, and give that "
                "reading as well: it should be near 90 on",
            )
        case OnceRound.TOO_FEW:
            return Verdict(
                "unsure",
                "One turn agrees within what the mark allows "
                f"({arcmin(math.sqrt(2) * x.mark_deg)}).",
                numbers,
                "Do three turns and read each",
            )
        case OnceRound.GOOD:
            return Verdict(
                "good",
                f"One turn reads as one turn: {e.value:.2f}°, and the mark is hit within {mark}. "
                "The count is right"
                + (
                    f", and no turn slipped by more than {arcmin(x.least_slip_deg)}."
                    if x.count > 1
                    else "; whether it slips, one turn cannot tell."
                ),
                numbers,
                "Nothing to mend",
            )


def _numbers(x: Turns) -> tuple[Number, ...]:
    e, per_deg = x.turn, x.ticks / 360.0
    if x.finding is OnceRound.QUARTER_WANTED:  # what is not known yet has no figure
        return (Number("over", "each turn ends past where it began by", round(wrap(e.value), 2)),)
    turn = number_of("turn", "one turn reads", e)
    if x.finding is OnceRound.BACKWARDS:
        return (turn,)
    error = Number("error", "error of a quarter turn's push", (e.value - 360.0) / 4.0)
    if not x.ticks:
        return turn, error
    low, high = e.value - 2 * x.sigma_deg, e.value + 2 * x.sigma_deg
    return (
        turn,
        error,
        Number(
            "ticks",
            "counts in one turn",
            per_deg * e.value,
            "counts",
            per_deg * low,
            per_deg * high,
        ),
    )


CHECK = Check(
    "once-round",
    CHECK_TITLES["once-round"],
    "Tells a wrong count for a turn (the same error each time) from slip (another each time).",
    ("a pencil mark or tape on base and ground board", "two minutes"),
    (
        "Mark where the rocker box stands, finely: half a millimetre at 300 mm is 6 arcmin.",
        "Write down the azimuth reading at the mark.",
        "Turn once round to the right, slowly, and stop exactly at the mark. Write it down.",
        "Do that three times, without setting anything anew.",
        "If your display starts again at 360: turn a quarter further, by eye, and write that down.",
    ),
    (
        Input("readings", "the azimuth reading at the mark, first and after each turn",
              many=True, at_least=2, low=-1e5, high=1e5),
        Input("quarter", "if your display starts again at 360: the reading a quarter turn on from "
              "the first, by eye", low=-1e5, high=1e5,
              default=""),
        Input("turned", "which way you turned", "", default="right", choices=("right", "left")),
        MARK,
    ),
    told(measure, say),
)  # fmt: skip
