"""What stands above every page: a possible slip, the question what moved, messages, and undo."""

from __future__ import annotations

import math

from plumbstar.contract.picture import MessageRecord, MovedRecord, SlipRecord
from plumbstar.solve.say import MOVED_WORDS
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.next_step import NextStep


def slip_record(e: Evening, step: NextStep) -> SlipRecord | None:
    """A slip that is not settled; ``step`` settles it."""
    slip = e.slips.open
    if slip is None:
        return None
    if "base" in slip.axes:
        first = f", {step.star} first" if step.star else ""
        return SlipRecord(
            sentence="You said that the base was moved or knocked. Sight two stars again"
            f"{first}: the first settles its direction, the second its lean. The rest of the mount "
            "is kept."
        )
    rest = "; the rest of the mount is kept." if e.sightings.all else ". Nothing is lost yet."
    settles = f"Sight {step.star}" if step.star else "Sight one star again"
    return SlipRecord(sentence=f"Possible slip: {slip.words}. {settles} to settle it{rest}")


def moved_record(e: Evening) -> MovedRecord | None:
    """The question whether something moved, where the sightings tell so."""
    moved, after = e.solved.moved, e.solved.moved_after
    if moved is None or moved.denied or after is None or e.slips.open is not None:
        return None
    here = [e.sightings.used[i].sighting.star for i in e.solved.parts[-1].indices]
    first = moved.first
    since = len(here) - first
    by = "" if math.isnan(moved.by_deg) else f", by about {abs(moved.by_deg):.1f}°"
    if since > 1:
        against = f"the {since} sightings since then do not fit those before"
    else:
        against = f"{here[first]} does not fit the stars before it"
    check = ""
    if moved.again is not None:
        check = f" If you are not sure, sight {here[moved.again]} again: that tells."
    return MovedRecord(
        after=after,
        since=since,
        sentence=f"Did something move between {words.both(here[first - 1], here[first])}? It "
        f"looks like {MOVED_WORDS[moved.axes]}{by} ({words.chance(moved.probability)}). As they "
        f"stand, {against}.{check}",
    )


def messages_of(e: Evening) -> tuple[MessageRecord, ...]:
    """What was said and not yet put away."""
    return tuple(MessageRecord(id=m.id, text=m.text, kind=m.kind) for m in e.messages.shown)
