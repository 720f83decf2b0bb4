"""Controllers that keep the readings to themselves and show one number: measured minus true angle.

From the two stars and the times alone: what a perfect mount would have shown (the sky's drift while
the hands were slow, on a controller without a clock; the air), which stop offset would explain the
rest, which wrong star would, and what many evenings say together.

The readings of a mount with terms T pointed at two true places give, to first order::

    shown = drift + air + sum over terms of g_t T_t + noise

The g_t follow from the Jacobian of :mod:`plumbstar.mount`. Azimuth zero and lean turn both readings
alike, so the number is blind to them; of the stop it sees::

    g = sin(a + b) (1 - cos D) / sin(angle between the stars)

for altitudes a, b and difference of azimuth D: nothing at one azimuth, two at opposite ones. This
is the derivative of the cosine rule (derived in docs/shown.md), which tests/test_shown.py compares
with the Jacobian.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from plumbstar import mount
from plumbstar.errors import UserError
from plumbstar.mount import INDEX, N_TERMS, TERMS, Array
from plumbstar.priors import Noise, Priors
from plumbstar.sky.angles import between_rad
from plumbstar.words import percent

Sign = Literal["measured-minus-true", "true-minus-measured"]
SIGNS: tuple[Sign, Sign] = ("measured-minus-true", "true-minus-measured")

#: Chance that one star of a pair is the wrong one, before the number is seen. Common practice, no
#: source: once in twenty pairs (fix.py: one sighting in thirty, of which most are wrong stars).
WRONG_STAR_PRIOR = 0.05
#: How far from the meant star, and how different in brightness, a wrong star tends to be, 1 sigma.
#: Common practice, no source.
WRONG_STAR_SIGMA = math.radians(15.0)
WRONG_STAR_MAG = 1.2
#: Chance that the right star was fumbled, or an encoder slipped between the two, and how far that
#: moves the number, 1 sigma. Common practice, no source.
FUMBLE_PRIOR = 0.04
FUMBLE_SIGMA = math.radians(3.0)
#: How well a written time is known, 1 sigma, seconds, for each star. Common practice, no source.
TIME_SIGMA_S = 5.0
#: Below this sensitivity a number says too little of the stop to act on.
BLIND = 0.3

#: Where the stop is among the terms.
STOP = INDEX["altitude_zero"]
_PLAIN = {
    "altitude_zero": "the stop",
    "squareness": "bearings out of square",
    "cone": "tube out of square (cone)",
    "droop": "droop",
    "azimuth_scale": "azimuth scale",
    "altitude_scale": "altitude scale",
    "azimuth_runout_sin": "azimuth disc off centre",
    "azimuth_runout_cos": "azimuth disc off centre",
}


@dataclass(frozen=True)
class Pair:
    """Two stars as they stood. Places are (azimuth, altitude), degrees, refraction included.

    ``a`` and ``b`` at their own times, ``b_early`` star B at the time of star A. ``catalogue_deg``
    is the angle a controller takes as true, without the air; None: as observed at one moment.
    ``upright_seconds``: from setting the stop to star A, if known.
    """

    star_a: str
    star_b: str
    a_deg: tuple[float, float]
    b_deg: tuple[float, float]
    b_early_deg: tuple[float, float]
    seconds: float = 0.0
    catalogue_deg: float | None = None
    upright_seconds: float | None = None

    @property
    def places(self) -> Array:
        """(2, 2) radians: azimuth and altitude of A and B as sighted."""
        return np.radians([self.a_deg, self.b_deg])

    @property
    def together(self) -> float:
        """Angle between the stars as observed at one moment, radians."""
        return angle(np.radians([self.a_deg, self.b_early_deg]))

    @property
    def drift(self) -> float:
        """What the sky's turn between the two moments adds to the angle on the ground, radians."""
        return angle(self.places) - self.together

    @property
    def air(self) -> float:
        """What refraction adds to the angle (it lessens it, nearly always), radians."""
        if self.catalogue_deg is None:
            return 0.0
        return self.together - math.radians(self.catalogue_deg)

    @property
    def span_s(self) -> float:
        """First to last of stop, star A and star B, seconds."""
        times = [0.0, self.seconds, -(self.upright_seconds or 0.0)]
        return max(times) - min(times)


@dataclass(frozen=True)
class Evening:
    """One number shown for one pair; degrees, the sign as the controller shows it."""

    shown_deg: float
    pair: Pair
    label: str = ""


