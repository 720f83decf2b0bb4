"""Coordinates as people write them: decimal, degrees and minutes, letters, signs, decimal commas.

The text is cut into tokens, and every way of taking the tokens as latitude, longitude and height is
tried. One way: that is the place. None, or several that disagree: one clear error. So nothing is
guessed, and an unclear text is refused because it is unclear, not because a rule foresaw it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from plumbstar.errors import UserError

#: International foot.
METRES_PER_FOOT = 0.3048
#: Longer texts are not coordinates.
MOST_CHARACTERS = 200
LONGEST_NAME = 120
HELP = (
    "For example 47.2,11.6,940 (degrees north, degrees east, metres), or 47.2 N 11.6 E 940 m, "
    "or 47°12'N 11°36'E"
)
WANTED = "latitude and longitude, and the height above the sea if you know it"


@dataclass(frozen=True, slots=True)
class Coordinates:
    """What was read: degrees, north and east positive; metres. Ranges are not yet checked."""

    lat_deg: float
    lon_deg: float
    elevation_m: float = 0.0
    name: str = ""


# What a token may stand for. A lone m or s has two meanings; the rest of the text decides.
_WORDS: dict[str, frozenset[str]] = {
    word: frozenset(kinds.split())
    for kinds, words in {
        "DEG": "d deg degs degree degrees grad",
        "MIN": "min mins minute minutes arcmin",
        "SEC": "sec secs second seconds arcsec",
        "MIN METRE": "m",
        "SEC S": "s",
        "METRE": "metre metres meter meters masl amsl msl",
        "FOOT": "ft foot feet",
        "N": "n north",
        "S": "south",
        "E": "e east",
        "W": "w west",
        "LAT": "lat latitude",
        "LON": "lon lng long longitude",
        "HEIGHT": "elev elevation alt altitude height",
    }.items()
    for word in words.split()
}
_MARKS = {"°": "DEG", "'": "MIN", '"': "SEC", ":": "COLON", ",": "SEP", ";": "SEP", "/": "SEP"}
_SAME = str.maketrans(
    {
        **dict.fromkeys("−–—‒‐‑﹣－", "-"),
        **dict.fromkeys("º˚∘", "°"),
        **dict.fromkeys("′’‘ʹ´`", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("()[]=\u00a0\u202f\u2009\t\r\n", " "),
    }
)
_TOKEN = re.compile(
    r"""(?P<number>[+-]?[0-9]+(?:\.[0-9]*)?)
      | (?P<mark>''|[°'":,;/])
      | (?P<word>[dms](?=[NSEW](?![^\W\d_]))|[^\W\d_]+)
      | (?P<other>\S)""",
    re.VERBOSE,
)
_TIGHT_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_THOUSANDS = re.compile(r"(?<![0-9.,])([0-9]{1,3}),([0-9]{3})(?=\s*(?:m|ft|feet|metres)\b)")
_AXIS = {"N": "LAT", "S": "LAT", "E": "LON", "W": "LON"}


@dataclass(frozen=True, slots=True)
class _Token:
    kinds: frozenset[str]
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class _Angle:
    """One coordinate. ``axis`` is LAT, LON or unknown; ``signed`` and ``letter`` as written."""

    size: float
    negative: bool
    signed: bool
    letter: str
    axis: str
    parts: int
    marked: bool
    opens: bool  # begins with a letter, label or sign
    closes: bool  # ends with a letter

    @property
    def degrees(self) -> float:
        return -self.size if self.negative or self.letter in ("S", "W") else self.size


def parse(text: str) -> Coordinates:
    """Read a place. Raises :class:`UserError` for what cannot be read, or be read in two ways."""
    shown = text if len(text) <= 60 else text[:57] + "…"
    if len(text) > MOST_CHARACTERS:
        raise UserError(f"the site '{shown}', {len(text)} characters", WANTED, HELP)
    plain = text.translate(_SAME).strip()
    name = ""
    if plain[:4].lower() == "geo:":  # RFC 5870, as phones share a place
        plain = plain[4:].partition(";")[0]
    elif (m := re.match(r"([^\W\d_][^:]*):(.*)", plain, re.DOTALL)) and _is_name(m[1]):
        name, plain = m[1], m[2]
    readings: dict[Coordinates, bool] = {}
    objections: set[str] = set()
    for lexed in _lexings(plain):
        for found, delimited in _readings(lexed, _tokens(lexed), objections):
            readings[found] = readings.get(found, False) or delimited
    clear = [r for r, delimited in readings.items() if delimited] or list(readings)
    # Out of range only counts against a reading where another is within it.
    clear = [r for r in clear if abs(r.lat_deg) <= 90 and -180 <= r.lon_deg <= 360] or clear[:1]
    if len(clear) > 1:
        ways = " or ".join(words(r.lat_deg, r.lon_deg, r.elevation_m, 4) for r in clear[:2])
        raise UserError(
            f"the site '{shown}', which could be {ways}",
            "coordinates that can be read in one way only",
            "Put a comma between latitude and longitude (a semicolon, if your decimals have "
            "commas), or the letters N, S, E, W; and a colon after a name",
        )
    if not clear:
        for objection, came in _OBJECTIONS.items():
            if objection in objections:
                raise UserError(f"the site '{shown}': {came}", WANTED, HELP)
        raise UserError(f"the site '{shown}'", WANTED, HELP)
    (c,) = clear
    return Coordinates(c.lat_deg, c.lon_deg, c.elevation_m, _one_line(name or c.name))


def _one_line(name: str) -> str:
    printable = "".join(c if c.isprintable() else " " for c in name)
    return " ".join(printable.split())[:LONGEST_NAME]


_OBJECTIONS = {
    "height": "the height must be a number; a place so called goes before, with a colon after it",
    "sign": "a plus or minus together with N, S, E or W says it twice; leave one out",
    "axes": "both numbers are given as latitudes, or both as longitudes",
    "mixed": "one number has a letter and the other has none, so its side is not known",
    "sixty": "minutes and seconds go up to 59",
}
#: What programs write where they have no number. After the coordinates it was meant as a height.
_NO_NUMBERS = {"nan", "inf", "infinity", "null", "none"}


def words(lat_deg: float, lon_deg: float, elevation_m: float = 0.0, decimals: int = 3) -> str:
    """``47.200° N, 11.600° E, 940 m``: as shown to a person, and as :func:`parse` reads it.

    Height 0 is left out: it usually means that nobody gave one.
    """
    east = lon_deg - 360.0 if lon_deg > 180.0 else lon_deg
    ns, ew = ("S" if lat_deg < 0 else "N"), ("W" if east < 0 else "E")
    height = f", {elevation_m:.0f} m" if elevation_m else ""
    return f"{abs(lat_deg):.{decimals}f}° {ns}, {abs(east):.{decimals}f}° {ew}{height}"


def _lexings(text: str) -> Iterator[str]:
    """The text with its commas as marks between numbers, and as decimal marks, where each may be.

    A comma with a space beside it, or beside a number that has a point, is never a decimal mark.
    """
    text = _THOUSANDS.sub(r"\1\2", text)
    tight = _TIGHT_COMMA.findall(text)
    chained = re.search(r"[0-9],[0-9]+,[0-9]", text)
    pointed = re.search(r"[0-9]\.[0-9]", text)
    if tight and not chained and not pointed:
        yield _TIGHT_COMMA.sub(".", text)
        # Between two commas that touch both their numbers, a space parts two numbers: "47,2 11,6".
        if len(tight) > 1 and re.fullmatch(r"[0-9,+-]+\s+[0-9,+-]+", text):
            return
    yield text


def _tokens(text: str) -> list[_Token]:
    out: list[_Token] = []
    for m in _TOKEN.finditer(text):
        body = m[0]
        if m["number"]:
            kinds = frozenset({"NUMBER"})
            # "47.2-11.6" may be a range; "+47.2-11.6" is two signed numbers.
            touches = bool(out) and out[-1].end == m.start() and "NUMBER" in out[-1].kinds
            if touches and out[0].text[0] not in "+-":
                kinds = frozenset({"OTHER"})
        elif m["mark"]:
            kinds = frozenset({_MARKS.get(body, "SEC")})
        elif m["word"]:
            kinds = _WORDS.get(body.lower(), frozenset({"NAME"}))
        else:
            kinds = frozenset({"OTHER"})
        out.append(_Token(kinds, body, m.start(), m.end()))
    return out


def _is_name(text: str) -> bool:
    found = re.findall(r"[^\W\d_]{2,}", text)
    return any(w.lower() not in _WORDS for w in found)


def _readings(
    text: str, tokens: list[_Token], objections: set[str]
) -> Iterator[tuple[Coordinates, bool]]:
    """Every way to take the tokens, and whether latitude and longitude are told apart by a mark."""
    starts = [0]
    if tokens and "NAME" in tokens[0].kinds:
        # A name before: up to the last word before the first number that is not a word of ours.
        numbers = [i for i, t in enumerate(tokens) if "NUMBER" in t.kinds]
        before = tokens[: numbers[0]] if numbers else []
        names = [i for i, t in enumerate(before) if "NAME" in t.kinds]
        starts = [names[-1] + 1] if names else []
        # "Field 2, 47.2, 11.6": the number may belong to the name.
        if starts and tokens[numbers[0]].text.isdigit():
            starts.append(numbers[0] + 1)
    for start in starts:
        name = text[: tokens[start - 1].end] if start else ""
        first_at = start + (start > 0 and _is(tokens, start, "SEP"))
        for first, i in _angles(tokens, first_at, objections):
            apart = _is(tokens, i, "SEP")
            for second, k in _angles(tokens, i + apart, objections):
                delimited = apart or first.closes or second.opens or first.marked or second.marked
                for height, end in _heights(tokens, k, first, second):
                    after = _rest(text, tokens, end, bool(name), objections)
                    if after is None:
                        continue
                    pair = _pair(first, second, objections)
                    if pair is not None:
                        yield Coordinates(*pair, height, name or after), delimited


def _is(tokens: list[_Token], i: int, kind: str) -> bool:
    return i < len(tokens) and kind in tokens[i].kinds


def _rest(text: str, tokens: list[_Token], i: int, named: bool, objections: set[str]) -> str | None:
    """The name that follows, "" at the end of the text, None for anything else."""
    i += _is(tokens, i, "SEP")
    if i >= len(tokens):
        return ""
    if named or "NAME" not in tokens[i].kinds or len(tokens[i].text) < 2:
        return None
    if tokens[i].text.lower() in _NO_NUMBERS:
        objections.add("height")
        return None
    return text[tokens[i].start :]


def _angles(tokens: list[_Token], i: int, objections: set[str]) -> Iterator[tuple[_Angle, int]]:
    """Each way to take a coordinate that begins at token ``i``, and the token after it."""
    axis = ""
    label = next((k for k in ("LAT", "LON") if _is(tokens, i, k)), "")
    if label:
        axis, i = label, i + 1
        i += _is(tokens, i, "COLON")
    before = next((k for k in "NSEW" if _is(tokens, i, k)), "")
    i += bool(before)
    if not _is(tokens, i, "NUMBER"):
        return
    degrees = tokens[i].text
    signed = degrees[0] in "+-"
    opens = bool(label or before or signed)
    for size, parts, marked, end in _sizes(tokens, i, objections):
        letters = [k for k in "NSEW" if _is(tokens, end, k)] if not before else []
        for after in ["", *letters]:
            letter = before or after
            if letter and signed and (degrees[0] == "-" or letter in "SW"):
                objections.add("sign")
                continue
            own = _AXIS.get(letter, axis)
            if axis and own != axis:
                objections.add("axes")
                continue
            yield (
                _Angle(size, degrees[0] == "-", signed, letter, own, parts, marked, opens,
                       bool(after)),
                end + bool(after),
            )  # fmt: skip


def _sizes(
    tokens: list[_Token], i: int, objections: set[str]
) -> Iterator[tuple[float, int, bool, int]]:
    """Degrees; degrees and minutes; degrees, minutes and seconds: size, parts, marked, next."""
    size = abs(float(tokens[i].text))
    whole = "." not in tokens[i].text
    i += 1
    marked = False
    for parts, (mark, unit) in enumerate((("DEG", 1), ("MIN", 60), ("SEC", 3600)), 1):
        if parts > 1:
            # A part after the first: unsigned, under sixty, and after whole numbers only.
            if not _is(tokens, i, "NUMBER") or tokens[i].text[0] in "+-" or not whole:
                return
            if float(tokens[i].text) >= 60:
                objections.add("sixty")
                return
            size += float(tokens[i].text) / unit
            whole = "." not in tokens[i].text
            i += 1
        if _is(tokens, i, mark):
            marked = True
            # The m of "36 m" may be metres, the s of "31 s" south: taken either way.
            if len(tokens[i].kinds) > 1 and parts > 1:
                yield size, parts, marked, i + 1
                if mark == "SEC":
                    yield size, parts, marked, i
                    return
                i += 1
                continue
            i += 1
        elif _is(tokens, i, "COLON") and parts < 3 and _is(tokens, i + 1, "NUMBER"):
            marked = True
            i += 1
            continue  # "47:12" goes on
        yield size, parts, marked, i


def _heights(
    tokens: list[_Token], i: int, first: _Angle, second: _Angle
) -> Iterator[tuple[float, int]]:
    """No height, or each way to take one at token ``i``: metres, and the token after it."""
    yield 0.0, i
    last = i - 1
    i += _is(tokens, i, "SEP")
    apart = i - 1 > last or second.closes
    if _is(tokens, i, "HEIGHT"):
        apart = True
        i += 1
        i += _is(tokens, i, "COLON")
    if not _is(tokens, i, "NUMBER"):
        return
    value = float(tokens[i].text)
    # After "47 12, 11" or "11°" a number that touches, or that makes both angles of one shape, is
    # minutes or seconds and nothing else.
    touches = tokens[last].end == tokens[i].start and _is(tokens, last, "DEG")
    shorter = second.parts < first.parts and value < 60 and tokens[i].text[0] not in "+-"
    if not apart and (touches or shorter):
        return
    i += 1
    if _is(tokens, i, "FOOT"):
        yield value * METRES_PER_FOOT, i + 1
    elif _is(tokens, i, "METRE"):
        yield value, i + 1
    else:
        yield value, i


def _pair(a: _Angle, b: _Angle, objections: set[str]) -> tuple[float, float] | None:
    """Latitude and longitude, degrees; None where the two do not go together."""
    axes = (a.axis, b.axis)
    if a.axis and a.axis == b.axis:
        objections.add("axes")
        return None
    if bool(a.letter) != bool(b.letter) and not (a.signed or b.signed):
        objections.add("mixed")
        return None
    if axes[0] == "LON" or axes[1] == "LAT":
        a, b = b, a
    return a.degrees, b.degrees
