"""What a lean of the base costs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.choose.forecast import Belief
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.checks.check import Check, Input, told
from plumbstar.diagnose.checks.verdict import Number, State, Values, Verdict, chance_of
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.text import words
from plumbstar.text.advice import CHECK_TITLES


@dataclass(frozen=True)
class Lean:
    """What a lean costs: hit chances as the base stands and dead level.

    ``least_deg``: a lean that a rise read to a millimetre would not show. ``unforeseen``: more
    than the kit's prior expects, and more than the forecast is good for.
    """

    lean_deg: float
    two_stars: float
    two_stars_level: float
    one_star: float
    one_star_level: float
    unforeseen: bool
    least_deg: float

    @property
    def state(self) -> State:
        # From two in a hundred on it is worth a walk round the base: common practice, no source.
        costly = self.two_stars_level - self.two_stars > 0.02
        return "mend" if self.unforeseen or costly else "good"


def measure(v: Values, kit: Kit) -> Lean:
    """What this lean of the base costs: hit chance with the base as it is and dead level."""
    lean = math.atan2(abs(float(v["rise_mm"])), float(v["over_mm"]))
    priors, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    radius = math.radians(field_deg) / 2
    base = Belief.from_priors(priors).with_term("lean_west", 0.0, 0.0)
    level_sigma = math.radians(0.1)

    def chance(leans: float, stars: int, level_assumed: bool) -> float:
        belief = base.with_term("lean_north", leans, 0.0)
        sigma = priors.sigma.copy()
        for t in ("lean_north", "lean_west"):
            sigma[INDEX[t]] = level_sigma if level_assumed else priors.sigma[INDEX[t]]
        return chance_over_sky(belief, Priors(priors.mean, sigma), GOOD_PAIR[:stars], noise, radius)

    return Lean(
        lean_deg=math.degrees(lean),
        least_deg=math.degrees(math.atan2(1.0, float(v["over_mm"]))),
        two_stars=chance(lean, 2, False),
        two_stars_level=chance(0.0, 2, False),
        one_star=chance(lean, 1, False),
        one_star_level=chance(0.0, 1, True),
        # The forecast is linear in the lean; past two sigmas of the prior it is not to be trusted,
        # and such a lean is a board's work anyway.
        unforeseen=lean > 2 * float(priors.sigma[INDEX["lean_north"]]),
    )


def say(x: Lean) -> Verdict:
    """The lean's cost in words."""
    numbers = (
        Number("lean", "the base leans", x.lean_deg),
        chance_of("two_stars", "hit chance, two good stars, as it stands", x.two_stars),
        chance_of("two_stars_level", "the same, quite level", x.two_stars_level),
        chance_of("one_star", "hit chance, one star only, as it stands", x.one_star),
        chance_of(
            "one_star_level", "one star only, levelled to 0.1° and told so", x.one_star_level
        ),
    )
    two, two_level = words.chance(x.two_stars), words.chance(x.two_stars_level)
    if x.state == "mend":
        more = " It is more than the kit's prior expects." if x.unforeseen else ""
        return Verdict(
            x.state,
            f"This lean, {x.lean_deg:.1f}°, is worth mending: with two stars {two} targets are in "
            f"the field, quite level {two_level}.{more}",
            numbers,
            "Put a board under the low side, by eye; or let the kit expect such a lean",
        )
    return Verdict(
        x.state,
        f"No need to level: with two good stars a lean of {x.lean_deg:.1f}° leaves {two} targets "
        f"in the field, quite level {two_level}, since the two stars tell the lean. With one star "
        f"only it is {words.chance(x.one_star)} as it stands and "
        f"{words.chance(x.one_star_level)} on a base known to be level. "
        f"A rise read to 1 mm tells the lean to {x.least_deg:.2f}°.",
        numbers,
        "Leave it. See only that it stands firm: a base that moves spoils the fix",
    )


CHECK = Check(
    "level",
    CHECK_TITLES["level"],
    "Shows what the lean of your base really costs. Levelling may not be worth the time at dusk.",
    ("a spirit level or a board with a marble, if you like",),
    (
        "Lay a straight board on the ground board and find its steepest direction.",
        "Measure how much higher one end is than the other, and how long the board is.",
    ),
    (
        Input("rise_mm", "how much higher one end is", "mm", low=0, high=500),
        Input("over_mm", "over what length", "mm", low=50, high=5000, default=1000.0),
    ),
    told(measure, say),
)  # fmt: skip
