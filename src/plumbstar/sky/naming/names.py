"""Reading what people type for a star or an object: accents, case, spacing and Greek forgiven."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence

from plumbstar.sky.naming.constellations import CONSTELLATIONS, GREEK, GREEK_OTHER

_NOT_ALNUM = {c: None for c in range(128) if not chr(c).isalnum()}
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789")


def fold(text: str) -> str:
    """Lower case, no accents, no spaces or punctuation; Greek letters stay.

    >>> fold("Cor Caroli"), fold("Boötis"), fold("NGC  224")
    ('corcaroli', 'bootis', 'ngc224')
    """
    if text.isascii():  # thirteen thousand names pass here
        return text.translate(_NOT_ALNUM).lower()
    plain = unicodedata.normalize("NFKD", text.translate(_SUPERSCRIPTS)).casefold()
    return "".join(c for c in plain if c.isalnum())


def either(names: Sequence[str]) -> str:
    """``"a, b or c"``."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " or " + names[-1]


_CONSTELLATION_FORMS: dict[str, str] = {}
for _abbreviation, (_name, _genitive) in CONSTELLATIONS.items():
    for _form in (_abbreviation, _name, _genitive):
        _CONSTELLATION_FORMS[fold(_form)] = _abbreviation

_LETTER_FORMS: dict[str, str] = dict(GREEK_OTHER)
for _letter, _forms in GREEK.items():
    for _form in (_letter, *_forms):
        _LETTER_FORMS[_form] = _letter


#: A letter, a number and a constellation are shorter than this, however they are written.
LONGEST_DESIGNATION = 60


def constellation_of(text: str) -> str | None:
    """The abbreviation for any form of a constellation's name, or None."""
    return _CONSTELLATION_FORMS.get(fold(text))


def designation(text: str) -> tuple[str, str, str] | None:
    """Read a Bayer or Flamsteed designation: (letter or number, superscript, constellation).

    ``"alf Ori"``, ``"alpha Orionis"``, ``"α Ori"`` and ``"αOri"`` all give ``("α", "", "Ori")``;
    ``"58 Ori"`` gives ``("58", "", "Ori")``; ``"pi3 Ori"`` and ``"π³ Ori"`` give
    ``("π", "3", "Ori")``. Latin letters keep their case. None when it is no designation.
    """
    text = " ".join(text.translate(_SUPERSCRIPTS).replace("-", " ").replace("_", " ").split())
    if len(text) > LONGEST_DESIGNATION:
        return None
    # A final sigma is what capital sigma folds to at the end of a word.
    m = re.fullmatch(r"(\d+|[^\W\d]+?)\.?\s*(\d*)\s*([^\W\d][^\d]*)", text)
    if m is None:
        return None
    head, sup, tail = m.groups()
    for split in range(len(head + tail) if not sup and not head.isdigit() else 1):
        # Without a number between, letter and constellation may be run together: try each split.
        if split == 0:
            h, t = head, tail
        else:
            joined = head + tail
            h, t = joined[:split], joined[split:]
        constellation = constellation_of(t)
        if constellation is None:
            continue
        if h.isdigit():
            return (str(int(h)), "", constellation) if not sup else None
        letter = _LETTER_FORMS.get(h.casefold().replace("ς", "σ").replace("ϑ", "θ"))
        if letter is not None:
            return letter, sup.lstrip("0"), constellation
        if len(h) == 1:
            return h, sup.lstrip("0"), constellation
    return None


def edits(a: str, b: str, most: int) -> int:
    """Letters changed, left out, put in, or swapped with a neighbour, from ``a`` to ``b``.

    Counted up to ``most``; ``most + 1`` for anything more. Source: the restricted edit distance,
    Damerau 1964, Communications of the ACM 7, 171.
    """
    if abs(len(a) - len(b)) > most:
        return most + 1
    two: list[int] = []
    one = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        row = [i]
        for j, y in enumerate(b, 1):
            cost = min(one[j] + 1, row[j - 1] + 1, one[j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                cost = min(cost, two[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
        two, one = one, row
    return min(one[-1], most + 1)


def letters(word: str) -> int:
    """A bit for each letter in it: of two words, one edit changes at most two bits."""
    bits = 0
    for c in word:
        bits |= 1 << (ord(c) & 63)
    return bits


def nearest(text: str, known: Mapping[str, int]) -> dict[str, float]:
    """The folded ``known`` words that ``text`` may be a slip for, with how far off each is.

    ``known`` gives each word's :func:`letters`. Distance in edits, half a one more when the first
    letter differs, since that is the one people get right. A word of four or five letters may be
    one off, of up to eight two, longer ones three; and none is kept that is more than one further
    off than the best. Common practice, no source; tests/sky/test_suggest.py is what it is for.
    """
    key = fold(text)
    most = 0 if len(key) < 4 else 1 if len(key) < 6 else 2 if len(key) < 9 else 3
    if not most or len(key) > 40:
        return {}
    bits = letters(key)
    found: dict[str, float] = {}
    for word, its in known.items():
        if (bits ^ its).bit_count() <= 2 * most and abs(len(word) - len(key)) <= most:
            off = edits(key, word, most)
            if off <= most and off < len(word) / 2:
                found[word] = off + (0.5 if word[0] != key[0] else 0.0)
    best = min(found.values(), default=0.0)
    return {w: d for w, d in sorted(found.items(), key=lambda t: t[1]) if d <= best + 1.0}


def near_rank(distance: float) -> float:
    """A near miss's place among the ranks of a search: after all that fits, before the rest."""
    return 3.0 + min(distance, 9.0) / 10.0


_LOOKALIKE_DIGITS = str.maketrans("oilsz", "01152")


def near_numbers(number: str) -> dict[str, float]:
    """What a mistyped catalogue number may have meant, with how far off: ``"89l"``, ``"311"``.

    A letter for the digit it looks like, two digits swapped, or one too many, the last being the
    likeliest; then one digit too few or a wrong one.
    """
    digits = number.translate(_LOOKALIKE_DIGITS)
    found: dict[str, float] = {}
    if not re.fullmatch(r"\d{1,6}", digits):
        digits = re.sub(r"\D", "", digits)
        if not 0 < len(digits) <= 6:
            return {}
        found[digits] = 0.5
    elif digits != number:
        found[digits] = 0.0
    for i in reversed(range(len(digits))):
        left, right = digits[:i], digits[i + 1 :]
        found.setdefault(left + right, 1.0 if i == len(digits) - 1 else 1.2)
        if right:
            found.setdefault(left + right[0] + digits[i] + right[1:], 1.4)
    for i in range(len(digits)):
        for d in "0123456789":
            found.setdefault(digits[:i] + d + digits[i + 1 :], 2.0)
    found.pop(number, None)
    return {n: d for n, d in found.items() if n and n[0] != "0"}


def near_designations(text: str) -> list[tuple[str, float]]:
    """Designations that ``text`` may be a slip for: ``"alpha Centuri"`` gives ``"α Cen"``."""
    words = " ".join(text.split()).split(" ", 1)
    if len(words) != 2:
        return []
    forms = {w: letters(w) for w in _CONSTELLATION_FORMS}
    found: dict[str, float] = {}
    for form, off in nearest(words[1], forms).items():
        parsed = designation(f"{words[0]} {_CONSTELLATION_FORMS[form]}")
        if parsed is not None:
            found.setdefault(f"{parsed[0]}{parsed[1]} {parsed[2]}", off)
    return list(found.items())
