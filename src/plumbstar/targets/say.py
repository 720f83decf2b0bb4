"""The night, an object and its order in words, the same for commands, pages and card."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np

from plumbstar import words
from plumbstar.sky.bodies import Body
from plumbstar.sky.constellations import CONSTELLATIONS
from plumbstar.sky.deepsky import DeepSky
from plumbstar.sky.doubles import Double
from plumbstar.sky.local_time import abbreviation, local
from plumbstar.sky.places import Target
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Difficulty

#: The word of difficulty as the start of a sentence.
DIFFICULTY: dict[Difficulty, str] = {d: d.capitalize() for d in get_args(Difficulty)}


def what(target: Target) -> str:
    """What it is: "galaxy in Ursa Major, magnitude 8.4, 27′ long"."""
    if isinstance(target, Body):
        return "the Moon" if target.name == "Moon" else target.kind
    if isinstance(target, Double):
        return f"double star, {target.summary.replace(' arcsec', '″')}"
    if not isinstance(target, DeepSky):
        return "star"
    parts = [target.kind]
    if target.constellation in CONSTELLATIONS:
        parts[0] += f" in {CONSTELLATIONS[target.constellation][0]}"
    if not math.isnan(target.v_mag):
        parts.append(f"magnitude {words.magnitude(target.v_mag)}")
    if not math.isnan(target.size_arcmin):
        parts.append(f"{size(target.size_arcmin)} long")
    return ", ".join(parts)


def size(arcmin: float) -> str:
    """ "27′", "1.4′", "40″", "3.0°"."""
    if arcmin >= 100.0:
        return f"{arcmin / 60.0:.1f}°"
    if arcmin < 1.0:
        return f"{60.0 * arcmin:.0f}″"
    return f"{arcmin:.0f}′" if arcmin >= 10.0 else f"{arcmin:.1f}′"


def zone_words(light: NightLight) -> str:
    """What the times are that the words below give: "UTC", or the site's own, as "CET"."""
    return abbreviation(light.instants[0], light.site.time_zone)


def _clock(light: NightLight, step: int) -> str:
    return local(light.instants[step], light.site.time_zone)


def moon(light: NightLight) -> str:
    """The Moon through the hours of the survey: "The Moon, 62% lit, is up from 01:25."."""
    lit = f"The Moon, {light.moon_lit:.0%} lit,"
    up = light.moon_alt > 0.0
    if not np.any(up):
        return f"{lit} stays down."
    if np.all(up):
        return f"{lit} is up all the time."
    changes = [int(k) + 1 for k in np.flatnonzero(np.diff(up.astype(int)))]
    first, *later = (_clock(light, k) for k in changes)
    if up[0]:
        again = f" and is up again from {later[0]}" if later else ""
        return f"{lit} sets at {first}{again}."
    until = f" until {later[0]}" if later else ""
    return f"{lit} is up from {first}{until}."


def darkness(light: NightLight) -> str:
    """When it is fully dark in those hours, or how dark it gets."""
    dark = light.sun_alt < math.radians(-18.0)
    if np.all(dark):
        return "Dark all the time."
    if not np.any(dark):
        lowest = -math.degrees(float(light.sun_alt.min()))
        return f"It does not get fully dark: the Sun is {lowest:.0f}° down at its lowest."
    k = np.flatnonzero(dark)
    begin, end = _clock(light, int(k[0])), _clock(light, int(k[-1]))
    if dark[0]:
        return f"Dark until {end}."
    return f"Dark from {begin}." if dark[-1] else f"Dark from {begin} to {end}."
