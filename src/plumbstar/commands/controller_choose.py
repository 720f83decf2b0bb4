"""``plumbstar controller choose``: which two of its own stars a controller is best told tonight."""

from __future__ import annotations

import click

from plumbstar.choose.answer import candidate_answer
from plumbstar.choose.candidates import Candidate, candidates, when_to_sight
from plumbstar.choose.closed import listed, ranked_pairs, turn_deg
from plumbstar.choose.say import cautions, confusable
from plumbstar.commands import options as opt
from plumbstar.commands.choose import star_line, target_places
from plumbstar.commands.evening_file import each_once, read_file
from plumbstar.commands.from_logbook import logbook_options, taken
from plumbstar.commands.output import say
from plumbstar.contract.answers.forecast import ControllerChoiceReport, ControllerPairReport
from plumbstar.controller.believed import Believed
from plumbstar.controller.earlier import after
from plumbstar.controller.evening import EveningBeside, asked_of
from plumbstar.controller.own_list import in_list, stars_of
from plumbstar.controller.ranking import PairPromise, over_the_sky
from plumbstar.errors import UserError
from plumbstar.kit import Controller, Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.text import files, words
from plumbstar.units import Array

#: Of a list of its own no star is too faint, but none of any controller's is fainter than this.
#: Common practice, no source.
FAINTEST = 4.0
#: Where the kit has no list, so many of the brightest: about as many as are up of such lists.
WITHOUT_A_LIST = 24
NO_LIST = (
    "The kit has no list of the controller's stars ([controller] stars), so all bright ones are "
    "offered."
)


@click.command("choose")
@opt.site_option(required=False, from_logbook=True)
@opt.utc_option
@opt.kit_option
@opt.skyline_option
@opt.eyepiece_option
@opt.field_option
@click.option(
    "--target",
    "target_names",
    multiple=True,
    metavar="NAME",
    help="Score for this target only; may be given again. Default: the whole sky from 20° up.",
)
@click.option(
    "--pair", nargs=2, metavar="FIRST SECOND", help="A pair of your own: what it would give."
)
@click.option(
    "--show",
    type=click.IntRange(1, 100),
    default=6,
    show_default=True,
    help="How many pairs to list.",
)
@click.option(
    "--earlier",
    "earlier_paths",
    multiple=True,
    metavar="EVENING.csv",
    help="An earlier evening of this kit, oldest first; may be given again. Then the logbook's "
    "nights do not count.",
)
@click.option(
    "--zone",
    metavar="ZONE",
    help="The clock of a column `local`, as Europe/Rome or +1. Default: the site's.",
)
@logbook_options
@opt.json_option
def command(
    site_text: str | None,
    utc_text: str | None,
    kit_path: str | None,
    skyline_text: str | None,
    eyepiece: str | None,
    field_deg: float | None,
    target_names: tuple[str, ...],
    pair: tuple[str, str] | None,
    show: int,
    earlier_paths: tuple[str, ...],
    zone: str | None,
    logbook: str | None,
    without: bool,
    as_json: bool,
) -> None:
    """Which two stars to tell the controller, in which order.

    Pairs of its own list, ranked by the chance that a target is in the field after the push on
    that the number and the look back tell; beside it the chance at the controller's zero. Kit and
    site, if not given, are those of the last outing in the logbook, and what its nights beside this
    controller taught is used: the mount, the way of sharing, and the hand.
    """
    found = taken(kit_path, site_text, logbook, without)
    site, kit = found.needed_site(), found.kit
    asked = opt.instant_of(utc_text)
    at = when_to_sight(asked, site)
    field, field_name = opt.field_of(kit, eyepiece, field_deg)
    stars = own_stars(at, site, kit, found.skyline(opt.skyline_told(skyline_text)))
    taught = found.untaught if earlier_paths else found.nights()
    earlier = ((files.named(p), read_file(p, site, zone)) for p in earlier_paths)
    before, left_out = each_once(earlier)
    known = taught.believed or _after(before, site, kit, field)
    targets = target_places(target_names, at, site) if target_names else over_the_sky()
    own = _own(pair, stars, kit.controller) if pair else None
    ranked = _ranked(stars, targets, kit, known, field, None)
    chosen = _ranked(stars, targets, kit, known, field, own)[0] if own else None
    notes = (*(() if kit.controller.stars else (NO_LIST,)), *left_out)
    report = ControllerChoiceReport(
        utc=at.iso(),
        asked_utc=asked.iso(),
        field_deg=field,
        field=field_name,
        pairs=tuple(_pair(p, stars) for p in ranked[:show]),
        own_pair=_pair(chosen, stars) if chosen else None,
        stars=tuple(candidate_answer(c) for c in stars),
        pairs_scored=len(ranked),
        notes=notes,
        from_logbook=taught.report,
    )
    lines = _lines(report, {c.star.label: c for c in stars})
    say(as_json, report, *lines, *taught.lines)


