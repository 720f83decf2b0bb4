"""Is the Sun below the horizon? Asked where the clocks or places known here disagree about it.

Every clock counts that has told its time: this computer's, also as it was before somebody set it,
each phone's, a satellite receiver's, another program's, the last entry in the logbook; and every
place: the site, and where a receiver says that the telescope stands. If any of them puts the Sun up
while the evening's own clock says night, guidance waits for the answer of somebody at the
telescope. Nothing here decides who is right.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass

import msgspec

from plumbstar.clock.claims import SAME_S, ClockClaim, Whose, with_claim
from plumbstar.clock.doubts import BEHIND_S
from plumbstar.errors import UserError
from plumbstar.guide.course import Course
from plumbstar.guide.sun import SUN_UP_DEG
from plumbstar.logbook import Logbook
from plumbstar.sky.bodies import Body
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.ground import Ground
from plumbstar.web.evening.timekeeping import Timekeeping

KEPT = "sun_question"  # a setting in the logbook
#: "It is below the horizon" is good for so long: in an hour the Sun climbs 15 degrees at most, and
#: the day is seen to come before. Common practice, no source.
GOOD_FOR_S = 3600.0
#: A question that nobody has answered outlives the computer's restart for so long: a night.
STANDS_FOR_S = 12 * 3600.0
#: Places nearer to each other than this, degrees, have the same Sun.
SAME_PLACE_DEG = 0.5


class SunAnswer(msgspec.Struct, frozen=True):
    """What somebody at the telescope said. ``steady``: when, by the steady clock of that ``boot``;
    ``of``: the claims that it was about; ``lat_deg``, ``lon_deg``: the site then."""

    below: bool
    by: str
    utc: str
    boot: str
    steady: float
    of: tuple[ClockClaim, ...]
    lat_deg: float
    lon_deg: float


class KeptQuestion(msgspec.Struct, frozen=True):
    """What outlives the server. ``since``: since when the question stands, seconds since 1970 by
    the evening's clock; None while nothing is asked. ``carried``: asked before the computer was
    restarted, when every clock but the system's was forgotten. ``computer``: UTC at the steady
    clock's zero by the system's clock, when it was looked at last."""

    boot: str = ""
    computer: float | None = None
    claims: tuple[ClockClaim, ...] = ()
    elsewhere: Site | None = None
    since: float | None = None
    carried: bool = False
    answer: SunAnswer | None = None


@dataclass(frozen=True)
class Dissent:
    """One clock, at one place, that puts the Sun up: how high, and what it shows."""

    claim: ClockClaim
    place: Site
    utc: Instant
    sun_alt_deg: float
    elsewhere: bool


class SunQuestion:
    """``timekeeping`` None, or a rehearsal: the moment is beyond doubt, and nothing is asked."""

    def __init__(
        self,
        book: Logbook,
        ground: Ground,
        now: Callable[[], Instant],
        timekeeping: Timekeeping | None,
    ) -> None:
        self._book, self._ground, self._now = book, ground, now
        self._timing = timekeeping
        self._suns: dict[tuple[tuple[str, str], float, float], Course] = {}
        self._kept = self._read()

    @property
    def _active(self) -> bool:
        return self._timing is not None and not self._timing.clock.rehearsal

    def _read(self) -> KeptQuestion:
        try:
            kept = msgspec.convert(self._book.get_setting(KEPT), KeptQuestion | None)
        except msgspec.ValidationError:
            kept = None
        kept = kept or KeptQuestion()
        if not self._active or self._timing is None:
            return KeptQuestion()
        boot = self._timing.clock.boot
        if kept.boot == boot:
            return kept
        # The steady clock began anew: what was told by it means nothing now. That nobody has
        # answered does.
        asked = kept.since is not None
        return KeptQuestion(boot, elsewhere=kept.elsewhere, since=kept.since, carried=asked)

    def _change(self, kept: KeptQuestion) -> None:
        if kept != self._kept:
            self._kept = kept
            # On a full or failing disk it is known at least until the next start.
            with contextlib.suppress(UserError):
                self._book.set_setting(KEPT, msgspec.to_builtins(kept))

    # ---- what is heard ---------------------------------------------------------------------

    def hear(self, whose: Whose, name: str, unix: float, monotonic: float) -> None:
        """A clock showed ``unix`` when ours, that nobody can set, showed ``monotonic``."""
        if not self._active or self._timing is None or not abs(unix) < 1e11:
            return
        clock = self._timing.clock
        zero = unix - (clock.steady() - (clock.monotonic() - monotonic))
        claims = with_claim(self._kept.claims, ClockClaim(whose, name[:40], zero))
        if claims is not self._kept.claims:
            self._change(msgspec.structs.replace(self._kept, boot=clock.boot, claims=claims))

    def hear_place(self, place: Site) -> None:
        """A receiver says that the telescope stands there."""
        if self._active:
            self._change(msgspec.structs.replace(self._kept, elsewhere=place))

    def _set_meanwhile(self) -> ClockClaim | None:
        """The computer's clock as it was when it was looked at last, if it was set since."""
        last, t = self._kept.computer, self._timing
        if last is None or t is None or abs(t.clock.system_zero - last) < SAME_S:
            return None
        return ClockClaim("before", f"{last:.0f}", last)

    def _look_at_computer(self) -> None:
        """Remember its clock, and what it was before it was set."""
        if self._timing is None or not self._active:
            return
        found, claims = self._set_meanwhile(), self._kept.claims
        if found is not None or self._kept.computer is None:
            if found is not None:
                claims = with_claim(claims, found)
            clock = self._timing.clock
            self._change(
                msgspec.structs.replace(
                    self._kept, boot=clock.boot, computer=clock.system_zero, claims=claims
                )
            )

    # ---- who puts the Sun up ---------------------------------------------------------------

    def claims(self) -> tuple[ClockClaim, ...]:
        """Every clock known, the evening's own left out."""
        t = self._timing
        if t is None or not self._active:
            return ()
        clock, found = t.clock, list(self._kept.claims)
        if (before := self._set_meanwhile()) is not None:
            found.append(before)
        # While the system's clock is followed it is the evening's own.
        if clock.source:
            found.append(ClockClaim("computer", "", clock.system_zero))
        # One that was never set, and is behind the program's own making, says nothing.
        found = [c for c in found if c.zero + clock.steady() >= t.earliest]
        last = t.last_entry_zero
        if last is not None and last + clock.steady() > clock.unix() + BEHIND_S:
            found.append(ClockClaim("logbook", "", last))
        return tuple(found)

    def dissent(self) -> tuple[Dissent, ...]:
        """Those that put the Sun up, while the evening's clock and site say that it is down."""
        site, t = self._ground.site, self._timing
        if site is None or t is None or not self._active or self._by_day():
            return ()
        elsewhere = self._kept.elsewhere
        if elsewhere is not None and _same(elsewhere, site):
            elsewhere = None
        out = [d for c in self.claims() if (d := self._of(c, site, False)) is not None]
        if elsewhere is not None:
            mine = ClockClaim("evening", "", t.clock.unix() - t.clock.steady())
            both = (mine, *self.claims())
            out += [d for c in both if (d := self._of(c, elsewhere, True)) is not None]
        return tuple(out)

    def _of(self, claim: ClockClaim, place: Site, elsewhere: bool) -> Dissent | None:
        assert self._timing is not None
        unix = claim.zero + self._timing.clock.steady()
        if not 0.0 < unix < 4e9:
            return None
        utc = Instant.from_unix(unix)
        # One course for each: it keeps the marks about one moment only.
        key = (claim.key, place.lat_deg, place.lon_deg)
        sun = self._suns.setdefault(key, Course(Body("Sun"), place))
        alt = sun.az_alt_deg(utc)[1]
        return Dissent(claim, place, utc, alt, elsewhere) if alt > SUN_UP_DEG else None

    def doubted_suns(self) -> tuple[tuple[Course, float], ...]:
        """The Sun by every other clock: its course, and by how many seconds that clock is ahead."""
        site, t = self._ground.site, self._timing
        if site is None or t is None or not self._active:
            return ()
        mine = t.clock.unix() - t.clock.steady()
        return tuple(
            (self._suns.setdefault((c.key, site.lat_deg, site.lon_deg), Course(Body("Sun"), site)),
             c.zero - mine)
            for c in self.claims()
        )  # fmt: skip

    # ---- the question ----------------------------------------------------------------------

    @property
    def answer(self) -> SunAnswer | None:
        """What was answered last and still counts."""
        a, site, t = self._kept.answer, self._ground.site, self._timing
        if a is None or site is None or t is None or a.boot != t.clock.boot:
            return None
        if max(abs(a.lat_deg - site.lat_deg), abs(a.lon_deg - site.lon_deg)) > SAME_PLACE_DEG:
            return None
        good_for = GOOD_FOR_S if a.below else STANDS_FOR_S
        if not 0.0 <= t.clock.steady() - a.steady < good_for:
            return None
        if not a.below:
            return a
        # A clock that was set meanwhile, or that puts the Sun up only now, was not asked about.
        known = {c.key: c.zero for c in a.of}
        asked = (abs(known.get(d.claim.key, 1e18) - d.claim.zero) < SAME_S for d in self.dissent())
        return a if all(asked) else None

    def waits(self) -> bool:
        """Whether guidance waits for the answer, or was told that the Sun is up."""
        if not self._active or self._by_day():
            return False  # by day the rules of the day hold
        answer = self.answer
        if answer is not None:
            return not answer.below
        return bool(self.dissent()) or self._stands()

    def _by_day(self) -> bool:
        almanac = self._ground.almanac
        return almanac is None or almanac.sun.az_alt_deg(self._now())[1] > SUN_UP_DEG

    def _stands(self) -> bool:
        """Whether it was asked before the computer's restart, and nobody has answered."""
        since = self._kept.since
        if since is None or not self._kept.carried or self._timing is None:
            return False
        return self._timing.clock.unix() - since < STANDS_FOR_S

    def look(self) -> None:
        """Once a second: remember the computer's clock, and since when it is asked."""
        self._look_at_computer()
        waits, since = self.waits(), self._kept.since
        if self._timing is None or waits == (since is not None):
            return
        now, boot = self._timing.clock.unix() if waits else None, self._timing.clock.boot
        self._change(msgspec.structs.replace(self._kept, boot=boot, since=now, carried=False))

    @property
    def carried(self) -> bool:
        """Whether it is asked only because it was before the computer was restarted."""
        return not self.dissent() and self._stands()

    def take_answer(self, below: bool, by: str) -> SunAnswer:
        """Somebody at the telescope has looked. Raises UserError without a site."""
        t, site = self._timing, self._ground.need_site()
        assert t is not None
        self._look_at_computer()
        said = SunAnswer(
            below,
            by,
            self._now().iso(),
            t.clock.boot,
            t.clock.steady(),
            tuple(d.claim for d in self.dissent()),
            site.lat_deg,
            site.lon_deg,
        )
        since = None if below else self._kept.since
        carried = self._kept.carried and not below
        claims = self._kept.claims
        if below:  # nobody goes by that one any more, and it has been found wrong
            claims = tuple(c for c in claims if c not in said.of or c.whose != "before")
        self._change(
            msgspec.structs.replace(
                self._kept,
                boot=t.clock.boot,
                claims=claims,
                answer=said,
                since=since,
                carried=carried,
            )
        )
        return said


def _same(a: Site, b: Site) -> bool:
    return max(abs(a.lat_deg - b.lat_deg), abs(a.lon_deg - b.lon_deg)) < SAME_PLACE_DEG
