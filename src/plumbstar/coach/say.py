"""The words of an answer to a newcomer's message: without a term of the trade, fit to send."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet

from plumbstar.coach import number_say
from plumbstar.coach.doubted import Doubted
from plumbstar.coach.follows import Apart, Ask, Follows, Height, Stands
from plumbstar.coach.moments import Circumstances
from plumbstar.coach.number import JudgedNumber
from plumbstar.coach.number_say import clock_words
from plumbstar.coach.told import MessageTold, Remark, StarTold
from plumbstar.controller import Combined
from plumbstar.diagnose.explain.reply import reply, well_away
from plumbstar.sky.bodies import Body
from plumbstar.text.words import chance, joined, where

_SUN = (
    "First: never point a telescope, or its finder, at or near the Sun, not even to set it up. "
    "One look can blind you for good. Wait until the Sun has set."
)


THANKS, IF_WRONG = (
    "Thank you for the numbers. I read them as:", "If any of that is wrong, tell me.",
)  # fmt: skip


def answer(f: Follows, at: Circumstances) -> str:
    """A reply to paste."""
    if f.explanation is not None and at.site is not None and f.ask is not Ask.WHICH_OF:
        text = reply(f.explanation, f.heard, at.site, at.zone)
        before = [_ENGLISH_ONLY] if Remark.FOREIGN in f.message.remarks else []
        before += [*_remarked(f.message, {Remark.FROM_TOP}), *(_doubted(d) for d in f.doubts)]
        text = "\n\n".join([*before, text])
        return f"{_SUN}\n\n{text}" if Remark.SUN in f.message.remarks else text
    lines = [*([_SUN, ""] if Remark.SUN in f.message.remarks else []), thanks(f)]
    told = understood(f)
    if told:
        lines += [*[f"- {t}" for t in told], IF_WRONG]
    found = follows(f)
    if found:
        lines += ["", *found]
    lines += ["", asked(f, at)]
    return "\n".join(lines)


def about_numbers(f: Follows, found: Sequence[JudgedNumber], combined: Combined | None) -> str:
    """A reply to paste about a controller's numbers, with what they say."""
    m = f.message
    lines = [_SUN, ""] if Remark.SUN in m.remarks else []
    lines += [_thanks(m), *[f"- {t}" for t in told_of_numbers(m)], IF_WRONG, ""]
    before = [*_remarked(m), *(_doubted(d) for d in f.doubts)]
    lines += [*before, ""] if before else []
    lines += number_say.body(found, combined, f.alike_deg)
    return "\n".join(lines)


def thanks(f: Follows) -> str:
    """The first line."""
    return _thanks(f.message)


def _thanks(m: MessageTold) -> str:
    if Remark.FOREIGN in m.remarks:
        return f"{_ENGLISH_ONLY} {THANKS}" if m.stars or m.numbers else _ENGLISH_ONLY
    if m.stars or m.numbers or len(m.loose) > 1:
        return THANKS
    if Remark.CLOUD in m.remarks:
        return "Thank you for writing. Clouds are no fault of yours or of the telescope."
    return "Thank you for writing. I can help from two numbers and a star's name."


def understood(f: Follows) -> list[str]:
    """One line for each thing that was read, with what had to be assumed."""
    m = f.message
    if m.numbers:
        return told_of_numbers(m)
    if not m.stars and len(m.loose) > 1:
        return [f"{joined([f'{a.degrees:g}' for a in m.loose])}, of no star that you name"]
    return [_star_line(s) for s in m.stars]


def told_of_numbers(m: MessageTold) -> list[str]:
    """A controller's numbers, each with its two stars."""
    return [number_say.line(n) for n in m.numbers]


def _star_line(s: StarTold) -> str:
    parts = []
    if s.az is not None:
        parts.append(f"left-right {s.az.degrees:g}")
    if s.alt is not None:
        parts.append(f"up-down {s.alt.degrees:g}")
    if s.counts:
        parts.append(f"counts {joined([f'{c:d}' for c in s.counts])}")
    when = f" at {clock_words(s.clock)}" if s.clock is not None else ""
    name = " or ".join(t.label for t in (s.thing, *s.perhaps))
    line = f"{name}{when}" + (f": {', '.join(parts)}" if parts else "")
    return line + (f" ({'; '.join(s.said)})" if s.said else "")


