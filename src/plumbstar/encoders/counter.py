"""Counts to one continuous count: wraps undone, jumps never passed over in silence.

A count can change in five ways, told apart by how far it went in how long:

* a *move*: no faster than a hand swings a tube (``speed_deg_s``), and where lines are missing or
  far apart, one that fits the speeds before and after (pace.py);
* a *wrap*: no move, but one in a counter of 16, 24 or 32 bits, or of one turn;
* a *garbled line*: a jump that the next lines do not repeat. It is dropped;
* a *restart*: back to zero, as after a loss of power, or where a count from zero would be by now;
* a *jump*: anything else that stays, or any change while nothing was heard.

The last two are a *possible slip*: the reading goes on, flagged, until the observer has sighted a
star again and :meth:`PairCounter.acknowledge` is called. After a restart or a jump at once the
count is held where it was (no hand moved the tube that fast, so most likely it still stands
there); after a silence the new count is followed (the board was most likely counting all along).

Pure: times are arguments, in seconds of any steady clock. The limits are common practice, no
source.
"""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.encoders.counted_axis import (
    Axes,
    CountedAxis,
    both_steps,
    both_ticks_in,
    nearest_zero,
)
from plumbstar.encoders.limits import USUAL_LIMITS, Limits
from plumbstar.encoders.pace import NEAR_S, SLOW_S, Between, Pace
from plumbstar.encoders.parse import Counts
from plumbstar.mount.slips import CIRCLES, CountSlip, SlipCause, SlipKind


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What must be kept to carry on after the program was closed and opened again."""

    raw: tuple[int, int]
    total: tuple[int, int]
    slips: tuple[CountSlip, ...] = ()
    slips_before: int = 0


@dataclass(slots=True)
class _Candidate:
    """Lines that do not follow from the last believed count, but from one another."""

    first: Counts
    trail: Axes  # both axes since ``first``
    after_gap: bool
    allowed: tuple[float, float]
    restarted: bool
    at_s: float
    first_s: float
    dt: float
    steps: tuple[int, int] | None  # a hand's reach, but not its way: to be judged
    seen: int = 1


class PairCounter:
    """Both axes' raw counts to continuous counts. The sign is the board's own; no degrees leave.

    ``ticks``: counts in one turn, (azimuth, altitude), each above zero.
    """

    def __init__(self, ticks: tuple[int, int], limits: Limits = USUAL_LIMITS) -> None:
        if min(ticks) <= 0:
            raise ValueError("ticks per turn must be above zero")
        self._ticks = ticks
        self._limits = limits
        self._axes: Axes | None = None
        self._first: tuple[Counts, float] | None = None
        self._candidate: _Candidate | None = None
        self._at_s = 0.0
        self._usual_s = 0.05
        self._broken = False
        self._moved_s = 0.0
        self.pace = Pace(limits.speed_deg_s)
        self._slips: tuple[CountSlip, ...] = ()
        self._slips_before = 0

    # ------------------------------------------------------------------ what is known

    @property
    def total(self) -> tuple[int, int] | None:
        """Continuous counts (azimuth, altitude), ticks; None until two lines have agreed."""
        return (self._axes[0].total, self._axes[1].total) if self._axes else None

    @property
    def raw(self) -> tuple[int, int] | None:
        """The last believed raw counts."""
        return (self._axes[0].raw, self._axes[1].raw) if self._axes else None

    @property
    def at_s(self) -> float:
        """When the last believed line came."""
        return self._at_s

    @property
    def usual_s(self) -> float:
        """The usual time between lines, seconds (a running mean)."""
        return self._usual_s

    @property
    def slips(self) -> tuple[CountSlip, ...]:
        """The possible slips that are open, oldest first. Each stays until acknowledged."""
        return self._slips

    @property
    def slips_before(self) -> int:
        """The number of the last possible slip, open or not; 0 before the first."""
        return self._slips_before

    def doubt(self, now_s: float) -> str:
        """A hint that an axis may be stuck, or empty. It is no proof, so it is no slip."""
        if self._axes is None:
            return ""
        az, alt = self._axes
        lim = self._limits
        if (alt.other_high - alt.other_low) * 360.0 / az.ticks > lim.still_azimuth_deg:
            return _stuck_words("altitude", "azimuth", alt.other_high - alt.other_low, az.ticks)
        if (az.other_high - az.other_low) * 360.0 / alt.ticks > lim.still_altitude_deg:
            return _stuck_words("azimuth", "altitude", az.other_high - az.other_low, alt.ticks)
        if now_s - self._moved_s > lim.still_s:
            return (
                f"neither count has changed for {(now_s - self._moved_s) / 60.0:.0f} min: "
                "if you have moved the tube, look at the encoder cables"
            )
        return ""

    def snapshot(self) -> Snapshot | None:
        """What :meth:`resume` needs, or None before the first reading."""
        if self.raw is None or self.total is None:
            return None
        return Snapshot(self.raw, self.total, self._slips, self._slips_before)

    # ------------------------------------------------------------------ what happens

    def resume(self, old: Snapshot) -> None:
        """Carry on from an earlier run. The time between counts as a silence."""
        az, alt = (
            CountedAxis(n, t, r, s, r, r)
            for n, t, r, s in zip(CIRCLES, self._ticks, old.raw, old.total, strict=True)
        )
        self._axes = (az, alt)
        self._forget_stillness()
        self._slips = old.slips
        self.count_slips_from(old.slips_before)
        self._broken = True

    def count_slips_from(self, number: int) -> None:
        """So many slips came before: the next one has a higher number."""
        self._slips_before = max([number, self._slips_before, *(s.number for s in self._slips)])

    def interrupted(self) -> None:
        """The connection was closed: whatever comes next comes after a silence."""
        self._broken = True
        self._candidate = None

    def acknowledge(self, number: int) -> None:
        """The observer has sighted a star since: slips up to that number are in the past."""
        self._slips = tuple(s for s in self._slips if s.number > number)

    def feed(self, counts: Counts, at_s: float) -> bool:
        """Take one line's counts. True if they (or the lines they confirm) were believed."""
        if self._axes is None:
            return self._start(counts, at_s)
        follows = self._follows_candidate(counts, at_s)
        if self._candidate is not None and follows is not None:
            # Judged by the limit of the first such line: otherwise the limit, which grows with
            # time, would overtake a smaller jump while that is still being confirmed.
            after_gap, allowed = self._candidate.after_gap, self._candidate.allowed
            dt = self._candidate.dt
        else:
            dt = max(0.0, at_s - self._at_s)
            after_gap = self._broken or dt > max(self._limits.gap_s, 3.0 * self._usual_s)
            deg = self._limits.gap_move_deg if after_gap else self._move_limit(dt)
            allowed = both_ticks_in(self._axes, deg)
        steps = both_steps(self._axes, counts, allowed)
        restarted = self._looks_restarted(counts, after_gap)
        doubted = steps is not None and not after_gap and self._may_be_no_hand(counts, steps, dt)
        if steps is not None and not restarted and not doubted:
            self._candidate = None
            self._believe(counts, steps, at_s)
            return True
        if self._candidate is None or follows is None:
            self._candidate = _Candidate(
                *(counts, self._fresh(counts), after_gap, allowed, restarted, at_s, at_s, dt),
                steps if doubted and not restarted else None,
            )
            return False
        return self._confirm(self._candidate, counts, follows, at_s)

    # ------------------------------------------------------------------ inner workings

    def _move_limit(self, dt: float) -> float:
        # Lines that were held up arrive in a bunch, each a usual interval's move from the last.
        lim = self._limits
        reach = lim.speed_deg_s * (max(dt, self._usual_s) + lim.jitter_s)
        return min(reach, lim.longest_move_deg)

    def _start(self, counts: Counts, at_s: float) -> bool:
        # Two lines must agree, since the first after connecting is often cut.
        if self._first is not None:
            before, before_s = self._first
            axes = self._fresh(before)
            deg = self._move_limit(max(0.0, at_s - before_s))
            steps = both_steps(axes, counts, both_ticks_in(axes, deg))
            if steps is not None:
                self._axes = axes
                self._at_s = before_s
                self._usual_s = min(10.0, max(0.02, at_s - before_s))  # a slow board from the start
                self._broken = False
                self._forget_stillness()
                self._moved_s = at_s
                self._believe(counts, steps, at_s)
                return True
        self._first = (counts, at_s)
        return False

    def _fresh(self, counts: Counts) -> Axes:
        az, alt = (
            CountedAxis(name, ticks, raw, nearest_zero(raw, ticks), raw, raw)
            for name, ticks, raw in zip(CIRCLES, self._ticks, counts, strict=True)
        )
        return az, alt

    def _looks_restarted(self, counts: Counts, after_gap: bool) -> bool:
        """Both counts at zero at once, from somewhere else: a board that has just come to life."""
        assert self._axes is not None
        if max(abs(counts.az), abs(counts.alt)) > 1:
            return False
        off = [
            abs(axis.raw) > axis.ticks_in(self._limits.gap_move_deg / 2.0) for axis in self._axes
        ]
        # Without a silence one axis may well swing through zero while the other stands there.
        return any(off) if after_gap else all(off)

    def _follows_candidate(self, counts: Counts, at_s: float) -> tuple[int, int] | None:
        """The steps from the candidate's last line, if there is one and a hand could make them."""
        c = self._candidate
        if c is None:
            return None
        deg = self._move_limit(max(0.0, at_s - c.at_s))
        return both_steps(c.trail, counts, both_ticks_in(c.trail, deg))

    def _confirm(
        self,
        c: _Candidate,
        counts: Counts,
        steps: tuple[int, int],
        at_s: float,
    ) -> bool:
        """One more line that agrees with the candidate; with enough of them it is believed."""
        c.trail[0].take(counts.az, steps[0])
        c.trail[1].take(counts.alt, steps[1])
        c.seen += 1
        c.at_s = at_s
        slow = self._usual_s > SLOW_S and c.steps is not None
        if c.seen < (2 if slow else self._limits.confirm):
            return False
        if c.steps is not None and not self._judged(c, c.steps, at_s):
            inner = self._inner(c)
            self._candidate = None
            self._believe(c.first, c.steps, c.first_s)
            self._believe(counts, inner, at_s)
            return True
        self._settle(c, at_s)
        return True

    def _deg(self, ticks: tuple[int, int]) -> tuple[float, float]:
        return ticks[0] * 360.0 / self._ticks[0], ticks[1] * 360.0 / self._ticks[1]

    def _between(self, dt: float, after: tuple[float, float]) -> Between:
        seconds = max(dt, self._usual_s)
        return self.pace.between(seconds, self._usual_s, after)

    def _may_be_no_hand(self, counts: Counts, steps: tuple[int, int], dt: float) -> bool:
        """Whether to wait for what comes next before the step is taken for a hand's."""
        step = self._deg(steps)
        if max(map(abs, step)) < 1.0 or dt < self._usual_s / 4.0:
            return False  # in a bunch that was held up nobody knows how long it took
        rest = self._between(dt, (0.0, 0.0))
        if not all(rest.possible(step[k], k) for k in (0, 1)):
            return True
        if dt <= NEAR_S:
            return False
        reach = self._limits.speed_deg_s * rest.seconds
        near_zero = self._away_from_zero() and all(
            abs(d) <= reach for d in self._deg(self._signed(counts))
        )
        on = self._between(dt, rest.before)
        return near_zero and not all(on.smooth(step[k], k) for k in (0, 1))

    def _away_from_zero(self) -> bool:
        """Whether a count that began again at zero would be noticed at all."""
        return (
            self.raw is not None and max(map(abs, self._deg(self._signed(Counts(*self.raw))))) > 1.0
        )

    def _signed(self, counts: Counts) -> tuple[int, int]:
        az, alt = (nearest_zero(raw, n) for raw, n in zip(counts, self._ticks, strict=True))
        return az, alt

    def _inner(self, c: _Candidate) -> tuple[int, int]:
        """How far both went since the candidate's first line."""
        az, alt = (
            trail.total - begun for trail, begun in zip(c.trail, self._signed(c.first), strict=True)
        )
        return az, alt

    def _judged(self, c: _Candidate, steps: tuple[int, int], at_s: float) -> bool:
        """Whether it was no hand, now that the speed afterwards is known; sets ``restarted``."""
        since = max(at_s - c.first_s, self._usual_s * (c.seen - 1))
        inner = self._deg(self._inner(c))
        between = self._between(c.dt, (inner[0] / since, inner[1] / since))
        step, shown = self._deg(steps), self._deg(self._signed(c.first))
        begun = self._away_from_zero() and all(between.begun_meanwhile(shown[k], k) for k in (0, 1))
        c.restarted = begun and not all(between.smooth(step[k], k) for k in (0, 1))
        return c.restarted or not all(between.possible(step[k], k) for k in (0, 1))

    def _settle(self, c: _Candidate, at_s: float) -> None:
        """Enough lines agree: the count really is elsewhere. Say so and go on, flagged."""
        assert self._axes is not None
        causes: list[SlipCause] = []
        for axis, trail, raw, allowed in zip(self._axes, c.trail, c.first, c.allowed, strict=True):
            inner = trail.total - nearest_zero(raw, axis.ticks)  # moved since the first such line
            step = axis.step(raw, allowed)
            at_zero = abs(raw) <= axis.ticks_in(self._limits.gap_move_deg / 2.0)
            if c.restarted:
                causes.append(SlipCause("restart", (axis.name,)))
                outer = nearest_zero(raw, axis.ticks)  # moved since it began at zero
            elif step is None and at_zero:
                causes.append(SlipCause("restart", (axis.name,)))
                outer = 0
            elif step is not None:
                outer = step
                deg = abs(step) * 360.0 / axis.ticks
                if c.steps is not None and deg > self._limits.gap_move_deg:
                    causes.append(SlipCause("leap", (axis.name,), deg))
            else:
                change = raw - axis.raw
                deg = abs(change) * 360.0 / axis.ticks
                kind: SlipKind = "unheard" if c.after_gap else "jump"
                causes.append(SlipCause(kind, (axis.name,), deg))
                outer = change if c.after_gap else 0
            axis.total += outer + inner
            axis.raw = axis.low = axis.high = trail.raw
        self._forget_stillness()
        self.pace.forget()
        if [c.kind for c in causes] == ["restart", "restart"]:
            causes = [SlipCause("restart", CIRCLES)]
        self.report(tuple(causes), at_s)
        self._candidate = None
        self._broken = False
        self._at_s = self._moved_s = at_s

    def _believe(self, counts: Counts, steps: tuple[int, int], at_s: float) -> None:
        assert self._axes is not None
        dt = at_s - self._at_s
        if 0.0 <= dt <= 5.0 and not self._broken:
            self._usual_s += 0.1 * (dt - self._usual_s)
        self._broken = False
        self._at_s = at_s
        az, alt = self._axes
        az.take(counts.az, steps[0])
        alt.take(counts.alt, steps[1])
        self.pace.note(at_s, self._deg((az.total, alt.total)), self._usual_s)
        if any(steps):
            self._moved_s = at_s
        for axis, other, moved in ((az, alt, steps[0]), (alt, az, steps[1])):
            if moved:
                axis.other_low = axis.other_high = other.total
            else:
                axis.other_low = min(axis.other_low, other.total)
                axis.other_high = max(axis.other_high, other.total)

    def report(self, causes: tuple[SlipCause, ...], at_s: float) -> None:
        """A possible slip from now on."""
        self._slips_before += 1
        self._slips = (*self._slips, CountSlip(self._slips_before, causes, at_s))

    def _forget_stillness(self) -> None:
        assert self._axes is not None
        az, alt = self._axes
        az.other_low = az.other_high = alt.total
        alt.other_low = alt.other_high = az.total


def _stuck_words(still: str, moved: str, ticks: int, per_turn: int) -> str:
    return (
        f"the {still} count has not changed by one tick while {moved} moved "
        f"{ticks * 360.0 / per_turn:.0f} deg: is the {still} encoder's cable in?"
    )
