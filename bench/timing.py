"""How long something takes, the same way in every benchmark that measures by processor time."""

from __future__ import annotations

import time
from collections.abc import Callable


def seconds(work: Callable[[], object], rounds: int = 3) -> float:
    """Processor time of the best round."""
    found = []
    for _ in range(rounds):
        begin = time.process_time()
        work()
        found.append(time.process_time() - begin)
    return min(found)
