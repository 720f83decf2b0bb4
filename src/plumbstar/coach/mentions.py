"""The stars and planets that a text speaks of, misspelt or by their nicknames."""

from __future__ import annotations

import functools
import itertools
import re
from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.sky import bodies
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming.names import designation, edits, fold, letters
from plumbstar.sky.naming.nicknames import NICKNAMES

#: Stars to this magnitude are known by their names, those to the second in spite of a slip of the
#: pen too; a newcomer sights no fainter one. Common practice, no source.
FAINTEST, FORGIVEN = 2.6, 2.1
#: What newcomers write for a name, beside the nicknames that every search knows. From memory.
_ALSO = {
    "dogstar": "Sirius", "northstar": "Polaris", "polestar": "Polaris",
    "alphacentauri": "Rigil Kentaurus", "alphacen": "Rigil Kentaurus",
    "rigilkent": "Rigil Kentaurus", "betacentauri": "Hadar", "agena": "Hadar",
    "alphacrucis": "Acrux", "betacrucis": "Mimosa", "becrux": "Mimosa", "arcturas": "Arcturus",
}  # fmt: skip
#: Words within a slip or two of a star's name that are none.
_NO_STARS = frozenset((
    "spices", "spicy", "spied", "space", "capable", "deny", "vegan", "bigger", "trigger",
    "ridge", "regular", "altitude", "attain", "altar", "mirror", "cast", "caster", "master",
    "almost", "meridian", "polar", "arrives", "denied", "atlas", "alarm", "central", "merge",
    "agenda", "almanac", "marker", "markers", "marked", "market", "mimic", "hamlet", "saddle",
    "mistake", "serious",
))  # fmt: skip
_WORD = re.compile(r"[^\W\d_]+(?:['’][a-z]+)?|\d{1,3}(?=\s+[A-Z][a-z]{2}\b)", re.UNICODE)


@dataclass(frozen=True, slots=True)
class Mention:
    """A star or planet, where the text speaks of it, and the words that it has there. ``unsure``:
    the writer was not sure of the name; ``perhaps``: what else it may have been."""

    thing: Star | Body
    start: int
    end: int
    written: str
    unsure: bool = False
    perhaps: tuple[Star | Body, ...] = ()

    @property
    def misspelt(self) -> bool:
        """Whether it was taken for that thing in spite of how it was written."""
        return fold(self.written) not in (fold(self.thing.label), "the" + fold(self.thing.label))


@functools.cache
def _known() -> dict[str, Star | Body]:
    """By folded name."""
    stars = catalogue.load()
    known: dict[str, Star | Body] = {}
    for i in stars.brighter_than(FAINTEST):
        star = stars[int(i)]
        known.setdefault(fold(star.label), star)
    known |= {fold(name): Body(name) for name in bodies.NAMES}
    nicks = {**NICKNAMES, **_ALSO}.items()
    return known | {nick: known[fold(name)] for nick, name in nicks if fold(name) in known}


@functools.cache
def _spelt() -> dict[str, int]:
    """Names of stars that a slip of the pen may be forgiven, with the letters in each."""
    stars = {n: t for n, t in _known().items() if len(n) > 4 and isinstance(t, Star)}
    return {n: letters(n) for n, star in stars.items() if star.v_mag < FORGIVEN}


def mentions(text: str) -> tuple[Mention, ...]:
    """In the order of the text."""
    words = list(_WORD.finditer(text))
    out: list[Mention] = []
    i = 0
    while i < len(words):
        for size in (3, 2, 1):
            here = words[i : i + size]
            if len(here) < size or _parted(text, here):
                continue
            start, end = here[0].start(), here[-1].end()
            thing = _named(text[start:end], size)
            if thing is not None:
                out.append(Mention(thing, start, end, text[start:end]))
                i += size
                break
        else:
            i += 1
    return tuple(out)


def _parted(text: str, words: list[re.Match[str]]) -> bool:
    """Whether more than a space or a hyphen stands between them."""
    gaps = itertools.pairwise(words)
    return any(re.fullmatch(r"[ \t-]+", text[a.end() : b.start()]) is None for a, b in gaps)


def _named(written: str, words: int) -> Star | Body | None:
    key = re.sub(r"['’]s$", "", written)
    key = fold(key)
    found = _known().get(key)
    if found is not None:
        return found
    if words == 2:
        return _designated(written)
    return _nearly(key) if words == 1 else None


def _designated(written: str) -> Star | None:
    """ "alpha Ori", "58 Ori", of a star that anyone sights."""
    if designation(written) is None or not written[-3:].strip().isalpha():
        return None
    try:
        found = catalogue.load().find(written)
    except UserError:  # none, or several
        return None
    return found if found.v_mag < FAINTEST else None


def _nearly(key: str) -> Star | None:
    """The one star that a slip of the pen, or two in a long name, would make of it."""
    if len(key) < 5 or key in _NO_STARS:
        return None
    bits, best = letters(key), {}
    for name, its in _spelt().items():
        most = 1 if min(len(name), len(key)) < 7 else 2
        if (bits ^ its).bit_count() <= 2 * most and name[0] == key[0]:
            off = edits(key, name, most)
            if off <= most:
                best[name] = off
    if not best:
        return None
    least = min(best.values())
    near = {_known()[n].label for n, off in best.items() if off == least}
    thing = _known()[min(best, key=lambda n: best[n])]
    return thing if len(near) == 1 and isinstance(thing, Star) else None
