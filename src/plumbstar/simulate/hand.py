"""The pretend hand of the live demo: it does with the simulated telescope what the page asks.

It watches the same stream the phone does. When a star is asked for it turns the tube to it and
centres it, as an observer at the eyepiece would, and keeps it there while the sky turns; when a
target is set it pushes by the readings only, and centres and keeps the target if it truly landed in
the field. It never presses a button: recording, "here, centred" and "not in the field" stay with
the person at the page.
"""

from __future__ import annotations

import contextlib
import ssl
import threading
import time
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass
from http.client import HTTPResponse

import msgspec
import numpy as np

from plumbstar.contract.picture import Picture, PlannedStar
from plumbstar.contract.reading import PushLeft, ReadingRecord
from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.nameless.eligible import eligible
from plumbstar.simulate import tube
from plumbstar.simulate.tube import Ordered
from plumbstar.sky.angles import between_rad
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import half_turn_deg

#: How long the observer takes to look up from the page, and to look into the eyepiece, seconds.
LOOK_UP, LOOK_IN = 1.0, 2.0
#: How often what is in the middle is brought back there, seconds: it drifts by 2 arcmin meanwhile.
NUDGE = 8.0
#: A push is gone on with when so much of the field's radius is left to it.
PUSH_ON = 0.5
#: A bright star is taken between these heights, and so far from those taken before, degrees.
LOWEST_DEG, HIGHEST_DEG, APART_DEG = 30.0, 70.0, 40.0
#: How often the hand looks whether there is something to do, seconds.
TICK = 0.25


@dataclass(frozen=True)
class CentreWish:
    """A star to be centred; where it stood when it was asked for."""

    star: str
    az_deg: float
    alt_deg: float


@dataclass(frozen=True)
class PushWish:
    """A target to be pushed to; ``index``: the field of the search, None without one.
    ``circles_deg``: what circles that are read by eye should then show, None with encoders."""

    target: str
    az_deg: float
    alt_deg: float
    index: int | None
    field_deg: float
    circles_deg: tuple[float, float] | None = None


@dataclass(frozen=True)
class BrightWish:
    """Any bright star, the ``index``-th that has no name yet."""

    index: int


Wish = CentreWish | PushWish


def wish_of(state: Picture) -> Wish | BrightWish | None:
    """What the pages ask for now: the star picked there, one that must come before anything else,
    the target, and else the next star of the plan."""
    target, n = state.target, state.next
    if state.aimed_star == "?":
        return BrightWish(state.nameless.count if state.nameless is not None else 0)
    must = n.star if n.do == "sight" and n.settles else ""
    first = _star(state, state.aimed_star or must)
    if first is not None:
        return first
    # A target chosen before the first star cannot be pushed to yet: the stars come first.
    if target is not None and target.refused is None and target.az_reading_deg is not None:
        index = target.sweep.index if target.sweep is not None else None
        circles = None
        if state.kit.connection == "typed" and target.alt_reading_deg is not None:
            circles = (target.az_reading_deg, target.alt_reading_deg)
            if target.sweep is not None:
                circles = (target.sweep.az_reading_deg, target.sweep.alt_reading_deg)
        where = (target.az_deg, target.alt_deg)
        return PushWish(target.name, *where, index, state.kit.field_deg, circles)
    return _star(state, next((s.star for s in state.plan if not s.done), ""))


def _star(state: Picture, name: str) -> CentreWish | None:
    star: PlannedStar | None = next((s for s in state.plan if s.star == name), None)
    if star is None or star.az_deg is None or star.alt_deg is None:
        return None  # not in the plan, no site, or near the Sun
    return CentreWish(star.star, star.az_deg, star.alt_deg)


def _same(a: Wish | None, b: Wish | None) -> bool:
    """Whether they ask for one thing: places move on."""
    if isinstance(a, CentreWish) and isinstance(b, CentreWish):
        return a.star == b.star
    if isinstance(a, PushWish) and isinstance(b, PushWish):
        return (a.target, a.index) == (b.target, b.index)
    return a is b


