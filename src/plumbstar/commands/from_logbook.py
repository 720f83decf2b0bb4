"""What a command takes from the logbook unless it is told: the kit used last, the last site, and
what past outings teach of the mount. Only read, never made; what is given on the line wins.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
import msgspec

from plumbstar import kit as kits
from plumbstar.commands import siting
from plumbstar.commands.siting import Points
from plumbstar.contract.answers.pointing import TakenReport
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import ENVIRONMENT, Logbook, LogbookTrouble, Outing, path_of
from plumbstar.mount.sighting import Sighting, Unnamed
from plumbstar.mount.terms import INDEX, STOP, shown_in
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.text import words

if TYPE_CHECKING:
    from plumbstar.controller.believed import Believed
    from plumbstar.diagnose.learn import Learnt

F = TypeVar("F", bound=Callable[..., Any])

#: Two readings this close, degrees, are of one sighting: a table may have fewer decimals.
SAME_DEG = 1e-3
#: And two times, seconds.
SAME_S = 1.0


def logbook_options(f: F) -> F:
    """``--logbook`` and ``--no-logbook``."""
    for option in (
        click.option(
            "--no-logbook",
            "without",
            is_flag=True,
            help="Take nothing from the logbook: neither kit nor site nor what was learnt.",
        ),
        click.option(
            "--logbook",
            "logbook",
            metavar="PATH",
            help=f"The logbook to take kit, site and what was learnt from (else ${ENVIRONMENT}, "
            "else the usual place).",
        ),
    ):
        f = option(f)
    return f


@dataclass(frozen=True)
class Taken:
    """The kit and the site that a command goes by. ``path``: the logbook read, None without one.

    ``kit_outing``: the outing that the kit was taken from; ``from_site``: whether the site was
    taken. ``learnable``: whether outings with this kit may teach. ``trouble``: why the logbook
    could not be read.
    """

    kit: Kit
    site: Site | None
    points: Points
    path: Path | None
    kit_outing: int | None
    from_site: bool
    learnable: bool
    trouble: str

    def needed_site(self) -> Site:
        """Raises :class:`UserError` where there is none."""
        if self.site is not None:
            return self.site
        came = "No site was given" + (", and the logbook has none" if self.path else "")
        raise UserError(came, "", "Add --site LAT,LON or the name of a site you keep")

    def skyline(self, told: Skyline | None) -> Skyline:
        """The one given, else that kept with the site."""
        return Skyline(self.points) if told is None else told

    @property
    def untaught(self) -> FromLogbook:
        """With nothing of what past outings taught."""
        return FromLogbook(self, None)

    def nights(self) -> FromLogbook:
        """What evenings beside the closed controller of this kit taught."""
        if self.path is None or not self.learnable or self.trouble:
            return self.untaught
        from plumbstar.diagnose.nights import taught_by_nights
        from plumbstar.mount.priors import Priors

        with Logbook.open(self.path, create=False) as book:
            return FromLogbook(
                self, None, taught_by_nights(book, self.kit, Priors.from_kit(self.kit))
            )

    def learnt(self, at: Instant, rows: Sequence[Sighting | Unnamed] = ()) -> FromLogbook:
        """What outings before these sightings taught, or before ``at`` where they have no times.

        An outing that holds these very sightings is not one of them: they would count twice.
        """
        if self.path is None or not self.learnable or self.trouble:
            return self.untaught
        if self.kit.connection.kind == "controller":
            return self.nights()
        from plumbstar.diagnose.teach import learnt_priors

        with Logbook.open(self.path, create=False) as book:
            outings = book.outings(kit=self.kit.name)
            times = [r.utc for r in rows if r.utc is not None]
            before = min(times, default=at)
            read = [
                book.outings_reading(r.az_reading_deg, r.alt_reading_deg, SAME_DEG) for r in rows
            ]
            same = frozenset().union(*read)
            for o in outings:
                if o.id in same and o.started < before and _of(o, book, rows):
                    before = o.started
            if not any(o.started < before and o.sighting_count for o in outings):
                return self.untaught
            learnt = learnt_priors(book, self.kit, before)
        return FromLogbook(self, learnt if any(t.outings for t in learnt.terms) else None)


def _of(o: Outing, book: Logbook, rows: Sequence[Sighting | Unnamed]) -> bool:
    """Whether the outing holds any of these sightings."""
    return any(
        abs(s.sighting.az_reading_deg - r.az_reading_deg) < SAME_DEG
        and abs(s.sighting.alt_reading_deg - r.alt_reading_deg) < SAME_DEG
        and (s.sighting.utc is None or r.utc is None or abs(r.utc.minus(s.sighting.utc)) < SAME_S)
        for s, r in itertools.product(book.sightings(o.id), rows)
    )


@dataclass(frozen=True)
class FromLogbook:
    """All that was taken. ``learnt`` is None where no outing teaches; ``nights``: what those beside
    a closed controller teach, and how many they are."""

    taken: Taken
    learnt: Learnt | None
    nights: tuple[Believed, int] | None = None

    @property
    def believed(self) -> Believed | None:
        """What nights beside a closed controller teach."""
        return self.nights[0] if self.nights is not None else None

    @property
    def outings(self) -> tuple[int, ...]:
        """Those that taught."""
        if self.learnt is None:
            return ()
        return tuple(sorted({o for t in self.learnt.terms for o in t.outings}))

    @property
    def sentence(self) -> str:
        """One line; empty where nothing was taken."""
        t = self.taken
        if t.trouble:
            return f"Nothing was taken from the logbook: {t.trouble}"
        what = []
        if t.kit_outing is not None:
            what.append(f"the kit {t.kit.name} as in outing {t.kit_outing}")
        if t.from_site and t.site is not None:
            what.append(f"the site {t.site.name or f'{t.site.lat_deg:.2f}, {t.site.lon_deg:.2f}'}")
        if self.learnt is not None:
            what.append(f"what {words.many(len(self.outings), 'outing')} taught{self._stop}")
            if (hand := self.learnt.hand) is not None and hand.differs:
                what.append(f"that you centre to about {hand.arcmin:.1f} arcmin")
        if self.nights is not None:
            known, n = self.nights
            stop, sigma = (
                math.degrees(float(x[INDEX[STOP]])) for x in (known.priors.mean, known.priors.sigma)
            )
            what.append(
                f"what {words.many(n, 'night')} beside the controller taught "
                f"({words.term(STOP)} {stop:+.2f} ± {words.sigma_words(sigma)}°)"
            )
        if not what:
            return ""
        return f"From the logbook: {words.joined(what)}. --no-logbook leaves it out."

    @property
    def _stop(self) -> str:
        """The term that matters most, in brackets."""
        for t in self.learnt.terms if self.learnt is not None else ():
            if t.name == "altitude_zero" and t.outings:
                factor, _ = shown_in(t.name)
                size = f"{t.mean * factor:+.2f} ± {words.sigma_words(t.sigma * factor)}°"
                return f" ({words.term(t.name)} {size})"
        return ""

    @property
    def lines(self) -> tuple[str, ...]:
        """The sentence, if there is one."""
        return (self.sentence,) if self.sentence else ()

    @property
    def report(self) -> TakenReport | msgspec.UnsetType:
        """For ``--json``; unset where there was nothing to take."""
        t = self.taken
        if t.path is None or not self.sentence:
            return msgspec.UNSET
        return TakenReport(
            logbook=str(t.path),
            kit=t.kit.name if t.kit_outing is not None else None,
            site=siting.site_answer(t.site) if t.from_site and t.site is not None else None,
            outings=self.outings,
            sentence=self.sentence,
        )


def taken(kit_path: str | None, site_text: str | None, logbook: str | None, without: bool) -> Taken:
    """Kit and site: as given, else those used last; a plain kit and no site without a logbook.

    Raises :class:`UserError`, also for a logbook that was named and cannot be read. Of the usual
    one that is only said: what was asked does not hang on it.
    """
    if without and logbook:
        raise UserError("--logbook and --no-logbook were both given", "", "Leave one out")
    given = kits.load(Path(kit_path)) if kit_path else None
    path = None if without else path_of(logbook)
    if path is not None and not logbook and not (path.exists() and path.stat().st_size):
        path = None  # a new one would be begun in an empty file
    trouble = ""
    outings: tuple[Outing, ...] = ()
    points: Points = ()
    site, from_site = None, False
    try:
        with _book(path) as book:
            if book is not None:
                outings = book.outings()
            if site_text is None and (last := _last_site(outings)) is not None:
                site, from_site = last, True
                points = (book.skyline(site) or ()) if book is not None else ()
    except LogbookTrouble as e:
        if logbook:
            raise
        trouble, outings = str(e), ()
    if site_text:
        site, points = siting.find(site_text, logbook)
    with_kit = [o for o in outings if o.kit_text]
    from_kit = with_kit[-1] if with_kit and given is None else None
    kit = given or Kit()
    if from_kit is not None:
        kit = kits.loads(from_kit.kit_text, f"the kit of outing {from_kit.id}")
    return Taken(
        kit,
        site,
        points,
        path,
        from_kit.id if from_kit is not None else None,
        from_site,
        given is not None or from_kit is not None,
        trouble,
    )


def _book(path: Path | None) -> AbstractContextManager[Logbook | None]:
    return nullcontext() if path is None else Logbook.open(path, create=False)


def _last_site(outings: Iterable[Outing]) -> Site | None:
    sites = [o.site for o in outings if o.site is not None]
    return sites[-1] if sites else None
