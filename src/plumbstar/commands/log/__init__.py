"""``plumbstar log``: what was done on which evening, and what the evenings teach. One file a verb,
or a few that belong together."""

from plumbstar.commands.log.book import command

__all__ = ["command"]