class PretendHand(threading.Thread):
    """Runs until the server stops; survives a server or page that is not there yet.

    ``base_url`` is on this computer: its certificate, if it has one, was made here and is not
    looked at.
    """

    def __init__(
        self,
        base_url: str,
        control: tuple[str, int],
    ) -> None:
        super().__init__(daemon=True)
        self.base_url = base_url.rstrip("/")
        self.control = control
        self.push_left: PushLeft | None = None
        self._wish: Wish | None = None
        self._taken: dict[int, CentreWish] = {}  # bright stars, in place of names
        self._site: Site | None = None
        self._now: tuple[Instant, float] | None = None  # the evening's clock, when it was told
        self._trust = ssl.create_default_context()
        self._trust.check_hostname, self._trust.verify_mode = False, ssl.CERT_NONE

    def run(self) -> None:
        threading.Thread(target=self._work, daemon=True).start()
        while True:
            try:
                self._watch()
            except (OSError, ValueError):
                time.sleep(0.5)

    # ---- what is asked ---------------------------------------------------------------------

    def _watch(self) -> None:
        with self._open(urllib.request.Request(f"{self.base_url}/stream")) as stream:
            kind = ""
            for raw in stream:
                line = raw.decode().rstrip("\r\n")
                if line.startswith("event:"):
                    kind = line[6:].strip()
                elif line.startswith("data:"):
                    if kind == "state":
                        self._on_state(msgspec.json.decode(line[5:], type=Picture))
                    elif kind == "reading":
                        self.push_left = msgspec.json.decode(line[5:], type=ReadingRecord).push

    def _on_state(self, state: Picture) -> None:
        site = state.site
        if site is not None:
            self._site = Site(site.lat_deg, site.lon_deg, site.elevation_m)
        self._now = Instant.parse(state.now_utc), time.monotonic()
        wish = wish_of(state)
        self._wish = self._bright(wish.index) if isinstance(wish, BrightWish) else wish

    def _bright(self, index: int) -> CentreWish | None:
        """The brightest star well up that stands far from those taken before."""
        for later in [k for k in self._taken if k > index]:  # some were taken back
            del self._taken[later]
        if index in self._taken or self._site is None or self._now is None:
            return self._taken.get(index)
        sky = eligible([self._now[0]], self._site)
        places = sky.places[0]
        up_deg = np.degrees(places[:, 1])
        fits = sky.up[0] & (up_deg > LOWEST_DEG) & (up_deg < HIGHEST_DEG)
        there = kinematics.unit(*places.T)
        for before in self._taken.values():
            at = kinematics.unit(*np.radians([before.az_deg, before.alt_deg]))
            fits &= np.degrees(between_rad(there, at)) > APART_DEG
        if not fits.any():
            return None
        best = int(np.argmin(np.where(fits, sky.v, np.inf)))
        self._taken[index] = CentreWish(sky.names[best], *map(float, np.degrees(places[best])))
        return self._taken[index]

    # ---- what is done ----------------------------------------------------------------------

    def _work(self) -> None:
        """One thing after another; a new wish begins at once."""
        doing: Wish | None = None
        centred, when = False, 0.0
        while True:
            time.sleep(TICK)
            wish = self._wish
            # At the end of the demo the telescope goes away under the hand: no trace of that.
            with contextlib.suppress(OSError, ValueError):
                if not _same(wish, doing):
                    doing, centred = wish, False
                    when = time.monotonic() + LOOK_UP
                elif wish is None or time.monotonic() < when:
                    continue
                elif isinstance(wish, CentreWish) or centred:
                    self._centre(wish, follow=centred)
                    centred = True
                    when = time.monotonic() + NUDGE
                else:
                    if self._to_go(wish):
                        self._push(wish)
                    centred = self._in_field(wish)
                    if centred:  # at once: a tap in between would be of the field's edge
                        self._centre(wish, follow=False)
                    when = time.monotonic() + (NUDGE if centred else LOOK_IN)

    def _to_go(self, wish: PushWish) -> bool:
        left = self._left(wish)
        if left is None:
            return False
        far = np.hypot(left.az_deg * np.cos(np.radians(wish.alt_deg)), left.alt_deg)
        return bool(far > PUSH_ON * wish.field_deg / 2)

    def _left(self, wish: PushWish) -> PushLeft | None:
        """What is left to push: as the page tells, or as the circles show."""
        if wish.circles_deg is None:
            return self.push_left
        shown = self._order({"where": True}).where
        if shown is None:
            return None
        az, alt = wish.circles_deg
        left_az = half_turn_deg(az - shown.az_reading_deg)
        return PushLeft(az_deg=left_az, alt_deg=alt - shown.alt_reading_deg, seconds=0.0)

    def _push(self, wish: PushWish) -> None:
        left = self._left(wish)
        if left is not None:
            self._order({"push_az_deg": left.az_deg, "push_alt_deg": left.alt_deg, "wait": True})

    def _in_field(self, wish: PushWish) -> bool:
        where = self._order({"where": True}).where
        if where is None:
            return False
        at = kinematics.unit(*np.radians([where.true_az_deg, where.true_alt_deg]))
        goal = kinematics.unit(*np.radians(self._place(wish.target, wish)))
        return bool(np.degrees(between_rad(at, goal)) < wish.field_deg / 2)

    def _centre(self, wish: Wish, follow: bool) -> None:
        """``follow``: it was centred before, and the sky has turned: nobody centres it anew."""
        name = wish.star if isinstance(wish, CentreWish) else wish.target
        az, alt = self._place(name, wish)
        order = {"point_az_deg": az, "point_alt_deg": alt, "follow": follow, "wait": True}
        self._order(order)

    def _place(self, name: str, wish: Wish) -> tuple[float, float]:
        """Where it stands at this moment of the evening's clock, degrees."""
        if self._site is None or self._now is None:
            return wish.az_deg, wish.alt_deg
        told, when = self._now
        try:
            target = find_target(name)
        except UserError:  # an object of one's own, perhaps: as the page last told
            return wish.az_deg, wish.alt_deg
        return place_of(target, told.plus_seconds(time.monotonic() - when), self._site)

    # ---- links -----------------------------------------------------------------------------

    def _order(self, order: Mapping[str, float | bool]) -> Ordered:
        return tube.order(self.control, order, timeout_s=30.0)

    def _open(self, request: urllib.request.Request) -> HTTPResponse:
        secure = request.type == "https"
        answer: HTTPResponse = urllib.request.urlopen(
            request, timeout=30, context=self._trust if secure else None
        )
        return answer
