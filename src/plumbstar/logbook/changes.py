"""What a change of the logbook was, as facts; and in words, made last."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plumbstar.sky.times import Instant


class ChangeKind(StrEnum):
    """What was done. The value stands in the file; ``about`` names what it was done to."""

    OUTING_STARTED = "outing started"
    OUTING_ENDED = "outing ended"
    OUTING_DELETED = "outing deleted"
    OUTING_BROUGHT_BACK = "outing brought back"
    SIGHTED = "sighted"
    SIGHTING_SET_ASIDE = "sighting set aside"
    SIGHTINGS_SET_ASIDE = "sightings set aside"
    SIGHTINGS_RENAMED = "sightings renamed"
    SIGHTING_PUT_BACK = "sighting put back"
    SIGHTING_DELETED = "sighting deleted"
    SIGHTING_BROUGHT_BACK = "sighting brought back"
    FOUND = "found"
    NOT_FOUND = "not found"
    NOTED = "noted"
    LOOKED = "looked"
    LOOK_CHANGED = "look changed"
    LOOK_DELETED = "look deleted"
    SKY_TOLD = "sky told"
    SKETCHED = "sketched"
    SKETCH_DELETED = "sketch deleted"
    MENDED = "mended"
    TIMES_CORRECTED = "times corrected"
    SKYLINE_SET = "skyline set"
    IMPORTED = "imported"
    #: Of an older program, which kept words only.
    OTHER = ""


#: In a sentence; {about} is a star, a target, a number of things.
_SENTENCE = {
    ChangeKind.OUTING_STARTED: "start of an outing",
    ChangeKind.OUTING_ENDED: "end of outing {outing}",
    ChangeKind.OUTING_DELETED: "deletion of outing {outing}",
    ChangeKind.OUTING_BROUGHT_BACK: "return of outing {outing}",
    ChangeKind.SIGHTED: "a sighting of {about}",
    ChangeKind.SIGHTING_SET_ASIDE: "sighting {number} ({about}) of outing {outing} set aside",
    ChangeKind.SIGHTINGS_SET_ASIDE: "{about} of outing {outing} set aside",
    ChangeKind.SIGHTINGS_RENAMED: "new names in outing {outing}: {about}",
    ChangeKind.SIGHTING_PUT_BACK: "sighting {number} ({about}) of outing {outing} put back",
    ChangeKind.SIGHTING_DELETED: "sighting {number} ({about}) of outing {outing} deleted",
    ChangeKind.SIGHTING_BROUGHT_BACK: "sighting {number} ({about}) of outing {outing} brought back",
    ChangeKind.FOUND: "the find of {about}",
    ChangeKind.NOT_FOUND: "the search for {about}",
    ChangeKind.NOTED: "a note on outing {outing}",
    ChangeKind.LOOKED: "how {about} was seen",
    ChangeKind.LOOK_CHANGED: "a change of how {about} was seen",
    ChangeKind.LOOK_DELETED: "deletion of how {about} was seen",
    ChangeKind.SKY_TOLD: "how the sky was in outing {outing}",
    ChangeKind.SKETCHED: "a sketch of {about}",
    ChangeKind.SKETCH_DELETED: "deletion of a sketch of {about}",
    ChangeKind.MENDED: "the mend {about}",
    ChangeKind.TIMES_CORRECTED: "the correction of outing {outing}'s times by {about}",
    ChangeKind.SKYLINE_SET: "the skyline of {about}",
    ChangeKind.IMPORTED: "the import of {about}",
}
#: What was done to a star or target, for a button.
_DONE = {
    ChangeKind.SIGHTED: "sighted",
    ChangeKind.SIGHTING_SET_ASIDE: "set aside",
    ChangeKind.SIGHTINGS_SET_ASIDE: "set aside",
    ChangeKind.SIGHTINGS_RENAMED: "entered",
    ChangeKind.SIGHTING_PUT_BACK: "put back",
    ChangeKind.SIGHTING_DELETED: "deleted",
    ChangeKind.SIGHTING_BROUGHT_BACK: "brought back",
    ChangeKind.FOUND: "found",
    ChangeKind.NOT_FOUND: "not found",
}

_TOLD = {
    ChangeKind.LOOKED: "how {about} was seen",
    ChangeKind.LOOK_CHANGED: "how {about} was seen",
    ChangeKind.SKY_TOLD: "tonight's sky",
    ChangeKind.SKETCHED: "the sketch",
}


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the undo history. ``number``: of a sighting in
    its outing. ``older_words``: what a program that kept no kind called it."""

    id: int
    at: Instant
    outing_id: int | None
    kind: ChangeKind
    about: str
    number: int | None
    older_words: str
    undone: bool


def sentence_part(c: Change) -> str:
    """What it was, for the middle of a sentence."""
    form = _SENTENCE.get(c.kind)
    return (
        form.format(about=c.about, outing=c.outing_id, number=c.number) if form else c.older_words
    )


def on_a_button(c: Change) -> str:
    """What taking it back takes back, short enough for a button: "Undo: Capella sighted"."""
    if c.kind in _DONE:
        return f"Undo: {c.about} {_DONE[c.kind]}"
    if c.kind in _TOLD:
        return f"Undo: {_TOLD[c.kind].format(about=c.about)}"
    return "Undo: the note" if c.kind is ChangeKind.NOTED else "Undo the last change"
