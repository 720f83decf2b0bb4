"""Whose eye a command judges by: the observer's own once the logbook taught it, else a nominal one.

The one place that decides it for all commands; on the pages it is the evening's ``instrument``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from plumbstar.contract.answers.seen import OwnEyeReport
from plumbstar.diagnose import own_eye
from plumbstar.logbook import ENVIRONMENT, Logbook, LogbookTrouble, path_of
from plumbstar.sky.site import Site
from plumbstar.targets.learnt_eye import LearntEye

F = TypeVar("F", bound=Callable[..., Any])

book_option = click.option(
    "--logbook",
    "book_path",
    envvar=ENVIRONMENT,
    metavar="FILE",
    help="The logbook. Default: the usual one.",
)


def eye_of(path: str | None, site: Site) -> LearntEye | None:
    """What that logbook's looks teach, or the usual one's; None without a logbook.

    Raises :class:`LogbookTrouble` for one that was named and cannot be read; without the usual one
    it is judged as before it was begun.
    """
    where = path_of(path)
    if not where.exists() or not where.stat().st_size:
        return None
    try:
        with Logbook.open(where, create=False) as book:
            return own_eye.own_eye(book, site)
    except LogbookTrouble:
        if path:
            raise
        return None


def lines(eye: LearntEye | None, leave_out: str) -> tuple[str, ...]:
    """Whose verdicts these are, and the option that leaves it out; nothing of a nominal eye."""
    said = own_eye.sentence(eye)
    return (f"{said} {leave_out} leaves it out.",) if said else ()


def record(eye: LearntEye | None) -> OwnEyeReport | None:
    """For ``--json``, where it was learnt."""
    return own_eye.eye_answer(eye) if eye is not None and eye.learnt else None
