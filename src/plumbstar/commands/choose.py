"""``plumbstar choose``: which stars to sight tonight."""

from __future__ import annotations

import math
from collections.abc import Sequence

import click
import msgspec
import numpy as np

from plumbstar.choose.answer import candidate_answer, next_answer, set_answer
from plumbstar.choose.candidates import Candidate, candidates, when_to_sight
from plumbstar.choose.ranking import Choice, StarSet, choose, next_star
from plumbstar.choose.say import confusable, next_sentence
from plumbstar.commands import options as opt
from plumbstar.commands import whose_eye
from plumbstar.commands.from_logbook import logbook_options, taken
from plumbstar.commands.naming import solve_entries
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.pointing import ChoiceReport
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.star_places import true_places
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.learnt_eye import LearntEye
from plumbstar.text import words
from plumbstar.units import Array


@click.command("choose")
@opt.site_option(required=False, from_logbook=True)
@opt.utc_option
@opt.kit_option
@click.option(
    "--stars",
    "size",
    type=click.Choice(["2", "3"]),
    default="2",
    show_default=True,
    help="Pairs or triples.",
)
@opt.skyline_option
@opt.eyepiece_option
@opt.field_option
@click.option(
    "--target",
    "target_names",
    multiple=True,
    metavar="NAME",
    help="Score for this target only; may be given again.",
)
@click.option(
    "--tonight",
    "tonight_hours",
    type=click.FloatRange(0.25, 24),
    metavar="HOURS",
    help="Score for tonight's order of that many hours, as `plumbstar tonight` gives it.",
)
@click.option("--max-mag", type=float, default=3.0, show_default=True, help="Faintest star to use.")
@click.option(
    "--after", "after", metavar="SIGHTINGS.csv", help="You sighted these: say which star next."
)
@click.option(
    "--show",
    type=click.IntRange(1, 100),
    default=6,
    show_default=True,
    help="How many sets to list.",
)
@logbook_options
@opt.json_option
def command(
    site_text: str | None,
    utc_text: str | None,
    kit_path: str | None,
    size: str,
    skyline_text: str | None,
    eyepiece: str | None,
    field_deg: float | None,
    target_names: tuple[str, ...],
    tonight_hours: float | None,
    max_mag: float,
    after: str | None,
    show: int,
    logbook: str | None,
    without: bool,
    as_json: bool,
) -> None:
    """Which stars to sight, in which order: pairs or triples, by the hit chance they would give.

    The hit chance is the chance that a target will be in the field of the eyepiece. Kit and site,
    if not given, are those of the last outing in the logbook, and what past outings taught of the
    mount is used.
    """
    found = taken(kit_path, site_text, logbook, without)
    kit, site = found.kit, found.needed_site()
    asked = opt.instant_of(utc_text)
    instant = when_to_sight(asked, site)
    if not math.isfinite(max_mag):
        raise UserError(f"--max-mag {max_mag}", "a magnitude", "For example --max-mag 3")
    field, field_name = opt.field_of(kit, eyepiece, field_deg)
    skyline = found.skyline(opt.skyline_told(skyline_text))
    stars = candidates(
        catalogue.load(), instant, site, skyline=skyline, telescope=kit.telescope,
        max_mag=max_mag,
    )  # fmt: skip
    targets = None
    if target_names:
        places = target_places(target_names, instant, site)
        targets = (places[:, 0], places[:, 1])
    if tonight_hours is not None:
        if target_names:
            raise UserError("--target and --tonight were both given", "", "Leave one out")
        path = None if found.trouble else found.path
        eye = whose_eye.eye_of(str(path), site) if path is not None else None
        targets = _tonight(asked, tonight_hours, site, kit, skyline, eye)
    table = opt.sightings_of(after, site) if after else None
    entries = table.entries() if table is not None else []
    taught = found.learnt(asked, entries)
    priors, noise, _ = opt.priors_and_noise(kit, None, False, None, taught.learnt)
    choice = choose(
        stars, instant, priors, noise, field, size=int(size), targets=targets, skyline=skyline,
        show=show,
    )  # fmt: skip
    _, sun_alt = place_of(Body("Sun"), asked, site)
    step = None
    repeats: list[str] = []
    if table is not None:
        solved = solve_entries(entries, site, priors, noise)
        repeats = [*solved.notes, *table.notes()]
        step = next_star(solved.fix, stars, field, targets=targets, skyline=skyline)
    if as_json:
        practice = choice.common_practice
        print_json(
            ChoiceReport(
                utc=choice.instant.iso(),
                field_deg=choice.field_deg,
                field=field_name,
                asked_utc=asked.iso(),
                sun_alt_deg_when_asked=sun_alt,
                sets=tuple(set_answer(x) for x in choice.sets),
                common_practice=set_answer(practice) if practice else None,
                stars=tuple(candidate_answer(c) for c in choice.candidates),
                sets_scored=choice.sets_scored,
                next_star=next_answer(step, repeats) if step else msgspec.UNSET,
                from_logbook=taught.report,
            )
        )
        return
    if step is not None:
        click.echo("\n".join([next_sentence(step), *repeats]))
        click.echo("\nStarting anew, it would be:")
    if instant != asked:
        _, sun_alt_then = place_of(Body("Sun"), instant, site)
        click.echo(
            f"The Sun is {_height(sun_alt)} at {asked}; this is the sky of {_hour(sun_alt_then)}, "
            f"{instant}."
        )
    click.echo("\n".join(report(choice, field_name)))
    for line in taught.lines:
        click.echo(line)
    if not found.learnable and eyepiece is None and field_deg is None:
        click.echo("(No kit given: a 25 mm eyepiece on a 1.2 m telescope is assumed.)")
    if sun_alt > -1:
        click.echo("\nThe Sun is up. Never sweep a telescope across the sky by day.")


