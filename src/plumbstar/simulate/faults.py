"""A simulator of everything that goes wrong: hide a fault, then see whether it is found.

For the tests and for design/confusion.py, which measure what docs/why.md states. Sizes are drawn
from the tables of :mod:`plumbstar.diagnose.explain.rates`, or given by hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain import rates
from plumbstar.diagnose.explain.hypotheses import tick_forms
from plumbstar.diagnose.explain.stars import mixed_up
from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, SET_DOWN
from plumbstar.simulate.mounts import centred, readings_in_turn, rounded
from plumbstar.sky import places
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array

#: What to sight: a star's name, the star itself, or a direction (az_deg, alt_deg) with no name.
Aim = str | Star | tuple[float, float]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing gone wrong. ``kind`` is a key of ``rates.FAULT_RATES``; the other fields by kind.

    ``sighting``: which one is careless or of the wrong star, or after which the slip or move comes.
    ``axis``: "azimuth", "altitude" or "both". ``sizes_deg``: the amount: of a term, of each
    component of lean or runout, of a slip, of a careless sighting (along azimuth on the sky, up) or
    misread number, of a moved base (turn, lean north, lean west), of a site's error (lat, lon).
    ``factor``: of ticks (reading over true turn), or of centring. ``seconds``: how slow the clock
    is. ``other``: the star really sighted. ``how``: a form of the kind, as in the explanation.
    ``also``: the faults that "several" is made of.
    """

    kind: str = "nothing"
    sighting: int | None = None
    axis: str = ""
    sizes_deg: tuple[float, ...] = ()
    factor: float = 1.0
    reference_deg: float = 0.0
    seconds: float = 0.0
    other: Aim | None = None
    how: str = ""
    also: tuple[Fault, ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in rates.FAULT_RATES:
            raise UserError(
                f"a fault '{self.kind}'", f"one of {', '.join(rates.KINDS)}", "Check the spelling"
            )

    def recorded_site(self, site: Site) -> Site:
        """The site that the observer believes in while standing at ``site``."""
        for part in self.also:
            site = part.recorded_site(site)
        if self.kind != "clock_or_site":
            return site
        if self.how in ("longitude_sign", "latitude_sign", "exchanged"):
            return mixed_up(site, self.how)
        if self.how == "far":
            lat = max(-89.0, min(89.0, site.lat_deg + self.sizes_deg[0]))
            return Site(lat, site.lon_deg + self.sizes_deg[1], site.elevation_m)
        return site


_TERMS_OF = {
    "stop_off": ("altitude_zero",),
    "cone": ("cone",),
    "squareness": ("squareness",),
    "runout": ("azimuth_runout_sin", "azimuth_runout_cos"),
    "base_leaning": ("lean_north", "lean_west"),
}


def simulate(
    truth: Array,
    fault: Fault,
    plan: Sequence[Aim],
    noise: Noise,
    rng: np.random.Generator,
    site: Site,
    instants: Sequence[Instant],
    *,
    wrapped: bool = True,
) -> list[Sighting]:
    """The sightings an observer would have written down, fault and all.

    ``truth`` (11,): the mount's terms, radians, before the fault. ``plan``: what is sighted at each
    of ``instants`` (true UTC, same length). ``noise`` as the fix understands it: the hand is normal
    on the sky, readings are rounded to the grain. The tube is pushed the shorter way from star to
    star; ``wrapped`` readings of azimuth are written within 0 to 360. The true places and the times
    in the result are what the observer believes. Raises :class:`UserError` when a fault of time,
    site or star is asked for a plan of bare directions.
    """
    n = len(plan)
    if len(instants) != n:
        raise ValueError(f"{n} stars but {len(instants)} moments")
    aimed = _places(plan, instants, site)
    all_faults = (fault, *fault.also)
    for f in all_faults:
        if f.kind == "wrong_star":
            if f.sighting is None or f.other is None:
                raise UserError("a wrong star without its name", "sighting and other", "Give both")
            aimed[f.sighting] = _places([f.other], [instants[f.sighting]], site)[0]
    believed = _believed(fault, plan, instants, site)

    terms = np.repeat(truth[None, :], n, axis=0)
    coarse = math.prod(f.factor for f in all_faults if f.kind == "coarse_centring")
    offset = noise.centring * coarse * rng.standard_normal((n, 2))
    for f in all_faults:
        sizes = np.radians(f.sizes_deg)
        if f.kind in _TERMS_OF:
            for name, size in zip(_TERMS_OF[f.kind], sizes, strict=True):
                terms[:, INDEX[name]] += size
        elif f.kind == "slip":
            assert f.sighting is not None
            terms[f.sighting + 1 :, INDEX[f"{f.axis}_zero"]] += sizes[0]
        elif f.kind == "base_moved":
            assert f.sighting is not None
            for name, size in zip(SET_DOWN, sizes, strict=True):
                terms[f.sighting + 1 :, INDEX[name]] += size
        elif f.kind == "careless_sighting" and f.how == "hand":
            offset[f.sighting] += sizes

    readings = readings_in_turn(centred(aimed, offset), terms)
    for f in all_faults:
        if f.kind == "ticks":
            if f.axis in ("azimuth", "both"):
                readings[:, 0] *= f.factor
            if f.axis in ("altitude", "both"):
                reference = math.radians(f.reference_deg)
                readings[:, 1] = reference + f.factor * (readings[:, 1] - reference)
    readings = rounded(readings, math.sqrt(12.0) * np.array([noise.reading_az, noise.reading_alt]))
    for f in all_faults:
        if f.kind == "careless_sighting" and f.how == "misread":
            readings[f.sighting, 0 if f.axis == "azimuth" else 1] += math.radians(f.sizes_deg[0])
    degrees = np.degrees(readings)
    if wrapped:
        degrees[:, 0] = one_turn_deg(degrees[:, 0])
    names = [_name(a, k) for k, a in enumerate(plan)]
    shown = [t.plus_seconds(-_slow(fault)) for t in instants]
    return [
        Sighting(name, float(b[0]), float(b[1]), float(r[0]), float(r[1]), t)
        for name, b, r, t in zip(names, believed, degrees, shown, strict=True)
    ]


def _slow(fault: Fault) -> float:
    return sum(f.seconds for f in (fault, *fault.also) if f.kind == "clock_or_site")


def _believed(fault: Fault, plan: Sequence[Aim], instants: Sequence[Instant], site: Site) -> Array:
    """True places (n, 2), degrees, as the observer's clock and site give them."""
    shown = [t.plus_seconds(-_slow(fault)) for t in instants]
    recorded = fault.recorded_site(site)
    timed = any(f.kind == "clock_or_site" for f in (fault, *fault.also))
    if timed and any(isinstance(a, tuple) for a in plan):
        raise UserError("bare directions", "stars, for a fault of time or site", "Name the stars")
    out: Array = np.degrees(_places(plan, shown, recorded))
    return out


def _places(plan: Sequence[Aim], instants: Sequence[Instant], site: Site) -> Array:
    """Observed places (n, 2), radians."""
    out = np.empty((len(plan), 2))
    if len(plan) > 1 and all(t is instants[0] for t in instants):  # many stars at one moment
        named = [a for a in plan if not isinstance(a, tuple)]
        if len(named) == len(plan):
            stars = [find_target(a) if isinstance(a, str) else a for a in named]
            az, alt = places.observed_many(stars, [instants[0]], site, grid=True)
            return np.stack([az[0], alt[0]], axis=-1)
    for i, (aim, t) in enumerate(zip(plan, instants, strict=True)):
        if isinstance(aim, tuple):
            out[i] = np.radians(aim)
            continue
        target = find_target(aim) if isinstance(aim, str) else aim
        out[i] = np.radians(places.place_of(target, t, site))
    return out


def _name(aim: Aim, k: int) -> str:
    if isinstance(aim, Star):
        return aim.label
    return aim if isinstance(aim, str) else f"star {k + 1}"


def _pick(rng: np.random.Generator, table: Sequence[tuple[float, ...]]) -> tuple[float, ...]:
    weights = np.array([row[0] for row in table])
    return tuple(table[int(rng.choice(len(table), p=weights / weights.sum()))][1:])


def draw_kind(rng: np.random.Generator) -> str:
    """A kind of cause at its stated rate."""
    return str(rng.choice(rates.KINDS, p=np.array(list(rates.FAULT_RATES.values()))))


def draw_fault(
    kind: str,
    rng: np.random.Generator,
    plan: Sequence[Star],
    instants: Sequence[Instant],
    site: Site,
    neighbours: Sequence[Star] = (),
) -> Fault:
    """A fault of this kind with its size drawn from the stated tables.

    ``neighbours``: the stars that may be taken for a wrong one. A clock or site under which a
    sighted star would not be up (the observer would notice) is drawn again.
    """
    n = len(plan)

    def normal(sigma: float, count: int = 1) -> tuple[float, ...]:
        return tuple(float(x) for x in sigma * rng.standard_normal(count))

    if kind in ("stop_off", "cone", "squareness", "runout", "base_leaning"):
        table = {
            "stop_off": rates.STOP_DEG,
            "cone": rates.CONE_DEG,
            "squareness": rates.SQUARENESS_DEG,
            "runout": rates.RUNOUT_DEG,
            "base_leaning": rates.LEAN_DEG,
        }[kind]
        entered = sum(w for w, _ in rates.STOP_ENTERED_DEG)
        if kind == "stop_off" and rng.random() < entered:
            return Fault(kind, sizes_deg=_pick(rng, rates.STOP_ENTERED_DEG))
        (sigma,) = _pick(rng, table)
        return Fault(kind, sizes_deg=normal(sigma, len(_TERMS_OF[kind])))
    if kind == "coarse_centring":
        return Fault(kind, factor=_pick(rng, rates.COARSE_FACTOR)[0])
    if kind == "careless_sighting":
        i = int(rng.integers(n))
        u = rng.random()
        if u < rates.MISREAD_WEIGHT + rates.MISREAD_ANY_WEIGHT:
            axis = ("azimuth", "altitude")[int(rng.integers(2))]
            size = float(rng.choice(rates.MISREAD_DEG))
            if u < rates.MISREAD_ANY_WEIGHT:
                (size,) = normal(rates.MISREAD_ANY_DEG)
            return Fault(kind, i, axis, (size,), how="misread")
        return Fault(kind, i, sizes_deg=normal(_pick(rng, rates.CARELESS_DEG)[0], 2), how="hand")
    if kind == "slip":
        axis = ("azimuth", "altitude")[int(rng.integers(2))]
        return Fault(kind, int(rng.integers(n - 1)), axis, normal(_pick(rng, rates.SLIP_DEG)[0]))
    if kind == "base_moved":
        turn, lean = _pick(rng, rates.BASE_DEG)
        return Fault(kind, int(rng.integers(n - 1)), "", (*normal(turn), *normal(lean, 2)))
    if kind == "ticks":
        forms = tick_forms()
        p = np.array([f[0] for f in forms])
        _, axis, factor, reference, sigma = forms[int(rng.choice(len(forms), p=p / p.sum()))]
        if sigma:
            # True turn is (1 + error) times the reading.
            factor = 1.0 / (1.0 + float(sigma * rng.standard_normal()))
            if axis == "altitude":
                reference = rates.ALTITUDE_REFERENCES_DEG[int(rng.integers(2))]
        return Fault(kind, None, axis, factor=factor, reference_deg=reference)
    if kind == "clock_or_site":
        return _draw_clock(rng, plan, instants, site)
    if kind == "wrong_star":
        return _draw_star(rng, plan, instants, site, neighbours)
    if kind == "several":
        single = [k for k in rates.KINDS if k not in ("nothing", "coarse_centring", "several")]
        p = np.array([rates.FAULT_RATES[k] for k in single])
        two = rng.choice(single, 2, replace=False, p=p / p.sum())
        parts = [draw_fault(str(k), rng, plan, instants, site, neighbours) for k in two]
        return Fault(kind, also=tuple(parts))
    return Fault(kind)


def _draw_clock(
    rng: np.random.Generator, plan: Sequence[Star], instants: Sequence[Instant], site: Site
) -> Fault:
    shares = (
        (rates.ZONE_WEIGHT, 0.0),
        (rates.MINUTES_WEIGHT, 1.0),
        (rates.SITE_SIGN_WEIGHT, 2.0),
        (rates.SITE_FAR_WEIGHT, 3.0),
    )
    for _ in range(200):
        form = int(_pick(rng, shares)[0])
        kind = "clock_or_site"
        if form == 0:
            fault = Fault(kind, seconds=3600.0 * _pick(rng, rates.zone_errors())[0], how="zone")
        elif form == 1:
            fault = Fault(
                kind, seconds=float(60 * rates.MINUTES_SIGMA * rng.standard_normal()), how="minutes"
            )
        elif form == 2:
            names = [name for _, name in rates.SITE_MIXUPS]
            p = [w for w, _ in rates.SITE_MIXUPS]
            fault = Fault(kind, how=str(rng.choice(names, p=p)))
        else:
            lat, lon = rates.SITE_FAR_DEG * rng.standard_normal(2)
            lon /= max(0.2, math.cos(math.radians(site.lat_deg)))
            fault = Fault(kind, how="far", sizes_deg=(float(lat), float(lon)))
        if np.all(_believed(fault, plan, instants, site)[:, 1] > 0.0):
            return fault
    raise UserError("this plan", "stars that stay up", "Choose stars higher up")


def _draw_star(
    rng: np.random.Generator,
    plan: Sequence[Star],
    instants: Sequence[Instant],
    site: Site,
    neighbours: Sequence[Star],
) -> Fault:
    i = int(rng.integers(len(plan)))
    here = _places([plan[i]], [instants[i]], site)[0]
    there = _places(neighbours, [instants[i]] * len(neighbours), site)
    cos = kinematics.unit(there[:, 0], there[:, 1]) @ kinematics.unit(here[0], here[1])
    apart = np.degrees(np.arccos(np.clip(cos, -1, 1)))
    v = np.array([s.v_mag for s in neighbours])
    weight = rates.LOOK_ALIKES.weights(plan[i].v_mag, v, apart)
    weight = np.where(there[:, 1] > math.radians(3.0), weight, 0.0)
    k = int(rng.choice(len(neighbours), p=weight / weight.sum()))
    return Fault("wrong_star", i, other=neighbours[k])
