"""Stars under two names: which of them the numbers fit, or what would tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.coach.moments import LOWEST_DEG, Circumstances, moment_of
from plumbstar.coach.told import MessageTold, NumberTold, StarTold
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.nameless.screen import Choices, screen
from plumbstar.sky import local_time, places
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.site import Site
from plumbstar.units import Array

#: From this on the numbers have settled which star it was.
SETTLED = 0.95


@dataclass(frozen=True)
class Stood:
    """Where one of them stood at the time that was told, degrees; ``local``: that time."""

    star: str
    az_deg: float
    alt_deg: float
    local: str


@dataclass(frozen=True)
class Doubted:
    """A star under several names; ``settled``: the one it was, with ``probability`` where the
    numbers tell and None where no other was up."""

    names: tuple[str, ...]
    stood: tuple[Stood, ...] = ()
    settled: str = ""
    probability: float | None = None


def settle(
    m: MessageTold, at: Circumstances, priors: Priors, noise: Noise
) -> tuple[MessageTold, tuple[Doubted, ...]]:
    """The message with each star under the name that fits, and what was in doubt."""
    if m.numbers:
        numbers, doubts = [], []
        for n in m.numbers:
            stars = []
            for s in n.stars:
                kept, doubt = _by_horizon(s, at)
                stars.append(kept)
                doubts += [doubt] if doubt is not None else []
            numbers.append(NumberTold(n.deg, n.signed, tuple(stars)))
        return replace(m, numbers=tuple(numbers), stars=numbers[0].stars), tuple(_once(doubts))
    stars, doubts = [], []
    by_numbers = _by_numbers(m.stars, at, priors, noise)
    for s in m.stars:
        told = by_numbers.get(s.thing.label)
        if not s.perhaps or told is None or told[1] < SETTLED:
            kept, doubt = _by_horizon(s, at)
        else:
            thing, p = told
            kept = replace(s, thing=thing, perhaps=())
            doubt = replace(_doubted(s, at), settled=thing.label, probability=p)
        stars.append(kept)
        doubts += [doubt] if doubt is not None else []
    return replace(m, stars=tuple(stars)), tuple(doubts)


def _once(doubts: Sequence[Doubted]) -> list[Doubted]:
    return list({d.names: d for d in doubts}.values())


def _doubted(s: StarTold, at: Circumstances) -> Doubted:
    stood = []
    for thing in (s.thing, *s.perhaps):
        told = moment_of(replace(s, thing=thing), at)
        if told is not None and at.site is not None:
            az, alt = places.place_of(thing, told[0], at.site)
            stood.append(Stood(thing.label, az, alt, local_time.local(told[0], at.zone or "")))
    return Doubted(tuple(t.label for t in (s.thing, *s.perhaps)), tuple(stood))


def _by_horizon(s: StarTold, at: Circumstances) -> tuple[StarTold, Doubted | None]:
    """Without those that were down then, where one was up."""
    if not s.perhaps:
        return s, None
    doubt = _doubted(s, at)
    up = [x.star for x in doubt.stood if x.alt_deg > LOWEST_DEG]
    things = (s.thing, *s.perhaps)
    if len(doubt.stood) == len(things) and len(up) == 1:
        thing = next(t for t in things if t.label == up[0])
        return replace(s, thing=thing, perhaps=()), replace(doubt, settled=thing.label)
    return s, doubt


def _by_numbers(
    stars: Sequence[StarTold], at: Circumstances, priors: Priors, noise: Noise
) -> dict[str, tuple[Star | Body, float]]:
    """Of each star under several names, by its first: the likeliest, and its probability by the
    readings of all the whole sightings; empty where they cannot tell."""
    whole = [s for s in stars if s.whole]
    if not any(s.perhaps for s in whole):
        return {}
    timed = [s for s in whole if moment_of(s, at) is not None]
    if len(timed) < len(whole) and len(whole) < 2:
        return {}
    by_time = len(timed) == len(whole)
    readings, choices, things = [], [], []
    for s in whole:
        may = (s.thing, *s.perhaps)
        place = np.radians([_place(replace(s, thing=t), at, by_time) for t in may])
        log_p = np.full(len(may), -math.log(len(may)))
        choices.append(Choices(np.arange(len(may)), place, log_p, -math.inf))
        things.append(may)
        readings.append((s.az.degrees, s.alt.degrees) if s.az and s.alt else (0.0, 0.0))
    if not by_time:  # no height is known: the angle between them is all that tells
        return _by_angle(whole, np.radians(readings), choices, noise)
    found = screen(np.radians(readings), choices, priors, noise)
    if not len(found.picks):
        return {}
    share = np.exp(found.log_p - found.log_p.max())
    share /= share.sum()
    out: dict[str, tuple[Star | Body, float]] = {}
    for k, s in enumerate(whole):
        if s.perhaps:
            of_each = [float(share[found.picks[:, k] == i].sum()) for i in range(len(things[k]))]
            best = int(np.argmax(of_each))
            out[s.thing.label] = things[k][best], of_each[best]
    return out


def _by_angle(
    whole: Sequence[StarTold], readings: Array, choices: Sequence[Choices], noise: Noise
) -> dict[str, tuple[Star | Body, float]]:
    """The same from the angle between the first two, to 1.5 degrees: the stop is in it."""
    two = [(s.thing, *s.perhaps) for s in whole[:2]]
    a, b = (kinematics.unit(c.places[:, 0], c.places[:, 1]) for c in choices[:2])
    apart = np.degrees(np.arccos(np.clip(a @ b.T, -1, 1)))
    tube = kinematics.unit(readings[:2, 0], readings[:2, 1])
    read = math.degrees(math.acos(float(np.clip(tube[0] @ tube[1], -1, 1))))
    sigma = math.hypot(1.5, 2 * math.degrees(noise.centring))
    share = np.exp(-0.5 * ((apart - read) / sigma) ** 2) + 1e-9
    share /= share.sum()
    out = {}
    for k, s in enumerate(whole[:2]):
        if s.perhaps:
            of_each = share.sum(axis=1 - k)
            best = int(np.argmax(of_each))
            out[s.thing.label] = two[k][best], float(of_each[best])
    return out


def _place(s: StarTold, at: Circumstances, by_time: bool) -> tuple[float, float]:
    told = moment_of(s, at) if by_time else None
    if told is not None and at.site is not None:
        return places.place_of(s.thing, told[0], at.site)
    site = at.site or Site(0.0, 0.0, 0.0)
    return places.place_of(s.thing, at.when, site, airless=True)
