"""What a lean of the base costs."""

from __future__ import annotations

import math

from plumbstar.choose.forecast import Belief
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.checks.check import Check, Input
from plumbstar.diagnose.checks.verdict import Number, Values, Verdict, chance_of
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.text import words
from plumbstar.text.advice import CHECK_TITLES


def judge(v: Values, kit: Kit) -> Verdict:
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

    solved, solved_level = chance(lean, 2, False), chance(0.0, 2, False)
    one, one_level = chance(lean, 1, False), chance(0.0, 1, True)
    # The forecast is linear in the lean; past two sigmas of the prior it is not to be trusted, and
    # such a lean is a board's work anyway.
    wide = lean > 2 * priors.sigma[INDEX["lean_north"]]
    degs = math.degrees(lean)
    numbers = (
        Number("lean", "the base leans", degs),
        chance_of("two_stars", "hit chance, two good stars, as it stands", solved),
        chance_of("two_stars_level", "the same, dead level", solved_level),
        chance_of("one_star", "hit chance, one star only, as it stands", one),
        chance_of("one_star_level", "one star only, levelled to 0.1° and told so", one_level),
    )
    cost = solved_level - solved
    if wide or cost > 0.02:
        return Verdict(
            "mend",
            f"This lean, {degs:.1f}°, is worth a board: two stars give "
            f"{words.chance(solved)}, dead level {words.chance(solved_level)}, and it is more than "
            "the kit's prior expects.",
            numbers,
            "Put a board under the low side, by eye; or raise lean_sigma_deg in the kit",
        )
    return Verdict(
        "good",
        f"No need to level: with two good stars a lean of {degs:.1f}° leaves "
        f"{words.chance(solved)} targets in the field, dead level {words.chance(solved_level)}, "
        f"for the two stars solve the lean. With one star only it is {words.chance(one)} as it "
        f"stands and {words.chance(one_level)} on a base known to be level.",
        numbers,
        "Leave it. See only that it stands firm: a base that moves is another matter",
    )


CHECK = Check(
    "level",
    CHECK_TITLES["level"],
    "Shows what your lean really costs, so that nobody wastes dusk on a bubble.",
    ("a spirit level or a board with a marble, if you like",),
    (
        "Lay a straight board on the ground board and find its steepest direction.",
        "Measure how much higher one end is than the other, and how long the board is.",
    ),
    (
        Input("rise_mm", "how much higher one end is", "mm", low=0, high=500),
        Input("over_mm", "over what length", "mm", low=50, high=5000, default=1000.0),
    ),
    judge,
)  # fmt: skip
