"""``plumbstar log``: what was done on which evening, and what the evenings teach. One file a verb,
or a few that belong together."""

from plumbstar.commands.log import (
    bring_in,
    change,
    correct_time,
    export,
    eye,
    keep,
    lists,
    report,
    seen,
    show,
    teach,
)
from plumbstar.commands.log.book import command

__all__ = [
    "bring_in",
    "change",
    "command",
    "correct_time",
    "export",
    "eye",
    "keep",
    "lists",
    "report",
    "seen",
    "show",
    "teach",
]
