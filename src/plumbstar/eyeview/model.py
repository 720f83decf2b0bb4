"""The picture as plain values: places in units of the field's radius, x right and y up as seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.eyeview.orientation import ViewKind
from plumbstar.sky.jovian import Hidden
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.places import Target
from plumbstar.turns import one_turn_deg

#: A direction in the picture, of length one: (right, up).
Way = tuple[float, float]


@dataclass(frozen=True, slots=True)
class EyeStar:
    """One star. ``x, y`` in field radii; ``colour`` a word, empty if not known or too faint.

    ``name`` is empty for a star without one; only a colour in a star bright enough for the eye to
    see it is said (common practice, no source: four magnitudes above the limit).
    """

    x: float
    y: float
    v_mag: float
    colour: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Outline:
    """An object's ellipse about ``x, y``: half its length and breadth, in field radii.

    ``angle_deg`` is the way its length lies in the picture, anticlockwise from the right, 0 to 180;
    nan where no angle is known, and then ``half_breadth`` equals ``half_length``.
    """

    x: float
    y: float
    half_length: float
    half_breadth: float
    angle_deg: float


@dataclass(frozen=True, slots=True)
class Disc:
    """The Moon or a planet: radius in field radii, lit part 0 to 1, and the way to the Sun.

    ``ring`` is the outer edge of Saturn's, ``ring_tilt_deg`` how far it is open (positive: its
    north side is seen), ``ring_near`` the way to the half that is nearer than the planet.
    """

    radius: float
    lit: float
    sunward: Way
    ring: Outline | None = None
    ring_tilt_deg: float = math.nan
    ring_near: Way = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class EyeMoon:
    """A moon of Jupiter at ``x, y``, field radii; ``shadow`` where its shadow lies on the disc.

    ``along`` is where it stands along the planet's equator, toward :attr:`EyeView.equator`.
    """

    name: str
    x: float
    y: float
    along: float
    v_mag: float
    hidden: Hidden
    shadow: Way | None


@dataclass(frozen=True, slots=True)
class EyePair:
    """Two stars: the brighter in the middle, the fainter at ``x, y`` in field radii.

    ``shows`` False: the fainter is beyond the telescope, and not among the stars drawn.
    """

    mag_a: float
    mag_b: float
    separation_arcsec: float
    position_angle_deg: float
    year: float
    colours: str
    x: float
    y: float
    shows: bool


@dataclass(frozen=True, slots=True)
class Motion:
    """How a comet or minor planet moves among the stars, and the way away from the Sun (None for
    a minor planet: no tail)."""

    way: Way
    arcsec_per_hour: float
    tail: Way | None


@dataclass(frozen=True, slots=True)
class EyeView:
    """What is seen. ``north``, ``east``, ``zenith`` and ``drift`` are ways in the picture.

    ``north`` and ``east`` are ICRS; ``drift`` is the way the sky moves through a telescope that
    stands still (None within an arcsecond of a pole), and ``minutes_to_edge`` how long from the
    middle. ``parallactic_deg`` is the position angle of the zenith, north through east.
    ``limit_mag`` is the faintest star drawn: the fainter of what the telescope would show is
    ``telescope_limit_mag``, and ``list_is_limit`` says that the star list ends before it does.
    ``shows`` False: it is judged unlikely to be seen, so the outline is only where it lies.
    ``pair`` where the target is a listed double; ``moves`` where it is a comet or minor planet;
    ``by_finder``: seen by eye or in the finder; ``moons`` Jupiter's, along its ``equator``.
    """

    target: Target
    utc: str
    az_deg: float
    alt_deg: float
    field_deg: float
    eyepiece: str
    magnification: float
    view: ViewKind
    stars: tuple[EyeStar, ...]
    outline: Outline | None
    disc: Disc | None
    north: Way
    east: Way
    zenith: Way
    drift: Way | None
    minutes_to_edge: float
    parallactic_deg: float
    limit_mag: float
    telescope_limit_mag: float
    list_is_limit: bool
    shows: bool = True
    pair: EyePair | None = None
    moves: Motion | None = None
    by_finder: bool = False
    moons: tuple[EyeMoon, ...] = ()
    equator: Way = (1.0, 0.0)

    @property
    def label(self) -> str:
        return self.target.label

    @property
    def kind(self) -> str:
        return self.target.kind

    @property
    def size_unknown(self) -> bool:
        """Whether an outline is wanting only because the list has no size."""
        t = self.target
        if not isinstance(t, DeepSky) or t.kind in ("place in the sky", "double star"):
            return False
        return math.isnan(t.size_arcmin)

    @property
    def mirrored(self) -> bool:
        """Whether left and right are exchanged: no turn of the head undoes that."""
        return self.north[0] * self.east[1] - self.north[1] * self.east[0] < 0.0


def clock_deg(way: Way) -> float:
    """A way as degrees clockwise from the top of the picture, 0 to 360."""
    return one_turn_deg(math.degrees(math.atan2(way[0], way[1])))
