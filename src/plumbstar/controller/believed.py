"""What is believed of a controller, its mount and its owner's hand before an evening."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from plumbstar.controller.mistakes import USUAL_HANDS, Hands
from plumbstar.controller.outlook import USUAL_WAYS, Asked
from plumbstar.controller.showing import WAYS
from plumbstar.mount.priors import Priors

BelievedKey = tuple[
    tuple[bytes, bytes], tuple[tuple[str, float], ...], float, tuple[float, float], Hands
]


@dataclass(frozen=True, eq=False)
class Believed:
    """The mount's terms; how likely each way of sharing is, and that there is no clock; the share
    of a way in between and its sigma; and how rough the hand is. What is not said is as before the
    first evening."""

    priors: Priors
    ways: Mapping[str, float] = field(default_factory=lambda: dict(USUAL_WAYS))
    clockless: float = 0.5
    between: tuple[float, float] = WAYS["between"]
    hands: Hands = USUAL_HANDS

    @classmethod
    def of(cls, asked: Asked) -> Believed:
        """What an evening is asked with."""
        return cls(asked.priors, asked.ways, asked.clockless, asked.between, asked.hands)

    @property
    def key(self) -> BelievedKey:
        """The same for the same beliefs."""
        ways = tuple(sorted(self.ways.items()))
        return self.priors.key, ways, self.clockless, self.between, self.hands

    def before(self, asked: Asked) -> Asked:
        """That evening, asked with this."""
        return replace(
            asked, priors=self.priors, ways=self.ways, clockless=self.clockless,
            between=self.between, hands=self.hands,
        )  # fmt: skip
