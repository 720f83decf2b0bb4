"""The fix of a table of sightings in which a star may be "?"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from plumbstar.contract.answers.naming import FoundStarReport, InsteadReport, NextLookReport
from plumbstar.contract.answers.pointing import SightingInFixReport
from plumbstar.errors import UserError
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting, Unnamed
from plumbstar.nameless import say
from plumbstar.nameless.contradicted import ItWas, reconsidered
from plumbstar.nameless.solved import NamedFix, solve_nameless
from plumbstar.sky.site import Site
from plumbstar.solve.fix import Fix, solve


@dataclass(frozen=True)
class SolvedTable:
    """``named`` is None where every star had its name; ``it_was``: those that were another one."""

    fix: Fix
    named: NamedFix | None
    it_was: tuple[ItWas, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What is to be said of the names."""
        return say.lines(self.named) if self.named is not None else ()

    def reports(self, rows: Sequence[SightingInFixReport]) -> tuple[SightingInFixReport, ...]:
        """The sightings of a fix's answer with how sure their names are."""
        instead = {x.index: x for x in self.it_was}
        names = (
            [n for n, row in zip(self.named.names, self.named.rows, strict=True) if row is not None]
            if self.named is not None
            else [None] * len(rows)
        )
        out = []
        for i, (row, name) in enumerate(zip(rows, names, strict=True)):
            x = instead.get(i)
            out.append(
                msgspec.structs.replace(
                    row,
                    star=x.called if x is not None else row.star,
                    named_probability=name.probability if name is not None else None,
                    or_star=tuple(
                        FoundStarReport(star=s, probability=p)
                        for s, p in (name.others if name is not None else ())
                    ),
                    it_was=None
                    if x is None
                    else InsteadReport(
                        star=x.row.star, apart_deg=x.apart_deg, probability=x.probability
                    ),
                )
            )
        return tuple(out)

    @property
    def next_look(self) -> NextLookReport | None:
        """What would decide between the namings."""
        if self.named is None or self.named.next is None:
            return None
        part, asked = self.named.next.part, self.named.next.asked
        return NextLookReport(
            from_az_reading_deg=part.low_deg if part is not None else None,
            to_az_reading_deg=part.high_deg if part is not None else None,
            upper=part.upper if part is not None else None,
            sentence=say.part(part) if part is not None else None,
            question=say.question(asked) if asked is not None else None,
        )


def named_rows(
    entries: Sequence[Sighting | Unnamed], site: Site | None, priors: Priors, noise: Noise
) -> tuple[list[Sighting], tuple[str, ...]]:
    """The sightings by their likeliest names, and what is to be said of those; none where every
    star was named. Raises :class:`UserError`."""
    named = [e for e in entries if isinstance(e, Sighting)]
    if len(named) == len(entries):
        return named, ()
    solved = solve_entries(entries, site, priors, noise)
    return list(solved.fix.sightings), solved.notes


def solve_entries(
    entries: Sequence[Sighting | Unnamed],
    site: Site | None,
    priors: Priors,
    noise: Noise,
    noise_from_data: bool = False,
) -> SolvedTable:
    """Named where a name is wanting, and solved. Raises :class:`UserError`."""
    named_all = [e for e in entries if isinstance(e, Sighting)]
    if len(named_all) == len(entries):
        fix = solve(named_all, priors, noise, noise_from_data=noise_from_data)
        again = reconsidered(fix, site)
        return SolvedTable(again.fix, None, again.it_was)
    if site is None:
        raise UserError(
            "The star is '?', and no site was given",
            "the site, from which the stars' places follow",
            "Add --site LAT,LON or the name of a site you keep",
        )
    if np.isinf(priors.sigma).sum() > 1:
        raise UserError(
            "The star is '?', and --flat-priors was given: a name is found by what the kit expects "
            "of the mount",
            "",
            "Leave out --flat-priors, or write the star's name",
        )
    named = solve_nameless(entries, site, priors, noise, noise_from_data=noise_from_data)
    return SolvedTable(named.fix, named, ())
