"""Reading what people type for a star or an object: accents, case, spacing and Greek forgiven."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable

from plumbstar.sky.constellations import CONSTELLATIONS, GREEK, GREEK_OTHER

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


_CONSTELLATION_FORMS: dict[str, str] = {}
for _abbreviation, (_name, _genitive) in CONSTELLATIONS.items():
    for _form in (_abbreviation, _name, _genitive):
        _CONSTELLATION_FORMS[fold(_form)] = _abbreviation

_LETTER_FORMS: dict[str, str] = dict(GREEK_OTHER)
for _letter, _forms in GREEK.items():
    for _form in (_letter, *_forms):
        _LETTER_FORMS[_form] = _letter


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


def nearest(text: str, known: Iterable[str], n: int) -> list[str]:
    """Up to ``n`` of the folded keys ``known`` that look most like ``text``, best first."""
    return difflib.get_close_matches(fold(text), list(known), n=n, cutoff=0.6)
