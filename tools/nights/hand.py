"""A hand on the tube: it overshoots, pauses, does one axis after the other, goes the long way."""

import math

from numpy.random import Generator

from .shapes import Pair


def _part(a: Pair, b: Pair, p: float) -> Pair:
    return a[0] + p * (b[0] - a[0]), a[1] + p * (b[1] - a[1])


class Hand:
    """A path of the two axles in time: pieces (from s, to s, from, to), each degrees (2,)."""

    def __init__(self, rng: Generator, at: Pair) -> None:
        self.rng, self.at = rng, at
        self.pieces: list[tuple[float, float, Pair, Pair]] = []

    def plan(self, now_s: float, goal: Pair, careful: bool = False) -> float:
        """From where it is to the goal; returns when it will be there. ``careful``: the last
        little way only."""
        rng, t, here = self.rng, now_s, self.at
        self.pieces = []
        way = [g - h for g, h in zip(goal, here, strict=True)]
        if not careful and abs(way[0]) > 60 and rng.random() < 0.12:
            goal = (goal[0] - math.copysign(360, way[0]), goal[1])
        stops = []
        if not careful:
            style = rng.random()
            if style < 0.3:  # one axis, then the other
                stops.append((goal[0], here[1]) if rng.random() < 0.5 else (here[0], goal[1]))
            if rng.random() < 0.5:  # too far
                over = rng.uniform(0.02, 0.15)
                stops.append(_part(here, goal, 1 + over))
            if rng.random() < 0.3:  # a look over the tube
                part = rng.uniform(0.3, 0.8)
                stops.insert(0, _part(here, goal, part))
        stops.append((goal[0] + rng.normal(0, 0.3), goal[1] + rng.normal(0, 0.3)))
        stops.append(goal)
        for stop in stops:
            stop = (stop[0], min(93.0, max(-3.0, stop[1])))
            far = max(abs(s - h) for s, h in zip(stop, here, strict=True))
            speed = rng.uniform(4, 20) if rng.random() < 0.85 else rng.uniform(20, 40)
            took = max(0.4, far / min(speed, 2 + far))
            self.pieces.append((t, t + took, here, stop))
            t += took + (rng.uniform(0.5, 4) if rng.random() < 0.4 else 0.1)
            here = stop
        return t

    def where(self, now_s: float) -> Pair:
        for begin, end, a, b in self.pieces:
            if now_s < begin:
                return a
            if now_s <= end:
                p = (now_s - begin) / (end - begin)
                p = p * p * (3 - 2 * p)
                return _part(a, b, p)
        return self.pieces[-1][3] if self.pieces else self.at

    def arrive(self, now_s: float) -> None:
        self.at = self.where(now_s)
        self.pieces = []
