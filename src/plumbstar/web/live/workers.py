"""The threads beside the event loop, and the jobs that nobody waits for."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

from plumbstar.errors import UserError

T = TypeVar("T")
log = logging.getLogger("plumbstar.web")


class Ending(UserError):
    """The program is being stopped: what waited for its turn is not done. Phones send it again."""

    def __init__(self) -> None:
        super().__init__(
            "The program on the telescope's computer is being stopped; this was not done any more",
            "",
            "Start it again: the phone sends again what was pressed",
        )


class Workers:
    """One thread for the evening's actions in order, one for long thinking."""

    def __init__(self) -> None:
        self._evening = ThreadPoolExecutor(1, thread_name_prefix="evening")
        self._thinking = ThreadPoolExecutor(1, thread_name_prefix="thinking")
        self._ending = False

    def end(self) -> None:
        """From now on only what is under way is done, and :meth:`last`."""
        self._ending = True

    async def evening(self, job: Callable[[], T]) -> T:
        """In the evening's thread, after what was asked before. Raises :class:`Ending`."""

        def in_turn() -> T:
            if self._ending:
                raise Ending
            return job()

        return await self.last(in_turn)

    async def to_its_end(self, job: Callable[[], T]) -> T:
        """:meth:`evening`, done whole though whoever waits for it is cancelled meanwhile."""
        task = asyncio.create_task(self.evening(job))
        try:
            return await asyncio.shield(task)
        except asyncio.CancelledError:
            task.add_done_callback(_forsaken)
            raise

    async def last(self, job: Callable[[], T]) -> T:
        """The same, for what is still to be done at the end."""
        return await asyncio.get_running_loop().run_in_executor(self._evening, job)

    async def thinking(self, job: Callable[[], T]) -> T:
        """Beside it, after other long thinking."""
        return await asyncio.get_running_loop().run_in_executor(self._thinking, job)

    def shutdown(self) -> None:
        """What is running is left to end; what waits for its turn is dropped."""
        self._evening.shutdown(wait=False)
        self._thinking.shutdown(wait=False, cancel_futures=True)


def _forsaken(task: asyncio.Task[Any]) -> None:
    """What failed with nobody waiting: a refusal is none to tell of, as the stop is (asyncio would
    print either as a traceback); anything else is logged."""
    error = None if task.cancelled() else task.exception()
    if error is not None and not isinstance(error, UserError):
        log.error("in an action that nobody waited for", exc_info=error)


class Jobs:
    """Coroutines that go on by themselves; what fails in them is logged, a refusal in
    one line."""

    def __init__(self) -> None:
        self.running: set[asyncio.Task[None]] = set()
        self._loops: set[asyncio.Task[None]] = set()
        self._said = ""

    def start(self, work: Coroutine[Any, Any, None]) -> None:
        """Let it run."""
        task = asyncio.create_task(work)
        self.running.add(task)
        task.add_done_callback(self._over)

    def forever(self, round_: Callable[[], Coroutine[Any, Any, None]]) -> None:
        """Keep a loop going: an error in one round is logged, and the next round comes."""

        async def go_on() -> None:
            while True:
                try:
                    await round_()
                except Ending:
                    return
                except UserError as e:
                    self._say_once(e)
                    await asyncio.sleep(1.0)
                except Exception:
                    log.exception("in a loop of the server")
                    await asyncio.sleep(1.0)

        self._loops.add(asyncio.create_task(go_on()))

    def _over(self, task: asyncio.Task[None]) -> None:
        self.running.discard(task)
        if task.cancelled() or isinstance(task.exception(), Ending):
            return
        error = task.exception()
        if isinstance(error, UserError):
            self._say_once(error)
        elif error is not None:
            log.error("in a job beside the evening", exc_info=error)

    def _say_once(self, error: UserError) -> None:
        """A full disk is no fault of the program, and said anew each second it helps nobody."""
        if (said := str(error)) != self._said:
            self._said = said
            log.error(said)

    async def stop(self) -> None:
        """Cancel all of them."""
        tasks = [*self.running, *self._loops]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
