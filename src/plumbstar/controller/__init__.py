"""Controllers that keep the readings to themselves and show one number: measured minus true angle.

From the two stars and the times alone: what a perfect mount would have shown (the sky's drift while
the hands were slow, on a controller without a clock; the air), which stop offset would explain the
rest, which wrong star would, and what many evenings say together.

The readings of a mount with terms T pointed at two true places give, to first order::

    shown = drift + air + sum over terms of g_t T_t + noise

The g_t follow from the Jacobian of :mod:`plumbstar.mount.kinematics`. Azimuth zero and lean turn
both readings alike, so the number is blind to them; of the stop it sees::

    g = sin(a + b) (1 - cos D) / sin(angle between the stars)

for altitudes a, b and difference of azimuth D: nothing at one azimuth, two at opposite ones. This
is the derivative of the cosine rule (derived in docs/controller.md), which
tests/controller/test_shown.py compares with the Jacobian.

``pair`` has this arithmetic; ``one`` judges one number, ``many`` a run of evenings; ``sign`` says
what a known change under the stop teaches, and ``rules`` has the rules of thumb that go beside
each. ``say`` has the words for all of them.
"""

from plumbstar.controller.many import Combined, RunFinding, combine
from plumbstar.controller.one import Candidates, Judgement, NumberFinding, judge
from plumbstar.controller.pair import (
    SIGNS,
    STOP,
    Pair,
    ShownNumber,
    Sign,
    angle,
    check,
    noise_variance,
    sensitivities,
    stop_for,
)
from plumbstar.controller.rules import Rule
from plumbstar.controller.say import (
    next_step,
    part_name,
    rule_words,
    run_next_step,
    run_sentence,
    sentence,
    sign_sentence,
)
from plumbstar.controller.sign import SignLearnt, learn_sign

__all__ = [
    "SIGNS",
    "STOP",
    "Candidates",
    "Combined",
    "Judgement",
    "NumberFinding",
    "Pair",
    "Rule",
    "RunFinding",
    "ShownNumber",
    "Sign",
    "SignLearnt",
    "angle",
    "check",
    "combine",
    "judge",
    "learn_sign",
    "next_step",
    "noise_variance",
    "part_name",
    "rule_words",
    "run_next_step",
    "run_sentence",
    "sensitivities",
    "sentence",
    "sign_sentence",
    "stop_for",
]
