"""``plumbstar controller``: the evening beside a controller that shows a number and no readings."""

from __future__ import annotations

import math

import click

from plumbstar.commands import options as opt
from plumbstar.commands.controller_choose import command as choose_command
from plumbstar.commands.evening_file import each_once, read_file
from plumbstar.commands.nights import is_table, night_of
from plumbstar.commands.output import say
from plumbstar.commands.shown import run_shown
from plumbstar.contract.answers.controller import SignReport
from plumbstar.contract.answers.forecast import (
    BeyondReport,
    ForecastReport,
    MistakeReport,
    SharingReport,
    StopForecastReport,
)
from plumbstar.controller import SIGNS, ShownNumber, Sign
from plumbstar.controller.earlier import after
from plumbstar.controller.evening import EveningBeside, asked_of, object_places
from plumbstar.controller.landing import Lies
from plumbstar.controller.mistakes import Mistake
from plumbstar.controller.named_pair import pair_seen
from plumbstar.controller.nearest import nearest_known
from plumbstar.controller.outlook import Outlook, outlook
from plumbstar.controller.showing import ObjectPlaces
from plumbstar.errors import UserError
from plumbstar.kit import Controller, Kit
from plumbstar.sky import local_time
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text import files, words

zone_option = click.option(
    "--zone",
    metavar="ZONE",
    help="The clock of a column `local`, as Europe/Rome or +1. Default: the site's.",
)


@click.group("controller")
def command() -> None:
    """Beside a controller that shows only a number and what is left to push."""


command.add_command(choose_command)


@command.command("forecast")
@click.argument("evening_path", metavar="EVENING.csv")
@click.argument("targets", nargs=-1, required=True)
@opt.site_option(required=True)
@opt.kit_option
@click.option("--utc", "utc_text", metavar="T", help="The moment, UTC. Default: the last event's.")
@opt.eyepiece_option
@opt.field_option
@click.option(
    "--earlier",
    "earlier_paths",
    multiple=True,
    metavar="EVENING.csv",
    help="An earlier evening of this kit, oldest first; may be given again.",
)
@zone_option
@opt.json_option
def forecast(
    evening_path: str,
    targets: tuple[str, ...],
    site_text: str,
    kit_path: str | None,
    utc_text: str | None,
    eyepiece: str | None,
    field_deg: float | None,
    earlier_paths: tuple[str, ...],
    zone: str | None,
    as_json: bool,
) -> None:
    """Where objects lie beyond the controller's zero, and the chance to have them in the field.

    EVENING.csv: utc,event,star,number_deg,left_az_deg,left_alt_deg with the events upright, star
    (twice), number, centred, missed (looked for, and not in the field: one line a field).
    """
    site, kit = opt.site_of(site_text), opt.kit_of(kit_path)
    field, _ = opt.field_of(kit, eyepiece, field_deg)
    evening = read_file(evening_path, site, zone)
    later = [r.at for r in evening.centred] + [m.at for m in evening.missed]
    last = max(later, key=lambda t: t.to_unix(), default=evening.second.at)
    at = Instant.parse(utc_text) if utc_text else last
    earlier = ((files.named(p), read_file(p, site, zone)) for p in earlier_paths)
    before, left_out = each_once(earlier, evening)
    asked = [asked_of(e, site, kit, field) for e in before]
    seen = outlook(after(asked, asked_of(evening, site, kit, field)))
    lies, set_to, alts = _lie(targets, seen, at, site, kit.controller, field)
    report = _report(targets, lies, set_to, alts, seen, at, field, evening, left_out)
    say(as_json, report, *_lines(report))


def _lie(
    names: tuple[str, ...], seen: Outlook, at: Instant, site: Site, box: Controller, field: float
) -> tuple[list[Lies], list[str], list[float]]:
    """Each object beyond the zero of what is to be chosen on the controller for it."""
    wanted = [find_target(n) for n in names]
    chosen = [nearest_known(t, box, site, at) for t in wanted]
    places, theirs = object_places(wanted, at, site), object_places(chosen, at, site)
    for name, (_, alt) in zip(names, places.seen, strict=True):
        if alt < 0:
            raise UserError(
                f"{name} is {-math.degrees(alt):.0f} degrees below the horizon at {at}",
                "",
                "Give another moment with --utc, or leave it out",
            )
    lies = seen.lies(ObjectPlaces(places.seen, theirs.believed), field)
    return lies, [c.label for c in chosen], [math.degrees(float(a)) for a in places.seen[:, 1]]


