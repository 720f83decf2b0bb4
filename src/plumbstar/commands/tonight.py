"""``plumbstar tonight``: what is worth looking at, in which order."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import cast

import click

from plumbstar.commands import completing, whose_eye
from plumbstar.commands import options as opt
from plumbstar.commands.output import print_json
from plumbstar.commands.tonight_asked import answer_of as seen_answer
from plumbstar.commands.tonight_asked import lines_of, verdicts
from plumbstar.contract.answers.seen import OwnEyeReport
from plumbstar.contract.answers.sky import LeftOutReport, ProspectReport, StopReport, TonightReport
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook, own_file, path_of
from plumbstar.logbook.seen import seen_names
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.local_time import local
from plumbstar.sky.naming.minor_bodies import all_bodies
from plumbstar.sky.site import ZENITH_MAG, ZENITH_USUAL, Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets import say
from plumbstar.targets.asked import Place
from plumbstar.targets.learnt_eye import LearntEye
from plumbstar.targets.model import Conditions, Difficulty, Prospect, Route, conditions_of
from plumbstar.targets.order import leading, plan, within
from plumbstar.targets.prospects import prospects
from plumbstar.targets.reasons import reason
from plumbstar.targets.taste import taste_of
from plumbstar.targets.tonight import Survey, survey
from plumbstar.targets.wishes import Wishes, group_named, hours_of, known, name_of
from plumbstar.text import words

kind_option = click.option(
    "--kind", "kinds", multiple=True, metavar="KIND",
    help="cluster, nebula, galaxy, double, body or own; may be given again. Default: all.",
)  # fmt: skip
hardest_option = click.option(
    "--hardest", type=click.Choice(["easy", "fair", "hard"]), default="fair", show_default=True,
    help="The hardest to put on the list.",
)  # fmt: skip
zenith_option = click.option(
    "--zenith-mag", type=float, metavar="X",
    help="How dark the sky is overhead, magnitudes a square arcsecond. Default: the site's, or "
    "21 (a country sky).",
)  # fmt: skip
seeing_option = click.option(
    "--seeing-arcsec", type=float, metavar="X", help="How wide the air blurs a star. 2.5."
)


@click.command("tonight")
@click.argument("names", nargs=-1, metavar="[NAME]...", shell_complete=completing.targets)
@opt.site_option(required=True)
@opt.utc_option
@opt.kit_option
@opt.skyline_option
@click.option(
    "--hours", type=click.FloatRange(0.25, 24), default=3.0, show_default=True,
    help="How long you will look.",
)  # fmt: skip
@kind_option
@hardest_option
@click.option(
    "--new", "only_new", is_flag=True, help="Only what you have not found yet, by your logbook."
)
@click.option(
    "--no-taste", "alike", is_flag=True,
    help="Leave out what your logbook tells of what you like and have seen, and of your eye.",
)  # fmt: skip
@whose_eye.book_option
@zenith_option
@seeing_option
@click.option("--show", type=click.IntRange(0, 500), default=10, show_default=True,
              help="How many others to name.")  # fmt: skip
@opt.json_option
def command(
    names: tuple[str, ...],
    site_text: str,
    utc_text: str | None,
    kit_path: str | None,
    skyline_text: str | None,
    hours: float,
    kinds: tuple[str, ...],
    hardest: str,
    only_new: bool,
    alike: bool,
    book_path: str | None,
    zenith_mag: float | None,
    seeing_arcsec: float | None,
    show: int,
    as_json: bool,
) -> None:
    """Say what is worth looking at tonight with this telescope, and in which order.

    With NAMEs: whether each can be seen, with what, and if not, why, what would help and when.
    """
    site = opt.site_of(site_text)
    kit = opt.kit_of(kit_path)
    eye = None if alike else whose_eye.eye_of(book_path, site)
    sky = sky_of(site, kit, zenith_mag, seeing_arcsec, eye)
    skyline = opt.skyline_of(skyline_text, site_text)
    if names:
        now, place = opt.instant_of(utc_text), Place(site, kit, sky, skyline)
        asked = verdicts(names, now, place)
        if as_json:
            print_json(seen_answer(asked, now, site, whose_eye.record(eye)))
            return
        for line in lines_of(asked, site.time_zone, now):
            click.echo(line)
        _say(whose_eye.lines(eye, "--no-taste"))
        _say_kit(kit_path)
        return
    start, dawn = hours_of(opt.instant_of(utc_text), site)
    end = min(dawn, start.plus_seconds(3600.0 * hours))
    own = own_file.load(own_file.default_path())
    past = [] if alike else _found(book_path)
    wishes = Wishes(
        kinds=frozenset(group_named(k) for k in kinds),
        hardest=cast("Difficulty", hardest),
        own=frozenset(o.key for o in own),
        seen=known(past or _found(book_path)) if only_new else frozenset(),
    )
    night = night_of(start, dawn, site, kit, sky, skyline)
    found = prospects(night, taste=taste_of(past))
    wanted = wishes.choose(found)
    route = plan(night, wanted, start, end)
    if as_json:
        print_json(answer_of(night, wanted, route, whose_eye.record(eye)))
        return
    for line in report(night, found, wanted, route, (start, end), show):
        click.echo(line)
    _say(whose_eye.lines(eye, "--no-taste"))
    _say_kit(kit_path)


def _say(lines: Iterable[str]) -> None:
    for line in lines:
        click.echo(line)


def _say_kit(kit_path: str | None) -> None:
    if kit_path is None:
        click.echo("(No kit given: a 200 mm telescope with a 25 mm eyepiece is assumed.)")


def sky_of(
    site: Site,
    kit: Kit,
    zenith_mag: float | None,
    seeing: float | None,
    eye: LearntEye | None = None,
) -> Conditions:
    """The sky as stated, within bounds that a real one keeps. Raises :class:`UserError`."""
    for what, value, (low, high), remedy in (
        ("--zenith-mag", zenith_mag, ZENITH_MAG, ZENITH_USUAL),
        ("--seeing-arcsec", seeing, (0.2, 20.0), "Usual is 2 to 4"),
    ):
        if value is not None and not low <= value <= high:  # also false for nan
            raise UserError(f"{what} {value:g}", f"{low:g} to {high:g}", remedy)
    return conditions_of(site, kit, zenith_mag=zenith_mag, seeing_arcsec=seeing, own=eye)


def night_of(
    start: Instant, end: Instant, site: Site, kit: Kit, sky: Conditions, skyline: Skyline
) -> Survey:
    """The survey with everything this program knows of, the observer's own objects among it."""
    own = own_file.load(own_file.default_path())
    return survey(
        deepsky.load(), doubles.load(), start, end, site, kit, sky, skyline, own=own,
        bodies=all_bodies(),
    )  # fmt: skip


