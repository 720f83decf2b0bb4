"""The invented evenings that the demo, the pictures and the tests share."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar import kit as kits
from plumbstar.kit import Kit
from plumbstar.simulate.mounts import terms_from_deg
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.units import Array


@dataclass(frozen=True)
class Scenario:
    """A site, an evening, a telescope, and what is secretly wrong with it. ``time_zone``: by whose
    clock the pages of its demo go."""

    site: Site
    start: Instant
    kit: Kit
    skyline: Skyline
    hidden: Array
    objects: tuple[str, ...]
    time_zone: str = ""


def thornback_ridge() -> Scenario:
    """A clear evening in late January; a roof to the north-west, a spruce to the south-east."""
    return Scenario(
        site=Site(47.2, 11.6, 940.0, temperature_c=-4.0, name="Thornback Ridge"),
        start=Instant.parse("2027-01-28T17:05:00Z"),
        kit=kits.example(),
        skyline=Skyline(
            ((0, 8), (104, 10), (110, 12), (117, 38), (124, 12), (130, 9), (290, 10), (296, 27),
             (334, 27), (340, 9))
        ),
        hidden=terms_from_deg(
            azimuth_zero=98.3, altitude_zero=0.9,
            lean_north=1.4 * math.cos(math.radians(40)), lean_west=1.4 * math.sin(math.radians(40)),
            squareness=0.15, cone=0.25, droop=0.04, azimuth_scale=0.0004, altitude_scale=-0.0003,
        ),
        objects=("M 42", "M 37", "M 31", "M 81", "NGC 2392", "M 34"),
        time_zone="Europe/Rome",
    )  # fmt: skip


def saltpan_flat() -> Scenario:
    """A southern winter evening, for tests."""
    return Scenario(
        site=Site(-31.5, 21.0, 1050.0, temperature_c=4.0, name="Saltpan Flat"),
        start=Instant.parse("2027-07-09T16:30:00Z"),
        kit=kits.example(),
        skyline=Skyline(),
        hidden=terms_from_deg(
            azimuth_zero=-41.0, altitude_zero=-1.2, lean_north=-0.6, lean_west=0.9,
            squareness=-0.2, cone=0.3, droop=0.08, azimuth_scale=-0.0005, altitude_scale=0.0006,
        ),
        objects=("NGC 5139", "M 4", "M 83", "NGC 4755", "M 6", "NGC 3372"),
        time_zone="Africa/Johannesburg",
    )  # fmt: skip
