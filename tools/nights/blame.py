"""Why a push that was stated to be nearly sure missed: by a fault, and could the stars show it?

Four questions, all answered with the truth in hand. *Would it have been in the field had nothing
gone wrong?* The same stars, centred by the same hand, are solved with the circles, the clock and
the names as they should have been; if that push misses, too, it is one of those that the stated
chance allows for. *Would it have been, had only nothing moved since the last star?* The circles are
brought to where they were, on the mount and with the slips of that star's moment; if that hits, it
missed by what no star has put to the test. *Would it have been, had nothing gone wrong since the
last slip that is known?* What came before it stays as it was; if that hits, what went wrong before
has done no harm, and only what came since is looked for in the stars. *Could the stars show what
went wrong?* Its footprint is what it changed in the readings of the stars sighted so far, but for
wrong ones that were found out; a rough hand is no shape, it only blurs the others. What moved
unseen by the encoders costs the zero that it moved, as a known slip does, where the fix says so at
more than even odds, of that very star and circle; a star that the fix takes for a slip is not found
out. Of an observer who knows the fault's very shape that footprint's length in sigmas (the
Mahalanobis length under what the kit believes of the mount, the hand's centring and, where a slip
is known, the lost zeros) is the strength of the evidence: whoever has to find out the shape as well
sees less. Where the mount is further off than the kit believes, it is believed to be off by so
much: a belief that excludes the mount is no evidence of a slip. So with a wrong clock, which turns
the sky as a lean turns the mount: if its minutes alone would not have made the push miss, they are
believed, too.
"""

import copy
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from plumbstar.logbook import LoggedSighting
from plumbstar.mount.priors import Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import CIRCLES, Axis
from plumbstar.mount.terms import TERMS
from plumbstar.solve.epochs import EpochFix, solve_parts
from plumbstar.solve.fix import solve
from plumbstar.solve.moved import ASKED
from plumbstar.solve.weighing import share_of

from . import sky
from .mount import Mount, apart_deg, direction
from .scene import CENTRING_ARCMIN
from .shapes import Array, Pair

if TYPE_CHECKING:
    from .night import Night

#: Fewer sigmas show nothing: for a fault that happens once in fifty times, of a size not known
#: before (one in twenty of those thought of fits; common practice), exp(4 * 4 / 2) is three to one.
SHOWN_SIGMA = 4.0
#: What of the mount here is which term of the kit, whose beliefs are gone by.
_TERMS = {
    "square_deg": "squareness", "cone_deg": "cone", "sag_deg": "droop", "stop_deg": "altitude_zero",
}  # fmt: skip
#: A rough hand (night.py: Student's t of 2.5 degrees of freedom, 1.3 times) has this spread.
ROUGH = 1.3 * math.sqrt(2.5 / 0.5)
#: How far a circle that slipped may be off, degrees.
_LOST_DEG = 60.0
STEP_DEG = 0.1
#: Two lines of a circle differ by less; what slips is drawn from 1 degree on.
MOVED_DEG = 0.3


@dataclass(frozen=True)
class Tap:
    """A star or object that was centred: which in truth, when, and how far off (right and up,
    degrees) it ``was``, but for a fumble, and this hand would have centred it with nothing wrong
    (``off``). ``near_az``: of the axle then. ``wrong``: another was named, or it was fumbled.
    ``mount``: as it stood; ``circles``: what perfect ones showed where the tube was."""

    name: str
    unix: float
    was: Pair
    off: Pair
    near_az: float
    wrong: bool
    mount: Mount
    circles: Pair


@dataclass(frozen=True)
class Blame:
    """``would_hit``: in the field, had nothing gone wrong; ``since``: had nothing moved since the
    last star. ``sigmas``: how plainly the stars show what did; ``right_stars``: how many of them
    were what they were called."""

    would_hit: bool
    since: bool
    sigmas: float
    right_stars: int

    @property
    def word(self) -> str:
        """``chance``: it would have missed anyway; ``since``: by what moved after the last star;
        ``few``: under three right stars; ``faint``: they could not show it; ``shown``: they
        could."""
        if not self.would_hit:
            return "chance"
        if self.since:
            return "since"
        if self.right_stars < 3:
            return "few"
        return "shown" if self.sigmas >= SHOWN_SIGMA else "faint"


