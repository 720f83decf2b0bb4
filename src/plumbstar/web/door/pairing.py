"""The code that lets a phone in, and a brake on guessing it."""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from plumbstar.web.door.addresses import neighbourhood

#: No 0, O, 1, I, L: read off a screen in the dark. 31 ** 8 codes, about 2 ** 39.6.
ALPHABET = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
CODE_LENGTH = 8


def new_code() -> str:
    """One that nobody can guess."""
    return "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))


@dataclass
class _Guesses:
    wrong: list[float] = field(default_factory=list)
    locked_until: float = 0.0
    wait: float = 0.0


class Pairing:
    """The code, and a brake on guessing it: five wrong in a minute, then a wait that doubles.

    The brake is for each address (a /64 for IPv6), so that a guesser cannot lock the observer out,
    with a second one over all: 60 wrong in a minute, at which rate twelve hours of guessing from
    any number of addresses find a code with a chance of 5e-8.
    """

    PER_MINUTE = 5
    ALL_PER_MINUTE = 60
    MINUTE = 60.0
    FIRST_WAIT = 30.0
    LONGEST_WAIT = 3600.0

    def __init__(
        self, code: str | None = None, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        self.code = code or new_code()
        self._now = monotonic
        self._by_address: dict[str, _Guesses] = {}
        self._all: list[float] = []

    @property
    def shown(self) -> str:
        """The code as it is read out: two groups of four."""
        return f"{self.code[:4]} {self.code[4:]}"

    def wait_for(self, address: str) -> float:
        """Seconds until that address may guess again; 0 when it may now."""
        now = self._now()
        self._all = [t for t in self._all if now - t < self.MINUTE]
        full = len(self._all) >= self.ALL_PER_MINUTE
        all_wait = self.MINUTE - (now - self._all[0]) if full else 0.0
        g = self._by_address.get(neighbourhood(address))
        return max(all_wait, g.locked_until - now if g is not None else 0.0, 0.0)

    def guess(self, code: str, address: str) -> bool:
        """Whether the code is right. Call only when :meth:`wait_for` is zero."""
        given = "".join(c for c in code.upper() if c.isalnum())
        if hmac.compare_digest(given.encode(), self.code.encode()):
            self._by_address.pop(neighbourhood(address), None)
            return True
        now = self._now()
        self._all.append(now)
        if len(self._by_address) > 1000:  # many addresses: keep those that are locked out
            self._by_address = {k: g for k, g in self._by_address.items() if g.locked_until > now}
        g = self._by_address.setdefault(neighbourhood(address), _Guesses(wait=self.FIRST_WAIT))
        g.wrong = [t for t in g.wrong if now - t < self.MINUTE] + [now]
        # Once it has been locked out, every further wrong guess locks it out again, for longer.
        if len(g.wrong) >= self.PER_MINUTE or g.locked_until:
            g.locked_until = now + g.wait
            g.wait = min(2.0 * g.wait, self.LONGEST_WAIT)
        return False