def _report(
    names: tuple[str, ...],
    lies: list[Lies],
    set_to: list[str],
    alts: list[float],
    seen: Outlook,
    at: Instant,
    field: float,
    evening: EveningBeside,
    left_out: tuple[str, ...],
) -> ForecastReport:
    targets = []
    for name, it, chosen, alt in zip(names, lies, set_to, alts, strict=True):
        across = max(math.cos(math.radians(alt)), 1e-3)
        targets.append(
            BeyondReport(
                name=name,
                set_to=chosen,
                push_az_deg=math.degrees(float(it.push[0])),
                push_alt_deg=math.degrees(float(it.push[1])),
                sigma_az_deg=math.degrees(math.sqrt(float(it.cov[0, 0]))) / across,
                sigma_alt_deg=math.degrees(math.sqrt(float(it.cov[1, 1]))),
                hit_chance=it.hit_chance,
                hit_chance_at_zero=it.hit_chance_at_zero,
                alt_deg=alt,
            )
        )
    stop, sigma = seen.stop()
    sharing = seen.sharing()
    mistakes = tuple(
        MistakeReport(
            kind=m.kind,
            index=0 if m.kind in ("none", "sign", "hand", "mount") else m.index + 1,
            probability=p,
        )
        for m, p in seen.mistakes()
        if p >= 0.005
    )
    return ForecastReport(
        utc=at.iso(),
        field_deg=field,
        sentence=_sentence(seen, evening),
        targets=tuple(targets),
        stop=StopForecastReport(value_deg=math.degrees(stop), sigma_deg=math.degrees(sigma)),
        sharing=SharingReport(**sharing),
        clockless_probability=sum(h.weight for h in seen.hypotheses if not h.clock),
        mistakes=mistakes,
        notes=(*(r.sentence for r in evening.repeats), *left_out),
    )


def _sentence(seen: Outlook, evening: EveningBeside) -> str:
    """What stands in the way of a good forecast, or that nothing does."""
    mistake, p = seen.mistakes()[0]
    if mistake.kind != "none":
        return f"{_mistake_words(mistake, evening)} ({words.chance(p)})."
    if max(seen.sharing().values()) < 0.8:
        if evening.centred and evening.looks_back(0):
            return (
                "How the controller shares what its two stars contradict is not settled by the "
                "look back: every object centred tells more."
            )
        return (
            f"How the controller shares what its two stars contradict is not known yet. Choose "
            f"{evening.second.target.label} on it as the object while it is in the middle, and add "
            "what it still wants as 'centred'."
        )
    return "Nothing shown so far contradicts itself."


def _mistake_words(mistake: Mistake, evening: EveningBeside) -> str:
    k = mistake.index
    if mistake.kind == "hand":
        return "Stars were probably centred less well than the kit says (centring_arcmin)"
    if mistake.kind == "mount":
        return (
            "The stop, or another part of the mount, is probably further off than the kit expects"
        )
    if mistake.kind == "star":
        tap = (evening.first, evening.second)[k]
        return f"{tap.target.label} was probably another star, or not in the middle"
    if mistake.kind == "number":
        return "The number was probably misread"
    if mistake.kind == "sign":
        return "The number was probably written down with the wrong sign"
    if mistake.kind == "slip" and k == len(evening.centred):
        last = evening.centred[-1].target.label if k else evening.second.target.label
        return f"Something probably moved after {last}; start the controller again"
    name = evening.centred[k].target.label
    if mistake.kind == "slip":
        return f"Something probably moved before {name} was centred; start the controller again"
    return f"What was left at {name} was probably misread, or it was another object"


def _side(deg: float, more: str, less: str) -> str:
    return f"{abs(deg):.1f}° {more if deg >= 0 else less}"


