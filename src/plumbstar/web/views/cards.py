"""The night card from the evening as it stands, as files to keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from plumbstar.card import Card, calendar, make, paper, phone
from plumbstar.card.order import order_of
from plumbstar.controller.believed import Believed
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.lists import catalogue, deepsky, doubles
from plumbstar.sky.local_time import zone_or_offset
from plumbstar.sky.naming import own_source
from plumbstar.sky.naming.minor_bodies import all_bodies
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Route, conditions_of
from plumbstar.web.evening.evening import Evening
from plumbstar.web.views.agenda import AgendaMemory
from plumbstar.web.views.setup import Setup

#: A card is kept for so long: the three files are asked for one after another.
_KEPT_S = 600.0


@dataclass(frozen=True)
class CardInputs:
    """All that the card depends on."""

    now: Instant
    setup: Setup
    priors: Priors
    noise: Noise
    field_deg: float
    field_name: str
    time_zone: str
    route: Route | None
    nights: Believed | None = None

    @property
    def hours(self) -> float:
        """How long there will be looking: as the Tonight page's order has it, else three hours."""
        if self.route is None:
            return 3.0
        last = self.route.visits[-1]
        return last.start.plus_seconds(60.0 * last.minutes).minus(self.now) / 3600.0


@dataclass(frozen=True)
class Written:
    """One file."""

    name: str
    media: str
    data: bytes


def inputs_of(e: Evening, zone: str, orders: Sequence[AgendaMemory] = ()) -> CardInputs:
    """As the evening stands; ``zone`` as ``+01:00`` or a name, empty for the site's own.

    UserError without a site.

    ``orders`` is what the Tonight page was told, if it has asked: the card then says the same.
    """
    setup = Setup.of(e)
    # A plus sign in a link is a space, if it was not written with care: hours need no sign.
    time_zone = zone_or_offset(zone) if zone.strip() else setup.site.time_zone
    return CardInputs(
        e.now(), setup, e.instrument.priors, e.instrument.noise,
        e.instrument.field_deg, e.instrument.eyepiece.name,
        time_zone, _told(setup, e.now(), orders),
        e.beside.believed if e.beside.in_use else None,
    )  # fmt: skip


def _told(setup: Setup, now: Instant, orders: Sequence[AgendaMemory]) -> Route | None:
    """The Tonight page's order, while it holds for this site and kit and is not over."""
    route = orders[0].route(setup) if orders else None
    if route is None or not route.visits:
        return None
    return route if route.visits[-1].start > now else None


def written(q: CardInputs, kind: str) -> Written:
    """The card as "html", "pdf" or "ics". For the thinking thread: a second or more.

    Raises UserError when the part that sets paper is not installed.
    """
    if kind == "pdf":
        paper.typesetter()  # say so before the work, not after it
    card = _card(q)
    name = f"night-card-{card.date}"
    if kind == "pdf":
        return Written(f"{name}.pdf", "application/pdf", paper.pdf(card))
    if kind == "ics":
        text = calendar.ics(card, q.now)
        return Written(f"evening-{card.date}.ics", "text/calendar", text.encode())
    return Written(f"{name}.html", "text/html", phone.html(card).encode())


_last: list[tuple[Any, Instant, Card]] = []  # used by the one thinking thread only


def _card(q: CardInputs) -> Card:
    """The last card again, while nothing has changed that it depends on."""
    site, kit, skyline, eye = q.setup
    key = (
        q.setup,
        q.priors.key,
        q.noise,
        q.field_deg,
        q.field_name,
        q.time_zone,
        q.route,
        q.nights.key if q.nights is not None else None,
    )
    if _last and _last[0][0] == key and 0.0 <= q.now.minus(_last[0][1]) < _KEPT_S:
        return _last[0][2]
    route = q.route or order_of(
        q.now, site, kit, conditions_of(site, kit, own=eye), skyline,
        deepsky.load(), doubles.load(),
        own=own_source.listed(), bodies=all_bodies(), hours=q.hours,
    )  # fmt: skip
    card = make(
        q.now, site, kit, skyline, catalogue.load(),
        field_deg=q.field_deg, field_name=q.field_name, priors=q.priors, noise=q.noise,
        time_zone=q.time_zone, route=route, hours=q.hours, nights=q.nights,
    )  # fmt: skip
    _last[:] = [(key, q.now, card)]
    return card
