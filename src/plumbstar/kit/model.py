"""The kit: telescope, eyepieces, encoders, stop and priors, as records.

docs/kit.md describes every key; file.py reads them.
"""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from plumbstar.errors import UserError


class _Record(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Frozen, strict: a key nobody knows is an error, not a silent default."""


#: How the image in the eyepiece stands, and where the eye is put to it: eyeview/orientation.py.
View = Literal["upright", "turned", "mirrored", "mirrored_turned"]
EyepieceAt = Literal["end", "left", "right"]
Practice = Literal["new", "some", "much"]
#: Lists that a closed controller may have: catalogues by their beginnings, and the planets.
Listed = Literal["M", "NGC", "IC", "C", "planets"]
#: Filters before the eyepiece, by what they let through: the lines of oxygen and hydrogen together
#: (some 25 nm), one line of oxygen (10 nm), most of the light but the lamps' (some 90 nm).
Filter = Literal["narrow band", "line", "broadband"]


class Telescope(_Record, frozen=True):
    """The tube. ``min_alt_deg`` and ``max_alt_deg`` are where it can be pointed."""

    aperture_mm: float = 200.0
    focal_length_mm: float = 1200.0
    min_alt_deg: float = 0.0
    max_alt_deg: float = 90.0
    view: View = "turned"
    eyepiece_at: EyepieceAt = "end"

    @property
    def focal_ratio(self) -> float:
        """Focal length over aperture."""
        return self.focal_length_mm / self.aperture_mm


class Eyepiece(_Record, frozen=True, kw_only=True):
    """One eyepiece: its field from the field stop, or else from the apparent field. A file may
    leave the name out: it is then "25 mm"."""

    name: str = ""
    focal_length_mm: float
    field_stop_mm: float | None = None
    apparent_field_deg: float | None = None


class Circle(_Record, frozen=True):
    """One axis. ``ticks_per_turn`` 0 means a degree circle or gauge, read to ``read_to_deg``."""

    ticks_per_turn: int = 0
    reversed: bool = False
    read_to_deg: float = 0.1

    @property
    def resolution_deg(self) -> float:
        """Smallest step of the reading, degrees."""
        return 360.0 / self.ticks_per_turn if self.ticks_per_turn else self.read_to_deg


class Connection(_Record, frozen=True):
    """How bytes become counts. ``pushed`` streams lines by itself; otherwise ``poll`` is sent.

    ``controller``: a closed box has the encoders and shows what is left to push, no readings;
    ``otherwise`` then says how they are connected without it.
    """

    kind: Literal["typed", "serial", "tcp", "controller"] = "typed"
    otherwise: Literal["typed", "serial", "tcp"] = "typed"
    device: str = ""
    baud: int = 9600
    host: str = ""
    port: int = 0
    poll: str = ""
    pushed: bool = False
    base: Literal[10, 16] = 10
    altitude_first: bool = False
    interval_ms: int = 50

    @property
    def heard(self) -> bool:
        """Whether readings come by themselves."""
        return self.kind in ("serial", "tcp")


class Controller(_Record, frozen=True):
    """A closed controller: its list of ``stars``, the ``catalogues`` it has, whether it allows for
    the time between two stars (``clock``), the ``sign`` and the ``decimals`` of what it shows."""

    stars: tuple[str, ...] = ()
    catalogues: tuple[Listed, ...] = ("M", "NGC", "IC")
    clock: bool | Literal["unknown"] = "unknown"
    sign: Literal["measured-minus-true", "true-minus-measured", "unknown"] = "unknown"
    decimals: int = 1

    @property
    def has_clock(self) -> bool | None:
        """None: not known."""
        return None if self.clock == "unknown" else self.clock

    @property
    def sign_factor(self) -> int | None:
        """What it shows times this is measured less true; None: not known."""
        return {"measured-minus-true": 1, "true-minus-measured": -1}.get(self.sign)

    @property
    def step_deg(self) -> float:
        """One in the last figure shown."""
        return float(10.0**-self.decimals)


class Stop(_Record, frozen=True):
    """The upright stop: where it bears, and which way adding thickness tips the tube.

    ``counts_from_zero``: the board counts from zero where it was switched on, and is switched on
    with the tube on the stop. False: it keeps its place. None: nobody has said.
    """

    lever_arm_mm: float = 0.0
    adding: Literal["raises", "lowers", "unknown"] = "unknown"
    counts_from_zero: bool | None = None

    def raised_by(self, thickness_mm: float) -> float | None:
        """How far so much more thickness tips the tube up, radians: atan(t / arm); minus for down.

        None where the kit does not say the arm; where it does not say the direction, as if adding
        raised it.
        """
        if self.lever_arm_mm <= 0:
            return None
        tip = math.atan(thickness_mm / self.lever_arm_mm)
        return -tip if self.adding == "lowers" else tip


class Shim(_Record, frozen=True):
    """Shims of one thickness on hand."""

    thickness_mm: float
    count: int = 1


class PriorKeys(_Record, frozen=True):
    """What is believed before any sighting: value and 1 sigma. Scales are in percent."""

    altitude_zero_deg: float = 0.0
    altitude_zero_sigma_deg: float = 1.0
    lean_north_deg: float = 0.0
    lean_west_deg: float = 0.0
    lean_sigma_deg: float = 2.0
    squareness_deg: float = 0.0
    squareness_sigma_deg: float = 0.2
    cone_deg: float = 0.0
    cone_sigma_deg: float = 0.3
    droop_deg: float = 0.0
    droop_sigma_deg: float = 0.1
    azimuth_scale_percent: float = 0.0
    azimuth_scale_sigma_percent: float = 0.1
    altitude_scale_percent: float = 0.0
    altitude_scale_sigma_percent: float = 0.1
    runout_sin_deg: float = 0.0
    runout_cos_deg: float = 0.0
    runout_sigma_deg: float = 0.0
    refraction_deg: float = 0.0
    refraction_sigma_deg: float = 0.0


class Eye(_Record, frozen=True):
    """The observer's eye: how wide its pupil opens, and how used it is to faint things."""

    pupil_mm: float = 6.5
    practice: Practice = "some"


class Finder(_Record, frozen=True):
    """The finder beside the tube: how its image stands, the field it shows, 0 for none stated.

    ``aperture_mm`` 0: it gathers no light (a sight, or a red dot), and shows what the eye does.
    """

    view: View = "upright"
    field_deg: float = 0.0
    aperture_mm: float = 0.0
    magnification: float = 1.0


class Kit(_Record, frozen=True):
    """Everything the observer owns that the arithmetic needs to know."""

    name: str = "my telescope"
    telescope: Telescope = Telescope()
    finder: Finder = Finder()
    eyepiece: tuple[Eyepiece, ...] = ()
    azimuth: Circle = Circle()
    altitude: Circle = Circle()
    connection: Connection = Connection()
    controller: Controller = Controller()
    stop: Stop = Stop()
    shim: tuple[Shim, ...] = ()
    filters: tuple[Filter, ...] = ()
    priors: PriorKeys = PriorKeys()
    eye: Eye = Eye()
    centring_arcmin: float = 6.0
    push_seconds: float = 20.0

    @property
    def circles(self) -> tuple[Circle, Circle, bool]:
        """What makes readings of counts: both axes, and whether they count from the stop."""
        return (self.azimuth, self.altitude, bool(self.stop.counts_from_zero))

    def true_field_deg(self, eyepiece: Eyepiece) -> float:
        """Diameter of the sky seen, degrees.

        From the field stop 2 atan(d / 2F) (telescope-optics.net/eyepiece1.htm); without one, the
        apparent field over the magnification, which ignores distortion (a few per cent).
        """
        focal = self.telescope.focal_length_mm
        if eyepiece.field_stop_mm is not None:
            return math.degrees(2.0 * math.atan(eyepiece.field_stop_mm / (2.0 * focal)))
        assert eyepiece.apparent_field_deg is not None  # check() demands one of the two
        return eyepiece.apparent_field_deg * eyepiece.focal_length_mm / focal

    def magnification(self, eyepiece: Eyepiece) -> float:
        """Focal length of the telescope over that of the eyepiece."""
        return self.telescope.focal_length_mm / eyepiece.focal_length_mm

    def finder_eyepiece(self) -> Eyepiece:
        """The widest eyepiece: the one to find things with."""
        if not self.eyepiece:
            return Eyepiece(name="25 mm", focal_length_mm=25.0, apparent_field_deg=50.0)
        return max(self.eyepiece, key=self.true_field_deg)

    def eyepiece_named(self, name: str) -> Eyepiece:
        """The eyepiece of that name or focal length ("32", "32 mm"). Raises UserError."""
        wanted = name.strip().lower()
        for e in self.eyepiece:
            if wanted in (e.name.lower(), f"{e.focal_length_mm:g}", f"{e.focal_length_mm:g} mm"):
                return e
        have = ", ".join(e.name for e in self.eyepiece) or "none"
        raise UserError(f"an eyepiece '{name}'", f"one of the kit's ({have})", "Add it to the kit")