@dataclass(frozen=True)
class Candidates:
    """Stars that may have been sighted by mistake: columns of length n.

    ``at_a_deg`` and ``at_b_deg`` (n, 2): where each stood at the two times; ``mags`` (n,).
    ``mag_a`` and ``mag_b``: brightness of the stars that were meant, nan if not known.
    """

    names: tuple[str, ...]
    mags: Array
    at_a_deg: Array
    at_b_deg: Array
    mag_a: float
    mag_b: float


def angle(places: Array) -> float:
    """Angle between two places (2, 2), azimuth and altitude, radians."""
    d = mount.unit(places[:, 0], places[:, 1])
    return float(between_rad(d[0], d[1]))


def sensitivities(places: Array) -> Array:
    """Derivative (11,) of the measured angle by each term at zero terms; ``places`` (2, 2) radians.

    With zero terms a reading is a direction, and a term that moves the tube by e moves the reading
    by -e; so the angle changes by minus the pull of both ends along the line that joins them.
    """
    # A hand turns the shorter way, so that is the turn on which a scale error acts.
    turned = places.copy()
    turned[1, 0] = places[0, 0] + math.remainder(places[1, 0] - places[0, 0], 2 * math.pi)
    d, J = mount.direction_jacobian(turned, np.zeros(N_TERMS))
    along_a = d[1] - d[0] * (d[0] @ d[1])
    along_b = d[0] - d[1] * (d[0] @ d[1])
    along_a, along_b = along_a / np.linalg.norm(along_a), along_b / np.linalg.norm(along_b)
    out: Array = along_a @ J[0] + along_b @ J[1]
    return out


def stop_for(number: float, places: Array, limit: float = math.radians(20.0)) -> float | None:
    """The altitude zero, radians, that alone would give that misclosure; None within ``limit``.

    Exact (no small angles): the misclosure is followed from zero toward the sign that helps, and
    the crossing is halved down. None for a pair that sees too little of the stop.
    """
    stars = mount.unit(places[:, 0], places[:, 1])
    wanted = number + float(between_rad(stars[0], stars[1]))

    def at(e0: Array) -> Array:
        """Measured angle less the wanted one, (m,), for altitude zeros (m,)."""
        terms = np.zeros((len(e0), 1, N_TERMS))
        terms[:, 0, STOP] = e0
        read = mount.reading_of(stars, terms)
        d = mount.unit(read[..., 0], read[..., 1])
        return np.asarray(between_rad(d[:, 0], d[:, 1])) - wanted

    f_low = float(at(np.zeros(1))[0])
    if f_low == 0.0:
        return 0.0
    side = math.copysign(1.0, -f_low)  # the angle grows with the altitude zero
    low, high = 0.0, side * limit
    # Eighty steps, then each bracket in forty: after nine rounds it is narrower than 1e-13 rad.
    for steps in (80, *(9 * [40])):
        grid = np.linspace(low, high, steps + 1)
        over = np.flatnonzero(at(grid[1:]) * f_low <= 0)
        if not len(over):
            if steps == 80:
                return None
            break
        low, high = float(grid[over[0]]), float(grid[over[0] + 1])
    return (low + high) / 2


def noise_variance(pair: Pair, noise: Noise, clockless: float = 1.0) -> float:
    """Variance of the number, radians^2: two centrings, two readings, and the written times.

    ``clockless`` 1 where drift counts in full, 0 where the controller has a clock.
    """
    places = pair.places
    d = mount.unit(places[:, 0], places[:, 1])
    basis = mount.tangent_basis(places[:, 0], places[:, 1])
    var = noise.variances(places[:, 1])
    total = 0.0
    for i in (0, 1):
        along = d[1 - i] - d[i] * (d[0] @ d[1])
        along = basis[i] @ (along / np.linalg.norm(along))
        total += float(np.sum(along**2 * var[i]))
    if pair.seconds:
        rate = pair.drift / pair.seconds
        total += clockless * 2.0 * (rate * TIME_SIGMA_S) ** 2
    return total


@dataclass(frozen=True)
class Part:
    """One share of the number: value and 1 sigma, degrees. ``known`` parts have no uncertainty."""

    what: str
    deg: float
    sigma_deg: float
    known: bool = False


@dataclass(frozen=True)
class WrongStar:
    """A star that, sighted instead of ``meant``, would have shown ``would_show_deg``."""

    meant: str
    star: str
    probability: float
    would_show_deg: float


