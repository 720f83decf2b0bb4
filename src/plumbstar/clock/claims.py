"""What each clock known here says of the time, to be asked where that would put the Sun.

Pure: a clock is kept as UTC at the zero of the steady clock, so that what it shows now follows from
the steady clock alone, which nobody can set.
"""

from __future__ import annotations

from typing import Literal

import msgspec

Whose = Literal["evening", "computer", "before", "phone", "gps", "program", "logbook"]
"""``before``: the computer's own, as it ran on before somebody set it."""

#: So many are remembered; the one heard longest ago is forgotten first.
MOST_CLAIMS = 16
#: A clock that says the same within this has said nothing new, seconds.
SAME_S = 60.0


class ClockClaim(msgspec.Struct, frozen=True):
    """One clock. ``name`` tells phones and programs apart; ``zero``: UTC, seconds since 1970, at
    the steady clock's zero."""

    whose: Whose
    name: str
    zero: float

    @property
    def key(self) -> tuple[str, str]:
        """Which clock it is, whatever it says."""
        return (self.whose, self.name)

    def words(self) -> str:
        """Whose it is, as the pages say it."""
        return _WORDS[self.whose]


_WORDS: dict[Whose, str] = {
    "evening": "The clock in use",
    "computer": "This computer's clock",
    "before": "This computer's clock as it was before it was set",
    "phone": "A phone's clock",
    "gps": "The GPS",
    "program": "Another program's clock",
    "logbook": "The last entry in the logbook",
}


def with_claim(claims: tuple[ClockClaim, ...], new: ClockClaim) -> tuple[ClockClaim, ...]:
    """With what one clock says now in place of what it said before. The same object where that is
    nothing new."""
    for c in claims:
        if c.key == new.key and abs(c.zero - new.zero) < SAME_S:
            return claims
    return (*(c for c in claims if c.key != new.key), new)[-MOST_CLAIMS:]