#: What follows from a remark alone. Common practice, no source.
_SAID = {
    Remark.STUCK: "A number that stays the same while you move the tube is not being counted. Look "
    "first at that axis: is its encoder plugged in, and does it turn with the tube?",
    Remark.NORTH: "You need not know where north is, and the base need not be level: two stars "
    "tell both.",
    Remark.NOT_THERE: "Most of what is not there is there and faint: use the lowest power, look a "
    "little to one side of it, wait half a minute. If you still see nothing, point to a bright "
    "star near it: if that is off as well, centre it and write me its numbers.",
    Remark.CHANCE: "“In 100” is how many of your targets would be in the eyepiece. One more star, "
    "well away from the others, helps most.",
    Remark.CHOOSE: "Take two bright stars in different directions, one about 30° up and one about "
    "60°; the page Prepare chooses them for your place and hour.",
    Remark.FROM_TOP: "I took up-down as 0 at the horizon and 90 overhead. If yours is 0 overhead, "
    "write 90 less what it shows.",
    Remark.HIDDEN: "Yes, another star does as well: any bright one of its list, as far from the "
    "first as you can see. Tell the controller which.",
    Remark.FOLDED: "A scale that comes back from 180 shows each number twice. Past 180 write 360 "
    "less what it shows, and all is well.",
}  # fmt: skip


def _remarked(m: MessageTold, but: AbstractSet[Remark] = frozenset()) -> list[str]:
    return [said for remark, said in _SAID.items() if remark in m.remarks and remark not in but]


def follows(f: Follows) -> list[str]:
    """What that tells, each a sentence or two."""
    out = []
    if Remark.MOVED in f.message.remarks:
        out.append(
            "If the base was moved or knocked, what was sighted before no longer counts: sight two "
            "stars again."
        )
    out += _remarked(f.message)
    out += [_doubted(d) for d in f.doubts]
    for n in f.not_up:
        out.append(
            f"{n.star} was {-n.altitude_deg:.0f}° below the horizon at {n.local}: the time, the "
            "place or the star's name cannot be right."
        )
    if f.stands is not None:
        out.append(_stands(f.stands))
    if f.apart is not None:
        out.append(_apart(f.apart))
    out += [_height(h) for h in f.heights]
    if f.message.numbers:
        out += number_say.same_pair(f.message.numbers, f.alike_deg)
        out.append(
            "The number tells how far the two stars and the telescope's two circles contradict one "
            f"another. Up to about {f.by_centring_deg:.1f}° is what centring by eye leaves. What "
            "made more depends on where the two stars stood."
        )
    return out


def _stands(s: Stands) -> str:
    if s.alt_deg < 2.0:
        return f"{s.star} is not up when it gets dark there, at {s.local}."
    return f"At {s.local}, when it is dark, {s.star} stands {where(s.az_deg, s.alt_deg)}."


def _doubted(d: Doubted) -> str:
    """Which of two names it was, or where each stood."""
    names = " or ".join(d.names)
    if d.settled:
        why = (
            "the other was below the horizon then"
            if d.probability is None
            else f"your numbers fit it ({chance(d.probability)})"
        )
        return f"{names}: it was {d.settled}, since {why}."
    if not d.stood:
        return f"{names}: it matters which."
    stood = [f"{s.star} stood {where(s.az_deg, s.alt_deg)} ({s.alt_deg:.0f}° up)" for s in d.stood]
    return f"At {d.stood[0].local} {' and '.join(stood)}."


def _apart(a: Apart) -> str:
    gap = a.read_deg - a.true_deg
    both = f"{a.first} and {a.second} are {a.true_deg:.1f}° apart in the sky"
    if a.fits:
        return (
            f"{both}, and by your numbers {a.read_deg:.1f}°. That fits: both are likely the right "
            "stars, and nothing moved between them."
        )
    more = "more" if gap > 0 else "less"
    return (
        f"{both}, but by your numbers {a.read_deg:.1f}°, which is {abs(gap):.1f}° {more}. So one "
        "of them was another star, or something slipped or was moved between them, or a number was "
        "misread."
    )


def _height(h: Height) -> str:
    gap = h.read_deg - h.true_deg
    stood = f"{h.star} stood {h.true_deg:.0f}° up then, and your up-down number says {h.read_deg:g}"
    if abs(gap) < 2.5 * h.sigma_deg:
        return f"{stood}. That fits, as near as one star can tell."
    high = "too high" if gap > 0 else "too low"
    return (
        f"{stood}: {abs(gap):.1f}° {high}. The up-down circle may begin at the wrong place, it may "
        "have been another star, or the time may be another. A second star tells which."
    )


def asked(f: Follows, at: Circumstances) -> str:
    """The one thing to ask for, as a request; in few plain words to whom English is foreign."""
    if Remark.FOREIGN in f.message.remarks:
        return _PLAINLY[f.ask].format(of=f.of or "the star")
    ask = _ASKED[f.ask](f, at)
    if f.ask in (Ask.START, Ask.READINGS, Ask.NEXT_STAR):
        if Remark.CLOUD in f.message.remarks:
            ask = f"when it has cleared, {ask}"
        elif Remark.SUN in f.message.remarks:
            ask = f"when it is dark, {ask}"
    return f"One thing, please: {ask}"