@dataclass(frozen=True)
class Rule:
    """A rule of thumb (common practice, no source), what it says here, and whether we agree."""

    rule: str
    says: str
    agrees: bool | None
    because: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "rule": self.rule,
            "source": "common practice, no source",
            "says": self.says,
            "agrees": self.agrees,
            "because": self.because,
        }


@dataclass(frozen=True)
class Judgement:
    """What one number says. Degrees; ``misclosure_deg`` is measured minus true whatever the sign.

    ``right_stars``: probability that both stars were right and centred with ordinary care,
    ``fumbled`` that one was not centred or an encoder slipped; the rest is a wrong star.
    ``stop_deg`` and ``stop_sigma_deg``: the altitude zero given the number and the priors, if both
    stars were the right ones; ``stop_alone_deg`` the offset that would give the rest by itself.
    """

    shown_deg: float
    misclosure_deg: float
    sensitivity: float
    parts: tuple[Part, ...]
    rest_deg: float
    rest_sigma_deg: float
    stop_alone_deg: float | None
    stop_deg: float
    stop_sigma_deg: float
    stop_prior_sigma_deg: float
    right_stars: float
    fumbled: float
    wrong_stars: tuple[WrongStar, ...]
    clockless: float
    decides: bool
    sentence: str
    next_step: str
    rules: tuple[Rule, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "shown_deg": self.shown_deg,
            "misclosure_deg": self.misclosure_deg,
            "sensitivity": self.sensitivity,
            "parts": [
                {"what": p.what, "deg": p.deg, "sigma_deg": p.sigma_deg, "known": p.known}
                for p in self.parts
            ],
            "rest_deg": self.rest_deg,
            "rest_sigma_deg": self.rest_sigma_deg,
            "stop_alone_deg": self.stop_alone_deg,
            "stop_deg": self.stop_deg,
            "stop_sigma_deg": self.stop_sigma_deg,
            "stop_prior_sigma_deg": self.stop_prior_sigma_deg,
            "right_stars_probability": self.right_stars,
            "fumbled_probability": self.fumbled,
            "wrong_stars": [
                {
                    "meant": w.meant,
                    "star": w.star,
                    "probability": w.probability,
                    "would_show_deg": w.would_show_deg,
                }
                for w in self.wrong_stars
            ],
            "clockless_probability": self.clockless,
            "decides": self.decides,
            "sentence": self.sentence,
            "next_step": self.next_step,
            "rules": [r.to_dict() for r in self.rules],
        }


def seen_prior(priors: Priors) -> tuple[Array, Array]:
    """Mean and variance (11,) with what the number is blind to set to nought."""
    mean = priors.mean.copy()
    var = np.where(np.isinf(priors.sigma), 0.0, priors.sigma) ** 2
    for name in ("azimuth_zero", "lean_north", "lean_west"):
        mean[INDEX[name]] = var[INDEX[name]] = 0.0
    return mean, var


def _log_normal(x: float, var: float) -> float:
    return -0.5 * (x * x / var + math.log(2 * math.pi * var))


def signed(shown_deg: float, sign: Sign) -> float:
    """The number as measured minus true, radians. Raises UserError."""
    if sign not in SIGNS:
        raise UserError(f"the sign '{sign}'", " or ".join(SIGNS), "Use one of them")
    if not (math.isfinite(shown_deg) and abs(shown_deg) <= 180.0):
        raise UserError(
            f"the number {shown_deg:g}", "degrees from -180 to 180", "Read the display again"
        )
    return math.radians(shown_deg) * (1.0 if sign == SIGNS[0] else -1.0)


def check(pair: Pair) -> None:
    """Refuse a pair that cannot have been sighted. Raises UserError."""
    for star, (_, alt) in ((pair.star_a, pair.a_deg), (pair.star_b, pair.b_deg)):
        if alt < 0:
            raise UserError(
                f"{star} at {alt:.0f} deg: below the horizon at that time",
                "a star that was up",
                "Check the date, the zone (times are UTC), the site and the name",
            )
    apart = math.degrees(angle(pair.places))
    if not 0.5 <= apart <= 179.5:
        raise UserError(
            f"{pair.star_a} and {pair.star_b}, {apart:.1f} deg apart",
            "two stars in different places",
            "Check the two names",
        )