def _toward(name: str, unix: float, off: Pair) -> Array:
    az, alt = sky.place(name, unix)
    return direction(az + off[0] / math.cos(math.radians(alt)), alt + off[1])


def _shown(mount: Mount, tap: Tap, name: str, unix: float, off: Pair) -> Array:
    """What perfect circles show with that star of that moment where the tap had its own, (2,)."""
    where = _toward(name, unix, off)
    return np.array(mount.circles(*mount.axles_at(where, tap.near_az)))


def _believed_unix(s: LoggedSighting) -> float:
    assert s.sighting.utc is not None
    return s.sighting.utc.to_unix()


def _axles_of(mount: Mount, circles: Pair) -> Pair:
    """The axles at which the circles show that."""
    az, alt = circles
    for _ in range(8):
        shown = mount.circles(az, alt)
        az, alt = az + circles[0] - shown[0], alt + circles[1] - shown[1]
    return az, alt


def blame(night: "Night", target: str, field_deg: float, left: Pair, reading: Pair) -> Blame:
    """Of the push that has just ended at that ``reading``, ``left`` short of its aim: degrees on
    the circles."""
    evening, mount = night.station.evening, night.mount_before
    ids = {evening.sightings.known_press(press): tap for press, tap in night.taps.items()}
    used = [s for s in evening.solved.used if s.id in ids]
    taps = [ids[s.id] for s in used]
    if not used:
        return Blame(False, False, 0.0, 0)
    honest = [
        Sighting(t.name, *sky.place(t.name, t.unix), *_shown(mount, t, t.name, t.unix, t.off))
        for t in taps
    ]
    place = sky.place(target, night.unix())

    def off_deg(sightings: list[Sighting], believed: Pair) -> float:
        """Where a push ends that goes by those sightings, and takes the target to be there."""
        fix = solve(sightings, evening.instrument.priors, evening.instrument.noise)
        to = fix.reading_for(*believed, near_az_deg=honest[-1].az_reading_deg)
        end = _axles_of(mount, (float(to[0]) - left[0], float(to[1]) - left[1]))
        return apart_deg(mount.tube(*end), direction(*place))

    off = off_deg(honest, place)
    by_the_clock = [
        replace(h, true_az_deg=az, true_alt_deg=alt)
        for s, t, h in zip(used, taps, honest, strict=True)
        for az, alt in [sky.place(t.name, _believed_unix(s))]
    ]
    now = sky.place(target, night.clock.now().to_unix())
    clock_harmless = off_deg(by_the_clock, now) <= field_deg / 2.0
    last = max(range(len(taps)), key=lambda k: taps[k].unix)
    then, logged = taps[last], used[last].sighting
    slipped = (logged.az_reading_deg - then.circles[0], logged.alt_reading_deg - then.circles[1])
    end = _axles_of(then.mount, (reading[0] - slipped[0], reading[1] - slipped[1]))
    since = apart_deg(then.mount.tube(*end), direction(*place)) <= field_deg / 2.0
    # What went wrong, in the readings of the stars as the program knows them.
    d = np.array([
        np.array([s.sighting.az_reading_deg, s.sighting.alt_reading_deg])
        - _shown(mount, tap, s.sighting.star, _believed_unix(s), tap.was)
        for s, tap in zip(used, taps, strict=True)
    ])  # fmt: skip
    d[:, 0] = (d[:, 0] - d[0, 0] + 180.0) % 360.0 - 180.0
    minutes = np.array([
        _shown(mount, tap, s.sighting.star, _believed_unix(s), tap.was)
        - _shown(mount, tap, s.sighting.star, tap.unix, tap.was)
        for s, tap in zip(used, taps, strict=True)
    ]) * clock_harmless  # fmt: skip
    minutes[:, 0] = (minutes[:, 0] + 180.0) % 360.0 - 180.0
    place_in = {s.id: k for k, s in enumerate(used)}
    every = evening.solved.used
    parts = [
        [place_in[every[i].id] for i in part.indices if every[i].id in place_in]
        for part in evening.solved.parts
    ]
    found_out = _found_out(evening.solved.parts, parts, taps, used)
    parts = [part for part in parts if part]
    if len(parts) > 1:
        at = parts[-1][0]
        edges = [(part[0], CIRCLES) for part in parts[1:]]
        since_slip = _since_the_slip(taps, used, at)
        rows = [s.sighting for s in used[:at]] + [
            Sighting(t.name, *sky.place(t.name, t.unix), *(r + since_slip.lost))
            for t, r in zip(taps[at:], since_slip.right, strict=True)
        ]
        fix = solve_parts(rows, evening.instrument.priors, evening.instrument.noise, edges)[-1].fix
        to = fix.reading_for(*place, near_az_deg=rows[-1].az_reading_deg)
        end = _axles_of(since_slip.mount, tuple(to - since_slip.lost - left))
        if apart_deg(since_slip.mount.tube(*end), direction(*place)) <= field_deg / 2.0:
            d[:at], d[at:] = 0.0, since_slip.footprint
    right = sum(not t.wrong for t in taps)
    aside = evening.solved.left_out()
    keep = [k for k, (s, t) in enumerate(zip(used, taps, strict=True))
            if not (t.wrong and s.id in aside)]  # fmt: skip
    found_out = [([keep.index(k) for k in after if k in keep], axis) for after, axis in found_out]
    parts = [[keep.index(k) for k in part if k in keep] for part in parts]
    hand_deg = CENTRING_ARCMIN / 60.0 * (ROUGH if night.eye.rough else 1.0)
    of = [taps[k] for k in keep], [honest[k] for k in keep], d[keep], minutes[keep]
    sigmas = _sigmas(mount, evening.instrument.priors, *of, parts, hand_deg, found_out)
    return Blame(off <= field_deg / 2.0, since, sigmas, right)


