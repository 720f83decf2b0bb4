"""Why an object is easy or hard tonight, in one or two plain sentences."""

from __future__ import annotations

import math

from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.minor import MinorBody
from plumbstar.targets import say_minor
from plumbstar.targets.looks import OWN_UNKNOWN_MAG, USUAL_BRIGHTNESS
from plumbstar.targets.model import Difficulty, Prospect, SeenPart
from plumbstar.targets.parting import DAWES
from plumbstar.targets.verdict import chance_of, difficulty_of
from plumbstar.text import words

#: A loss smaller than this is not worth a word, magnitudes.
_MATTERS_MAG = 0.4
_BODY = {
    "Moon": "Bright enough for any sky; shadows stand out along the edge of the lit part.",
    "Mercury": "Bright enough, but never far from the Sun: only in twilight, and low.",
    "Venus": "The brightest of all; its phase shows in any telescope.",
    "Mars": "A small disc; wait for moments of still air.",
    "Jupiter": "Bright; its belts and four moons show in any telescope.",
    "Saturn": "Bright; the ring shows in any telescope.",
    "Uranus": "A tiny disc among stars that are points.",
    "Neptune": "Looks like a faint star: go by the picture of the field.",
    "Pluto": "A faint star among others: only a chart or its motion tells which.",
}


def reason(p: Prospect) -> str:
    """What decides it: how far it is over what the eye needs, and what takes most of that."""
    target = p.target
    if isinstance(target, MinorBody):
        said = f"{words.upper_first(say_minor.brightness(target, p.best))}."
        return f"{said} {say_minor.age(target, p.best)}{_minor_way(target)}"
    if isinstance(target, Body):
        low = f" Only {p.alt_deg:.0f}° up, in unsteady air." if p.alt_deg < 25.0 else ""
        return _BODY.get(target.name, "") + low
    if isinstance(target, Double):
        first = _parting(target, p.difficulty, p.aperture_mm)
    elif target.kind == "cluster with nebula":
        first = _by_parts(p)
    else:
        first = _through(p.filter, _shows(p.margin_mag)) + _core_only(p)
    rest = (_taken(p.moon_loss_mag, p.air_loss_mag, p.alt_deg), _shape(p), _company(p))
    return " ".join(x for x in (first, *rest) if x)


def _minor_way(target: MinorBody) -> str:
    if target.sort == "comet":
        return ""
    return " It looks like a star: go by the picture of the field, and by its motion."


def _through(lens: str, said: str) -> str:
    """What shows behind a filter, if there is one."""
    return f"With the {lens} filter: {said[0].lower()}{said[1:]}" if lens else said


def _by_parts(p: Prospect) -> str:
    """A cluster and its nebula, each as it shows."""
    stars, glow = p.parts[SeenPart.STARS], p.glow_mag
    if math.isinf(glow):
        return f"Its stars: {_lower(_shows(stars))}"
    nebula = _through(p.filter, _NEBULA[difficulty_of(float(chance_of(glow)))])
    if math.isinf(stars):
        return f"How bright its stars are is in no list. {nebula}"
    return f"Its stars: {_lower(_shows(stars))} {nebula}"


def _lower(said: str) -> str:
    """A sentence after a colon."""
    return _STANDS_OUT_PLURAL if said == _STANDS_OUT else said[0].lower() + said[1:]


_NEBULA: dict[Difficulty, str] = {
    "easy": "The nebula about them shows, too.",
    "fair": "The nebula about them is faint.",
    "hard": "The nebula about them is a trace at best.",
    "unlikely": "The nebula about them will hardly show.",
}


def _core_only(p: Prospect) -> str:
    """A galaxy of which the outer parts are lost."""
    if (
        "galax" in p.target.kind
        and p.shows_by is SeenPart.CORE
        and p.parts[SeenPart.HALF] < 0.0 <= p.margin_mag
    ):
        return " That is its bright core; the rest fades into the sky."
    return ""


_STANDS_OUT, _STANDS_OUT_PLURAL = (
    "It stands out at first glance.",
    "they stand out at first glance.",
)


def _shows(margin_mag: float) -> str:
    times = 10.0 ** (0.4 * margin_mag)
    if times >= 20.0:
        return _STANDS_OUT
    if times >= 1.45:
        return f"About {_count(times)} what the eye needs."
    if times >= 0.85:
        return "Just what the eye needs: look a little beside it, and give it time."
    return "Less than the eye needs on most nights: try it only in still, clear air."


def _count(times: float) -> str:
    if times < 1.75:
        return "one and a half times"
    whole = round(times)
    return {2: "twice", 3: "three times", 4: "four times", 5: "five times"}.get(
        whole, f"{whole if whole < 10 else 5 * round(times / 5)} times"
    )


def _parting(d: Double, difficulty: Difficulty, aperture_mm: float) -> str:
    if d.separation_arcsec < DAWES / aperture_mm:
        return "Closer than this aperture can split."
    glare = abs(d.mag_b - d.mag_a) > 2.5
    how = {
        "easy": "Clearly two",
        "fair": "Two in still moments",
        "hard": "Only in steady air",
        "unlikely": "The air must be far steadier than usual",
    }[difficulty]
    return how + (", the fainter in the glare of the brighter." if glare else ".")


def _company(p: Prospect) -> str:
    """What stands in the same field, and is one visit with it."""
    names = [t.label.split(" (")[0] for t in p.company]
    if not names:
        return ""
    *most, last = names
    return f"In the same field: {', '.join(most)}{' and ' if most else ''}{last}."


def _taken(moon_loss: float, air_loss: float, alt_deg: float) -> str:
    if moon_loss >= max(_MATTERS_MAG, air_loss):
        return f"Moonlight takes {_part(moon_loss)} of it."
    if air_loss >= _MATTERS_MAG:
        return f"Low, at best {alt_deg:.0f}° up: the air takes {_part(air_loss)} of it."
    return ""


def _part(loss_mag: float) -> str:
    """How much of the contrast a loss takes away."""
    left = 10.0 ** (-0.4 * loss_mag)
    if left > 0.6:
        return "a third"
    if left > 0.4:
        return "half"
    if left > 0.28:
        return "two thirds"
    return "nine tenths" if left < 0.15 else "three quarters"


def _shape(p: Prospect) -> str:
    target = p.target
    if not isinstance(target, DeepSky) or isinstance(target, Double):
        return ""
    size = target.size_arcmin
    # As looks.py takes it: a nebula's B is the light of the stars in it.
    nebula = target.kind in USUAL_BRIGHTNESS
    measured = not math.isnan(target.surface_brightness) and not (
        nebula and target.surface_estimated
    )
    if math.isnan(target.v_mag) and not measured and (nebula or math.isnan(target.b_mag)):
        known_size = nebula and not math.isnan(size)
        usual = f"a usual {target.kind}" if known_size else f"magnitude {OWN_UNKNOWN_MAG:g}"
        return f"Its brightness is in no list; {usual} is assumed."
    if not math.isnan(size) and size > 0.9 * p.field_arcmin:
        return "Larger than the field: push slowly across it."
    if not math.isnan(size) and size * p.magnification < 15.0:
        return "Small: it looks almost like a star."
    if target.surface_estimated and p.margin_mag < 1.5:
        return "How its light is spread is estimated from its size."
    return ""
