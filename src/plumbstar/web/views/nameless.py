"""What is known of the stars that were centred and have no name yet."""

from __future__ import annotations

from dataclasses import replace

from plumbstar.contract.picture import NamelessRecord
from plumbstar.nameless import say
from plumbstar.nameless.deciding import ColourAsked
from plumbstar.text.words import many
from plumbstar.turns import one_turn_deg
from plumbstar.web.evening.evening import Evening


def nameless_record(e: Evening) -> NamelessRecord | None:
    """None where no star waits for its name."""
    waiting = e.nameless.waiting
    if not waiting:
        return None
    naming = e.naming
    sentence = f"{many(len(waiting), 'star')} noted, not named yet."
    if naming is None:
        return NamelessRecord(
            count=len(waiting), sentence=sentence, names=(), next="", question="", press=""
        )
    pairs = list(zip(naming.presses, naming.found.names, strict=True))
    mine = [(press, name) for press, name in pairs if press is not None]
    look = naming.found.next
    asked = look.question if look is not None else None
    waits = [press for press, _ in mine]
    question, press = "", ""
    pair: tuple[str, ...] = ()
    called: tuple[str, ...] = ()
    if isinstance(asked, ColourAsked):
        about = naming.presses[asked.entry]
        if about is not None:
            question, press = say.question(asked, waits.index(about)), about.press
    elif asked is not None:
        two = [p for p in (naming.presses[asked.first], naming.presses[asked.second]) if p]
        if len(two) == 2:
            question, called = say.which_brighter(*map(waits.index, two))
            pair = tuple(p.press for p in two)
    return NamelessRecord(
        count=len(waiting),
        sentence=sentence,
        names=say.which([name for _, name in mine]),
        next=next_words(e),
        question=question,
        press=press,
        pair=pair,
        called=called,
    )


def next_words(e: Evening) -> str:
    """Where one more star would decide."""
    naming = e.naming
    look = naming.found.next if naming is not None else None
    if look is None or look.part is None or e.sun_question.waits():
        return "Take one more bright star, in another part of the sky."
    part = look.part
    if e.kit.azimuth.reversed:  # as the circle shows it
        low, high = one_turn_deg(-part.high_deg), one_turn_deg(-part.low_deg)
        part = replace(part, low_deg=low, high_deg=high)
    # With encoders there is no circle to look at: the page's top line has it.
    heard = e.kit.connection.heard
    return say.part(part, "the top line says turned") if heard else say.part(part)
