"""An evening beside a controller, as it is written down: stop, two stars, number, what was centred.

The columns are ``utc,event,star,number_deg,left_az_deg,left_alt_deg``. Events: ``upright``
(the tube on the stop), ``star`` (twice), ``number``, ``centred`` (``star`` names what is in the
middle, ``left_*`` what the controller then still wants, right and up positive), ``missed``
(``star`` is not in the field, one line a field; ``left_*`` likewise). ``chosen`` may say what was
chosen on the controller for one that it does not know. In place of
``utc`` a column ``local`` may have the site's clock time. How cells may be written: text/table.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.controller.outlook import Asked
from plumbstar.controller.searched import Searched
from plumbstar.controller.showing import ObjectPlaces, Taught
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky import local_time
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, observed_many
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import table
from plumbstar.text.table import Repeat, Row
from plumbstar.turns import half_turn
from plumbstar.units import Array

COLUMNS = (
    "utc", "local", "event", "star", "number_deg", "left_az_deg", "left_alt_deg", "chosen"
)  # fmt: skip
WANTED = "the columns utc,event,star,number_deg,left_az_deg,left_alt_deg"
EVENTS = ("upright", "star", "number", "centred", "missed")
#: A second star named again so soon is a look back, with the tube where it was. Common practice, no
#: source.
LOOK_BACK_S = 180.0
#: Two stars of one evening are nearer in time than this.
_LONGEST_S = 6 * 3600.0


@dataclass(frozen=True)
class ToldStar:
    """A star told to the controller, and when."""

    target: Target
    at: Instant


@dataclass(frozen=True)
class Remainder:
    """An object in the middle, when, and what the controller still wanted: right, up, degrees.

    ``chosen``: what was chosen on the controller, where it does not know the object itself.
    """

    target: Target
    at: Instant
    left_deg: tuple[float, float]
    chosen: Target | None = None


@dataclass(frozen=True)
class InVain:
    """An object looked for and not found: what the controller wanted where each field's middle was.

    ``field_deg``: the true field, None for that of the eyepiece in use.
    """

    target: Target
    at: Instant
    left_deg: tuple[tuple[float, float], ...]
    field_deg: float | None = None
    chosen: Target | None = None


@dataclass(frozen=True)
class EveningBeside:
    """``number_deg`` as shown, None where it was not written down; ``centred`` oldest first."""

    upright: Instant | None
    first: ToldStar
    second: ToldStar
    number_deg: float | None
    centred: tuple[Remainder, ...]
    repeats: tuple[Repeat, ...] = ()
    missed: tuple[InVain, ...] = ()

    def looks_back(self, k: int) -> bool:
        """Whether the k-th centred is the second star, with the tube not moved since."""
        r = self.centred[k]
        soon = 0 <= r.at.minus(self.second.at) <= LOOK_BACK_S
        return k == 0 and soon and r.target.label == self.second.target.label


def read_evening(text: str, source: str, zone: str = "") -> EveningBeside:
    """The evening that a table tells. ``zone``: of the times in a column ``local``.

    Raises :class:`plumbstar.text.table.TableError` naming line and column.
    """
    found = table.read(text, source, lambda n: n if n in COLUMNS else "", WANTED, only_known=False)
    if "event" not in found.named or not {"utc", "local"} & set(found.named):
        raise found.error("no column 'event', or none for the time", WANTED)
    found.needs_rows("events")
    upright: Instant | None = None
    taps: list[ToldStar] = []
    number: float | None = None
    centred: list[Remainder] = []
    missed: list[InVain] = []
    for row in found.rows:
        event = row.text("event").casefold()
        if event == "upright":
            if taps:
                raise row.error(
                    "'upright' after a star",
                    "one evening from one switching on",
                    "Put each switching on of the controller into a table of its own",
                    "event",
                )
            upright = _moment(row, zone)
        elif event == "star":
            if len(taps) == 2:
                raise row.error("a third star", "two", "Objects found later are 'centred'", "event")
            taps.append(ToldStar(_target(row), _moment(row, zone)))
        elif event == "number":
            number = row.needed("number_deg", "degrees, as -0.4")
            if abs(number) > 180.0:
                raise row.error(f"{number:g}", "-180 to 180", "Read it again", "number_deg")
        elif event in ("centred", "centered"):
            centred.append(Remainder(_target(row), _moment(row, zone), _left(row), _chosen(row)))
        elif event == "missed":
            target, at = _target(row), _moment(row, zone)
            if not (row.text("left_az_deg") or row.text("left_alt_deg")):
                continue  # nobody wrote down where it was looked for
            same = bool(missed) and missed[-1].target.key == target.key
            before = missed.pop().left_deg if same else ()
            missed.append(InVain(target, at, (*before, _left(row)), None, _chosen(row)))
        else:
            raise row.error(f"the event '{event[:40]}'", ", ".join(EVENTS), "Use one", "event")
    if len(taps) < 2:
        raise table.TableError(
            UserError(f"{len(taps)} lines with the event 'star'", "two", "Add the other"), source
        )
    first, second = taps
    if abs(second.at.minus(first.at)) > _LONGEST_S:
        raise table.TableError(
            UserError("hours between the two stars", "minutes at most", "Check the times"), source
        )
    seen = tuple(centred), found.repeats, tuple(missed)
    return EveningBeside(upright, first, second, number, *seen)


def _left(row: Row) -> tuple[float, float]:
    left = row.needed("left_az_deg"), row.needed("left_alt_deg")
    if abs(left[0]) > 360.0 or abs(left[1]) > 180.0:
        raise row.error(f"{left[0]:g}, {left[1]:g}", "degrees left to push", "Read again")
    return left


def _target(row: Row, column: str = "star") -> Target:
    name = row.text(column)
    if not name:
        raise row.error("no name", "the star or object", "Fill it in", column)
    try:
        return find_target(name)
    except UserError as e:
        raise row.at(e, column) from None


def _chosen(row: Row) -> Target | None:
    """What was chosen on the controller in place of what it does not know."""
    return _target(row, "chosen") if row.text("chosen") else None


def _moment(row: Row, zone: str) -> Instant:
    text, column = row.text("utc"), "utc"
    if not text:
        text, column = row.text("local"), "local"
    try:
        at = Instant.parse(text)
    except UserError as e:
        raise row.at(e, column) from None
    if column == "utc":
        return at
    # The clock's figures were read as if they were UTC; the zone tells how far they are ahead.
    guess = at.plus_seconds(-local_time.offset_s(at, zone))
    return at.plus_seconds(-local_time.offset_s(guess, zone))


def places(targets: list[Target], at: list[Instant], site: Site, airless: bool) -> Array:
    """(n, 2), azimuth and altitude in radians, of each at its own moment."""
    return np.stack(observed_many(targets, at, site, airless=airless), axis=-1).reshape(-1, 2)


def object_places(targets: list[Target], at: Instant, site: Site) -> ObjectPlaces:
    """Objects at one moment, as seen and as a controller believes them."""
    many = [at] * len(targets)
    return ObjectPlaces(places(targets, many, site, False), places(targets, many, site, True))


def asked_of(evening: EveningBeside, site: Site, kit: Kit, field_deg: float | None = None) -> Asked:
    """What an outlook is made of. ``field_deg``: of the eyepiece by which objects were looked for,
    where the evening does not say. Raises :class:`UserError` for stars that were not up, or not
    two."""
    asked = asked_with(evening, site, kit, Priors.from_kit(kit), field_deg)
    a, b, taught = evening.first, evening.second, asked.taught
    for tap, (_, alt) in zip((a, b), taught.seen, strict=True):
        if alt < 0:
            raise UserError(
                f"{tap.target.label} was {-math.degrees(alt):.0f} degrees below the horizon at "
                f"{tap.at}",
                "",
                "Check the date, the time (UTC), the site and the name",
            )
    apart = np.abs(half_turn(taught.seen[1] - taught.seen[0]))
    if float(apart.max()) < math.radians(0.5):
        raise UserError(
            f"{a.target.label} and {b.target.label} stand at one place", "", "Check the two names"
        )
    return asked


def asked_with(
    evening: EveningBeside, site: Site, kit: Kit, priors: Priors, field_deg: float | None = None
) -> Asked:
    """The same with these priors, and whatever the two stars are."""
    box = kit.controller
    a, b = evening.first, evening.second
    both, own = [a.target, b.target], [a.at, b.at]
    taught = Taught(
        places(both, own, site, False),
        places(both, own, site, True),
        places(both, [b.at, b.at], site, True),
    )
    found = [r.target for r in evening.centred]
    chosen = [r.chosen or r.target for r in evening.centred]
    moments = [r.at for r in evening.centred]
    centred = (
        ObjectPlaces(places(found, moments, site, False), places(chosen, moments, site, True))
        if found
        else ObjectPlaces(np.zeros((0, 2)), np.zeros((0, 2)))
    )
    return Asked(
        taught,
        None if evening.number_deg is None else math.radians(evening.number_deg),
        centred,
        np.radians([r.left_deg for r in evening.centred]).reshape(-1, 2),
        priors,
        Noise.from_kit(kit).centring,
        math.radians(box.step_deg),
        box.has_clock,
        box.sign_factor,
        looked_back=bool(evening.centred) and evening.looks_back(0),
        searched=tuple(
            _searched(m, field, sum(r.at.minus(m.at) < 0 for r in evening.centred), site)
            for m in evening.missed
            if m.left_deg and (field := m.field_deg or field_deg)
        ),
    )


def _searched(m: InVain, field_deg: float, after: int, site: Site) -> Searched:
    seen = places([m.target], [m.at], site, False)
    believed = places([m.chosen or m.target], [m.at], site, True)
    looked = -np.radians(np.array(m.left_deg).reshape(-1, 2))
    return Searched(ObjectPlaces(seen, believed), looked, math.radians(field_deg) / 2.0, after)
