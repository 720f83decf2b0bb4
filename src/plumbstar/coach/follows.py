"""What follows from a message, and the one thing more that would tell most."""

from __future__ import annotations

import enum
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.coach.doubted import Doubted, settle
from plumbstar.coach.moments import LOWEST_DEG, Circumstances, moment_of
from plumbstar.coach.number import alike_deg
from plumbstar.coach.told import MessageTold, Remark, StarTold
from plumbstar.diagnose.explain import Explanation, explain
from plumbstar.diagnose.explain.coach import Heard, zone_words
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX
from plumbstar.sky import local_time, places
from plumbstar.sky.angles import between_rad
from plumbstar.sky.bodies import Body, sun_altitude
from plumbstar.sky.site import Site

#: The Sun so low, degrees, the bright stars are out.
DARK_DEG = -8.0


class Ask(enum.Enum):
    """The one thing to ask for."""

    NEXT_STAR = "next_star"
    SECOND_STAR = "second_star"
    TIME = "time"
    SITE = "site"
    LEFT_RIGHT = "left_right"
    UP_DOWN = "up_down"
    READINGS = "readings"
    SCALE = "scale"
    WHICH_STARS = "which_stars"
    WHICH_STAR = "which_star"
    WHICH_OF = "which_of"
    OTHER_STAR = "other_star"
    PICTURE = "picture"
    START = "start"


@dataclass(frozen=True)
class Height:
    """How high a star's altitude reading is against where it stood, degrees; ``sigma_deg``: what a
    sound telescope of this kind shows."""

    star: str
    read_deg: float
    true_deg: float
    sigma_deg: float


@dataclass(frozen=True)
class Apart:
    """The angle between two stars as the readings have it, and as it is, degrees."""

    first: str
    second: str
    read_deg: float
    true_deg: float
    sigma_deg: float

    @property
    def fits(self) -> bool:
        return abs(self.read_deg - self.true_deg) < 2.5 * self.sigma_deg


@dataclass(frozen=True)
class Stands:
    """Where something that is to be pointed at stands when that evening gets dark, degrees;
    ``local``: when that is."""

    star: str
    az_deg: float
    alt_deg: float
    local: str


@dataclass(frozen=True)
class NotUp:
    """A star that was below the horizon at its time."""

    star: str
    altitude_deg: float
    local: str


@dataclass(frozen=True)
class Follows:
    """``doubts``: stars under two names; ``heard``: the sightings that are whole;
    ``explanation``: of two or more of them. ``ask``: the one thing to ask for, of the star ``of``
    where it is about one; ``stands``: where to look for that. ``by_centring_deg``: how
    large a controller's number gets by centring alone, two sigma; ``alike_deg``: within how much
    one pair's comes again."""

    message: MessageTold
    doubts: tuple[Doubted, ...] = ()
    heard: tuple[Heard, ...] = ()
    explanation: Explanation | None = None
    heights: tuple[Height, ...] = ()
    apart: Apart | None = None
    stands: Stands | None = None
    not_up: tuple[NotUp, ...] = ()
    ask: Ask = Ask.START
    of: str = ""
    by_centring_deg: float = 0.0
    alike_deg: float = 0.0


def follow(
    message: MessageTold, at: Circumstances, priors: Priors, noise: Noise, kit: Kit
) -> Follows:
    """Never refuses anything."""
    message, doubts = settle(message, at, priors, noise)
    heard, not_up = _heard(message.stars, at)
    centring = 2.0 * math.sqrt(2.0) * math.degrees(noise.centring)
    out = Follows(
        message,
        doubts,
        tuple(heard),
        not_up=tuple(not_up),
        by_centring_deg=centring,
        alike_deg=alike_deg(noise),
    )
    if len(heard) > 1:
        try:
            told = explain(
                [h.sighting for h in heard], priors, noise, site=at.site, kit=kit,
                grain_deg=[h.grain_deg for h in heard],
            )  # fmt: skip
            out = replace(out, explanation=told)
        except UserError:  # nothing settles them; what follows from the angles is said all the same
            pass
    if out.explanation is None:
        whole = [s for s in message.stars if s.whole]
        apart = _apart(whole[:2], at, priors, noise) if len(whole) > 1 else None
        out = replace(out, apart=apart, heights=_heights(message.stars, at, priors, noise))
    ask, of = _asked(out, at)
    stands = _stands(message, of, at) if ask is Ask.READINGS else None
    return replace(out, ask=ask, of=of, stands=stands)


def _stands(m: MessageTold, of: str, at: Circumstances) -> Stands | None:
    """Of a star that was asked for, where to look; None where the evening or the place is not
    known, or it never gets dark."""
    thing = next((n for n in (*[s.thing for s in m.stars], *m.named) if n.label == of), None)
    if at.site is None or thing is None or not at.whole_day:
        return None
    noon = at.when.plus_seconds(43200.0 - 240.0 * at.site.lon_deg)
    for quarter in range(48):
        utc = noon.plus_seconds(900.0 * quarter)
        if math.degrees(float(sun_altitude(utc, at.site))) < DARK_DEG:
            az, alt = places.place_of(thing, utc, at.site)
            return Stands(of, az, alt, local_time.local(utc, at.zone or ""))
    return None