def own_stars(at: Instant, site: Site, kit: Kit, skyline: Skyline | None) -> tuple[Candidate, ...]:
    """Those of the controller's list that can be sighted; all bright ones where it has none.

    Raises :class:`UserError` for fewer than two, and for a name in the list that no star has.
    """
    box = kit.controller
    stars = catalogue.load()
    if not box.stars:
        return candidates(
            stars, at, site, skyline=skyline, telescope=kit.telescope, most=WITHOUT_A_LIST
        )
    found = stars_of(box)
    faintest = max(s.v_mag for s in found)
    up = candidates(
        stars, at, site, skyline=skyline, telescope=kit.telescope,
        max_mag=min(max(faintest, 0.0), FAINTEST), most=len(stars),
    )  # fmt: skip
    mine = listed(up, box)
    if len(mine) < 2:
        raise UserError(
            f"{len(mine)} of the controller's {len(found)} stars can be sighted at {at}",
            "two",
            "Give a later --utc, or add more of its list to [controller] stars in the kit",
        )
    return mine


def _own(pair: tuple[str, str], stars: tuple[Candidate, ...], box: Controller) -> tuple[int, int]:
    """Their places among the stars. Raises :class:`UserError` for one that cannot be sighted."""
    labels = [c.star.label for c in stars]
    targets = [find_target(n) for n in pair]
    found = [t.label for t in targets]
    for name, target in zip(found, targets, strict=True):
        if name not in labels:
            why = "not in the controller's list" if box.stars and not in_list(target, box) else ""
            raise UserError(
                f"{name} is {why or 'too low, too high or hidden at that time'}",
                f"two of {', '.join(labels)}",
                "Choose another one, or another --utc",
            )
    if found[0] == found[1]:
        raise UserError(f"{found[0]} twice", "two stars", "Name another second star")
    return labels.index(found[0]), labels.index(found[1])


def _ranked(
    stars: tuple[Candidate, ...],
    targets: Array,
    kit: Kit,
    known: Believed,
    field: float,
    own: tuple[int, int] | None,
) -> list[PairPromise]:
    return ranked_pairs(stars, targets, known, Noise.from_kit(kit), field, kit.controller, own)


def _after(evenings: list[EveningBeside], site: Site, kit: Kit, field: float) -> Believed:
    """What is believed after these evenings; as the kit says without any."""
    asked = [asked_of(e, site, kit, field) for e in evenings]
    if not asked:
        return Believed(Priors.from_kit(kit))
    tonight = Believed(Priors.from_kit(kit)).before(asked[-1])
    return Believed.of(after(asked, tonight))


def _pair(p: PairPromise, stars: tuple[Candidate, ...]) -> ControllerPairReport:
    two = stars[p.first], stars[p.second]
    return ControllerPairReport(
        stars=(two[0].star.label, two[1].star.label),
        hit_chance=p.pushed_on,
        hit_chance_at_zero=p.at_zero,
        push_deg=turn_deg(*two),
        cautions=cautions(two),
    )


def _lines(r: ControllerChoiceReport, stars: dict[str, Candidate]) -> list[str]:
    best = r.own_pair or r.pairs[0]
    across = "" if "°" in r.field else f" ({r.field_deg:.2f}° across)"
    lines = [
        f"{'Your pair' if r.own_pair else 'Tell it'} first {words.in_order(list(best.stars))}.",
        f"{words.upper_first(words.chance(best.hit_chance))} targets should be in the {r.field} "
        f"field{across} after the push on that its number and a look back tell; "
        f"{words.chance(best.hit_chance_at_zero)} at its zero.",
        "",
        "The stars:",
    ]
    for name in best.stars:
        lines.append(star_line(stars[name]))
    for name in best.stars:
        lines += [f"  {confusable(stars[name], a)}" for a in stars[name].lookalikes]
    lines += ["", "Of 100 targets, so many in the field:", f"{'pushed on':>10} {'at its zero':>12}"]
    lines[-1] += "   stars"
    for p in (*r.pairs, *([r.own_pair] if r.own_pair and r.own_pair not in r.pairs else [])):
        numbers = f"{min(100 * p.hit_chance, 99.9):>10.1f} {100 * p.hit_chance_at_zero:>12.1f}"
        lines.append(f"{numbers}   {words.in_order(list(p.stars))}")
    lines.append(f"\nBest of {r.pairs_scored} pairs from {len(r.stars)} stars.")
    return [*lines, *r.notes]
