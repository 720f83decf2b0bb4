"""The simulated controller in a terminal: its two lines in a frame, and the words that move it."""

from __future__ import annotations

from plumbstar.errors import UserError
from plumbstar.simulate.closed_telescope import Lines, Order
from plumbstar.text.table import plain_number

#: Signs that a display of two lines has, at the most.
WIDE = 20
#: What is typed, the order that it is, and what it does.
WORDS = (
    ("stop", "upright", "lift the tube to the stop and switch on"),
    ("centre NAME", "centre", "find it in the sky and bring it into the middle"),
    ("star NAME", "star", "its key: this star of my list is in the middle"),
    ("object NAME", "object", "its key: show what is left to push to that"),
    ("zero", "zero", "push until both numbers are nought"),
    ("push RIGHT UP", "push", "push on by so many degrees; left and down are negative"),
    ("slip RIGHT UP", "slip", "let an encoder slip by so many degrees"),
    ("list", "list", "the stars of its list"),
)
_DO = {typed.split()[0]: order for typed, order, _ in WORDS}


def help_text() -> str:
    """What may be typed."""
    wide = max(len(typed) for typed, _, _ in WORDS) + 2
    told = [f"  {typed:<{wide}}{says}" for typed, _, says in WORDS]
    return "\n".join([*told, f"  {'Enter':<{wide}}look again", f"  {'q':<{wide}}end"])


def order_of(typed: str) -> Order:
    """The order that a line asks for; an empty one looks. Raises :class:`UserError`."""
    word, _, rest = typed.strip().partition(" ")
    name = " ".join(rest.split())
    if not word:
        return Order(do="look")
    do = _DO.get(word.casefold(), "")
    if not do:
        raise UserError(f"the word '{word[:40]}'", f"one of {', '.join(_DO)}", "Type one of them")
    if do in ("centre", "star", "object"):
        if not name:
            raise UserError(f"'{word}' without a name", "as 'centre Capella'", "Add the name")
        return Order(do=do, name=name)
    if do in ("push", "slip"):
        right, up = _two(word, name)
        return Order(do=do, right_deg=right, up_deg=up)
    return Order(do=do)


def _two(word: str, rest: str) -> tuple[float, float]:
    wrong = UserError(
        f"'{word} {rest}'", f"degrees to the right and up, as '{word} -0.4 0.2'", "Correct it"
    )
    parts = rest.split()
    if len(parts) != 2:
        raise wrong
    right, up = (plain_number(p) for p in parts)  # NaN for what is no number
    if not (abs(right) <= 360.0 and abs(up) <= 180.0):
        raise wrong
    return right, up


def drawn(lines: Lines) -> str:
    """The display in a frame; what the eyepiece shows and what it could not do stand below."""
    rows = [f"│ {row[:WIDE]:<{WIDE}} │" for row in (lines.top, lines.bottom)]
    edge = "─" * (WIDE + 2)
    said = [f"  {words}" for words in (lines.eye, lines.error) if words]
    return "\n".join([f"┌{edge}┐", *rows, f"└{edge}┘", *said])
