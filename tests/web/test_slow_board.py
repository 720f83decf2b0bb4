"""A board of one line a second whose count jumps in a push: mostly told, and else stated lower.

Three stars, then one push in which a circle jumps by 10 to 60 degrees, early or late in it. Mount,
hand and jump are those of the random evenings (tools/nights).
"""

import sys
import tempfile
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[2] / "tools"))
from nights.claim import Claim
from nights.faults import Fault
from nights.night import Night

from samples import tries

from .server_rig import asynchronous

JUMPS = ("azimuth jumps", "altitude jumps")


class SlowEvening(Night):
    """``circle`` jumps (0 azimuth, 1 altitude; None: neither), ``within`` of the push's way."""

    def __init__(self, seed: int, folder: Path, circle: int | None, within: float) -> None:
        super().__init__(seed, folder, ("slow board",))
        self.n_stars, self.n_pushes = 3, 1
        self.circle = circle
        if circle is not None:
            self.plan.faults.append(Fault(JUMPS[circle], self.n_stars, within))

    async def strike(self, f: Fault) -> None:
        f.stars_before = self.sighted
        assert self.circle is not None
        self.board.slipped[self.circle] += self.rng.choice([-1, 1]) * self.rng.uniform(10, 60)


async def claim_of(seed: int, circle: int | None, within: float) -> Claim | None:
    """What was said of that push; None where nothing up could be pushed to."""
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as d:
        evening = await SlowEvening(seed, Path(d), circle, within).run()
        return evening.claims[-1] if evening.claims else None


@pytest.mark.parametrize("circle", [0, 1])
def test_a_jump_on_a_slow_board_is_told_or_the_chance_is_stated_lower(circle):
    """Of 125 such pushes (91000 to 91023, at 0.2, 0.6 and 0.9 of the way) 4 were silent."""

    @asynchronous
    async def run():
        claims = []
        for seed in range(92000, 92000 + tries(6, 36)):
            c = await claim_of(seed, circle, (0.2, 0.6)[seed % 2])
            claims += [] if c is None else [c]
        assert len(claims) >= tries(5, 25)
        silent = [c for c in claims if c.silent]
        assert len(silent) <= max(1, 0.1 * len(claims))
        # What no line tells is reckoned with: none is stated as on a quick board.
        assert all(c.stated < 0.95 for c in silent)
        assert sum(bool(c.warned) for c in claims) >= 0.8 * len(claims)

    run()
