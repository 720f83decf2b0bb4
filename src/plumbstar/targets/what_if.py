"""The night as it would be under another sky, behind other air, with one eyepiece, or with clouds
in one quarter: judged anew while the observer moves a slider.

What does not hang on that is kept (the night's light and bodies), and only a short list is judged:
the most rewarding of what the darkest sky would show, first of what stands well in those hours. A
brighter sky shows less of the same, and nothing that it would not, so the evening's order is made
of these. Each is judged as :func:`~plumbstar.targets.tonight.survey` does it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import msgspec

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.order import within
from plumbstar.targets.tonight import LEAST_CHANCE, Survey, judged
from plumbstar.turns import one_turn_deg

Quarter = Literal["north", "east", "south", "west"]
QUARTERS: tuple[Quarter, ...] = get_args(Quarter)
#: The darkest sky there is, V magnitudes a square arcsecond. Common practice, no source.
DARKEST_MAG = 22.0
#: So many objects are judged while something is moved: an evening has room for a tenth of them.
SHORT = 300
#: A cloud's edge, degrees of azimuth.
_EDGE_DEG = 0.01


@dataclass(frozen=True, slots=True)
class Supposed:
    """What is supposed in place of what is: None and empty for what stays."""

    zenith_mag: float | None = None
    seeing_arcsec: float | None = None
    cloudy: Quarter | None = None
    eyepiece: str = ""

    def sky(self, sky: Conditions) -> Conditions:
        """The sky that it makes of this one."""
        return replace(
            sky,
            zenith_mag=self.zenith_mag or sky.zenith_mag,
            seeing_arcsec=self.seeing_arcsec or sky.seeing_arcsec,
        )

    def kit(self, kit: Kit) -> Kit:
        """The kit, with that eyepiece alone. Raises UserError if it has none of that name."""
        if not self.eyepiece:
            return kit
        return msgspec.structs.replace(kit, eyepiece=(kit.eyepiece_named(self.eyepiece),))

    def skyline(self, skyline: Skyline) -> Skyline:
        """The skyline, closed to the zenith in that quarter."""
        return under_cloud(skyline, self.cloudy) if self.cloudy else skyline


def quarter_named(text: str) -> Quarter:
    """Read a quarter's name. Raises :class:`UserError`."""
    for quarter in QUARTERS:
        if quarter == text:
            return quarter
    raise UserError(f"the quarter '{text[:20]}'", "north, east, south or west", "Choose one")


def under_cloud(skyline: Skyline, quarter: Quarter) -> Skyline:
    """A skyline that lets nothing through for 45 degrees to both sides of that direction."""
    middle = 90.0 * QUARTERS.index(quarter)
    first, last = one_turn_deg(middle - 45.0), one_turn_deg(middle + 45.0)
    edges = (one_turn_deg(first - _EDGE_DEG), one_turn_deg(last + _EDGE_DEG))
    open_ = [(az, float(skyline.altitude_deg(az))) for az in edges]
    kept = [(az, alt) for az, alt in skyline.points if one_turn_deg(az - first) > 90.0 + _EDGE_DEG]
    closed = [(one_turn_deg(first + d), 90.0) for d in (0.0, 45.0, 90.0)]
    return Skyline(tuple(sorted({*kept, *open_, *closed})))


@dataclass(frozen=True)
class Shortlist:
    """What is judged anew, and the light of its night."""

    light: NightLight
    objects: DeepSkyList
    doubles: tuple[Double, ...]
    bodies: tuple[Body, ...]
    own: DeepSkyList

    @staticmethod
    def of(
        light: NightLight,
        wanted: Sequence[Prospect],
        hours: tuple[Instant, Instant],
        own: frozenset[str] = frozenset(),
    ) -> Shortlist:
        """From prospects under the darkest sky, the most rewarding first. ``own``: keys of the
        observer's objects, which are judged by other rules where their brightness is not known."""
        by_hours = sorted(wanted, key=lambda p: not within(p, *hours))
        targets = [p.target for p in by_hours[:SHORT]]
        deep = [t for t in targets if isinstance(t, DeepSky) and not isinstance(t, Double)]
        return Shortlist(
            light,
            DeepSkyList.of(t for t in deep if t.key not in own),
            tuple(t for t in targets if isinstance(t, Double)),
            tuple(t for t in targets if isinstance(t, Body)),
            DeepSkyList.of(t for t in deep if t.key in own),
        )

    def judged(self, what: Supposed, kit: Kit, sky: Conditions, skyline: Skyline) -> Survey:
        """All of them through the night as it is supposed to be."""
        there = what.sky(sky)
        return judged(
            self.light.under(there.zenith_mag), self.objects, self.doubles, what.kit(kit), there,
            what.skyline(skyline), self.own, LEAST_CHANCE, self.bodies,
        )  # fmt: skip