def judge(
    evening: Evening,
    priors: Priors,
    noise: Noise,
    *,
    clock: bool | None = None,
    sign: Sign = "measured-minus-true",
    candidates: Candidates | None = None,
    adding: str = "unknown",
) -> Judgement:
    """What one number says, and whether it says enough to act on. Raises :class:`UserError`.

    ``clock``: whether the controller allows for the sky's turn; None weighs both equally.
    Explanations compete by their probability of showing this number (MacKay 2003, ch. 28).
    """
    pair = evening.pair
    check(pair)
    number = signed(evening.shown_deg, sign)
    places = pair.places
    g = sensitivities(places)
    mean, var = seen_prior(priors)
    k = float(g[STOP])

    # Right stars, with and without a clock.
    clockless_prior = {None: 0.5, True: 0.0, False: 1.0}[clock]
    logs, rests, totals, noises = [], [], [], []
    for drifts in (1.0, 0.0):
        rest = number - drifts * pair.drift - pair.air
        noise_var = noise_variance(pair, noise, drifts)
        total = float(np.sum(g * g * var)) + noise_var
        p = clockless_prior if drifts else 1.0 - clockless_prior
        weight = math.log(p) if p > 0 else -math.inf
        logs.append(weight + _log_normal(rest - float(g @ mean), total))
        rests.append(rest)
        totals.append(total)
        noises.append(noise_var)
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    clockless = float(weights[0])
    rest = float(weights @ rests)
    noise_var = float(weights @ noises)
    total_at_best = float(weights @ totals)
    # What not knowing about the clock adds.
    spread = max(float(weights @ np.square(rests)) - rest * rest, 0.0)

    wrong = _wrong_stars(number, pair, noise, g, mean, var, candidates, clockless)
    log_right = max(logs) + math.log(float(np.sum(np.exp(np.array(logs) - max(logs)))))
    fumbled_var = total_at_best + FUMBLE_SIGMA**2
    log_all = [
        math.log(1.0 - WRONG_STAR_PRIOR - FUMBLE_PRIOR) + log_right,
        math.log(FUMBLE_PRIOR) + _log_normal(rest - float(g @ mean), fumbled_var),
    ]
    log_all += [math.log(WRONG_STAR_PRIOR) + lp for lp, _, _, _ in wrong]
    p_all = np.exp(np.array(log_all) - max(log_all))
    p_all /= p_all.sum()
    named = [
        WrongStar(meant, star, float(p), math.degrees(would) * (1 if sign == SIGNS[0] else -1))
        for p, (_, meant, star, would) in zip(p_all[2:], wrong, strict=True)
    ]
    named = sorted((w for w in named if w.probability > 0.01), key=lambda w: -w.probability)[:5]

    # The terms given the number, right stars: one line of Kalman's update, per clock hypothesis.
    total = float(np.sum(g * g * var)) + noise_var
    gain = var * g / total
    terms = mean + gain * (rest - float(g @ mean))
    terms_var = var - gain * g * var + gain**2 * spread
    parts = [
        Part(
            "the sky's drift",
            math.degrees(clockless * pair.drift),
            math.degrees(abs(pair.drift)) * math.sqrt(clockless * (1.0 - clockless)),
            min(clockless, 1.0 - clockless) < 0.005,
        ),
        Part("the air", math.degrees(pair.air), 0.0, True),
    ]
    runout = ("azimuth_runout_sin", "azimuth_runout_cos")
    for i, name in enumerate(TERMS):
        if var[i] > 0 and abs(g[i]) * math.sqrt(var[i]) > 1e-5 and name not in runout:
            share, sigma = g[i] * terms[i], abs(g[i]) * math.sqrt(max(terms_var[i], 0.0))
            parts.append(Part(_PLAIN[name], math.degrees(share), math.degrees(sigma)))
    hand = noise_var / total * (rest - float(g @ mean))
    hand_sigma = math.sqrt(noise_var * (1.0 - noise_var / total))
    parts.append(Part("centring", math.degrees(hand), math.degrees(hand_sigma)))

    stop, stop_sigma = float(terms[STOP]), math.sqrt(max(float(terms_var[STOP]), 0.0))
    prior_sigma = math.sqrt(float(var[STOP]))
    right, fumbled = float(p_all[0]), float(p_all[1])
    decides = right > 0.9 and abs(k) >= 0.5 and stop_sigma <= 0.5 * prior_sigma
    sentence, next_step = _words(
        pair,
        k,
        rest,
        math.sqrt(noise_var),
        math.sqrt(spread),
        stop,
        stop_sigma,
        right,
        fumbled,
        named,
        decides,
        prior_sigma,
    )
    shown_as_measured = math.degrees(number)
    return Judgement(
        shown_deg=evening.shown_deg,
        misclosure_deg=shown_as_measured,
        sensitivity=k,
        parts=tuple(parts),
        rest_deg=math.degrees(rest),
        rest_sigma_deg=math.degrees(math.sqrt(noise_var + spread)),
        stop_alone_deg=_degrees(stop_for(rest, places)) if abs(k) >= 0.05 else None,
        stop_deg=math.degrees(stop),
        stop_sigma_deg=math.degrees(stop_sigma),
        stop_prior_sigma_deg=math.degrees(prior_sigma),
        right_stars=right,
        fumbled=fumbled,
        wrong_stars=tuple(named),
        clockless=clockless,
        decides=decides,
        sentence=sentence,
        next_step=next_step,
        rules=rules_of_thumb([shown_as_measured], [pair], stop, stop_sigma, adding),
    )


