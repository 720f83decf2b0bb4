"""Long thinking beside the evening: the ranking of stars, the next star, what past outings teach.

Each takes frozen things from the evening, works on the thinking thread, and hands the answer in as
an action. An answer that comes too late, for a fix or an outing that are gone, is dropped.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import msgspec

from plumbstar.web.live.host import Host
from plumbstar.web.live.workers import Jobs

if TYPE_CHECKING:
    from plumbstar.diagnose.learn import Learnt
    from plumbstar.kit import Kit
    from plumbstar.logbook import Logbook
    from plumbstar.sky.site import Site
    from plumbstar.sky.times import Instant
    from plumbstar.solve.fix import Fix
    from plumbstar.targets.learnt_eye import LearntEye
    from plumbstar.web.evening.choosing import RankingInputs
    from plumbstar.web.evening.evening import Evening
    from plumbstar.web.evening.instrument import LearningKey
    from plumbstar.web.views.agenda import AgendaMemory

log = logging.getLogger("plumbstar.web")


@dataclass(frozen=True)
class Following:
    """Which star would help this fix most?"""

    fix: Fix
    inputs: RankingInputs


@dataclass(frozen=True)
class Learning:
    """What do the outings before this one teach of this kit's mount?"""

    key: LearningKey
    kit: Kit
    before: Instant | None
    book: Logbook
    site: Site | None


@dataclass(frozen=True)
class ThinkingWanted:
    """What the evening as it stands would like to have thought about."""

    following: Following | None = None
    learning: Learning | None = None


def wishes(e: Evening) -> ThinkingWanted:
    """Made in the evening's thread, from frozen things; :meth:`Thinking.start` grants them."""
    following = learning = None
    wanted = e.fix_holds and not e.plan.next_star_known
    # While stars wait for their names the next one is any, in the part of the sky that decides.
    if wanted and e.fix is not None and e.site is not None and not e.nameless.waiting:
        from plumbstar.web.evening.choosing import inputs_of

        following = Following(e.fix, inputs_of(e, e.now()))
    if e.instrument.learnt_for != e.learning_key:
        before = e.outing.started if e.outing else None
        learning = Learning(e.learning_key, e.kit, before, e.book, e.site)
    return ThinkingWanted(following, learning)


class Thinking:
    """Starts each wish once. ``orders`` holds tonight's order, once a page has asked for it."""

    def __init__(self, host: Host, jobs: Jobs, orders: list[AgendaMemory]) -> None:
        self._host, self._jobs, self._orders = host, jobs, orders
        self._followed: Fix | None = None
        self._learning: LearningKey | None = None

    def start(self, wanted: ThinkingWanted) -> None:
        """What is wished for and not yet under way."""
        learning, following = wanted.learning, wanted.following
        if learning is not None and learning.key != self._learning:
            self._learning = learning.key
            self._jobs.start(self._learn(learning))
        if following is not None and following.fix is not self._followed:
            self._followed = following.fix
            self._jobs.start(self._find_next_star(following))

    async def _learn(self, wanted: Learning) -> None:
        def learn() -> tuple[Learnt, LearntEye | None]:
            from plumbstar.diagnose.own_eye import own_eye
            from plumbstar.diagnose.teach import learnt_priors

            learnt = learnt_priors(wanted.book, wanted.kit, wanted.before)
            eye = None
            if wanted.site is not None:
                try:
                    eye = own_eye(wanted.book, wanted.site, wanted.before)
                except Exception:  # then the nominal eye serves, as it did before
                    log.exception("learning the observer's eye")
            return learnt, eye

        try:
            learnt, eye = await self._host.work(learn)
        except Exception as e:
            # Without what was learnt the kit's own priors serve; the evening goes on.
            log.exception("learning from past outings")
            text = f"Past outings could not be learnt from ({e}); the kit's own priors are used."

            def go_on(e: Evening) -> None:
                e.loading = False
                e.messages.say(text, "problem")

            await self._host.do(go_on)
            return

        def take(e: Evening) -> None:
            e.loading = False
            if wanted.key == e.learning_key:
                e.instrument.eye = eye
                e.take_learnt(learnt, wanted.key)

        await self._host.do(take)

    async def _find_next_star(self, wanted: Following) -> None:
        from plumbstar.web.evening import choosing

        found = await self._host.work(lambda: choosing.next_star(wanted.inputs, wanted.fix))

        def take(e: Evening) -> None:
            if e.fix is wanted.fix:
                e.plan.take_next_star(found)

        await self._host.do(take)

    async def choose(self, size: int, utc: Instant | None) -> int:
        """Start the ranking of stars. Returns the version.

        The answer comes in the state: the pairs first, the triples when they are there. Asked by
        day without a time, it is for the next dusk.
        """

        def asked(e: Evening) -> tuple[int, RankingInputs]:
            from plumbstar.choose.candidates import when_to_sight
            from plumbstar.web.evening.choosing import inputs_of
            from plumbstar.web.views.setup import Setup

            inputs = inputs_of(e, utc or when_to_sight(e.now(), e.ground.need_site()))
            if self._orders:
                inputs = replace(inputs, targets=self._orders[0].places(Setup.of(e)))
            return e.plan.ranking_asked(inputs.utc), inputs

        (token, inputs), version = await self._host.do(asked)
        self._jobs.start(self._rank(token, inputs, size))
        return version

    async def _rank(self, token: int, inputs: RankingInputs, size: int) -> None:
        from plumbstar.web.evening import choosing

        found = await self._host.work(lambda: choosing.pairs(inputs))
        if size == 2:
            found = msgspec.structs.replace(found, status="ready")
        await self._host.do(lambda e: e.plan.ranking_ready(token, found))
        more = await self._host.work(lambda: choosing.triples(inputs))
        whole = msgspec.structs.replace(found, status="ready", triples=more)
        await self._host.do(lambda e: e.plan.ranking_ready(token, whole))