def _found(path: str | None) -> list[str]:
    where = path_of(path)
    if not where.exists():
        return []
    with Logbook.open(where, create=False) as book:
        return seen_names(book)


def report(
    night: Survey,
    found: list[Prospect],
    wanted: list[Prospect],
    route: Route,
    hours: tuple[Instant, Instant],
    show: int,
) -> list[str]:
    """The answer first: what to begin with; then the order, then what else."""
    start, end = hours
    light = night.light
    zone = light.site.time_zone

    def clock(t: Instant) -> str:
        return local(t, zone)

    lines = [headline(route, zone)]
    lines.append(f"{say.darkness(light)} {say.moon(light)}")
    lines.append(
        f"Of {night.judged:,} objects {len(found):,} would show, and {len(wanted):,} "
        f"{'is' if len(wanted) == 1 else 'are'} what you want."
    )
    if route.visits:
        lines += ["", f"In this order (times are {say.zone_words(light)}):"]
    for v in route.visits:
        p, note = v.prospect, say.note(v.note)
        lines.append(
            f"  {clock(v.start)}  {p.target.label}: {p.difficulty}, {say.with_what(p)}, "
            f"{p.minutes:.0f} minutes; {words.where(v.az_deg, v.alt_deg)}, {v.alt_deg:.0f}° up."
        )
        lines.append(f"         {words.upper_first(say.what(p.target))}. {reason(p)}"
                     + (f" {note}" if note else ""))  # fmt: skip
    taken = {name_of(v.prospect.target) for v in route.visits}
    in_time = [p for p in wanted if within(p, start, end)]
    others = [p for p in leading(in_time) if name_of(p.target) not in taken]
    if others and show:
        lines += ["", "Others worth a look in these hours:"]
    for p in others[:show]:
        lines.append(
            f"  {p.target.label}: {p.difficulty}, {say.with_what(p)}; best about "
            f"{clock(p.best)}. {reason(p)}"
        )
    if len(others) > show:
        lines.append(f"And {len(others) - show:,} more (--show {min(500, len(others))}).")
    if len(in_time) < len(wanted):
        lines.append(f"Later in the night {len(wanted) - len(in_time):,} more (with more --hours).")
    return lines


def headline(route: Route, zone: str) -> str:
    """The first thing to do; the time is the site's own if its zone is known."""
    if not route.visits:
        return "Nothing of that kind can be seen in those hours."
    v = route.visits[0]
    n = len(route.visits)
    begin = f"Begin at {local(v.start, zone, with_zone=True)} with {v.prospect.target.label}"
    if n == 1:
        return f"{begin}; it is the only one."
    push = route.push_deg / (n - 1)
    return f"{begin}; {n} objects in all, {push:.0f}° of push from one to the next."


def answer_of(
    night: Survey, wanted: Iterable[Prospect], route: Route, eye: OwnEyeReport | None = None
) -> TonightReport:
    """The record that programs are given."""
    return TonightReport(
        own_eye=eye,
        start_utc=night.light.instants[0].iso(),
        end_utc=night.light.instants[-1].iso(),
        moon_lit_fraction=night.light.moon_lit,
        judged=night.judged,
        push_deg=route.push_deg,
        order=tuple(
            StopReport(
                start_utc=v.start.iso(),
                az_deg=v.az_deg,
                alt_deg=v.alt_deg,
                push_deg=v.push_deg,
                note=say.note(v.note),
                object=_prospect(v.prospect),
            )
            for v in route.visits
        ),
        left_out=tuple(
            LeftOutReport(name=name_of(p.target), why=say.left_out(w)) for p, w in route.left_out
        ),
        objects=tuple(_prospect(p) for p in wanted),
    )


def _prospect(p: Prospect) -> ProspectReport:
    return ProspectReport(
        name=name_of(p.target),
        label=p.target.label,
        what=say.what(p.target),
        difficulty=p.difficulty,
        chance=round(p.chance, 4),
        margin_mag=round(p.margin_mag, 2) if math.isfinite(p.margin_mag) else None,
        reason=reason(p),
        eyepiece=p.eyepiece,
        second_eyepiece=p.second,
        filter=p.filter,
        magnification=round(p.magnification, 1),
        minutes=p.minutes,
        best_utc=p.best.iso(),
        first_utc=p.first.iso(),
        last_utc=p.last.iso(),
        sets_utc=p.sets.iso() if p.sets else None,
        company=tuple(name_of(t) for t in p.company),
    )