def _heard(stars: Sequence[StarTold], at: Circumstances) -> tuple[list[Heard], list[NotUp]]:
    """The sightings that are whole, and stars that cannot have been seen."""
    heard, not_up = [], []
    for s in stars:
        told = moment_of(s, at)
        if at.site is None or told is None:
            continue
        utc, said = told
        az, alt = places.place_of(s.thing, utc, at.site)
        local = local_time.local(utc, at.zone or "")
        if alt < LOWEST_DEG:
            not_up.append(NotUp(s.thing.label, alt, local))
        elif s.az is not None and s.alt is not None:
            row = Sighting(s.thing.label, az, alt, s.az.degrees, s.alt.degrees, utc)
            clock = f"{local} {zone_words(at.zone or '', utc)}"
            understood = "; ".join(
                [f"{s.thing.label} at {clock} on {utc.iso()[:10]}", *s.said, *said]
            )
            grain = (s.az.grain, s.alt.grain)
            heard.append(Heard(row, grain, f"{understood}.", local, at.zone))
    return heard, not_up


def _heights(
    stars: Sequence[StarTold], at: Circumstances, priors: Priors, noise: Noise
) -> tuple[Height, ...]:
    out = []
    for s in stars:
        told = moment_of(s, at)
        if s.alt is None or told is None or at.site is None:
            continue
        alt = places.place_of(s.thing, told[0], at.site)[1]
        if alt >= LOWEST_DEG:
            sigma = _altitude_sigma(priors, noise, s.alt.grain)
            out.append(Height(s.thing.label, s.alt.degrees, alt, sigma))
    return tuple(out)


def _altitude_sigma(priors: Priors, noise: Noise, grain_deg: float) -> float:
    """One sigma, degrees, of an altitude reading against the true altitude."""
    terms = [priors.sigma[INDEX[t]] for t in ("altitude_zero", "lean_north", "droop")]
    known = [t for t in terms if math.isfinite(t)]
    return math.hypot(*np.degrees([*known, noise.centring]), grain_deg / 2)


def _apart(
    two: Sequence[StarTold], at: Circumstances, priors: Priors, noise: Noise
) -> Apart | None:
    """The angle between two stars does not depend on when and where they were sighted, but for the
    air: it can be compared when nothing else is known."""
    read = np.radians([[s.az.degrees, s.alt.degrees] for s in two if s.az and s.alt])
    site = at.site or Site(0.0, 0.0, 0.0)  # the angle is the same from everywhere
    seen = np.radians([places.place_of(s.thing, at.when, site, airless=True) for s in two])
    sky = kinematics.unit(seen[:, 0], seen[:, 1])
    true = float(np.degrees(between_rad(sky[0], sky[1])))
    if true < 1.0:  # the same star twice
        return None

    def between(alt_off: float) -> float:
        on = kinematics.unit(read[:, 0], read[:, 1] + alt_off)
        return float(np.degrees(between_rad(on[0], on[1])))

    stop = float(priors.sigma[INDEX["altitude_zero"]])
    by_stop = (between(stop) - between(-stop)) / 2 if math.isfinite(stop) else 0.0
    grain = [a.grain for s in two for a in (s.az, s.alt) if a is not None]
    sigma = math.hypot(by_stop, math.degrees(noise.centring) * math.sqrt(2.0), *np.divide(grain, 3))
    return Apart(two[0].thing.label, two[1].thing.label, between(0.0), true, sigma)


def _asked(f: Follows, at: Circumstances) -> tuple[Ask, str]:
    """The one thing more that would tell most."""
    m = f.message
    if any(not d.settled for d in f.doubts):
        names = next(d.names for d in f.doubts if not d.settled)
        return Ask.WHICH_OF, " or ".join(names)
    if f.explanation is not None:
        return Ask.NEXT_STAR, ""
    if m.numbers:
        lacking = next((n.stars for n in m.numbers if len(n.stars) < 2), None)
        if lacking is not None:
            return (Ask.WHICH_STAR, lacking[0].thing.label) if lacking else (Ask.WHICH_STARS, "")
        return (Ask.SITE, "") if at.site is None else (Ask.TIME, "")
    if f.not_up:
        return Ask.TIME, f.not_up[0].star
    for s in m.stars:
        if s.counts:
            return Ask.SCALE, s.thing.label
    if len(f.heard) == 1:
        return Ask.SECOND_STAR, f.heard[0].sighting.star
    whole = [s for s in m.stars if s.whole]
    if whole:
        if at.site is None and (len(whole) < 2 or all(s.clock for s in whole)):
            return Ask.SITE, ""
        untimed = next((s for s in whole if moment_of(s, at) is None), whole[0])
        if len({s.thing.label for s in whole}) == 1 and len(whole) > 1:
            return Ask.OTHER_STAR, whole[0].thing.label
        return Ask.TIME, untimed.thing.label
    for s in m.stars:
        if s.alt is not None:
            return Ask.LEFT_RIGHT, s.thing.label
        if s.az is not None:
            return Ask.UP_DOWN, s.thing.label
        return Ask.READINGS, s.thing.label
    if len(m.loose) > 1:
        return Ask.WHICH_STAR, ""
    stars = [n for n in m.named if n != Body("Moon")]  # too large to centre
    if stars:
        return Ask.READINGS, stars[0].label
    if Remark.PICTURE in m.remarks:
        return Ask.PICTURE, ""
    return (Ask.WHICH_STAR, "") if m.loose else (Ask.START, "")
