"""Whether something has moved since the last sighting: what no star has put to the test yet.

Between one sighting and the next something moves at :data:`plumbstar.solve.stories.MOVED_RATE`; a
push to an object is as good an opportunity as one to a star. Where the encoders' lines come too
rarely to tell a hand's stroke from a jump of the count, a jump may lie hidden, too. Every chance
that is stated of a push to come has this factor.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence

from plumbstar.solve.stories import MOVED_RATE
from plumbstar.solve.weighing import Weighed, share_of

#: From this share on the last sighting is held to contradict the others.
CONTRADICTS = 0.5
#: From this share on a sighting is suspected enough to be named before a push, though not enough to
#: be left out. Common practice, no source.
SUSPECTED = 1.0 / 3.0
#: A count jumps unseen once in so many pushes, where the lines tell nothing of the way. Measured on
#: random evenings whose slow board surely jumps once (docs/faults.md): so what is stated over 80 %
#: comes true there; at 0.02, as often as anything else moves, twice as many missed as stated. The
#: price: a slow board that never jumps lands more than is stated.
JUMP_RATE = 0.1
#: A push's way, degrees.
PUSH_DEG = 60.0


def still_chance(
    pushes: int, misses: Iterable[tuple[int, float]] = (), unseen_deg: float = 0.0
) -> float:
    """Probability that nothing has moved since the last sighting, so many pushes ago, the present
    one counted in.

    ``unseen_deg``: so far the tube went meanwhile in steps between two lines that could hide a
    jump of the count; nought on a quick board.
    ``misses``: (in which push, how likely it was, had nothing moved, to see nothing there). Where
    something moved, an object is taken not to be in the field at all: a slip within the field
    (three in ten by the sizes of the stories) makes this a little too low. Bayes' rule, push by
    push.
    """
    missed = list(misses)
    held = math.pow(1.0 - JUMP_RATE, unseen_deg / PUSH_DEG)
    for push in range(1, pushes + 1):
        held *= 1.0 - MOVED_RATE
        for at, nothing in missed:
            if at == push:
                held = held * nothing / (held * nothing + 1.0 - held)
    return held


#: For the next push after a sighting: what a chance is multiplied by that is stated beforehand.
NEXT_PUSH = still_chance(1)


def last_contradicts(stories: Sequence[Weighed], count: int) -> bool:
    """Whether the last of ``count`` sightings does not go with those before it: a bad one, or
    something moved just before it. No later one tells which yet."""
    last = count - 1
    against = [
        w
        for w in stories
        if any(i == last for i, _ in w.story.bad) or any(m.first == last for m in w.story.moves)
    ]
    return count > 1 and share_of(against) > CONTRADICTS


def suspected(stories: Sequence[Weighed], set_aside: Collection[int]) -> int | None:
    """The sighting that most likely does not go with the others (a bad one, or the first after
    something moved), though it is not set aside; None while all of them are likely good."""
    by: dict[int, float] = {}
    any_share = 0.0
    for w in stories:
        which = {i for i, _ in w.story.bad if i not in set_aside} | {m.first for m in w.story.moves}
        any_share += w.share * bool(which)
        for i in which:
            by[i] = by.get(i, 0.0) + w.share
    if any_share <= SUSPECTED or not by:
        return None
    return max(by, key=lambda i: by[i])