def target_places(names: Sequence[str], at: Instant, site: Site) -> Array:
    """Azimuth and altitude (n, 2), radians, of objects by name when the stars are sighted.

    Raises :class:`UserError` for one that is not up then.
    """
    found = [find_target(n) for n in names]
    places = true_places(found, [at] * len(found), site)
    for t, (_, alt_deg) in zip(found, places, strict=True):
        if alt_deg < 0:
            raise UserError(
                f"{t.label} is {-alt_deg:.0f} degrees below the horizon at {at}, when the stars "
                "are sighted",
                "",
                "Leave it out, or give a later --utc",
            )
    return np.radians(places)


def _tonight(
    asked: Instant, hours: float, site: Site, kit: Kit, skyline: Skyline, eye: LearntEye | None
) -> tuple[Array, Array]:
    """Where the objects of tonight's order will stand, each at its time; radians."""
    from plumbstar.commands.tonight import night_of
    from plumbstar.targets.model import conditions_of
    from plumbstar.targets.order import plan
    from plumbstar.targets.prospects import prospects
    from plumbstar.targets.wishes import Wishes, hours_of

    start, dawn = hours_of(asked, site)
    night = night_of(start, dawn, site, kit, conditions_of(site, kit, own=eye), skyline)
    end = min(dawn, start.plus_seconds(3600.0 * hours))
    visits = plan(night, Wishes().choose(prospects(night)), start, end).visits
    if not visits:
        raise UserError(
            f"Nothing can be seen in the next {hours:g} hours", "",
            "Give more hours, or leave --tonight out",
        )  # fmt: skip
    az, alt = np.radians([(v.az_deg, v.alt_deg) for v in visits]).T
    return az, alt


def report(choice: Choice, field_name: str) -> list[str]:
    """The choice for a person: the answer first, then the gain, then the alternatives."""
    best = choice.best
    share = words.upper_first(words.chance(best.mean_hit_chance))
    lines = [
        f"Sight first {_in_order(best)}.",
        f"{share} targets should then be in the {field_name} field"
        + (f" ({choice.field_deg:.2f}° across)." if "°" not in field_name else "."),
    ]
    practice = choice.common_practice
    if practice is not None:
        names = _in_order(practice)
        lines.append(
            f"Common practice (the brightest over 35° apart) would take {names}: "
            f"{words.chance(practice.mean_hit_chance)} if the stop is solved, "
            f"{words.chance(practice.trusting_stop)} if it is trusted."
        )
    lines += ["", "The stars:"]
    lines += [star_line(c) for c in best.stars]
    for c in best.stars:
        for alike in c.lookalikes:
            lines.append(f"  {confusable(c, alike)}")
    lines += [
        "",
        "Of 100 targets, so many in the field:",
        f"{'expected':>10} {'less costs':>10} {'stop trusted':>12}   stars",
    ]
    for s in choice.sets:
        solved, less = 100 * s.mean_hit_chance, 100 * (s.mean_hit_chance - s.cost)
        numbers = f"{min(solved, 99.9):>10.1f} {less:>10.1f} {100 * s.trusting_stop:>12.1f}"
        lines.append(f"{numbers}   {_in_order(s)}")
    lines.append(f"\nBest of {choice.sets_scored} sets from {len(choice.candidates)} stars.")
    return lines


def star_line(c: Candidate) -> str:
    """One star: where it stands, how bright, from when it shows."""
    shows = f", shows from {c.visible_from.iso()[11:16]} UTC" if c.visible_from else ""
    tint = words.colour(c.star.bv)
    return (
        f"  {c.star.label:<16}{words.where(c.az_deg, c.alt_deg)} (azimuth {c.az_deg:.0f}°, "
        f"{c.alt_deg:.0f}° up), magnitude {words.magnitude(c.star.v_mag)}"
        f"{', ' + tint if tint else ''}{shows}"
    )


def _height(sun_alt_deg: float) -> str:
    return "up" if sun_alt_deg > -0.9 else f"only {-sun_alt_deg:.0f}° down"


def _hour(sun_alt_deg: float) -> str:
    return "dusk" if sun_alt_deg < -5.5 else f"the Sun's lowest, {-sun_alt_deg:.0f}° down"


def _in_order(s: StarSet) -> str:
    return words.in_order([c.star.label for c in s.stars])
