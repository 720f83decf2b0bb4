"""Presses that cannot be what they say: held with their moment until the observer has answered.

They lie on the desk, so that neither another phone nor a restart loses one or asks twice.
"""

from __future__ import annotations

import msgspec

from plumbstar.errors import UserError
from plumbstar.web.evening.desk import DeskKeeper, DoubtedPress
from plumbstar.web.evening.sighted import Sighted

#: Answers "no" that are remembered, since a phone may send a press again.
MOST_DROPPED = 50


class Doubts:
    """Oldest first; the first is the question that is asked."""

    def __init__(self, keeper: DeskKeeper) -> None:
        self._keeper = keeper

    @property
    def open(self) -> tuple[DoubtedPress, ...]:
        """Those not answered yet."""
        return self._keeper.desk.doubted

    def known(self, press: str) -> bool:
        """Whether that press is asked about, or was dropped."""
        return press in self._keeper.desk.dropped or any(d.press == press for d in self.open)

    def as_before(self, press: str) -> Sighted:
        """What is answered to a known press that comes again."""
        return Sighted(None, True, None, asked=any(d.press == press for d in self.open))

    def hold(self, doubted: DoubtedPress) -> None:
        """Ask about it; about one that was asked about before with what is known now."""
        others = tuple(d for d in self.open if d.press != doubted.press)
        self._keeper.change(doubted=(*others, doubted))

    def need(self, press: str) -> DoubtedPress:
        """The one asked about. Raises UserError if it was answered already."""
        for d in self.open:
            if d.press == press:
                return d
        raise UserError(
            "This question was answered already, here or on another phone",
            "",
            "The log shows what was saved",
        )

    def answered(self, press: str, saved: bool) -> None:
        """It is saved, or it is dropped."""
        dropped = self._keeper.desk.dropped
        self._keeper.change(
            doubted=tuple(d for d in self.open if d.press != press),
            dropped=dropped if saved else (*dropped, press)[-MOST_DROPPED:],
        )

    def clock_moved(self, by_s: float) -> None:
        """The evening's clock was wrong by so much when they were pressed."""
        if self.open:
            moved = tuple(msgspec.structs.replace(d, unix=d.unix + by_s) for d in self.open)
            self._keeper.change(doubted=moved)

    def refuse_to_end(self) -> None:
        """An outing does not end over an open question. Raises UserError."""
        if self.open:
            raise UserError(
                f"{self.open[0].star} is still asked about",
                "",
                "Answer the question at the top of the page, then end the outing",
            )
