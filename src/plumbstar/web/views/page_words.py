"""The same advice on the phone: a place on the pages instead of a command or an option to type."""

from __future__ import annotations

import math
import re
from typing import Any

from plumbstar.diagnose.checks import checks
from plumbstar.diagnose.checks.judging import Number

#: Phrases whose command or option leads nowhere on a phone; taken before single commands.
_PHRASES: tuple[tuple[str, str], ...] = (
    (r",? or `plumbstar log import[^`]*`", ""),
    (r"`plumbstar log undo` brings", "Undo brings"),
    (r"`plumbstar log(?: show [^`]*)?` lists them", "the Log lists them"),
    (r"; give it as \w+=\.\.\.", ""),
    (r" \(see docs/[^)]*\)|, see docs/[\w./-]+|\(docs/[^)]*\)", ""),
    (r", drop terms, or leave out --flat-priors", ""),
    (r" or give --centring-arcmin", ""),
    (
        r"say how far it stood to have it in millimetres",
        "give “How far the focuser was moved” above, and it is told in millimetres",
    ),
    (r"a second picture, racked in by as much, parts them", "a second picture, below, parts them"),
    (r"\[stop\] (\w+)( = \"\w+\" or \"\w+\")? in the kit file", r"\1\2 under [stop] in the kit"),
    (r"[Ii]nto the kit file", "into the kit (Prepare)"),
    (r"the kit file", "the kit"),
)
_COMMAND = re.compile(r"`plumbstar ([a-z]+)(?: ([a-z-]+))?[^`]*`")
_PLACES = {
    "why": "Mend, Tonight",
    "mount": "Mend, Many nights",
    "collimate": "Mend, Mirrors",
    "fix": "the Fix page",
    "log": "the log command on the computer",
    "serve": "these pages",
}


def _place(match: re.Match[str]) -> str:
    command, word = match.groups()
    if command == "check":
        titles = {c.id: c.title for c in checks.CHECKS}
        return f"Mend, Checks, “{titles[word]}”" if word in titles else "Mend, Checks"
    return _PLACES.get(command, match.group(0))


def for_the_page(said: Any) -> Any:
    """``said`` (text, or lists and dicts of it) with commands turned into places on the pages, and
    degrees written as a sign."""
    if isinstance(said, str):
        if said.startswith("data:"):  # a picture
            return said
        for phrase, instead in _PHRASES:
            said = re.sub(phrase, instead, said)
        said = _COMMAND.sub(_place, said).replace(" +/- ", " ± ")
        return re.sub(r"(\d) deg\b", r"\1°", said)
    if isinstance(said, dict):
        return {k: for_the_page(v) for k, v in said.items()}
    if isinstance(said, list | tuple):
        return [for_the_page(v) for v in said]
    return said


def figures(n: Number) -> str:
    """One number of a check with no more figures than its interval has earned.

    The last figure is of the size of the interval's half width; three figures without an interval.
    Chances are said as elsewhere on the pages.
    """
    if n.unit == "" and re.search("chance|levelled", n.label):
        return f"{n.label}: {min(99, max(1, round(100 * n.value)))} in 100"
    half = (n.high - n.low) / 2.0 if n.low is not None and n.high is not None else 0.0
    size = half if half > 0.0 else abs(n.value) / 100.0
    places = min(4, max(0, -math.floor(math.log10(size)))) if size > 0.0 else 0
    unit = {"deg": "°", "arcmin": "′", "": ""}.get(n.unit, f" {n.unit}")

    def shown(x: float | None) -> str:
        text = f"{x:.{places}f}"
        return re.sub(r"^-", "", text) if float(text) == 0.0 else text.replace("-", "−")

    text = f"{n.label}: {shown(n.value)}{unit}"
    return text if half == 0.0 else f"{text} ({shown(n.low)} to {shown(n.high)})"
