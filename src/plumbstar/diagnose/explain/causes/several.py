"""None of the others: more than a pair of the commonest, or a fault that has no file here."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes import rates
from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.sizes import arc
from plumbstar.sky.site import Site

KIND = "several"
#: Every sighting is off by so much, each, as if nothing could be relied on. Several small things
#: look like a coarse hand: the least of these are of its sizes. Two with a third are weighed by
#: themselves as well (:func:`rate_of_three`): their share is taken off these least ones.
_SEVERAL_DEG = ((0.11, 0.25), (0.14, 0.5), (0.11, 1.0), (0.32, 3.0), (0.32, 10.0))
#: Beside another cause, so many times as often as a coarse hand it is two things or more that look
#: like one. Of 56 evenings of seeds 31 and 20281203 in design/why_came_true.py in which a
#: coarse hand beside another cause was nearly sure (88 in 100), 38 had one.
BESIDE_ANOTHER = 0.45
#: So often there is something that is not on the list, two things that make no pair of it, or more
#: than two.
_UNLISTED = 0.045
#: Causes that can come twice in one outing and be two things.
_TWICE = ("careless_sighting", "wrong_star", "slip", "base_moved")
#: Causes that are none of three: with a coarse hand nothing else would show.
_NOT_ONE = ("nothing", "coarse_centring")


@dataclass(frozen=True)
class Several(Form):
    def title(self, o: Observations, j: Judged) -> str:
        return "several things at once, or something not on this list"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        agree = arc(j.agree_deg())
        if j.probability < 0.5:
            return f"As written the sightings miss by {agree}; one cause alone may do that too."
        return f"Together the sightings miss by {agree}, and no single cause brings them near."

    def mend(self, o: Observations, j: Judged) -> str:
        return (
            "Set all sightings aside, check clock, site and star names, and sight three stars anew."
        )

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        return "Check clock, site and star names, and set all sightings aside."

    @property
    def checked_at_star(self) -> bool:
        return True

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "sight one star, push away and back, and sight it again: the readings must return"

    def happened(self, o: Observations, j: Judged) -> str:
        return "The numbers do not fit the sky, and no single slip explains them."

    def try_next(self, o: Observations, j: Judged) -> str:
        return (
            "Start again with two stars you are sure of, and note the time, the star and both "
            "numbers for each at once."
        )


@dataclass(frozen=True)
class SeveralFaults(Fault):
    kind = KIND
    also: tuple[Fault, ...]

    @property
    def parts(self) -> tuple[Fault, ...]:
        return self.also

    @property
    def seconds(self) -> float:  # type: ignore[override]
        return sum(f.seconds for f in self.also)

    @property
    def misplaces(self) -> bool:  # type: ignore[override]
        return any(f.misplaces for f in self.also)

    def recorded_site(self, site: Site) -> Site:
        for part in self.also:
            site = part.recorded_site(site)
        return site


def _forms(o: Observations) -> list[Variant]:
    return [
        o.variant(KIND, w, Several(), weight=1.0 / (o.variance + math.radians(deg) ** 2))
        for w, deg in _SEVERAL_DEG
    ]


def several_of(causes: Sequence[CauseKind], paired: Collection[str]) -> CauseKind:
    """The cause; a simulated one is made of two of ``causes``, as often as that is stated of the
    two, else of three. Two of ``paired`` have a name of their own: they are counted in the rate,
    not in the forms."""
    by_name = {c.name: c for c in causes}
    pairs = pair_rates({name: c.rate for name, c in by_name.items()}, paired)
    together = sum(pairs.values())
    single = [c.name for c in causes if c.name not in _NOT_ONE]
    share = np.array([by_name[name].rate for name in single])

    def draw(rng: np.random.Generator, scene: Scene) -> Fault:
        if rng.random() < together / (together + _UNLISTED):
            p = np.array(list(pairs.values())) / together
            names = list(pairs)[int(rng.choice(len(pairs), p=p))]
        else:
            names = tuple(rng.choice(single, 3, replace=False, p=share / share.sum()))
        return SeveralFaults(tuple(by_name[str(k)].draw(rng, scene) for k in names))

    return CauseKind(KIND, _UNLISTED + together, _forms, draw)


def rate_of_three(single: Mapping[str, float], paired: Collection[str]) -> float:
    """How often three different ones of ``paired`` come together, by the rates of each alone."""
    each = [single.get(k, 0.0) / rates.ASKED for k in paired]
    return rates.ASKED * sum(a * b * c for a, b, c in itertools.combinations(each, 3))


def pair_rates(
    single: Mapping[str, float], paired: Collection[str]
) -> dict[tuple[str, str], float]:
    """How often two of ``paired`` come together, by the rates of each alone."""
    return {
        (a, b): rates.of_both(a, single.get(a, 0.0), b, single.get(b, 0.0))
        for a, b in itertools.combinations_with_replacement(paired, 2)
        if a != b or a in _TWICE
    }
