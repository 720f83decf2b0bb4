"""In a rehearsal: what the simulated circles show where they are read by eye, and the eyepiece."""

from __future__ import annotations

import numpy as np

from plumbstar.contract.asked import CirclesAnswer
from plumbstar.encoders.typed import turned
from plumbstar.kit import Circle
from plumbstar.mount import kinematics
from plumbstar.nameless.eligible import by_night, eligible
from plumbstar.simulate.tube import TubeAt
from plumbstar.sky.angles import between_rad
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.text import words
from plumbstar.turns import one_turn_deg
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.plan import NAMELESS

#: Within so much of the field's radius, or of what a hand takes for it, a thing is in the middle.
MIDDLE = 0.3


def circles_answer(e: Evening, tube: TubeAt) -> CirclesAnswer:
    """Both circles as finely as the kit says that they are read, and what is in the field."""
    az, alt = turned(
        one_turn_deg(tube.az_reading_deg),
        tube.alt_reading_deg,
        azimuth=e.kit.azimuth.reversed,
        altitude=e.kit.altitude.reversed,
    )
    return CirclesAnswer(
        az_deg=one_turn_deg(_read(az, e.kit.azimuth)),
        alt_deg=_read(alt, e.kit.altitude),
        eye=_eye(e, tube),
    )


def _read(deg: float, circle: Circle) -> float:
    return round(round(deg / circle.resolution_deg) * circle.resolution_deg, 4)


def _eye(e: Evening, tube: TubeAt) -> str:
    """What is seen of that which is looked for, in words."""
    site, now = e.site, e.now()
    if tube.moving:
        return "The hand is pushing the tube."
    if site is None:
        return ""
    target = e.guidance.target_now(now)
    if e.plan.aimed == NAMELESS and by_night([now], site):
        sky = eligible([now], site)
        names, places = ["a bright star"] * len(sky.names), np.degrees(sky.places[0]).tolist()
        wanted = "bright star"
    else:
        names = list(e.plan.names)
        places = [place_of(find_target(n), now, site) for n in names]
        wanted = "star to sight"
        if target is not None:
            course, *place = target
            wanted = course.target.label
            names, places = [*names, wanted], [*places, place]
    if not names:
        return ""
    at = kinematics.unit(*np.radians([tube.true_az_deg, tube.true_alt_deg]))
    off_deg = np.degrees(between_rad(kinematics.unit(*np.radians(places).T), at))
    nearest, radius_deg = int(np.argmin(off_deg)), e.instrument.field_deg / 2.0
    if off_deg[nearest] > radius_deg:
        return f"In the eyepiece: no {wanted}."
    what = words.spoken(names[nearest])
    middle = off_deg[nearest] < max(MIDDLE * radius_deg, 3.0 * e.kit.centring_arcmin / 60.0)
    return f"In the eyepiece: {what}, {'in' if middle else 'off'} the middle."
