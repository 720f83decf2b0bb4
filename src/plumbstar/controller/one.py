"""What one number says: which share of it each cause has, and whether it says enough to act on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.controller.pair import (
    BLIND,
    SIGNS,
    STOP,
    Pair,
    ShownNumber,
    Sign,
    check,
    noise_variance,
    seen_prior,
    sensitivities,
    signed,
    stop_for,
)
from plumbstar.controller.rules import Beheld, Rule, rules_of_thumb
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import TERMS
from plumbstar.sky.angles import between_rad
from plumbstar.units import Array

#: Chance that one star of a pair is the wrong one, before the number is seen. Common practice, no
#: source: once in twenty pairs (suspects.py: one sighting in thirty, mostly of a wrong star).
WRONG_STAR_PRIOR = 0.05
#: How far from the meant star, and how different in brightness, a wrong star tends to be, 1 sigma.
#: Common practice, no source.
WRONG_STAR_SIGMA = math.radians(15.0)
WRONG_STAR_MAG = 1.2
#: Chance that the right star was fumbled, or an encoder slipped between the two, and how far that
#: moves the number, 1 sigma. Common practice, no source.
FUMBLE_PRIOR = 0.04
FUMBLE_SIGMA = math.radians(3.0)


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


@dataclass(frozen=True)
class Part:
    """One share of the number: value and 1 sigma, degrees. ``known`` parts have no uncertainty.

    ``key``: a term of the mount, or "drift" of the sky, "air", "centring".
    """

    key: str
    deg: float
    sigma_deg: float
    known: bool = False


@dataclass(frozen=True)
class MistakenStar:
    """A star that, sighted instead of ``meant``, would have shown ``would_show_deg``."""

    meant: str
    star: str
    probability: float
    would_show_deg: float


class NumberFinding(Enum):
    """What one number comes to."""

    WRONG_STAR = auto()
    SOMETHING_WRONG = auto()
    BLIND = auto()
    CLOCK_UNKNOWN = auto()
    NOTHING = auto()
    STOP = auto()
    UNDECIDED = auto()


@dataclass(frozen=True)
class Judgement:
    """What one number says. Degrees; ``misclosure_deg`` is measured minus true whatever the sign.

    ``right_stars``: probability that both stars were right and centred with ordinary care,
    ``fumbled`` that one was not centred or an encoder slipped; the rest is a wrong star.
    ``stop_deg`` and ``stop_sigma_deg``: the altitude zero given the number and the priors, if both
    stars were the right ones; ``stop_alone_deg`` the offset that would give the rest by itself.
    ``finding``: what it comes to (:mod:`.say` has the words); ``centring_sigma_deg``: what the
    hands leave in the number.
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
    wrong_stars: tuple[MistakenStar, ...]
    clockless: float
    decides: bool
    finding: NumberFinding
    centring_sigma_deg: float
    pair: Pair
    rules: tuple[Rule, ...]


def _log_normal(x: float, var: float) -> float:
    return -0.5 * (x * x / var + math.log(2 * math.pi * var))


def judge(
    evening: ShownNumber,
    priors: Priors,
    noise: Noise,
    *,
    clock: bool | None = None,
    sign: Sign = "measured-minus-true",
    candidates: Candidates | None = None,
    adding: str = "unknown",
    field_deg: float = 1.0,
) -> Judgement:
    """What one number says, and whether it says enough to act on. Raises :class:`UserError`.

    ``clock``: whether the controller allows for the sky's turn; None weighs both equally.
    ``field_deg``: of the eyepiece that objects are found with.
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
        MistakenStar(meant, star, float(p), math.degrees(would) * (1 if sign == SIGNS[0] else -1))
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
            "drift",
            math.degrees(clockless * pair.drift),
            math.degrees(abs(pair.drift)) * math.sqrt(clockless * (1.0 - clockless)),
            min(clockless, 1.0 - clockless) < 0.005,
        ),
        Part("air", math.degrees(pair.air), 0.0, True),
    ]
    runout = ("azimuth_runout_sin", "azimuth_runout_cos")
    for i, name in enumerate(TERMS):
        if var[i] > 0 and abs(g[i]) * math.sqrt(var[i]) > 1e-5 and name not in runout:
            share, sigma = g[i] * terms[i], abs(g[i]) * math.sqrt(max(terms_var[i], 0.0))
            parts.append(Part(name, math.degrees(share), math.degrees(sigma)))
    hand = noise_var / total * (rest - float(g @ mean))
    hand_sigma = math.sqrt(noise_var * (1.0 - noise_var / total))
    parts.append(Part("centring", math.degrees(hand), math.degrees(hand_sigma)))

    stop, stop_sigma = float(terms[STOP]), math.sqrt(max(float(terms_var[STOP]), 0.0))
    prior_sigma = math.sqrt(float(var[STOP]))
    right, fumbled = float(p_all[0]), float(p_all[1])
    decides = right > 0.9 and abs(k) >= 0.5 and stop_sigma <= 0.5 * prior_sigma
    finding = _finding(
        k=k,
        rest=rest,
        hand=math.sqrt(noise_var),
        clock_spread=math.sqrt(spread),
        right=right,
        wrong_star=max(1.0 - right - fumbled, 0.0) if named else 0.0,
        decides=decides,
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
        finding=finding,
        centring_sigma_deg=math.degrees(math.sqrt(noise_var)),
        pair=pair,
        rules=rules_of_thumb(
            [shown_as_measured], [pair], stop, stop_sigma, Beheld(priors, noise, field_deg), adding
        ),
    )


def _finding(
    *,
    k: float,
    rest: float,
    hand: float,
    clock_spread: float,
    right: float,
    wrong_star: float,
    decides: bool,
) -> NumberFinding:
    """Which of the findings it is; angles in radians."""
    if wrong_star > 0.5:
        return NumberFinding.WRONG_STAR
    if right < 0.5:
        return NumberFinding.SOMETHING_WRONG
    if abs(k) < BLIND:
        return NumberFinding.BLIND
    if clock_spread > hand and not decides:
        return NumberFinding.CLOCK_UNKNOWN
    if abs(rest) < 2 * hand:
        return NumberFinding.NOTHING
    return NumberFinding.STOP if decides else NumberFinding.UNDECIDED


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
        d = kinematics.unit(*np.radians(np.asarray(where, dtype=float)).T)
        at = kinematics.unit(*np.radians(np.array(place)))
        from_meant = between_rad(d, at)
        apart = between_rad(d, kinematics.unit(*np.radians(np.array(other))))
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
