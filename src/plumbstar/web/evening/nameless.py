"""Bright stars that were centred and that nobody knows, kept until their readings name them.

They lie on the desk, so that neither another phone nor a restart loses one. Those from before
something moved stay there: should nothing have moved after all, they count again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

from plumbstar.errors import UserError
from plumbstar.logbook import LoggedSighting
from plumbstar.mount.priors import Priors
from plumbstar.mount.sighting import Colour, Sighting, Unnamed
from plumbstar.sky.times import Instant
from plumbstar.solve.epochs import freed
from plumbstar.web.evening.desk import DeskKeeper, NamelessPress
from plumbstar.web.evening.doubts import MOST_DROPPED
from plumbstar.web.evening.sightings import Sightings
from plumbstar.web.evening.slips import Slips

_COLOURS = {"orange": Colour.ORANGE, "white": Colour.WHITE}
#: Of the sightings that were named so many, the latest, are looked at beside the nameless ones.
_MOST_NAMED = 6


class NamelessStars:
    """Oldest first."""

    def __init__(self, keeper: DeskKeeper, sightings: Sightings, slips: Slips) -> None:
        self._keeper, self._sightings, self._slips = keeper, sightings, slips

    @property
    def cuts(self) -> int:
        """How often something moved in this outing."""
        return sum(not s.nothing_moved for s in self._slips.all)

    @property
    def waiting(self) -> tuple[NamelessPress, ...]:
        """Those that have no name yet, and since which nothing moved."""
        return tuple(p for p in self._keeper.desk.nameless if p.cuts == self.cuts)

    def known(self, press: str) -> bool:
        """Whether that press is kept here."""
        return any(p.press == press for p in self._keeper.desk.nameless)

    def keep(self, press: NamelessPress) -> None:
        """On disk when it returns."""
        self._keeper.change(nameless=(*self._keeper.desk.nameless, press))

    def drop_last(self) -> None:
        """The observer takes the last one back. Raises UserError where there is none."""
        if not self.waiting:
            raise UserError("No star waits for its name", "", "Nothing was changed")
        last = self.waiting[-1].press
        self.named([last])
        # A phone may send it again.
        self._keeper.change(dropped=(*self._keeper.desk.dropped, last)[-MOST_DROPPED:])

    def set_adrift(self) -> None:
        """The base was moved, and no sighting stands between: what waits will not be named."""
        self._keeper.change(
            nameless=tuple(msgspec.structs.replace(p, cuts=-1) for p in self._keeper.desk.nameless)
        )

    def named(self, presses: list[str]) -> None:
        """These are sightings now."""
        left = tuple(p for p in self._keeper.desk.nameless if p.press not in presses)
        self._keeper.change(nameless=left)

    def say_colour(self, press: str, colour: Literal["orange", "white"]) -> None:
        """The observer's answer. Raises UserError where that star does not wait any more."""
        if not any(p.press == press for p in self.waiting):
            raise UserError("That star has its name already", "", "Nothing was changed")
        self._keeper.change(
            nameless=tuple(
                msgspec.structs.replace(p, colour=colour) if p.press == press else p
                for p in self._keeper.desk.nameless
            )
        )

    def say_brighter(
        self, press: str, other: str, was: Literal["brighter", "fainter", "alike"]
    ) -> None:
        """How bright one was beside another. Raises UserError where one does not wait any more."""
        if not {press, other} <= {p.press for p in self.waiting} or press == other:
            raise UserError("One of the two has its name already", "", "Nothing was changed")
        self._keeper.change(
            nameless=tuple(
                msgspec.structs.replace(p, beside=(*p.beside, (other, was)))
                if p.press == press
                else p
                for p in self._keeper.desk.nameless
            )
        )

    def compared(
        self, presses: Sequence[NamelessPress | None]
    ) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
        """By their places among these: pairs of which the first was the brighter one, and those
        that nobody could tell apart."""
        place = {p.press: i for i, p in enumerate(presses) if p is not None}
        told: list[tuple[int, int]] = []
        alike: list[tuple[int, int]] = []
        for p in presses:
            for other, was in p.beside if p is not None else ():
                if p is not None and other in place:
                    pair = place[p.press], place[other]
                    (alike if was == "alike" else told).append(
                        pair[::-1] if was == "fainter" else pair
                    )
        return told, alike

    def clock_moved(self, by_s: float) -> None:
        """The evening's clock was wrong by so much when they were pressed."""
        kept = self._keeper.desk.nameless
        if kept:
            self._keeper.change(
                nameless=tuple(msgspec.structs.replace(p, unix=p.unix + by_s) for p in kept)
            )

    def entries(self) -> tuple[list[Sighting | Unnamed], list[NamelessPress | None]]:
        """What is to be named with what was named since something moved last, in the order of
        time, and beside each the press that it was."""
        since = max((s.after for s in self._slips.all if not s.nothing_moved), default=0)
        used = [s for s in self._sightings.used if s.id > since][-_MOST_NAMED:]
        rows: list[tuple[float, Sighting | Unnamed, NamelessPress | None]] = [
            (_unix(s), s.sighting, None) for s in used
        ]
        for p in self.waiting:
            az, alt = p.reading.degrees()
            at = Instant.from_unix(p.unix)
            row = Unnamed(at, az, alt, p.eyepiece, _COLOURS.get(p.colour))
            rows.append((p.unix, row, p))
        rows.sort(key=lambda row: row[0])
        return [row for _, row, _ in rows], [press for _, _, press in rows]

    def belief(self, priors: Priors) -> Priors:
        """What is known of the mount before these."""
        moved = [axis for s in self._slips.all if not s.nothing_moved for axis in s.axes]
        return freed(priors, moved, priors)


def _unix(s: LoggedSighting) -> float:
    return s.sighting.utc.to_unix() if s.sighting.utc is not None else 0.0
