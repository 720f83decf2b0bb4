"""Each kind of cause, written out as models of the outing.

A builder takes the outing and gives :class:`~plumbstar.diagnose.explain.model.Variant` objects
whose ``log_prior`` values sum (as probabilities) to one within the kind. Widths and rates are in
:mod:`plumbstar.diagnose.explain.rates`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from plumbstar.diagnose.explain import rates
from plumbstar.diagnose.explain.model import EXTRAS, Variant, blank_shift, with_extras
from plumbstar.diagnose.explain.stars import Heaven, mixed_up
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS, SET_DOWN
from plumbstar.solve.posterior import continuous_readings
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: A model that puts a sighted star this far below level is not considered.
_BELOW = math.radians(-1.5)


@dataclass(frozen=True)
class Outing:
    """The sightings as arrays. ``readings`` (n, 2), azimuth followed round the shorter way from
    each sighting to the next; ``true`` (n, 2); ``variance`` (n, 2) on the sky; radians."""

    sightings: tuple[Sighting, ...]
    prior: Priors
    noise: Noise
    readings: Array
    true: Array
    variance: Array
    heaven: Heaven | None
    kit: Kit | None
    read_by_eye: bool = True

    @staticmethod
    def of(
        sightings: Sequence[Sighting],
        prior: Priors,
        noise: Noise,
        heaven: Heaven | None,
        kit: Kit | None,
        grain_deg: Sequence[tuple[float, float]] | None = None,
        read_by_eye: bool = True,
    ) -> Outing:
        readings = continuous_readings(sightings)
        true = np.radians([[s.true_az_deg, s.true_alt_deg] for s in sightings])
        variance = noise.variances(true[:, 1])
        if grain_deg is not None:
            extra = (np.radians(np.asarray(grain_deg)) / math.sqrt(12.0)) ** 2
            extra[:, 0] *= np.cos(true[:, 1]) ** 2
            variance = variance + extra
        seen = tuple(sightings)
        return Outing(seen, prior, noise, readings, true, variance, heaven, kit, read_by_eye)

    @property
    def n(self) -> int:
        return len(self.sightings)

    def variant(self, kind: str, probability: float, **changes: Any) -> Variant:
        """The ordinary model with some things changed."""
        mean, sigma = with_extras(changes.pop("prior", self.prior), *changes.pop("extras", ()))
        shift = changes.pop("shift", None)
        return Variant(
            kind,
            math.log(probability),
            changes.pop("readings", self.readings),
            changes.pop("true", self.true),
            changes.pop("weight", 1.0 / self.variance),
            mean,
            sigma,
            blank_shift(self.n) if shift is None else shift,
            changes.pop("detail", {}),
        )

    def wider(self, **extra_deg: float) -> Priors:
        """The prior with some terms' sigma widened in quadrature by so many degrees."""
        sigma = self.prior.sigma.copy()
        for name, deg in extra_deg.items():
            sigma[INDEX[name]] = math.hypot(sigma[INDEX[name]], math.radians(deg))
        return Priors(self.prior.mean, sigma)


def nothing(o: Outing) -> list[Variant]:
    """The kit's priors and the stated centring."""
    return [o.variant("nothing", 1.0)]


def coarse_centring(o: Outing) -> list[Variant]:
    """Every sighting centred less well than stated, by a factor."""
    c2 = o.noise.centring**2
    return [
        o.variant(
            "coarse_centring",
            w,
            weight=1.0 / (o.variance + c2 * (f * f - 1.0)),
            detail={"factor": f},
        )
        for w, f in rates.COARSE_FACTOR
    ]


def _wide_term(kind: str, sizes: Sequence[tuple[float, float]], *terms: str) -> _Builder:
    def build(o: Outing) -> list[Variant]:
        return [
            o.variant(kind, w, prior=o.wider(**dict.fromkeys(terms, deg)), detail={"terms": terms})
            for w, deg in sizes
        ]

    return build


def stop_off(o: Outing) -> list[Variant]:
    """The altitude zero beyond the prior, or entered a quarter turn wrong."""
    out = _wide_term("stop_off", rates.STOP_DEG, "altitude_zero")(o)
    for w, deg in rates.STOP_ENTERED_DEG:
        readings = o.readings + np.array([0.0, math.radians(deg)])
        out.append(o.variant("stop_off", w, readings=readings, detail={"entered_deg": deg}))
    return out


