"""What was said when a push had ended, and what was so."""

from dataclasses import dataclass


@dataclass
class Claim:
    """What was said when a push had ended, and what was so."""

    target: str
    at_s: float
    stated: float
    in_field: bool  # said
    off_deg: float  # true
    field_deg: float
    warned: tuple[str, ...]
    stars: int
    faults: tuple[tuple[str, str], ...]  # (kind, by what it could be seen) struck by then

    @property
    def outside(self) -> bool:
        return self.off_deg > self.field_deg / 2

    @property
    def silent(self) -> bool:
        """Wrong, stated above 80 %, unwarned."""
        return self.in_field and self.outside and self.stated > 0.8 and not self.warned

    @property
    def far(self) -> bool:
        """So far out that no search from there would find it."""
        return self.off_deg > 2 * self.field_deg

    @property
    def seen_by(self) -> str:
        """By what the evening's faults could be seen at best: those that could not make it
        excusable."""
        ways = {w for _, w in self.faults}
        return "none" if not ways else "unseen" if "unseen" in ways else "+".join(sorted(ways))