def _found_out(
    solved: Sequence[EpochFix],
    parts: Sequence[Sequence[int]],
    taps: Sequence[Tap],
    used: Sequence[LoggedSighting],
) -> list[tuple[Sequence[int], Axis]]:
    """What moved, and the stars say so: which sightings came after it; the circle, or the base."""
    out: list[tuple[Sequence[int], Axis]] = []
    for epoch, part in zip(solved, parts, strict=True):
        moved = epoch.fix.moved
        if moved is None or len(part) != len(epoch.indices):
            continue
        just_so = [
            w for w in epoch.fix.stories
            if any((m.first, m.axes) == (moved.first, moved.axes) for m in w.story.moves)
        ]  # fmt: skip
        before, after = part[moved.first - 1], part[moved.first]
        if share_of(just_so) > ASKED:
            out += [
                (part[moved.first :], axis)
                for axis in moved.axes
                if _did_move(axis, (taps[before], used[before]), (taps[after], used[after]))
            ]
    return out


def _did_move(
    axis: Axis, before: tuple[Tap, LoggedSighting], after: tuple[Tap, LoggedSighting]
) -> bool:
    """Whether it did, in truth, between those two sightings."""
    if axis == "base":
        return not np.allclose(before[0].mount.base.as_matrix(), after[0].mount.base.as_matrix())
    k = CIRCLES.index(axis)
    lost = [
        (s.sighting.az_reading_deg, s.sighting.alt_reading_deg)[k] - tap.circles[k]
        for tap, s in (before, after)
    ]
    by = lost[1] - lost[0]
    if axis == "azimuth":
        by = (by + 180.0) % 360.0 - 180.0
    return abs(by) > MOVED_DEG or (
        # A base that is turned is to the azimuth what a slipped circle is.
        axis == "azimuth" and _did_move("base", before, after)
    )


class _Since(NamedTuple):
    """The stars since the last slip that is known, degrees on the circles. ``mount``: as it was
    before; ``lost``: by how much the circles went on being off, (2,). ``right``: what perfect
    circles show with these stars on that mount, nothing having gone wrong since, (m, 2);
    ``footprint``: what was read instead, (m, 2)."""

    mount: Mount
    lost: Array
    right: list[Array]
    footprint: Array