def careless_sighting(o: Outing) -> list[Variant]:
    """One sighting not centred, or, where a person read the circles, one of its numbers misread."""
    out = []
    centring = 1.0 if o.read_by_eye else 1.0 / sum(w for w, _ in rates.CARELESS_DEG)
    for i in range(o.n):
        for w, deg in rates.CARELESS_DEG:
            weight = 1.0 / o.variance
            weight[i] = 1.0 / (o.variance[i] + math.radians(deg) ** 2)
            out.append(
                o.variant(
                    "careless_sighting",
                    centring * w / o.n,
                    weight=weight,
                    detail={"sighting": i, "how": "hand"},
                )
            )
        if not o.read_by_eye:
            continue
        for axis in (0, 1):
            weight = 1.0 / o.variance
            spread = math.radians(rates.MISREAD_ANY_DEG)
            spread *= math.cos(o.true[i, 1]) if axis == 0 else 1.0
            weight[i, axis] = 1.0 / (o.variance[i, axis] + spread**2)
            out.append(
                o.variant(
                    "careless_sighting",
                    rates.MISREAD_ANY_WEIGHT / (2 * o.n),
                    weight=weight,
                    detail={"sighting": i, "how": "number", "axis": axis},
                )
            )
        each = rates.MISREAD_WEIGHT / (o.n * 2 * len(rates.MISREAD_DEG))
        for axis, deg in itertools.product((0, 1), rates.MISREAD_DEG):
            readings = o.readings.copy()
            readings[i, axis] -= math.radians(deg)
            out.append(
                o.variant(
                    "careless_sighting",
                    each,
                    readings=readings,
                    detail={"sighting": i, "how": "misread", "axis": axis, "amount_deg": deg},
                )
            )
    return out


def several(o: Outing) -> list[Variant]:
    """None of the others: every sighting off by degrees, as if nothing could be relied on."""
    return [
        o.variant("several", w, weight=1.0 / (o.variance + math.radians(deg) ** 2))
        for w, deg in rates.SEVERAL_DEG
    ]


def slip(o: Outing) -> list[Variant]:
    """One encoder slips once, between two sightings: its zero differs from then on."""
    gaps = o.n - 1
    out = []
    for gap, axis in itertools.product(range(gaps), (0, 1)):
        shift = blank_shift(o.n)
        shift[gap + 1 :, INDEX[("azimuth_zero", "altitude_zero")[axis]], 0] = 1.0
        for w, deg in rates.SLIP_DEG:
            out.append(
                o.variant(
                    "slip",
                    w / (2 * gaps),
                    extras=(math.radians(deg),),
                    shift=shift,
                    detail={"after": gap, "axis": axis},
                )
            )
    return out


def base_moved(o: Outing) -> list[Variant]:
    """Between two sightings the base turns and leans differently from then on."""
    gaps = o.n - 1
    out = []
    for gap in range(gaps):
        shift = blank_shift(o.n)
        for k, name in enumerate(SET_DOWN):
            shift[gap + 1 :, INDEX[name], k] = 1.0
        for w, turn, lean in rates.BASE_DEG:
            out.append(
                o.variant(
                    "base_moved",
                    w / gaps,
                    extras=tuple(map(math.radians, (turn, lean, lean))),
                    shift=shift,
                    detail={"after": gap},
                )
            )
    return out


def turned(o: Outing, axis: str, factor: float, reference_deg: float) -> Array:
    """Readings (n, 2) as they would have been with the right ticks, if reading = factor x turn.

    A reading that was written down within one turn may hide whole turns; each azimuth is taken to
    be the one that agrees best with the push from the star before.
    """
    out = o.readings.copy()
    if axis in ("azimuth", "both"):
        step = half_turn(np.diff(o.true[:, 0]))
        turn = 2 * np.pi / abs(factor)
        x = out[:, 0] / factor
        for i in range(1, o.n):
            x[i] += turn * round((x[i - 1] + step[i - 1] - x[i]) / turn)
        out[:, 0] = x
    if axis in ("altitude", "both"):
        reference = math.radians(reference_deg)
        out[:, 1] = reference + (out[:, 1] - reference) / factor
    return out


def tick_forms() -> list[tuple[float, str, float, float, float]]:
    """(probability, axis, factor, reference_deg, sigma of the factor), summing to one."""
    out = []
    forms = [(w, f, 0.0) for w, f in rates.TICK_FACTORS]
    forms += [(w, 1.0, s) for w, s in rates.TICK_SCALES]
    for axis, share in rates.TICK_AXES:
        usable = [(w, f, s) for w, f, s in forms if axis != "both" or s == 0.0]
        total = sum(w for w, _, _ in usable)
        for w, factor, sigma in usable:
            many = axis != "azimuth" and sigma == 0.0
            references = rates.ALTITUDE_REFERENCES_DEG if many else (0.0,)
            for ref in references:
                out.append((share * w / total / len(references), axis, factor, ref, sigma))
    return out


