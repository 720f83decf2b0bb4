"""The words about all causes together: the check that settles it, the verdict, the notes."""

from __future__ import annotations

from collections.abc import Sequence

from plumbstar.diagnose.explain.causes import several
from plumbstar.diagnose.explain.causes.coarse_centring import CAUSE as COARSE_HAND
from plumbstar.diagnose.explain.check import TELLING, StarCheck
from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.diagnose.explain.measured import Measured
from plumbstar.sky.local_time import local
from plumbstar.text import words

#: Below this probability a cause is not worth a comparison.
_FAR_FETCHED = 1e-6
#: From this probability on it is said that something else may have gone wrong too.
_TOO = 0.1
#: Causes at least this probable are named while nothing is sure.
_CLOSE = 0.1


def check(o: Observations, j: Judged, rival: Judged, star: StarCheck | None) -> str:
    """The one check that best separates a cause from its rival."""
    if star is None or star.sigmas < TELLING:
        return check_by_hand(o, j)
    by_hand = j.form.hand_check(o, j)
    again_by_hand = j.form.sights_again
    same = star.again and again_by_hand is not None and o.star(again_by_hand) == star.star
    # Where both are one look at one star, it is said once.
    other = "" if same or not by_hand else f" Or {by_hand}."
    at = ""
    if star.utc is not None and o.sky is not None:
        at = f" at {local(star.utc, o.sky.site.time_zone, with_zone=True)}"
    again = " again" if star.again else ""
    first = (
        f"Sight {star.star}{again}{at}: if this is the cause it should read azimuth "
        f"{star.this_deg[0]:.1f}°, altitude {star.this_deg[1]:.1f}°"
    )
    if rival.probability < _FAR_FETCHED < j.probability:
        # Against a cause that is out of the question a reading would only confuse.
        return f"{first}.{other}"
    return (
        f'{first}; if instead "{rival.form.title(o, rival)}", azimuth {star.rival_deg[0]:.1f}°, '
        f"altitude {star.rival_deg[1]:.1f}°.{other}"
    )


def told_by(star: StarCheck | None) -> str:
    """Which star to go to next; how it tells stands with the causes. Empty where none does."""
    if star is None or star.sigmas < TELLING:
        return ""
    return f" Sight {star.star}{' again' if star.again else ''} next: that tells most."


def check_without_star(o: Observations, j: Judged) -> str:
    """What can be looked at while no star may be pointed at; empty where that is nothing."""
    return "" if j.form.checked_at_star else check_by_hand(o, j)


def check_by_hand(o: Observations, j: Judged) -> str:
    """The one that needs no other star."""
    by_hand = j.form.hand_check(o, j)
    return f"{words.upper_first(by_hand)}." if by_hand else ""


def verdict(
    o: Observations,
    judged: Sequence[Judged],
    sure: bool,
    star: StarCheck | None,
    seen: Sequence[Measured] = (),
    at_star: bool = True,
) -> str:
    """The answer in a sentence or two. ``judged``: likeliest first; ``star``: of the first check
    that is at a star, among those of the likeliest causes;
    ``seen``: what is measured of the mount, told where nothing went wrong but that; ``at_star``:
    whether a star may be pointed at for it."""
    first = judged[0]
    chance = words.chance(first.at_all)
    beside = 0.0 if first.all_that_shows else first.at_all - first.probability
    that = " that these sightings show" if first.all_that_shows else ""
    if sure and first.kind == several.KIND:
        return (
            f"Several things went wrong at once, or something not on this list ({chance}). "
            f"{mend_of(o, first, at_star)}"
        )
    if sure and first.kind == "nothing" and seen:
        told = f"{seen[0].sentence} {seen[0].mend}"
        return f"Nothing went wrong{that or ' with the sightings'} ({chance}). {told}"
    if sure and first.kind == "nothing":
        return f"Nothing is wrong{that} ({chance})."
    if sure:
        title = words.upper_first(first.form.title(o, first))
        mend = mend_of(o, first, at_star)
        too = f" Something else may have gone wrong too ({words.chance(beside)})."
        alike = _looks_the_same(judged)
        return f"{title} ({chance}).{alike} {mend}{too if beside > _TOO else ''}"
    close = [j for j in judged if j.probability > _CLOSE][:3] or [first]
    names = [f"{j.form.title(o, j)} ({words.chance(j.at_all)})" for j in close]
    apart = "; " if any("," in n for n in names) else ", "  # a name with a comma is no two names
    last = "; or " if apart == "; " else " or "
    listed = last.join([apart.join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
    few = " Two sightings tell little." if o.n == 2 else ""
    if first.kind == "nothing":
        others = " and ".join(names[1:]) or "other causes"
        return (
            f"Cannot tell for sure: nothing looks wrong ({chance}), but {others} cannot be ruled "
            f"out.{few}{told_by(star)}"
        )
    return f"Cannot tell yet: {listed}.{few}{told_by(star)}"


def mend_of(o: Observations, j: Judged, at_star: bool) -> str:
    """What puts it right, or as much of it as needs no star."""
    return j.form.mend(o, j) if at_star else j.form.mend_without_star(o, j)


def _looks_the_same(judged: Sequence[Judged]) -> str:
    """Beside a hand that is named as coarse: what looks like one."""
    small = next((j.probability for j in judged if j.kind == several.KIND), 0.0)
    if judged[0].kind != COARSE_HAND.name or small < _TOO:
        return ""
    return f" Several small things at once would look the same ({words.chance(small)})."


def notes(o: Observations, by_hand: bool) -> tuple[str, ...]:
    """What was left out, and why. ``by_hand``: no star would tell the likeliest causes apart."""
    said = []
    if o.sky is None:
        said.append(
            "Wrong star, clock and site were left out: they need the site and the time of "
            "every sighting."
        )
    if o.n == 2:
        said.append(
            "Two sightings give only four numbers; a third star tells more than a second look "
            "at these."
        )
    if by_hand:
        said.append("No star up now would tell the likeliest causes apart: check by hand.")
    return tuple(said)
