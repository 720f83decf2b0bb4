"""The night, an object and its order in words, the same for commands, pages and card."""

from __future__ import annotations

import math

import numpy as np

from plumbstar import words
from plumbstar.sky.bodies import Body
from plumbstar.sky.constellations import CONSTELLATIONS
from plumbstar.sky.deepsky import DeepSky
from plumbstar.sky.doubles import Double
from plumbstar.sky.places import Target
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Difficulty

#: The word of difficulty as the start of a sentence.
DIFFICULTY: dict[Difficulty, str] = {
    "easy": "Easy",
    "fair": "Fair",
    "hard": "Hard",
    "unlikely": "Unlikely",
}


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


def moon(light: NightLight) -> str:
    """The Moon through the hours of the survey: "The Moon, 62% lit, is up from 01:25 UTC."."""
    lit = f"The Moon, {light.moon_lit:.0%} lit,"
    up = light.moon_alt > 0.0
    if not np.any(up):
        return f"{lit} stays down."
    if np.all(up):
        return f"{lit} is up all the time."
    changes = np.flatnonzero(np.diff(up.astype(int)))
    first = light.instants[int(changes[0]) + 1].iso()[11:16]
    if up[0]:
        again = f" and is up again from {light.instants[int(changes[1]) + 1].iso()[11:16]}" if (
            len(changes) > 1
        ) else ""  # fmt: skip
        return f"{lit} sets at {first}{again} UTC."
    until = f" until {light.instants[int(changes[1]) + 1].iso()[11:16]}" if len(changes) > 1 else ""
    return f"{lit} is up from {first}{until} UTC."


def darkness(light: NightLight) -> str:
    """When it is fully dark in those hours, or how dark it gets."""
    dark = light.sun_alt < math.radians(-18.0)
    if np.all(dark):
        return "Dark all the time."
    if not np.any(dark):
        lowest = -math.degrees(float(light.sun_alt.min()))
        return f"It does not get fully dark: the Sun is {lowest:.0f}° down at its lowest."
    k = np.flatnonzero(dark)
    begin, end = light.instants[int(k[0])].iso()[11:16], light.instants[int(k[-1])].iso()[11:16]
    if dark[0]:
        return f"Dark until {end} UTC."
    return f"Dark from {begin} UTC." if dark[-1] else f"Dark from {begin} to {end} UTC."
