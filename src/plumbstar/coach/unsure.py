"""Names that the writer was not sure of: "Vega or maybe Deneb", "Sirius?", "Castor I think"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from plumbstar.coach.mentions import Mention

#: Between two names for one star.
_OR = re.compile(
    r"(?=[^\d]*\b(?:or|maybe|perhaps|possibly|could|might|may|unless)\b)"
    r"(?![^\d]*\b(?:then|and|next|first|second|star|after)\b)"
    r"[\s,(?/]*[a-z\s,'’(?/]{2,34}",
    re.IGNORECASE,
)
_AFTER = re.compile(
    r"\s*(?:\(?\?|[,(]?\s*(?:i\s+(?:think|guess|believe|suppose)|probably|maybe|perhaps|possibly|"
    r"not\s+(?:\w+\s+)?(?:sure|certain)|unsure)\b)",
    re.IGNORECASE,
)
_BEFORE = re.compile(
    r"\b(?:i\s+(?:think|guess|believe|suppose)|(?:not\s+(?:\w+\s+)?|un)sure\s+(?:if|whether)|"
    r"probably|maybe|perhaps|possibly|might\s+(?:be|have\s+been)|could\s+(?:be|have\s+been)|"
    r"must\s+(?:be|have\s+been))\b[^.;:?!\n\d]{0,30}$",
    re.IGNORECASE,
)


def with_doubts(text: str, found: Sequence[Mention]) -> list[Mention]:
    """The mentions, those of one star under two names made one, and each unsure one marked."""
    out: list[Mention] = []
    for m in found:
        last = out[-1] if out else None
        if last is not None and _OR.fullmatch(text[last.end : m.start]):
            if m.thing.label != last.thing.label:
                others = (*last.perhaps, m.thing)
                out[-1] = replace(last, end=m.end, perhaps=others, unsure=True)
            continue
        behind = _AFTER.match(text, m.end)
        unsure = behind is not None or _BEFORE.search(text[: m.start]) is not None
        out.append(replace(m, unsure=unsure))
    return out