def _degrees(x: float | None) -> float | None:
    return None if x is None else math.degrees(x)


def _wrong_stars(
    number: float,
    pair: Pair,
    noise: Noise,
    g: Array,
    mean: Array,
    var: Array,
    candidates: Candidates | None,
    clockless: float,
) -> list[tuple[float, str, str, float]]:
    """(log probability, meant, star, what it would show in radians) of every candidate mistake.

    The probabilities of the mistakes sum to one, half for each star of the pair; nearer to the
    meant star and like it in brightness is likelier. The terms of the mount act as for the pair
    meant: stars this near have much the same sensitivities.
    """
    if candidates is None or not candidates.names:
        return []
    out: list[tuple[float, str, str, float]] = []
    log_weights: list[float] = []
    true = pair.together - pair.air  # what the controller believes
    total = float(np.sum(g * g * var)) + noise_variance(pair, noise, clockless)
    slip = (1.0 - clockless) * pair.drift  # a clock takes the drift of the pair back out
    for meant, place, other, where, mag in (
        (pair.star_a, pair.a_deg, pair.b_deg, candidates.at_a_deg, candidates.mag_a),
        (pair.star_b, pair.b_deg, pair.a_deg, candidates.at_b_deg, candidates.mag_b),
    ):
        d = mount.unit(*np.radians(np.asarray(where, dtype=float)).T)
        at = mount.unit(*np.radians(np.array(place)))
        from_meant = between_rad(d, at)
        apart = between_rad(d, mount.unit(*np.radians(np.array(other))))
        for i, name in enumerate(candidates.names):
            if name in (pair.star_a, pair.star_b) or where[i][1] < 3.0:
                continue
            would = float(apart[i]) - true - slip
            fainter = 0.0 if math.isnan(mag) else float(candidates.mags[i]) - mag
            log_weights.append(
                -0.5 * (float(from_meant[i]) / WRONG_STAR_SIGMA) ** 2
                - 0.5 * (fainter / WRONG_STAR_MAG) ** 2
            )
            out.append((_log_normal(number - would - float(g @ mean), total), meant, name, would))
    if not out:
        return []
    w = np.array(log_weights)
    w -= w.max() + math.log(float(np.sum(np.exp(w - w.max()))))
    return [(lp + float(wi), m, n, x) for (lp, m, n, x), wi in zip(out, w, strict=True)]


