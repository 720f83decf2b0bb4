"""Whether something has moved since the last sighting: what no star has put to the test yet.

Between one sighting and the next something moves at :data:`plumbstar.solve.stories.MOVED_RATE`; a
push to an object is as good an opportunity as one to a star.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from plumbstar.solve.stories import MOVED_RATE
from plumbstar.solve.weighing import Weighed, share_of

#: From this share on the last sighting is held to contradict the others.
CONTRADICTS = 0.5


def still_chance(pushes: int, misses: Iterable[tuple[int, float]] = ()) -> float:
    """Probability that nothing has moved since the last sighting, so many pushes ago, the present
    one counted in.

    ``misses``: (in which push, how likely it was, had nothing moved, to see nothing there). Where
    something moved, an object is taken not to be in the field at all: a slip within the field
    (three in ten by the sizes of the stories) makes this a little too low. Bayes' rule, push by
    push.
    """
    missed = list(misses)
    held = 1.0
    for push in range(1, pushes + 1):
        held *= 1.0 - MOVED_RATE
        for at, nothing in missed:
            if at == push:
                held = held * nothing / (held * nothing + 1.0 - held)
    return held


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