def _since_the_slip(taps: Sequence[Tap], used: Sequence[LoggedSighting], at: int) -> _Since:
    """``at``: the first of these taps that came after it."""
    mount, said = taps[at - 1].mount, used[at].sighting
    lost = np.array([said.az_reading_deg, said.alt_reading_deg]) - taps[at].circles
    both = list(zip(taps[at:], used[at:], strict=True))
    footprint = np.array([
        np.array([s.sighting.az_reading_deg, s.sighting.alt_reading_deg]) - lost
        - _shown(mount, t, s.sighting.star, _believed_unix(s), t.was)
        for t, s in both
    ])  # fmt: skip
    footprint[:, 0] = (footprint[:, 0] + 180.0) % 360.0 - 180.0
    right = [_shown(mount, t, t.name, t.unix, t.off) for t, _ in both]
    return _Since(mount, lost, right, footprint)


def _sigmas(
    mount: Mount,
    priors: Priors,
    taps: Sequence[Tap],
    honest: Sequence[Sighting],
    d: Array,
    minutes: Array,
    parts: Sequence[Sequence[int]],
    hand_deg: float,
    found_out: Sequence[tuple[Sequence[int], Axis]] = (),
) -> float:
    """The footprint's length: ``d`` (n, 2) degrees on the circles; ``minutes`` (n, 2): what of it
    a wrong clock makes that is believed; ``parts``: which sightings lie between two known slips;
    ``found_out``: which came after something that the stars say has moved, and what."""

    def shown(m: Mount) -> Array:
        return np.array([_shown(m, t, t.name, t.unix, t.was) for t in taps]).ravel()

    before = shown(mount)
    columns = [minutes.ravel()]
    sigma = dict(zip(TERMS, priors.sigma, strict=True))
    for name, term in _TERMS.items():
        other = copy.deepcopy(mount)
        setattr(other, name, getattr(other, name) + STEP_DEG)
        believed = max(math.degrees(sigma[term]), abs(getattr(mount, name)))
        columns.append((shown(other) - before) / STEP_DEG * believed)
    for lean, term in (((STEP_DEG, 0.0), "lean_north"), ((0.0, STEP_DEG), "lean_west")):
        other = copy.deepcopy(mount)
        other.knock(0.0, np.array(lean))
        leant = (shown(other) - before) / STEP_DEG * math.degrees(sigma[term])
        columns.append(leant)
        for after, what in found_out:
            if what == "base":
                columns.append((leant.reshape(-1, 2) * _rows(after, len(taps))).ravel())
    n = len(honest)
    for axis in (0, 1):
        scale = np.zeros((n, 2))
        by = sigma[("azimuth_scale", "altitude_scale")[axis]]
        scale[:, axis] = [(h.az_reading_deg, h.alt_reading_deg)[axis] * by for h in honest]
        columns.append(scale.ravel())
    for k, part in enumerate(parts):
        for axis in (0, 1) if k else (0,):  # of the first part only the azimuth's zero is free
            columns.append(_free_zero(part, axis, n))
    for after, what in found_out:
        if what != "base":
            columns.append(_free_zero(after, CIRCLES.index(what), n))
    J = np.array(columns).T
    alt = np.radians([h.true_alt_deg for h in honest])
    hand = np.column_stack([hand_deg / np.cos(alt), np.full(n, hand_deg)])
    S = J @ J.T + np.diag((hand**2 + 0.04**2 / 6.0).ravel())
    return math.sqrt(max(0.0, float(d.ravel() @ np.linalg.solve(S, d.ravel()))))


def _rows(which: Sequence[int], n: int) -> Array:
    """One for those of n, nought for the others, (n, 1)."""
    out = np.zeros((n, 1))
    out[list(which)] = 1.0
    return out


def _free_zero(which: Sequence[int], axis: int, n: int) -> Array:
    """The zero of that circle (0 azimuth, 1 altitude) is lost for those sightings, (2 n,)."""
    zero = np.zeros((n, 2))
    zero[list(which), axis] = 1e3 if axis == 0 else _LOST_DEG
    return zero.ravel()
