"""A simulated telescope with a closed controller on it: a hidden mount, a hand, two lines.

Orders go in as plain records, what can be seen comes out: the two lines of the display. Where the
tube truly points is told only to whoever asks for the truth, as a test does.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec
import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.closed import UPRIGHT_DEG, ClosedController, Favoured
from plumbstar.simulate.closed_list import STARS, known_to
from plumbstar.simulate.mounts import centred
from plumbstar.sky.angles import between_rad
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array


class Order(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One thing done at the telescope: ``name`` of the star or object, or how far it is pushed.
    ``look_for``: what the eye then looks for; left out, the object chosen.

    ``centre``: the hand centres what stands there truly. ``star``: the key that tells the
    controller so. ``zero``: pushed until both numbers are nought.
    """

    do: str
    name: str = ""
    right_deg: float = 0.0
    up_deg: float = 0.0
    look_for: str = ""


class Lines(msgspec.Struct, frozen=True):
    """The display; ``number_deg`` and ``left_*`` are what a reader takes from it, or None.
    ``eye``: what the eyepiece shows of the object chosen, in words."""

    top: str
    bottom: str
    number_deg: float | None = None
    left_az_deg: float | None = None
    left_alt_deg: float | None = None
    error: str = ""
    eye: str = ""


class Truth(msgspec.Struct, frozen=True):
    """What no observer knows: how far the tube points off the object chosen, degrees."""

    off_deg: float | None
    favoured: str
    clock: bool
    altitude_zero_deg: float


def hidden_ways(seed: int) -> tuple[Favoured, bool]:
    """How a controller shares its contradiction and whether it has a clock, drawn."""
    rng = np.random.default_rng(seed)
    ways: tuple[Favoured, ...] = ("first", "halved", "second", "between")
    return ways[int(rng.choice(4, p=(0.3, 0.3, 0.3, 0.1)))], bool(rng.integers(2))


