"""The pretend hand of the live demo: it does with the simulated telescope what the page asks.

It watches the same stream the phone does. When a star is asked for it turns the tube to it and
centres it, as an observer at the eyepiece would; when a target is set it pushes by the readings
only, and centres the target if it truly landed in the field. It never presses a button: recording,
"here, centred" and "not in the field" stay with the person at the page.
"""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
import urllib.request
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from plumbstar.contract.picture import Picture, PlannedStar, TargetRecord
from plumbstar.contract.reading import PushLeft, ReadingRecord
from plumbstar.mount import kinematics
from plumbstar.sky.angles import between_rad

#: How long the observer takes to look up from the page, and to look into the eyepiece, seconds.
LOOK_UP, LOOK_IN = 1.0, 2.0


class TubeAt(msgspec.Struct, frozen=True):
    """Where the simulated tube truly points, degrees."""

    true_az_deg: float
    true_alt_deg: float


class Ordered(msgspec.Struct, frozen=True):
    """What the simulated telescope answers to an order, as far as the hand asks."""

    where: TubeAt | None = None


@dataclass(frozen=True)
class CentreWish:
    """A star to be centred."""

    star: str
    az_deg: float
    alt_deg: float


@dataclass(frozen=True)
class PushWish:
    """A target to be pushed to; ``index``: the field of the search, None without one."""

    target: str
    az_deg: float
    alt_deg: float
    index: int | None
    field_deg: float


def wish_of(
    target: TargetRecord | None, plan: Sequence[PlannedStar], field_deg: float
) -> CentreWish | PushWish | None:
    """What the pages ask for now."""
    # A target chosen before the first star cannot be pushed to yet: the stars come first.
    if target is not None and target.refused is None and target.az_reading_deg is not None:
        index = target.sweep.index if target.sweep is not None else None
        return PushWish(target.name, target.az_deg, target.alt_deg, index, field_deg)
    star = next((s for s in plan if not s.done), None)
    if star is None or star.az_deg is None or star.alt_deg is None:
        return None
    return CentreWish(star.star, star.az_deg, star.alt_deg)


class PretendHand(threading.Thread):
    """Runs until the server stops; survives a server or page that is not there yet."""

    def __init__(
        self, base_url: str, control: tuple[str, int], skyline: str, site_name: str = ""
    ) -> None:
        super().__init__(daemon=True)
        self.site_name = site_name
        self.base_url = base_url.rstrip("/")
        self.control = control
        self.skyline = skyline
        self.push_left: PushLeft | None = None
        #: The last wish seen to: by name and field, for places move on; -1 is a star.
        self.done: tuple[str, int | None] | None = None

    def run(self) -> None:
        while True:
            try:
                self._watch()
            except (OSError, ValueError):
                time.sleep(0.5)

    def _watch(self) -> None:
        with urllib.request.urlopen(f"{self.base_url}/stream", timeout=30) as stream:
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
        if self.site_name and site is not None and not site.name:
            name, self.site_name = self.site_name, ""
            self._do(
                "set_site",
                {
                    "lat_deg": site.lat_deg,
                    "lon_deg": site.lon_deg,
                    "elevation_m": site.elevation_m,
                    "name": name,
                },
            )
        if self.skyline and not state.skyline.points_deg:
            text, self.skyline = self.skyline, ""
            self._do("set_skyline", {"text": text})
        wish = wish_of(state.target, state.plan, state.kit.field_deg)
        if wish is None:
            return
        key = (wish.target, wish.index) if isinstance(wish, PushWish) else (wish.star, -1)
        if key != self.done:
            self.done = key
            threading.Thread(target=self._quietly, args=(wish,), daemon=True).start()

    def _quietly(self, wish: CentreWish | PushWish) -> None:
        """At the end of the demo the telescope goes away under the hand: no trace of that."""
        with contextlib.suppress(OSError, ValueError):
            if isinstance(wish, PushWish):
                self._push(wish)
            else:
                self._centre(wish.az_deg, wish.alt_deg, LOOK_UP)

    def _centre(self, az_deg: float, alt_deg: float, pause: float) -> None:
        time.sleep(pause)
        self._order({"point_az_deg": az_deg, "point_alt_deg": alt_deg})

    def _push(self, wish: PushWish) -> None:
        time.sleep(LOOK_UP)
        left = self.push_left
        if left is None:
            return
        self._order({"push_az_deg": left.az_deg, "push_alt_deg": left.alt_deg, "wait": True})
        tube = self._order({"where": True}).where
        if tube is None:
            return
        at = kinematics.unit(*np.radians([tube.true_az_deg, tube.true_alt_deg]))
        goal = kinematics.unit(*np.radians([wish.az_deg, wish.alt_deg]))
        if np.degrees(between_rad(at, goal)) < wish.field_deg / 2:
            self._centre(wish.az_deg, wish.alt_deg, LOOK_IN)

    def _order(self, order: Mapping[str, float | bool]) -> Ordered:
        with socket.create_connection(self.control, timeout=30) as link:
            link.sendall(json.dumps(order).encode() + b"\n")
            return msgspec.json.decode(link.makefile().readline() or "{}", type=Ordered)

    def _do(self, name: str, body: Mapping[str, object]) -> None:
        request = urllib.request.Request(
            f"{self.base_url}/do/{name}",
            data=json.dumps(body).encode(),
            headers={"Content-Type": "application/json", "X-Plumbstar": "1"},
        )
        with urllib.request.urlopen(request, timeout=30):
            pass