def _words(
    pair: Pair,
    k: float,
    rest: float,
    hand: float,
    clock_spread: float,
    stop: float,
    stop_sigma: float,
    right: float,
    fumbled: float,
    wrong: Sequence[WrongStar],
    decides: bool,
    prior_sigma: float,
) -> tuple[str, str]:
    better = "Sight a pair at nearly opposite azimuths, 30 to 60 deg up"
    wrong_star = max(1.0 - right - fumbled, 0.0)
    if wrong and wrong_star > 0.5:
        w = wrong[0]
        return (
            f"A wrong star explains this best ({percent(wrong_star)}): {w.star} instead of "
            f"{w.meant} would show {w.would_show_deg:+.1f} deg ({percent(w.probability)}).",
            f"Sight {w.meant} again and read the number anew before touching the stop",
        )
    if right < 0.5:
        return (
            f"Something went wrong this evening ({percent(1 - right)}): "
            f"{math.degrees(rest):+.1f} deg is more than a stop within reason shows with this "
            "pair. A star fumbled or an encoder "
            f"slipped: {percent(fumbled)}; a wrong star: {percent(wrong_star)}.",
            "Set the stop and sight both stars again before touching anything",
        )
    if abs(k) < BLIND:
        return (
            f"One number cannot decide here: {pair.star_a} and {pair.star_b} see only {k:.2f} of "
            "the stop's offset, so this number says almost nothing about the stop.",
            better,
        )
    size = f"{math.degrees(stop):+.2f} ± {math.degrees(stop_sigma):.2f} deg"
    if clock_spread > hand and not decides:
        return (
            "One number cannot decide until it is known whether the controller has a clock: with "
            f"this pair that alone is worth {math.degrees(abs(pair.drift)):.2f} deg. As it stands, "
            f"the stop is {size}.",
            "Say --clock or --no-clock; or sight both stars within half a minute, so that it does "
            "not matter",
        )
    if abs(rest) < 2 * hand:
        return (
            f"Nothing to mend on this evidence: {math.degrees(rest):+.2f} deg is no more than "
            f"your centring leaves ({math.degrees(hand):.2f} deg, 1 sigma). The stop: {size}.",
            "Go observing; keep the number for the run of evenings",
        )
    if decides:
        return (
            f"The stop explains it: altitude zero {size}, so the tube at the stop points "
            f"{higher(stop)} than the circle says. Both stars right and well centred: "
            f"{percent(right)}.",
            "One evening is one evening: see the next number before cutting metal",
        )
    doubt = [f"a wrong or fumbled star is {percent(1 - right)} likely"] if right <= 0.9 else []
    if abs(k) < 0.5 or stop_sigma > 0.5 * prior_sigma:
        doubt.append("cone, squareness, centring and the stop all move this one number")
    return (
        f"One number cannot decide: {' and '.join(doubt)}. If the stars were right, "
        f"the stop is {size}.",
        f"{better}, or give the numbers of several evenings as a file",
    )


def higher(stop: float) -> str:
    """Where the tube really points at a stop with that altitude zero."""
    return "higher" if stop > 0 else "lower"


def rules_of_thumb(
    numbers_deg: Sequence[float],
    pairs: Sequence[Pair],
    stop: float,
    stop_sigma: float,
    adding: str = "unknown",
) -> tuple[Rule, ...]:
    """The rules that observers pass on, beside what the arithmetic says. All: common practice, no
    source (values.md, section d). ``numbers_deg`` are measured minus true; ``stop`` in radians."""
    rules = []
    span = max(p.span_s for p in pairs)
    drift = math.degrees(max((abs(p.drift) for p in pairs), default=0.0))
    says = "fine" if span <= 30 else "acceptable" if span <= 60 else "too slow"
    rules.append(
        Rule(
            "stop and both stars within a minute, better half of one",
            f"{span:.0f} s: {says}",
            (says != "too slow") == (drift < 0.25),
            f"the drift between the stars was {drift:.2f} deg"
            + ("; the wait from the stop to the first star adds none" if span > 60 else ""),
        )
    )
    worst = max(abs(x) for x in numbers_deg)
    says = "in the field" if worst <= 0.5 else "usable" if worst <= 1.0 else "not good enough"
    likely = abs(stop) + stop_sigma
    rules.append(
        Rule(
            "within half a degree objects are in the field of a 25 mm eyepiece on about 1.2 m of "
            "focal length; within one degree usable",
            f"{worst:.2f} deg: {says}",
            None if abs(_weakest(pairs)) < BLIND else (worst <= 1.0) == (likely < math.radians(1)),
            f"the stop is off by {math.degrees(stop):+.2f} ± {math.degrees(stop_sigma):.2f} deg, "
            "and the number shows from none to twice of that, as the pair stood",
        )
    )
    low, high = min(numbers_deg), max(numbers_deg)
    if low > 0 and 0.5 <= (low + high) / 2 <= 2.0:
        wanted = "add"
    elif high < 0:
        wanted = "remove"
    else:
        wanted = ""
    if wanted:
        agrees: bool | None = None
        because = "needs the direction: `plumbstar check stop-direction`"
        if adding in ("raises", "lowers"):
            if abs(stop) < 2 * stop_sigma:
                because = "the offset is not yet certain enough to say"
            else:
                ours = "add" if (stop > 0) == (adding == "lowers") else "remove"
                agrees = ours == wanted
                because = f"on this kit adding {adding} the tube, so the arithmetic says {ours}"
        rules.append(
            Rule(
                "numbers always positive, +0.5 to +2 deg: add thickness under the stop; always "
                "negative: remove some",
                f"{wanted} thickness" + ("" if len(numbers_deg) > 1 else " (on one number only)"),
                agrees,
                because,
            )
        )
    return tuple(rules)


def _weakest(pairs: Sequence[Pair]) -> float:
    return min(abs(float(sensitivities(p.places)[STOP])) for p in pairs)
