"""The stars that are to be sighted: the observer's plan, and what was worked out to help choose."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.errors import UserError
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming import lookup
from plumbstar.sky.times import Instant
from plumbstar.web.evening.desk import DeskKeeper
from plumbstar.web.evening.ranking import NextToSight, Ranking

MOST_STARS = 12


def star_named(name: str) -> Star:
    """The star of that name. Raises UserError with suggestions."""
    found = lookup.find_target(name)
    if not isinstance(found, Star):
        raise UserError(f"'{name}' is not in the list of stars to sight", "", "Take a bright star")
    return found


#: In place of a star's name: the observer does not know it.
NAMELESS = "?"


class StarPlan:
    """The plan's names lie on the desk. ``choice`` is the ranking last asked for, ``next_star``
    what would help the present fix most: None where none would, and until it is worked out
    (``next_star_known``)."""

    def __init__(self, keeper: DeskKeeper) -> None:
        self._keeper = keeper
        self.choice: Ranking | None = None
        self.next_star: NextToSight | None = None
        self.next_star_known = False
        self._asked = 0
        self._aimed = ""

    @property
    def names(self) -> tuple[str, ...]:
        """The plan, in its order."""
        return self._keeper.desk.plan

    @property
    def aimed(self) -> str:
        """The star picked on a page to be sighted now, while it is in the plan; :data:`NAMELESS`
        for any bright one; else empty."""
        return self._aimed if self._aimed in (*self.names, NAMELESS) else ""

    def aim_at(self, name: str) -> None:
        """That star is to be sighted now, whichever would be next; empty: none."""
        self._aimed = star_named(name).label if name not in ("", NAMELESS) else name

    def pick(self, names: Sequence[str]) -> None:
        """Take these stars as the plan, in this order."""
        labels = tuple(dict.fromkeys(star_named(n).label for n in names[:MOST_STARS]))
        self._keeper.change(plan=labels)

    def add(self, name: str) -> None:
        """One more star, at the end of the plan."""
        label = star_named(name).label
        if label not in self.names:
            self._keeper.change(plan=(*self.names, label)[-MOST_STARS:])

    def remove(self, name: str) -> None:
        """One star fewer."""
        wanted = name.strip().casefold()
        self._keeper.change(plan=tuple(p for p in self.names if p.casefold() != wanted))

    def forget_next_star(self) -> None:
        """There is another fix."""
        self.next_star, self.next_star_known = None, False

    def take_next_star(self, found: NextToSight | None) -> None:
        """It was worked out for the present fix."""
        self.next_star, self.next_star_known = found, True

    # ---- the ranking, worked out beside the evening ----------------------------------------

    def read(self) -> None:
        """The ranking that lies on the desk, unless a newer one is being worked out."""
        if self.choice is None or self.choice.status != "working":
            self.choice = self._keeper.desk.choice

    def ranking_asked(self, utc: Instant) -> int:
        """The ranking was asked for; returns the token to hand it in with."""
        self._asked += 1
        self.choice = Ranking(asked_utc=utc.iso())
        return self._asked

    def ranking_ready(self, token: int, choice: Ranking) -> None:
        """The ranking is done; an older one than was last asked for is dropped."""
        if token == self._asked:
            self.choice = choice
            self._keeper.learn(choice=choice)

    def put_away(self) -> None:
        """The outing is over, and the desk is empty."""
        self.choice = None

    def forget_ranking(self) -> None:
        """It was for another hour; one under way is dropped when it comes."""
        self._asked += 1
        self.choice = None
        if self._keeper.desk.choice is not None:
            self._keeper.learn(choice=None)
