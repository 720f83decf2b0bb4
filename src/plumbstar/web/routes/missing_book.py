"""Before the evening: the logbook is gone, empty or another beside a good copy. One question.

An application of its own, at the addresses of the pages, until it is answered; then the evening's
takes its place. Whoever answers first is right, on a phone or at the command line: the files are
looked at again before anything is done, and while it waits.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route

from plumbstar.contract.asked import MissingBookAnswer
from plumbstar.contract.done import BookChosen
from plumbstar.logbook import LogbookTrouble, Recovered, recover, set_aside
from plumbstar.logbook.contents import Contents, asked_about
from plumbstar.logbook.trouble import Trouble
from plumbstar.text.words import many
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.middleware import Door
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.live.actions import read_body
from plumbstar.web.live.bodies import BookAnswer
from plumbstar.web.routes.answers import refuse, reply
from plumbstar.web.routes.failures import HANDLERS
from plumbstar.web.routes.front import Front

LOOK_S = 1.0

_WHAT = {
    Trouble.MISSING: "The logbook is gone. There is a good copy of it.",
    Trouble.EMPTIED: "The logbook is empty. There is a good copy of it.",
    Trouble.EMPTIER: "The logbook lacks what its good copy holds.",
    Trouble.COPY_DAMAGED: "The logbook is gone or empty, and its good copy is damaged.",
}
_QUESTION = {
    Trouble.MISSING: "Go on with the copy?",
    Trouble.EMPTIED: "Go on with the copy?",
    Trouble.EMPTIER: "Put the two together?",
    Trouble.COPY_DAMAGED: "Go on with what can still be read of it?",
}
_YES = {
    Trouble.MISSING: "Yes, bring it back",
    Trouble.EMPTIED: "Yes, bring it back",
    Trouble.EMPTIER: "Yes, put them together",
    Trouble.COPY_DAMAGED: "Yes, bring that back",
}
_NO = {
    Trouble.MISSING: "No, begin a new logbook",
    Trouble.EMPTIED: "No, begin a new logbook",
    Trouble.EMPTIER: "No, leave the copy out",
    Trouble.COPY_DAMAGED: "No, begin a new logbook",
}


@dataclass(frozen=True, slots=True)
class Chosen:
    """How it was answered: brought back, set aside under these names, or neither by us: mended
    meanwhile at the command line."""

    back: Recovered | None = None
    kept: tuple[Path, ...] = ()

    @property
    def words(self) -> str:
        if self.back is not None:
            held = f"{many(self.back.outings, 'outing')}, {many(self.back.sightings, 'sighting')}"
            damaged = self.back.spoilt
            kept = f" The damaged copy is kept as {damaged.name}." if damaged is not None else ""
            return f"The logbook is back: {held}.{kept}"
        if self.kept:
            names = " and ".join(p.name for p in self.kept)
            return f"The copy is kept beside the logbook, as {names}."
        return "It was answered at the command line."


def question(kind: Trouble, copy: Contents | None) -> MissingBookAnswer:
    """In words, last. ``copy`` is None where it cannot be read whole."""
    told = "How much of it can be read is not known before it is tried."
    if copy is not None:
        made = time.strftime("%Y-%m-%d %H:%M", time.gmtime(copy.made_unix))
        held = f"{many(copy.rows[0], 'outing')} with {many(copy.rows[1], 'sighting')}"
        told = f"The copy is of {made} UTC and holds {held}."
    return MissingBookAnswer(
        what=_WHAT[kind],
        copy=told,
        question=_QUESTION[kind],
        nothing_lost="Nothing is deleted, whichever you choose.",
        bring_back=_YES[kind],
        go_on_without=_NO[kind],
    )


class OpenQuestion:
    """The logbook at ``path``, until it is decided which to go on with; ``answered`` is called
    once, on the loop."""

    def __init__(self, path: Path, answered: Callable[[Chosen], None]) -> None:
        self._path, self._answered = path, answered
        self._one_at_a_time = asyncio.Lock()
        self._chosen: Chosen | None = None
        self._seen: object = None
        self._asked: tuple[LogbookTrouble, Contents | None] | None = None

    async def look(self) -> tuple[LogbookTrouble, Contents | None] | None:
        """What is to be asked, or None: it is decided. Raises nothing."""
        async with self._one_at_a_time:
            return await self._look()

    async def _look(self) -> tuple[LogbookTrouble, Contents | None] | None:
        if self._chosen is None:
            seen = await asyncio.to_thread(_stamps, self._path)
            if seen != self._seen:  # reading the copy through takes a while
                self._asked = await asyncio.to_thread(asked_about, self._path)
                self._seen = seen
            if self._asked is None:
                self._decide(Chosen())
        return None if self._chosen else self._asked

    async def watch(self) -> None:
        """For as long as it is open: it may be answered at the command line."""
        while await self.look() is not None:
            await asyncio.sleep(LOOK_S)

    async def answer(self, bring_back: bool) -> Chosen:
        """The first answer counts; others are told of it. Raises :class:`UserError` where it cannot
        be done; then all is as it was."""
        async with self._one_at_a_time:
            self._seen = None
            if await self._look() is not None:
                self._decide(await asyncio.to_thread(self._do, bring_back))
        assert self._chosen is not None
        return self._chosen

    def _do(self, bring_back: bool) -> Chosen:
        if bring_back:
            return Chosen(back=recover(self._path))
        return Chosen(kept=tuple(set_aside(self._path)))

    def _decide(self, chosen: Chosen) -> None:
        self._chosen = chosen
        self._answered(chosen)


def _stamps(path: Path) -> tuple[tuple[str, int, int], ...]:
    """The logbook and what lies beside it by name, as far as a look at the folder tells."""
    out = []
    for p in sorted(path.parent.glob(f"{path.name}*")):
        if p.name.endswith("-shm"):  # our own reading writes there
            continue
        try:
            s = p.stat()
        except OSError:  # gone between the two looks
            continue
        out.append((p.name, s.st_mtime_ns, s.st_size))
    return tuple(out)


class MissingBookRoutes:
    """The question, and its answer."""

    def __init__(self, asked: OpenQuestion) -> None:
        self._asked = asked

    async def question(self, request: Request) -> Response:
        """What is there; an answer of 404 tells a page that waits that it was answered."""
        found = await self._asked.look()
        if found is None:
            return refuse(404, "It is decided which logbook to go on with", "Reload the page.")
        trouble, copy = found
        return reply(question(trouble.kind, copy))

    async def answer(self, request: Request) -> Response:
        """Do it. Raises :class:`UserError` where it cannot be done; then all is as it was."""
        body = read_body(await request.body(), BookAnswer, "answer_book")
        chosen = await self._asked.answer(body.bring_back)
        return reply(BookChosen(said=chosen.words))


async def elsewhere(request: Request) -> Response:
    """An address of the evening, which is not up yet: an open page reloads (store.js), and keeps
    the taps that it could not send."""
    status = 409 if request.method == "GET" else 503
    return refuse(status, "The logbook is asked about first", "Reload the page.")


def make_app(gate: Gate, pairing: Pairing, asked: OpenQuestion) -> Starlette:
    """Asks which logbook to go on with."""
    front, book = Front(gate, pairing, "missingbook"), MissingBookRoutes(asked)
    return Starlette(
        routes=[
            Route("/", front.index),
            Route("/pair", front.pair_page, methods=["GET"]),
            Route("/pair", front.pair, methods=["POST"]),
            Route("/data/missing-book", book.question),
            Route("/do/answer_book", book.answer, methods=["POST"]),
            Mount("/static", front.files),
            Route("/{rest:path}", elsewhere, methods=["GET", "POST"]),
        ],
        middleware=[Middleware(Door, gate=gate, pair_page=front.ask_to_pair)],
        exception_handlers=HANDLERS,
    )
