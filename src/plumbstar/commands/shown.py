"""The part of ``plumbstar why`` that reads the one number some controllers show."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from plumbstar import controller
from plumbstar.commands.decimals import NUMBER
from plumbstar.commands.nights import read_nights
from plumbstar.commands.shown_answers import number_answer, numbers_answer, sign_answer
from plumbstar.contract.answers.controller import NumberReport, NumbersReport, SignReport
from plumbstar.controller.named_pair import pair_of, wrong_star_candidates
from plumbstar.diagnose import shims
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.site import Site
from plumbstar.text.table import Repeat
from plumbstar.text.words import chance, sigma_words

F = TypeVar("F", bound=Callable[..., Any])


def run_shown(
    numbers: Sequence[float],
    *,
    kit: Kit,
    site: Site | None,
    star_a: str | None = None,
    time_a: str | None = None,
    star_b: str | None = None,
    time_b: str | None = None,
    upright_time: str | None = None,
    csv_text: str | None = None,
    csv_name: str = "the list",
    zone: str | None = None,
    nights: Sequence[controller.ShownNumber] = (),
    notes: Sequence[str] = (),
    clock: bool | None = None,
    sign: controller.Sign = "measured-minus-true",
    learn_sign: tuple[float, float, float] | None = None,
) -> tuple[NumberReport | NumbersReport | SignReport, str]:
    """Report as (record for JSON, text for a person). Raises :class:`UserError`.

    ``numbers``: one, or several for the same pair; or ``csv_text``, or ``nights``, with
    ``notes`` on them; or only ``learn_sign`` = (number before, number after, millimetres added).
    ``zone``: the clock of local times in the text, None for the site's.
    """
    noise, priors = Noise.from_kit(kit), Priors.from_kit(kit)
    given = {"star-a": star_a, "time-a": time_a, "star-b": star_b, "time-b": time_b}
    pair = None
    if all(given.values()) and site is not None:
        pair, a, b = pair_of(
            star_a or "", time_a or "", star_b or "", time_b or "", site, upright_time
        )
    if learn_sign is not None:
        k = None
        if pair is not None:
            controller.check(pair)
            k = float(controller.sensitivities(pair.places)[controller.STOP])
        learnt = controller.learn_sign(
            *learn_sign,
            noise,
            adding=kit.stop.adding,
            lever_arm_mm=kit.stop.lever_arm_mm,
            sensitivity=k,
        )
        return sign_answer(learnt), controller.sign_sentence(learnt)
    if site is None:
        raise UserError("No site was given", "", "Add --site LAT,LON, for example 47.2,11.6,940")
    repeats: tuple[Repeat, ...] = ()
    if nights:
        rows = list(nights)
    elif csv_text is not None:
        rows, repeats = read_nights(csv_text, site, csv_name, zone)
    else:
        missing = [f"--{k}" for k, v in given.items() if not v]
        if not numbers or missing:
            raise UserError(
                f"no {', '.join(missing) or 'number'}",
                "the number shown, two stars and the times they were sighted (UTC)",
                "For example: --shown 1.4 --star-a Vega --time-a 2027-01-28T18:30:00Z --star-b ...",
            )
        assert pair is not None
        rows = [controller.ShownNumber(n, pair, f"reading {i + 1}") for i, n in enumerate(numbers)]
    notes = [*notes, *(r.sentence for r in repeats)]
    field = kit.true_field_deg(kit.finder_eyepiece())
    if len(rows) > 1:
        combined = controller.combine(
            rows, priors, noise, clock=clock, sign=sign, adding=kit.stop.adding, field_deg=field
        )
        advice = _shims(combined, kit)
        many = numbers_answer(combined, notes, advice)
        return many, _with(_many_text(combined), notes, advice)
    candidates = wrong_star_candidates(a, b, site) if pair is not None else None
    j = controller.judge(
        rows[0],
        priors,
        noise,
        clock=clock,
        sign=sign,
        candidates=candidates,
        adding=kit.stop.adding,
        field_deg=field,
    )
    return one_number(j, rows[0].pair, kit, notes)


def one_number(
    j: controller.Judgement, pair: controller.Pair, kit: Kit, notes: Sequence[str] = ()
) -> tuple[NumberReport, str]:
    """What one number says, as (record for JSON, text for a person)."""
    advice = _shims(j, kit)
    return number_answer(j, pair, notes, advice), _with(_one_text(j, pair), notes, advice)


def _shims(said: controller.Combined | controller.Judgement, kit: Kit) -> shims.StopAdvice | None:
    """What to put under the stop, where that is decided."""
    return shims.advise(said.stop_deg, said.stop_sigma_deg, kit) if said.decides else None


def _with(text: str, notes: Sequence[str], advice: shims.StopAdvice | None) -> str:
    """The answer in words, with what is to be said of its reading and of shims."""
    return "\n".join([text, *notes, *(["", advice.text] if advice is not None else [])])


def _one_text(j: controller.Judgement, p: controller.Pair) -> str:
    lines = [controller.sentence(j), f"Next: {controller.next_step(j)}.", ""]
    lines += [
        f"{p.star_a}: azimuth {p.a_deg[0]:.1f}, altitude {p.a_deg[1]:.1f}°",
        f"{p.star_b}: azimuth {p.b_deg[0]:.1f}, altitude {p.b_deg[1]:.1f}°,"
        f" {abs(p.seconds):.0f} s {'later' if p.seconds >= 0 else 'earlier'}",
        f"With this pair a stop that is 1° off moves the number by {j.sensitivity:.2f}°"
        " (0 to 2, by how the stars stand)",
        "A controller without a clock does not count the sky's drift between the two, "
        f"{math.degrees(p.drift):+.2f}°; chance that yours has none: {chance(j.clockless)}",
        "",
        f"{'what the number is made of':<38}{'deg':>7}{'1 sigma':>9}",
    ]
    for part in j.parts:
        if part.known or abs(part.deg) >= 0.005 or part.sigma_deg >= 0.01:
            sigma = "known" if part.known else sigma_words(part.sigma_deg)
            lines.append(f"  {controller.part_name(part):<36}{part.deg:>+7.2f}{sigma:>9}")
    lines.append(f"  {'together: the number':<36}{j.misclosure_deg:>+7.2f}")
    lines.append("")
    if j.stop_alone_deg is not None:
        lines.append(
            f"A stop that is off by {j.stop_alone_deg:+.2f}° would alone give what is not the "
            "sky's drift or the air."
        )
    elif abs(j.rest_deg) > 0.05:
        lines.append("No stop within 20° of true would give that with this pair.")
    for w in j.wrong_stars[:3]:
        lines.append(
            f"{w.star} instead of {w.meant} would show {w.would_show_deg:+.2f}°"
            f" ({chance(w.probability)})"
        )
    return "\n".join(lines + _rules_text(j.rules))


def _many_text(c: controller.Combined) -> str:
    lines = [controller.run_sentence(c), f"Next: {controller.run_next_step(c)}.", ""]
    lines.append(f"{'':<14}{'shown':>8}{'per deg':>11}{'drift':>8}{'left over':>11}  doubt")
    for e in c.evenings:
        lines.append(
            f"{e.label[:13]:<14}{e.shown_deg:>+8.2f}{e.sensitivity:>11.2f}{e.drift_deg:>+8.2f}"
            f"{e.left_deg:>+11.2f}  {'bad ' if e.bad > 0.5 else ''}{chance(e.bad)}"
        )
    lines.append("")
    lines.append(
        f"Your centring, from how the numbers scatter: {60 * c.centring_deg:.0f} ± "
        f"{60 * c.centring_sigma_deg:.0f} arcmin. Chance that the controller has no clock: "
        f"{chance(c.clockless)}."
    )
    return "\n".join(lines + _rules_text(c.rules))


def _rules_text(rules: Sequence[controller.Rule]) -> list[str]:
    lines = ["", "Rules of thumb (common practice, no source):"]
    for r in rules:
        verdict = {True: "agrees", False: "disagrees", None: "cannot say"}[r.agrees]
        said = controller.rule_words(r)
        lines.append(f"  {said.rule}")
        lines.append(f"    says {said.says}; the arithmetic {verdict}: {said.because}")
    return lines


def shown_options(f: F) -> F:
    """The options by which `plumbstar why` takes a controller's number."""
    for option in (
        click.option(
            "--learn-sign",
            type=NUMBER,
            nargs=3,
            metavar="BEFORE AFTER MM",
            help="The number before and after adding MM millimetres under the stop "
            "(minus: taken out).",
        ),
        click.option(
            "--sign",
            type=click.Choice(list(controller.SIGNS)),
            default=controller.SIGNS[0],
            show_default=True,
            help="What the shown number is.",
        ),
        click.option(
            "--clock/--no-clock",
            default=None,
            help="Whether the controller allows for the turning sky. Left out: either may be.",
        ),
        click.option(
            "--upright-time", metavar="TIME", help="When the tube was set at the upright stop."
        ),
        click.option("--time-b", metavar="TIME", help="When the second star was centred."),
        click.option("--star-b", metavar="NAME", help="With --shown: the second star."),
        click.option(
            "--time-a", metavar="TIME", help="When the first star was centred, ISO 8601 UTC."
        ),
        click.option("--star-a", metavar="NAME", help="With --shown: the first star."),
        click.option(
            "--shown",
            "numbers",
            type=NUMBER,
            multiple=True,
            metavar="DEG",
            help="The one number that a controller shows after two stars (may be repeated).",
        ),
    ):
        f = option(f)
    return f
