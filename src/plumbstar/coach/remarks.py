"""What else a message says, beside stars and numbers."""

from __future__ import annotations

import re

from plumbstar.coach.told import Remark

_REMARKS = {
    Remark.SUN: r"\b(?:sun|solar)\b(?!\s*(?:set|rise|day))",
    Remark.CLOUD: r"\b(?:cloud(?:s|y|ed)?|overcast|clouded|fog(?:gy)?|haze|hazy|rain(?:ing)?)\b",
    Remark.MOVED: r"\b(?:bump(?:ed)?|kick(?:ed)?|knock(?:ed)?|nudg(?:ed?|ing)|tripped|stumbled|"
    r"moved the (?:base|tripod|mount|telescope|scope)|slipp?ed)\b",
    Remark.PICTURE: r"\b(?:screen ?shots?|photos?|picture|image|attached|attachment|pic)\b",
    Remark.STUCK: r"\b(?:stuck|frozen|never changes|"
    r"(?:does|do)(?:n['’]?t| not) (?:change|move|count)|"
    r"(?:always|just|only|keeps?) (?:shows?|showing|says?|saying|reads?|reading|stays?)|"
    r"(?:shows?|says?|reads?|stays?)\b.{0,20}\b(?:all the time|the whole time|whatever I do))\b",
    Remark.NORTH: r"\bwhere(?:['’]?s| is)? (?:the )?north|"
    r"\b(?:find|know|finding) (?:the )?north\b|\bnorth is\b",
    Remark.NOT_THERE: r"\b(?:m|ngc|ic|messier) ?\d{1,4}\b"
    r"(?=.{0,80}(?:\bnowhere|\bnot there|n['’]?t there|\bnot in|\bempty|\bnothing))|"
    r"\b(?:can['’]?t|cannot|couldn['’]?t|didn['’]?t|not) (?:find|see|spot)\b"
    r".{0,60}\b(?:m|ngc|ic|messier) ?\d{1,4}\b",
    Remark.CHANCE: r"\b\d{1,2} (?:in|out of) (?:a )?(?:100|hundred)\b",
    Remark.CHOOSE: r"\bwh(?:ich|at) (?:two |2 )?stars?\b.{0,40}\b"
    r"(?:use|take|choose|pick|align|start|tonight|best)\b",
    Remark.FROM_TOP: r"\bfrom (?:the )?(?:zenith|top(?: down)?|overhead|straight up)\b",
    Remark.HIDDEN: r"\b(?:behind|blocked|hidden|in)\b.{0,30}\b(?:trees?|roofs?|house|walls?|"
    r"building|hill|chimney)\b.{0,60}\b(?:different|another|other|instead|swap)\b",
    Remark.FOLDED: r"\b180\b.{0,30}\b(?:back|again|down)\b",
}  # fmt: skip

#: The commonest words of other languages people write in, and of English; none that is two of them.
_FOREIGN = (
    r"ich|nicht|und|der|das|ist|mein|meine|mit|wie|ein|eine|auf|habe|den|zeigt|wo|kein",
    r"je|j|le|les|mon|ma|pas|et|une|dans|avec|sur|des|du|ai|mais|pour|qui|bonjour|où",
    r"el|los|una|con|pero|que|del|por|está|es|hola|cómo|muestra|en|las|estrella",
)
_ENGLISH = r"the|and|is|my|with|at|of|to|it|i|not|was|on|what|how|this|that|but"
#: So many of them, and more than of English, make another language.
_FEW = 3


def _foreign(text: str) -> bool:
    def count(words: str) -> int:
        return len(re.findall(rf"\b(?:{words})\b", text, re.IGNORECASE))

    most = max(count(words) for words in _FOREIGN)
    return most >= _FEW and most > count(_ENGLISH)


def remarks_of(text: str) -> frozenset[Remark]:
    """All that is said in it."""
    found = {r for r, p in _REMARKS.items() if re.search(p, text, re.IGNORECASE)}
    return frozenset(found | ({Remark.FOREIGN} if _foreign(text) else set()))


def without_chances(text: str) -> str:
    """The text without "14 in 100", which is no reading."""
    return re.sub(_REMARKS[Remark.CHANCE], " ", text, flags=re.IGNORECASE)