def _second(f: Follows, at: Circumstances) -> str:
    last = f.heard[-1].sighting.utc
    assert at.site is not None  # where a star was heard, both are known
    assert last is not None
    where = well_away(f.heard, at.site, last)
    return f"{where[:1].lower()}{where[1:]}"


def _which_star(f: Follows) -> str:
    m = f.message
    when = "" if m.timed else ", and at what time"
    known = [n.label for n in m.named if n != Body("Moon")]
    other = f"the same of {known[0]}" if known else "the same of one whose name you know"
    return (
        f"which star was in the middle of the eyepiece{when}? If you do not know its name, write "
        f"me {other}."
    )


_EXAMPLE = "“Capella, 7:42 pm, left-right 61.2, up-down 55.0”"
_ASKED: dict[Ask, Callable[[Follows, Circumstances], str]] = {
    Ask.NEXT_STAR: lambda f, at: "sight one more bright star, well away from the others.",
    Ask.SECOND_STAR: _second,
    Ask.TIME: lambda f, at: (
        (
            f"at what time was {f.of} in the middle of the eyepiece"
            if f.of
            else "at what time was each star in the middle"
        )
        + "? To the minute, by your clock."
    ),
    Ask.SITE: lambda f, at: (
        "where do you observe? The nearest town is near enough. Heights depend on it."
    ),
    Ask.LEFT_RIGHT: lambda f, at: (
        f"what did the left-right circle (the base) read with {f.of} in the middle?"
    ),
    Ask.UP_DOWN: lambda f, at: (
        f"what did the up-down circle (the tube's) read with {f.of} in the middle?"
    ),
    Ask.READINGS: lambda f, at: (
        f"put {f.of} in the middle of the eyepiece and write down both numbers, left-right and "
        "up-down, and the time."
    ),
    Ask.SCALE: lambda f, at: (
        "how many counts does each axis make in one full turn? It stands in the papers that came "
        "with it; or turn the base once round and tell me the number before and after."
    ),
    Ask.WHICH_STARS: lambda f, at: (
        "after which two stars does it show that, which was first, and at what time?"
    ),
    Ask.WHICH_STAR: lambda f, at: (
        f"which was the other star beside {f.of}, and which of the two was first?"
        if f.of
        else _which_star(f)
    ),
    Ask.WHICH_OF: lambda f, at: f"was it {f.of}? If you cannot tell, point at it again and look.",
    Ask.OTHER_STAR: lambda f, at: (
        f"do the same with a star in another part of the sky. {f.of} twice tells little more than "
        "once."
    ),
    Ask.PICTURE: lambda f, at: (
        "I cannot see pictures here. Write down what stands in it: the star's name, both numbers "
        "and the time."
    ),
    Ask.START: lambda f, at: (
        "put a bright star in the middle of the eyepiece and write me its name, both numbers and "
        f"the time, for example {_EXAMPLE}. You do not need to know more than that."
    ),
}


#: To whoever writes in another language.
_ENGLISH_ONLY = "I read only English. I am sorry."
_ALL = "the star, the left-right number, the up-down number, the time"
_PLAINLY = {
    Ask.NEXT_STAR: f"Please take one more star. Write: {_ALL}.",
    Ask.SECOND_STAR: f"Please take one more star, far from the first. Write: {_ALL}.",
    Ask.TIME: "What time was it? Please write, for example: 19:42.",
    Ask.SITE: "Where are you? Please write a town.",
    Ask.LEFT_RIGHT: "What is the left-right number (azimuth) for {of}?",
    Ask.UP_DOWN: "What is the up-down number (altitude) for {of}?",
    Ask.READINGS: f"Please write for {{of}}: {_ALL.removeprefix('the star, ')}.",
    Ask.SCALE: "How many counts are one full turn?",
    Ask.WHICH_STARS: "Which two stars? Which one was first? What time was it?",
    Ask.WHICH_STAR: "Which star was it? What time was it?",
    Ask.WHICH_OF: "Which star was it: {of}?",
    Ask.OTHER_STAR: f"Please take another star, far from {{of}}. Write: {_ALL}.",
    Ask.PICTURE: f"I cannot see pictures. Please write: {_ALL}.",
    Ask.START: f"Please write: {_ALL}. For example: {_EXAMPLE}.",
}


def verdict(f: Follows) -> str:
    """The answer in a sentence or two, for whoever helps."""
    found = follows(f)
    if f.explanation is not None:
        return f.explanation.verdict
    return found[0] if found else "The message does not tell yet what went wrong."