def _lines(r: ForecastReport) -> list[str]:
    lines = []
    for t in r.targets:
        label = find_target(t.name).label
        at = "" if t.set_to == label else f" (choose {t.set_to})"
        way = f"{_side(t.push_az_deg, 'right', 'left')} and {_side(t.push_alt_deg, 'up', 'down')}"
        lines.append(
            f"{label}{at}: at the controller's zero push on {way}; {words.chance(t.hit_chance)} "
            f"to be in the field of {r.field_deg:.2f}°, {words.chance(t.hit_chance_at_zero)} "
            "without it."
        )
    lines.append(r.sentence)
    value, sigma = r.stop.value_deg, r.stop.sigma_deg
    lines.append(
        f"The stop may be true, to within {abs(value) + sigma:.1f}°."
        if abs(value) < sigma
        else f"The stop reads {_side(value, 'low', 'high')}, give or take {sigma:.1f}°."
    )
    return [*lines, *r.notes]


def _sign(kit: Kit) -> Sign:
    """The usual one where the kit does not know."""
    return SIGNS[1] if kit.controller.sign == SIGNS[1] else SIGNS[0]


@command.command("number")
@click.argument("evening_path", metavar="EVENING.csv")
@opt.site_option(required=True)
@opt.kit_option
@zone_option
@opt.json_option
def number(
    evening_path: str, site_text: str, kit_path: str | None, zone: str | None, as_json: bool
) -> None:
    """What the number says: the stop, a wrong or badly centred star, slow hands."""
    site, kit = opt.site_of(site_text), opt.kit_of(kit_path)
    evening = read_file(evening_path, site, zone)
    if evening.number_deg is None:
        raise UserError("an evening without a number", "a line with the event 'number'", "Add it")
    a, b = evening.first, evening.second
    record, text = run_shown(
        [evening.number_deg],
        kit=kit,
        site=site,
        star_a=a.target.label,
        time_a=a.at.iso(3),
        star_b=b.target.label,
        time_b=b.at.iso(3),
        clock=kit.controller.has_clock,
        sign=_sign(kit),
    )
    say(as_json, record, text)


@command.command("nights")
@click.argument("nights_paths", metavar="NIGHTS.csv...", nargs=-1, required=True)
@opt.site_option(required=True)
@opt.kit_option
@zone_option
@opt.json_option
def nights(
    nights_paths: tuple[str, ...],
    site_text: str,
    kit_path: str | None,
    zone: str | None,
    as_json: bool,
) -> None:
    """The stop over many nights, and what to put under it.

    Give one table of nights (shown_deg,star_a,time_a,star_b,time_b; local_a and local_b for times
    by the clock there), or several evenings as `forecast` takes them.
    """
    site, kit = opt.site_of(site_text), opt.kit_of(kit_path)
    texts = [files.read_text(p, wanted="a table of nights, or of an evening") for p in nights_paths]
    table_text = texts[0] if len(texts) == 1 and is_table(texts[0]) else None
    evenings = ((files.named(p), read_file(p, site, zone)) for p in nights_paths)
    seen, notes = ([], ()) if table_text else each_once(evenings)
    clock = local_time.zone_or_offset(zone) if zone is not None else site.time_zone
    shown = [_shown(e, e.number_deg, site, clock) for e in seen if e.number_deg is not None]
    if not table_text and not shown:
        raise UserError(
            "evenings without a number", "a line with the event 'number' in one at least", "Add it"
        )
    record, text = run_shown(
        [],
        kit=kit,
        site=site,
        csv_text=table_text,
        csv_name=files.named(nights_paths[0]),
        zone=zone,
        nights=shown,
        notes=notes,
        clock=kit.controller.has_clock,
        sign=_sign(kit),
    )
    assert not isinstance(record, SignReport)
    say(as_json, record, text)


def _shown(e: EveningBeside, number_deg: float, site: Site, clock: str) -> ShownNumber:
    """The number of an evening, with its two stars as they stood; named by the day there."""
    a, b = (e.first.target, e.first.at), (e.second.target, e.second.at)
    return ShownNumber(number_deg, pair_seen(a, b, site, e.upright), night_of(e.first.at, clock))