def ticks(o: Outing) -> list[Variant]:
    """Wrong tick count or direction, on either circle or both."""
    out = []
    for p, axis, factor, reference, sigma in tick_forms():
        prior = o.prior
        readings = turned(o, axis, factor, reference)
        if sigma:
            spread = prior.sigma.copy()
            k = INDEX[f"{axis}_scale"]
            spread[k] = math.hypot(spread[k], sigma)
            if axis == "altitude":
                # A tube that starts upright has its scale error about 90 deg; let the zero take it.
                zero = INDEX["altitude_zero"]
                spread[zero] = math.hypot(spread[zero], sigma * math.pi / 4)
            prior = Priors(prior.mean, spread)
        out.append(
            o.variant(
                "ticks",
                p,
                prior=prior,
                readings=readings,
                detail={
                    "axis": axis,
                    "factor": factor,
                    "reference_deg": reference,
                    "fitted": bool(sigma),
                },
            )
        )
    return out


def clock_or_site(o: Outing) -> list[Variant]:
    """The true places were computed for the wrong time or place: recompute them."""
    h = o.heaven
    if h is None:
        return []
    kind = "clock_or_site"
    out = []
    zones, minutes = rates.zone_errors(), rates.minute_errors()
    seconds = np.array([3600 * x for _, x in zones] + [60 * x for _, x in minutes])
    share = [rates.ZONE_WEIGHT * w for w, _ in zones]
    share += [rates.MINUTES_WEIGHT * w for w, _ in minutes]
    for p, s, true in zip(share, seconds, h.later(seconds), strict=True):
        if np.all(true[:, 1] > _BELOW):
            how = "zone" if abs(s) >= 1800 and s % 1800 == 0 and abs(s) != 86400 else "minutes"
            how = "date" if abs(s) == 86400 else how
            out.append(o.variant(kind, p, true=true, detail={"how": how, "late_s": float(s)}))
    for w, how in rates.SITE_MIXUPS:
        site = mixed_up(h.site, how)
        true = h.elsewhere(site)
        if np.all(true[:, 1] > _BELOW):
            p = rates.SITE_SIGN_WEIGHT * w
            out.append(o.variant(kind, p, true=true, detail={"how": how, "site": site}))
    # A site some way off turns the whole sky rigidly: the same as so much lean and azimuth.
    shift = blank_shift(o.n)
    shift[:, INDEX["lean_north"], 0] = 1.0
    shift[:, INDEX["lean_west"], 1] = 1.0
    far = math.radians(rates.SITE_FAR_DEG)
    out.append(
        o.variant(
            kind, rates.SITE_FAR_WEIGHT, extras=(far, far), shift=shift, detail={"how": "far"}
        )
    )
    return out


_Builder = Callable[[Outing], list[Variant]]

#: Every kind but the wrong star, for which explain.judge searches the catalogue.
BUILDERS: dict[str, _Builder] = {
    "nothing": nothing,
    "coarse_centring": coarse_centring,
    "careless_sighting": careless_sighting,
    "stop_off": stop_off,
    "slip": slip,
    "base_moved": base_moved,
    "ticks": ticks,
    "clock_or_site": clock_or_site,
    "cone": _wide_term("cone", rates.CONE_DEG, "cone"),
    "squareness": _wide_term("squareness", rates.SQUARENESS_DEG, "squareness"),
    "runout": _wide_term("runout", rates.RUNOUT_DEG, "azimuth_runout_sin", "azimuth_runout_cos"),
    "base_leaning": _wide_term("base_leaning", rates.LEAN_DEG, "lean_north", "lean_west"),
    "several": several,
}


def over_the_top(o: Outing, v: Variant) -> float:
    """log of the price of altitude readings that no tube has, unless the kit allows them."""
    low, high = rates.TUBE_RANGE_DEG
    if o.kit is not None:
        high = max(high, o.kit.telescope.max_alt_deg + 7.0)
    alt = np.degrees(v.readings[:, 1])
    used = v.weight[:, 1] > 0
    outside = int(np.count_nonzero(((alt < low) | (alt > high)) & used))
    return math.log(rates.OVER_THE_TOP) if outside else 0.0


def left_out(o: Outing, i: int) -> Variant:
    """The ordinary model without sighting i."""
    weight = 1.0 / o.variance
    weight[i] = 0.0
    return o.variant("left_out", 1.0, weight=weight)


def wrong_star(
    o: Outing, i: int, probability: float, place: Array, detail: dict[str, Any]
) -> Variant:
    """Sighting i was really of a star at ``place`` (2,)."""
    true = o.true.copy()
    true[i] = place
    return o.variant("wrong_star", probability, true=true, detail={"sighting": i, **detail})


def predicted(o: Outing, i: int, mean: Array, covariance: Array) -> tuple[Array, Array]:
    """Azimuth and altitude (2,) of reading i, and the covariance (2, 2) of the star about it."""
    d, jac = kinematics.direction_jacobian(o.readings[i], mean[:N_TERMS])
    place = kinematics.az_alt(d)
    flat = kinematics.tangent_basis(place[0], place[1]) @ jac
    cov = flat @ covariance[:N_TERMS, :N_TERMS] @ flat.T + np.diag(o.variance[i])
    return place, cov


assert EXTRAS >= 3  # a moved base needs three
