"""Two causes at once: which pairs are tried, and how well each explains the sightings.

First every pair of places where something may have gone wrong, each in its widest form; then the
best of these in all their forms, with the stars that may have been sighted in place of another. A
second thing that hardly shows may be at many places, none of which stands out: what is not among
the best is weighed all the same, in fewer forms.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from plumbstar.diagnose.explain import model
from plumbstar.diagnose.explain.causes import KINDS, PAIRED, wrong_star
from plumbstar.diagnose.explain.causes.base_moved import BaseMoved
from plumbstar.diagnose.explain.causes.both import AND, both
from plumbstar.diagnose.explain.causes.careless_sighting import Misread, NotCentred
from plumbstar.diagnose.explain.causes.coarse_centring import CoarseCentring
from plumbstar.diagnose.explain.causes.slip import SlipForm
from plumbstar.diagnose.explain.forms import Form, Observations, Unstated, Variant
from plumbstar.diagnose.explain.model import WeighedForm
from plumbstar.diagnose.explain.promising import promise
from plumbstar.diagnose.explain.renamed import two_renamed

#: Fewer sightings cannot tell two faults from one, but for two wrong stars.
LEAST = 4
#: Of a cause that holds for the whole outing so many forms are tried beside others: those that do
#: best alone, and those that promise most beside something else.
_LASTING, _PROMISING = 3, 5
#: Pairs of places that are looked at in all their forms, and in fewer: so many of each, and so far
#: behind the best in the log of their probability.
_CLOSER, _FURTHER, _BEHIND = 8, 40, 10.0
#: A coarse hand takes up whatever is left over, and so leaves every other pair far behind that may
#: explain all with a third thing: so many of these are solved nevertheless.
_FOR_A_THIRD = 6
#: Fewer forms: of a sighting that leads those that are so far behind its best.
_LIKELY = 4.0
#: How far off a sighting is, each way, in the first look at a pair, radians.
_ANYTHING = math.radians(25.0)
#: Stars looked up for one sighting of a pair.
_STARS = 3


@dataclass(frozen=True)
class Group:
    """One cause at one place, in all its sizes; the widest last."""

    kind: str
    form: Form
    sizes: tuple[Variant, ...]

    @property
    def first_tried(self) -> Variant:
        """The widest; of a coarse hand one in the middle, since width costs it at every star. A
        number misread is off by anything: a sighting is tried as if it told nothing."""
        widest = self.sizes[len(self.sizes) // 2 if self.is_hand else -1]
        if not isinstance(self.form, NotCentred):
            return widest
        weight = widest.weight.copy()
        i = self.form.sighting
        weight[i] = 1.0 / (1.0 / weight[i] + _ANYTHING**2)
        return replace(widest, weight=weight)

    def holds(self, v: Variant) -> bool:
        """Whether a form of a single cause is of this group."""
        if v.form.about is not None:
            return self.of_one and self.form.about == v.form.about
        if v.form.since is not None:
            return self.form == v.form
        return self.kind == v.kind

    @property
    def of_one(self) -> bool:
        """Whether it is about a single sighting."""
        return isinstance(self.form, NotCentred)

    @property
    def is_hand(self) -> bool:
        """Whether every sighting is off, each by its own."""
        return isinstance(self.form, CoarseCentring)


def search(
    o: Observations, singles: Sequence[WeighedForm], leader: Variant | None = None
) -> list[WeighedForm]:
    """Pairs of causes, solved; ``singles``: each cause alone. Their kinds are joined by "+".

    ``leader``: a cause that explains the sightings by itself. Then only what may hide behind it is
    looked for, in a small part of the pairs.
    """
    if o.n < LEAST:
        return model.weigh(list(two_renamed(o)), o.noise.centring)
    groups = list(places_of_causes(o, singles))
    rough: list[Variant] = []
    which: list[tuple[Group, Group]] = []
    behind = [leader is None or g.holds(leader) for g in groups]
    tried = list(zip(groups, [g.first_tried for g in groups], behind, strict=True))
    for (a, first, a_holds), (b, second, b_holds) in itertools.combinations(tried, 2):
        if not (a_holds or b_holds) or _same_place(a, b):
            continue
        v = _paired(o, a.kind, first, b.kind, second)
        if v is not None:
            rough.append(v)
            which.append((a, b))
    found = model.weigh(rough)
    if not found:
        return []
    order = sorted(range(len(found)), key=lambda k: -found[k].joint)
    least = found[order[0]].joint - _BEHIND
    near = [which[k] for k in order[: _CLOSER + _FURTHER] if found[k].joint > least]
    if leader is None:
        sharp = [which[k] for k in order if not any(g.is_hand for g in which[k])]
        near += [two for two in sharp[:_FOR_A_THIRD] if two not in near]

    def in_all(g: Group) -> Sequence[Variant]:
        return _ways(g, singles)

    def in_few(g: Group) -> Sequence[Variant]:
        if leader is None or not (g.of_one and g.holds(leader)):
            return g.sizes
        mine = [w for w in singles if w.variant.kind == g.kind and g.holds(w.variant)]
        best = max(w.joint for w in mine)
        return [w.variant for w in mine if w.joint > best - _LIKELY]

    exact: list[Variant] = []
    for looked_at, ways in ((near[:_CLOSER], in_all), (near[_CLOSER:], in_few)):
        exact += (v for a, b in looked_at for v in _in_forms(o, a, ways(a), b, ways(b)))
        if o.sky is not None:
            exact += _of_other_stars(o, looked_at, ways)
    return model.weigh(exact, o.noise.centring)


def places_of_causes(o: Observations, singles: Sequence[WeighedForm]) -> Iterator[Group]:
    """Every cause but another star at every place where it may be; of those that hold for the whole
    outing the likeliest forms."""
    by_form: dict[tuple[str, Form], list[WeighedForm]] = {}
    for w in singles:
        kind, form = w.variant.kind, w.variant.form
        if kind in PAIRED and kind != "wrong_star":
            # Factors of a coarse hand are sizes of one thing.
            of = CoarseCentring(1.0) if isinstance(form, CoarseCentring) else form
            by_form.setdefault((kind, of), []).append(w)
    lasting: dict[str, list[tuple[float, Group]]] = {}
    for (kind, form), rows in by_form.items():
        group = Group(kind, form, tuple(w.variant for w in rows))
        if isinstance(form, NotCentred | SlipForm | BaseMoved):
            yield group
        elif kind != "careless_sighting":
            best = max(w.joint for w in rows)
            lasting.setdefault(kind, []).append((best, group))
    for forms in lasting.values():
        ranked = [g for _, g in sorted(forms, key=lambda x: -x[0])]
        yield from ranked[:_LASTING]
        if len(ranked) > _LASTING:
            others = ranked[_LASTING:]
            worth = promise(o, [g.sizes[-1] for g in others])
            yield from (others[k] for k in np.argsort(-worth)[:_PROMISING])


def _same_place(a: Group, b: Group) -> bool:
    """Whether one of them would say what the other says."""
    if a.form.about is None and a.form.since is None:
        return a.kind == b.kind
    if a.form.about is not None:
        return a.form.about == b.form.about
    if a.form.since != b.form.since:
        return False
    turns = [x for x in (a, b) if isinstance(x.form, SlipForm) and x.form.axis == "azimuth"]
    moved = [x for x in (a, b) if isinstance(x.form, BaseMoved)]
    return len(moved) == 2 or bool(moved and turns)


def _paired(o: Observations, kind_a: str, a: Variant, kind_b: str, b: Variant) -> Variant | None:
    """The model of both, under both names in the order of the causes."""
    if KINDS.index(kind_b) < KINDS.index(kind_a):
        return _paired(o, kind_b, b, kind_a, a)
    # Two of one kind: either may be the first.
    twice = math.log(2.0) if kind_a == kind_b else 0.0
    return both(o, (kind_a, kind_b), a, b, f"{kind_a}{AND}{kind_b}", twice)


def _in_forms(
    o: Observations, a: Group, ways_a: Sequence[Variant], b: Group, ways_b: Sequence[Variant]
) -> Iterator[Variant]:
    """Both, each in every one of its forms."""
    for x, y in itertools.product(ways_a, ways_b):
        # Two numbers misread by just so much: one of them may as well be by any amount.
        if not (isinstance(x.form, Misread) and isinstance(y.form, Misread)):
            v = _paired(o, a.kind, x, b.kind, y)
            if v is not None:
                yield v


def _ways(g: Group, singles: Sequence[WeighedForm]) -> tuple[Variant, ...]:
    """Every size, every way in which a sighting may be careless."""
    if not g.of_one:
        return g.sizes
    mine = (w.variant for w in singles if w.variant.kind == g.kind)
    return tuple(v for v in mine if v.form.about == g.form.about)


def _of_other_stars(
    o: Observations,
    tried: Sequence[tuple[Group, Group]],
    ways: Callable[[Group], Sequence[Variant]],
) -> Iterator[Variant]:
    """Another star in a sighting of each pair, beside what else it is; or two other stars."""
    asked: list[tuple[Variant, Callable[[WeighedForm], Iterator[Variant]]]] = []
    plain = o.variant("", 1.0, Unstated())
    for a, b in tried:
        for one, other in ((a, b), (b, a)):
            i = one.form.about
            if not one.of_one or i is None:
                continue
            # Where the star then stood is known for any time, and for the site as given only.
            for v in ways(other):
                if v.form.really_at() is None and v.form.about != i:
                    asked.append((_without(v, i), partial(_star_beside, o, i, v, other.kind)))
        i, k = a.form.about, b.form.about
        if a.of_one and b.of_one and i is not None and k is not None:
            asked.append((_without(_without(plain, i), k), partial(_two_stars, o, i, k)))
    left_out = model.weigh([v for v, _ in asked])  # all in one batch
    for w, (_, stars) in zip(left_out, asked, strict=True):
        yield from stars(w)


def _star_beside(
    o: Observations, i: int, v: Variant, kind: str, w: WeighedForm
) -> Iterator[Variant]:
    for x in _likeliest(o, i, w):
        star = wrong_star.of_neighbour(o, x)
        true = v.true.copy()
        true[i] = o.true[i]  # the star is told at the time of the other cause
        out = _paired(o, star.kind, star, kind, replace(v, true=true))
        if out is not None:
            yield out


def _two_stars(o: Observations, i: int, k: int, w: WeighedForm) -> Iterator[Variant]:
    for x, y in itertools.product(_likeliest(o, i, w), _likeliest(o, k, w)):
        yield wrong_star.of_two(o, x, y)


def _likeliest(o: Observations, i: int, w: WeighedForm) -> list[wrong_star.StarInPlace]:
    v = w.variant
    without = (w.mean, w.covariance, w.log_evidence)
    late_s = v.form.clock_late_s
    found = wrong_star.neighbours(o, i, v.readings[i], v.shift[i], without, late_s)
    return sorted(found, key=lambda x: -x.score)[:_STARS]


def _without(v: Variant, i: int) -> Variant:
    weight = v.weight.copy()
    weight[i] = 0.0
    return replace(v, weight=weight)