class ClosedTelescope:
    """``terms`` (12,), radians, are hidden; ``now`` gives the moment."""

    def __init__(
        self,
        site: Site,
        now: Callable[[], Instant],
        terms: Array,
        *,
        favoured: Favoured = "halved",
        clock: bool = True,
        stars: tuple[str, ...] = STARS,
        decimals: int = 1,
        centring_arcmin: float = 3.0,
        seed: int = 1,
        field_deg: float = 1.0,
        sign: int = 1,
    ) -> None:
        self._site, self._now, self._terms = site, now, terms
        self._rng = np.random.default_rng(seed)
        self._field_deg = field_deg
        self._centring = math.radians(centring_arcmin / 60.0)
        self.box = ClosedController(
            stars, known_to(stars), favoured=favoured, clock=clock, decimals=decimals
        )
        self._reading = np.radians([0.0, 60.0])
        self._slip = np.zeros(2)
        self._object = ""
        self._look_for = ""
        self._sign = sign  # of the number it shows, times measured less true
        self._number: float | None = None

    # ---- orders ----------------------------------------------------------------------------

    def obey(self, order: Order) -> Lines:
        """Do it, and show the display. Raises :class:`UserError`."""
        acts: dict[str, Callable[[Order], None]] = {
            "upright": self._upright, "centre": self._centre, "star": self._star,
            "object": self._choose, "push": self._push, "zero": self._zero, "slip": self._slips,
            "look": lambda o: None,
        }  # fmt: skip
        if order.do not in acts:
            raise UserError(f"the order '{order.do}'", f"one of {', '.join(acts)}", "Correct it")
        acts[order.do](order)
        if order.do != "look":
            self._look_for = order.look_for
        return self.lines()

    def _upright(self, order: Order) -> None:
        self._reading[1] = math.radians(UPRIGHT_DEG)
        self._slip = np.zeros(2)
        self._object, self._number = "", None
        self.box.switch_on()

    def _centre(self, order: Order) -> None:
        place = np.radians(place_of(find_target(order.name), self._now(), self._site))
        if place[1] < 0:
            raise UserError(f"{order.name} is below the horizon", "", "Take another one")
        d = centred(place, self._centring * self._rng.standard_normal(2))
        self._reading = kinematics.reading_of(d, self._terms, self._reading[0])

    def _star(self, order: Order) -> None:
        self.box.tell(self._in_its_list(order.name), *self._circles(), self._seconds())
        self._number = self._sign * self.box.number_deg() if self.box.ready else None

    def _in_its_list(self, name: str) -> str:
        """As its list spells that star, which the hand picks out by sight."""
        if name in self.box.stars:
            return name
        try:
            key = find_target(name).key
        except UserError:
            return name
        return next((s for s in self.box.stars if find_target(s).key == key), name)

    def _choose(self, order: Order) -> None:
        if order.name not in self.box.objects:
            found = known_to([order.name])
            if not found:
                raise UserError(
                    f"The controller has no object '{order.name}'", "", "Choose one that it knows"
                )
            self.box.objects = {**self.box.objects, **found}
        self.box.left_deg(order.name, *self._circles(), self._seconds())
        self._object, self._number = order.name, None

    def _push(self, order: Order) -> None:
        self._reading = self._reading + np.radians([order.right_deg, order.up_deg])

    def _zero(self, order: Order) -> None:
        left = self._left()
        if left is None:
            raise UserError("No object is chosen on the controller", "", "Choose one there")
        # A hand stops somewhere within the last figure shown.
        last = 0.5 * 10.0**-self.box.decimals
        spread = self._rng.uniform(-last, last, 2)
        self._reading = self._reading + np.radians(np.array(left) + spread)

    def _slips(self, order: Order) -> None:
        self._slip = self._slip + np.radians([order.right_deg, order.up_deg])

    # ---- what is seen ----------------------------------------------------------------------

    def _circles(self) -> tuple[float, float]:
        """What the encoders give the controller, degrees."""
        az, alt = np.degrees(self._reading + self._slip)
        return float(az), float(alt)

    def _seconds(self) -> float:
        return self._now().to_unix()

    def _left(self) -> tuple[float, float] | None:
        if not self._object:
            return None
        return self.box.left_deg(self._object, *self._circles(), self._seconds())

    def lines(self) -> Lines:
        """The display as it is now."""
        n = self.box.decimals
        left = self._left()
        if left is not None:
            az, alt = (round(x, n) + 0.0 for x in left)
            sides = _pointer(az, ">", "<"), _pointer(alt, "^", "v")
            bottom = f"{sides[0]} {abs(az):.{n}f}  {sides[1]} {abs(alt):.{n}f}"
            return Lines(self._object, bottom, None, az, alt, eye=self._eye())
        if self._number is not None:
            return Lines("pair taken", f"differs {self._number:+.{n}f}", self._number)
        if not self.box.upright:
            return Lines("tube to stop", "then press")
        return Lines(f"star {len(self.box.taught) + 1} of 2", "centre, press")

    def _eye(self) -> str:
        """A look through the eyepiece, for who has no sky to look at."""
        what, field = self._look_for or self._object, f"{self._field_deg:.1f}° across"
        if not what:
            return ""
        off = self._off_deg(what)
        if off > self._field_deg / 2.0:
            return f"In the eyepiece ({field}): no {what}."
        return f"In the eyepiece ({field}): {what}, {off:.1f}° from the middle."

    def _off_deg(self, name: str) -> float:
        """How far the tube truly points from it."""
        place = np.radians(place_of(find_target(name), self._now(), self._site))
        tube = kinematics.direction(self._reading, self._terms)
        return math.degrees(float(between_rad(tube, kinematics.unit(*place))))

    def truth(self) -> Truth:
        """For tests and the end of the demo."""
        return Truth(
            self._off_deg(self._object) if self._object else None,
            self.box.favoured,
            self.box.clock,
            math.degrees(float(self._terms[INDEX["altitude_zero"]])),
        )


def _pointer(value: float, more: str, less: str) -> str:
    return "=" if value == 0 else more if value > 0 else less
