"""The Sun: what is never pointed at, and what is refused while it is up.

Guidance only: a clock or a site may be wrong, and the eye at the telescope decides.
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.units import Array, Bools

#: The tube is never guided to within this of the Sun, filter or not. Common practice, no source.
SUN_KEEP_OUT_DEG = 20.0
#: The Sun counts as up from the moment its upper edge may show: refraction 34', radius 16'.
SUN_UP_DEG = -0.9
#: Below this neither the Sun nor the sky near it is a danger, even from a hill's edge.
SUN_WELL_DOWN_DEG = -5.0


class SunRefusal(UserError):
    """Refused because of the Sun."""


def apart_deg(az_a: float, alt_a: float, az_b: float, alt_b: float) -> float:
    """Angle between two directions, degrees."""
    a = kinematics.unit(np.radians(az_a), np.radians(alt_a))
    b = kinematics.unit(np.radians(az_b), np.radians(alt_b))
    return math.degrees(math.acos(float(np.clip(a @ b, -1, 1))))


def check_sun(
    target_az_deg: float,
    target_alt_deg: float,
    sun_az_deg: float,
    sun_alt_deg: float,
    filter_confirmed: bool,
) -> None:
    """Refuse a target near the Sun, and any target by day without a filter. Raises SunRefusal.

    With a full-aperture filter confirmed the Sun itself may be the target of a filtered telescope,
    but this program does not guide to it: finding it is done by the tube's shadow.
    """
    apart = apart_deg(target_az_deg, target_alt_deg, sun_az_deg, sun_alt_deg)
    if apart < SUN_KEEP_OUT_DEG and sun_alt_deg > SUN_WELL_DOWN_DEG:
        raise SunRefusal(
            f"The target is {apart:.0f}° from the Sun, and nothing nearer than "
            f"{SUN_KEEP_OUT_DEG:.0f}° is guided to",
            "",
            "The Sun in an eyepiece blinds at once and for good. Choose another target, or wait "
            "until the Sun is well down",
        )
    if sun_alt_deg > SUN_UP_DEG and not filter_confirmed:
        raise SunRefusal(
            "The Sun is up, and no solar filter over the whole front of the tube is confirmed",
            "",
            "A sweep across the Sun blinds at once and for good. Wait for sunset, or fit the "
            "filter and confirm it",
        )


def may_be_sighted(az: Array, alt: Array, sun_az_deg: float, sun_alt_deg: float) -> Bools:
    """Which places (n,), radians, a star may be sighted at: none while the Sun is up, and none
    near it until it is well down."""
    if sun_alt_deg > SUN_UP_DEG:
        return np.zeros(len(az), dtype=np.bool_)
    if sun_alt_deg <= SUN_WELL_DOWN_DEG:
        return np.ones(len(az), dtype=np.bool_)
    sun = kinematics.unit(np.radians(sun_az_deg), np.radians(sun_alt_deg))
    far: Bools = kinematics.unit(az, alt) @ sun < math.cos(math.radians(SUN_KEEP_OUT_DEG))
    return far
