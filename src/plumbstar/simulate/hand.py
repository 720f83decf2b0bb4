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
from collections.abc import Callable
from typing import Any

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.sky.angles import between_rad

#: How long the observer takes to look up from the page, and to look into the eyepiece, seconds.
LOOK_UP, LOOK_IN = 1.0, 2.0


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
        self.push_left: dict[str, float] | None = None
        self.done: object = None

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
                    said = json.loads(line[5:])
                    if kind == "state":
                        self._on_state(said)
                    elif kind == "reading":
                        self.push_left = said.get("push")

    def _on_state(self, state: dict[str, Any]) -> None:
        site = state.get("site")
        if self.site_name and site and not site["name"]:
            named, self.site_name = {**site, "name": self.site_name}, ""
            keys = ("lat_deg", "lon_deg", "elevation_m", "name")
            self._do("set_site", {k: named[k] for k in keys})
        if self.skyline and not state["skyline"]["points_deg"]:
            text, self.skyline = self.skyline, ""
            self._do("set_skyline", {"text": text})
        wish = self._wish(state)
        if wish is None or wish[0] == self.done:
            return
        self.done = wish[0]
        threading.Thread(target=self._quietly, args=wish[1:], daemon=True).start()

    @staticmethod
    def _quietly(work: Callable[..., None], args: tuple[Any, ...]) -> None:
        """At the end of the demo the telescope goes away under the hand: no trace of that."""
        with contextlib.suppress(OSError, ValueError, KeyError):
            work(*args)

    def _wish(self, state: dict[str, Any]) -> tuple[object, Any, tuple[Any, ...]] | None:
        """What is asked for, as (a name for it, what to do, with what)."""
        target = state.get("target")
        # A target chosen before the first star cannot be pushed to yet: the stars come first.
        if target and not target.get("refused") and target.get("az_reading_deg") is not None:
            sweep = target.get("sweep")
            name = ("target", target["name"], sweep and sweep["index"])
            return name, self._push, (target, state["kit"]["field_deg"])
        stars = [s for s in state.get("plan", []) if not s["done"]]
        if stars:
            return ("star", stars[0]["star"]), self._centre, (stars[0], LOOK_UP)
        return None

    def _centre(self, place: dict[str, Any], pause: float) -> None:
        time.sleep(pause)
        self._order({"point_az_deg": place["az_deg"], "point_alt_deg": place["alt_deg"]})

    def _push(self, target: dict[str, Any], field_deg: float) -> None:
        time.sleep(LOOK_UP)
        left = self.push_left
        if left is None:
            return
        self._order({"push_az_deg": left["az_deg"], "push_alt_deg": left["alt_deg"], "wait": True})
        where = self._order({"where": True})["where"]
        az, alt = np.radians([where["true_az_deg"], where["true_alt_deg"]])
        goal = kinematics.unit(*np.radians([target["az_deg"], target["alt_deg"]]))
        if np.degrees(between_rad(kinematics.unit(az, alt), goal)) < field_deg / 2:
            self._centre(target, LOOK_IN)

    def _order(self, order: dict[str, Any]) -> dict[str, Any]:
        with socket.create_connection(self.control, timeout=30) as link:
            link.sendall(json.dumps(order).encode() + b"\n")
            answer: dict[str, Any] = json.loads(link.makefile().readline() or "{}")
        return answer

    def _do(self, name: str, body: dict[str, Any]) -> None:
        request = urllib.request.Request(
            f"{self.base_url}/do/{name}",
            data=json.dumps(body).encode(),
            headers={"Content-Type": "application/json", "X-Plumbstar": "1"},
        )
        with urllib.request.urlopen(request, timeout=30):
            pass
