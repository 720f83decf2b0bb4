"""What to make of the logbook when the server comes up: go on with the outing, or not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook, Outing, TimedBy
from plumbstar.logbook.shown import load_display
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.instrument import same_circles
from plumbstar.web.evening.messages import Messages

#: An outing without an entry for this long is over: nobody's base stands untouched for a day.
FORGOTTEN_S = 14 * 3600.0
#: Sites closer than this are one: typed once with a decimal more.
SAME_SITE_DEG = 0.02


def last_entry(book: Logbook, outing: Outing) -> Instant:
    """When the last thing was written into it."""
    now = book.basis()

    def right(utc: Instant, then: TimedBy | None, corrected_by_s: float) -> Instant:
        # Of this run of the computer the steady clock tells, whichever other one timed the entry.
        if now is None or then is None or then.boot != now.boot:
            return utc
        return utc.plus_seconds(now.zero - then.zero - corrected_by_s)

    times = [right(outing.started, outing.clock, outing.start_corrected_by_s)]
    for s in book.sightings(outing.id):
        if s.sighting.utc is not None:
            times.append(right(s.sighting.utc, s.clock, s.corrected_by_s))
    times += [right(f.utc, f.clock, f.corrected_by_s) for f in book.finds(outing.id)]
    times += [right(n.utc, n.clock, n.corrected_by_s) for n in book.notes(outing.id)]
    times += [right(e.utc, e.clock, e.corrected_by_s) for e in load_display(book.state(outing.id))]
    return max(times)


def end_if_forgotten(book: Logbook, now: Instant, messages: Messages, *, sure: bool = True) -> None:
    """End an outing that was left open on another evening, and say so: its sightings would mislead
    tonight's telescope. ``sure``: whether the clock that gave ``now`` can be believed; else nothing
    is ended by it."""
    outing = book.current_outing()
    if outing is None or not sure:
        return
    last = last_entry(book, outing)
    if abs(now.minus(last)) <= FORGOTTEN_S:
        return
    book.end_outing(outing.id, last)
    messages.say(
        f"Outing {outing.id} of {last.iso()[:10]} was still open; it is ended now. A new one "
        "begins with the first star.",
        "info",
    )


def compare(outing: Outing, site: Site | None, kit: Kit, messages: Messages) -> None:
    """Say where the outing in progress was begun with another site or other circles."""
    there = outing.site
    if site is not None and there is not None:
        far = max(abs(site.lat_deg - there.lat_deg), abs(site.lon_deg - there.lon_deg))
        if far > SAME_SITE_DEG:
            messages.say(
                f"Outing {outing.id} is going on at {there.lat_deg:.2f}, {there.lon_deg:.2f}, and "
                "that site is kept. End the outing to use the other.",
                "problem",
            )
    try:
        then = kits.loads(outing.kit_text) if outing.kit_text else kit
    except UserError:
        return  # a snapshot that today's rules refuse tells nothing
    if not same_circles(then, kit):
        messages.say(
            f"Outing {outing.id} was begun with another kit ({then.name}); its sightings may not "
            "fit this one. End the outing to start afresh.",
            "problem",
        )


def kit_used_last(book: Logbook) -> str:
    """The kit of the newest outing that has one: outings may have come by a command, and no page
    has kept a kit yet. Empty for none; one that today's rules refuse is passed over."""
    for outing in reversed(book.outings()):
        try:
            if outing.kit_text and kits.loads(outing.kit_text):
                return outing.kit_text
        except UserError:
            continue
    return ""


def site_used_last(book: Logbook) -> Site | None:
    """The site of the newest outing that has one; where no page has kept one yet, as above."""
    return next((o.site for o in reversed(book.outings()) if o.site is not None), None)


def kit_to_go_on_with(outing: Outing, kit_text: str, state: Mapping[str, Any]) -> str:
    """The kit that the command line names, unless the outing under way has taps beside a closed
    controller that was ticked on a page: a restart in its middle must not take that away."""
    if outing.ended is not None or not load_display(state):
        return kit_text
    try:
        ticked = kits.loads(outing.kit_text).connection.kind == "controller"
        named = kits.loads(kit_text).connection.kind == "controller"
    except UserError:
        return kit_text  # whoever takes it says what is wrong with it
    return outing.kit_text if ticked and not named else kit_text
