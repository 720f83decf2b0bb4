"""The strip as SVG text: an engraved rule for each term, the outings along it.

One hue: meaning by size, line and words. Every shape has a class, by which a page dresses it in its
own colours, and plain attributes, so that the same text stands alone in a file.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from plumbstar.diagnose.history.strip import Strip, StripBand, StripMark
from plumbstar.text import words

Dress = Literal["night", "day"]

#: ink, soft, faint, ground
_COLOURS = {
    "night": ("#f00", "#d10000", "#6b0000", "#000"),
    "day": ("#000", "#333", "#8a8a8a", "#fff"),
}
#: Width on a phone and in a file; the height of a band, of its heading, and of the foot.
PHONE, SHEET = 360.0, 760.0
_EDGE, _HEAD, _BAND, _FOOT = 30.0, 30.0, 104.0, 176.0
#: Share of the values that a band makes room for; what lies beyond is drawn at its edge.
_ROOM = 0.96
#: A turn of the base's top that the round level shows by dots, the newest last.
_LATEST = 12


@dataclass(frozen=True)
class _Paper:
    """Where things are drawn: colours, and x of the outings."""

    ink: str
    soft: str
    faint: str
    ground: str
    width: float
    count: int

    @property
    def step(self) -> float:
        """From outing to outing; one place more is kept for the next."""
        return (self.width - 2 * _EDGE) / (self.count + 1)

    @property
    def roomy(self) -> bool:
        """Whether lines from each outing can be told apart."""
        return self.step >= 2.5

    def x(self, i: float) -> float:
        return _EDGE + (i + 0.5) * self.step

    def text(self, x: float, y: float, said: str, *, at: str = "start", size: int = 13,
             bold: bool = False) -> str:  # fmt: skip
        weight = ' font-weight="700"' if bold else ""
        return (
            f'<text class="strip-text" x="{x:.1f}" y="{y:.1f}" text-anchor="{at}" '
            f'font-size="{size}"{weight} fill="{self.ink}" stroke="{self.ground}" '
            f'stroke-width="3" paint-order="stroke">{escape(said)}</text>'
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, sort: str = "soft",
             width: float = 1.0, dash: str = "") -> str:  # fmt: skip
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        colour = {"ink": self.ink, "soft": self.soft, "faint": self.faint}[sort]
        return (
            f'<line class="strip-{sort}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" '
            f'stroke="{colour}" stroke-width="{width:g}"{dashed}/>'
        )

    def dot(self, x: float, y: float, r: float, hollow: bool = False) -> str:
        fill = self.ground if hollow else self.ink
        return (
            f'<circle class="strip-dot{" hollow" if hollow else ""}" cx="{x:.1f}" cy="{y:.1f}" '
            f'r="{r:.1f}" fill="{fill}" stroke="{self.ink}" stroke-width="1.2"/>'
        )


def svg(strip: Strip, dress: Dress = "night", width: float = SHEET) -> str:
    """The picture, one SVG element; its title says it for those who hear the page."""
    paper = _Paper(*_COLOURS[dress], width, max(len(strip.nights), 1))
    leans = any(n.leaned is not None for n in strip.nights)
    height = (_HEAD + _BAND) * (len(strip.bands) + leans) + _FOOT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-6 0 {width + 12:g} {height:g}" '
        'class="outings" role="img" font-family="sans-serif" font-weight="500">',
        f"<title>{escape(sentence(strip))}</title>",
        f'<rect class="strip-ground" x="-6" width="{width + 12:g}" height="{height:g}" '
        f'fill="{paper.ground}"/>',
    ]
    top = 0.0
    for band in strip.bands:
        parts += _band(paper, strip, band, top)
        top += _HEAD + _BAND
    if leans:
        parts += _leans(paper, strip, top)
        top += _HEAD + _BAND
    return "\n".join([*parts, *_foot(paper, strip, top), "</svg>"])


def sentence(strip: Strip) -> str:
    """What the picture shows, in words."""
    said = [f"{words.many(len(strip.nights), 'outing')} with {strip.kit}."]
    for b in strip.bands:
        said.append(
            f"{words.upper_first(words.term(b.name))} {b.now.value:+.2f}, give or take "
            f"{words.sigma_words(b.now.sigma)} degrees."
        )
    mends = sum(m.kind == "mend" for m in strip.marks)
    if mends:
        said.append(f"{words.many(mends, 'mend')} marked.")
    return " ".join(said)


@dataclass(frozen=True)
class _Scale:
    """Values to heights: ``low`` to ``high`` degrees over a band whose top is ``top``."""

    low: float
    high: float
    top: float

    def y(self, value: float) -> float:
        share = (self.high - value) / (self.high - self.low)
        return self.top + _BAND * min(max(share, 0.0), 1.0)

    def beyond(self, value: float) -> bool:
        return not self.low <= value <= self.high


def _scale(values: Sequence[float], top: float) -> _Scale:
    """Room for nearly all of them and for zero; what stands far apart is not made room for."""
    order = sorted(values)
    cut = int(len(order) * (1 - _ROOM) / 2)
    low, high = min(0.0, order[cut]), max(0.0, order[len(order) - 1 - cut])
    room = max(0.08 * (high - low), 0.05)
    return _Scale(low - room, high + room, top)


def _rule(paper: _Paper, s: _Scale, step: float) -> list[str]:
    """Graduations at the left, as on an engraved rule; true zero across."""
    out = []
    fine = step / 5
    for n in range(math.ceil(s.low / fine), math.floor(s.high / fine) + 1):
        long = n % 5 == 0
        y = s.y(n * fine)
        out.append(paper.line(0, y, 9 if long else 5, y, "soft" if long else "faint"))
        if long and s.top + 6 < y < s.top + _BAND - 3:
            zero = n == 0
            label = "0" if zero else f"{n * fine:+.1f}" if step < 1 else f"{n * fine:+.0f}"
            out.append(paper.text(11, y + 4, label, size=11))
    if s.low < 0 < s.high:
        out.append(paper.line(_EDGE, s.y(0), paper.width - 4, s.y(0), "faint"))
    return out


def _step(s: _Scale) -> float:
    """Between long graduations: about three on a band."""
    span = (s.high - s.low) / 3
    return next((x for x in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0) if x >= span), 20.0)


def _heading(paper: _Paper, top: float, left: str, right: str) -> list[str]:
    return [
        paper.text(0, top + 20, left, size=15, bold=True),
        paper.text(paper.width, top + 20, right, at="end", size=15),
    ]


def _band(paper: _Paper, strip: Strip, band: StripBand, top: float) -> list[str]:
    known = [h for h in band.held if h is not None]
    values = [h.value + k * h.sigma for h in known for k in (-1, 1)]
    values += [d.value + k * d.sigma for d in band.dots if d is not None for k in (-1, 1)]
    values += [band.ahead.value + k * band.ahead.sigma for k in (-1, 1)]
    s = _scale(values, top + _HEAD)
    now = f"{band.now.value:+.2f}° ± {words.sigma_words(band.now.sigma)}"
    out = _heading(paper, top, words.upper_first(words.term(band.name)), now)
    out += _rule(paper, s, _step(s))
    out += _ribbon(paper, band, s)
    r = min(max(0.3 * paper.step, 1.0), 4.0)
    for i, d in enumerate(band.dots):
        if d is None:
            continue
        x = paper.x(i)
        bar = s.y(d.value - d.sigma), s.y(d.value + d.sigma)
        sort, dash = "soft" if paper.roomy else "faint", "2 2" if d.apart else ""
        out.append(paper.line(x, bar[0], x, bar[1], sort, min(1.5, 0.4 * paper.step), dash))
        y = s.y(d.value)
        out.append(_arrow(paper, x, y, d.value > s.high) if s.beyond(d.value)
                   else paper.dot(x, y, max(r, 2.2) if d.apart else r, d.apart))  # fmt: skip
    taken: list[float] = []
    for mark in strip.marks:
        if band.name in mark.terms:
            out += _mark(paper, mark, s, taken)
    return out


def _ribbon(paper: _Paper, band: StripBand, s: _Scale) -> list[str]:
    """What is believed, 1 sigma each way, as stairs; the next outing's in broken lines."""
    out = []
    run: list[tuple[float, float, float, float]] = []
    for i, h in enumerate(band.held):
        if h is not None:
            x = paper.x(i)
            run.append((x - paper.step / 2, x + paper.step / 2, h.value, h.sigma))
    if run:
        upper = [f"{x:.1f},{s.y(v + g):.1f}" for a, b, v, g in run for x in (a, b)]
        lower = [f"{x:.1f},{s.y(v - g):.1f}" for a, b, v, g in reversed(run) for x in (b, a)]
        middle = [f"{x:.1f},{s.y(v):.1f}" for a, b, v, _ in run for x in (a, b)]
        out.append(
            f'<polygon class="strip-held" points="{" ".join([*upper, *lower])}" '
            f'fill="{paper.soft}" fill-opacity="0.3"/>'
        )
        out.append(
            f'<polyline class="strip-middle" points="{" ".join(middle)}" fill="none" '
            f'stroke="{paper.soft}" stroke-width="1.5"/>'
        )
    x = paper.width - _EDGE - min(paper.step, _EDGE) + 4
    right = paper.width - 4
    a, b = s.y(band.ahead.value + band.ahead.sigma), s.y(band.ahead.value - band.ahead.sigma)
    out.append(
        f'<rect class="strip-ahead" x="{x:.1f}" y="{a:.1f}" width="{right - x:.1f}" '
        f'height="{max(b - a, 2.0):.1f}" fill="none" stroke="{paper.ink}" stroke-width="1.2" '
        'stroke-dasharray="3 2"/>'
    )
    return out


def _arrow(paper: _Paper, x: float, y: float, up: bool) -> str:
    """At the edge of a band: it lies beyond."""
    tip, foot = (y + 1, y + 8) if up else (y - 1, y - 8)
    return (
        f'<path class="strip-beyond" d="M{x - 4:.1f} {foot:.1f}L{x:.1f} {tip:.1f}L{x + 4:.1f} '
        f'{foot:.1f}Z" fill="{paper.ground}" stroke="{paper.ink}" stroke-width="1.2"/>'
    )


def _wedge(paper: _Paper, x: float, y: float) -> str:
    """A shim, seen from the side."""
    return (
        f'<path class="strip-wedge" d="M{x - 8:.1f} {y:.1f}L{x + 8:.1f} {y:.1f}L{x + 8:.1f} '
        f'{y - 8:.1f}Z" fill="{paper.ink}"/>'
    )


def _mark(paper: _Paper, mark: StripMark, s: _Scale, taken: list[float]) -> list[str]:
    """A line between two outings; above it a shim for a mend, a question for what nobody told."""
    x = _EDGE + mark.at * paper.step
    mended = mark.kind == "mend"
    dash = "" if mended else "6 3" if mark.sure else "2 4"
    out = [paper.line(x, s.top, x, s.top + _BAND, "ink", 1.2, dash)]
    if all(abs(x - other) > 14 for other in taken):
        taken.append(x)
        if mended:
            title = f"<title>{escape(mark.words)}</title>"
            out.append(f"<g>{title}{_wedge(paper, x, s.top + 2)}</g>")
        else:
            out.append(paper.text(x, s.top + 4, "!" if mark.sure else "?", at="middle", size=15,
                                  bold=True))  # fmt: skip
    return out


def _leans(paper: _Paper, strip: Strip, top: float) -> list[str]:
    """How far the base stood from level each evening, from zero up."""
    each = [(i, n.leaned) for i, n in enumerate(strip.nights) if n.leaned is not None]
    values = [0.0, *(lean.amount_deg + lean.sigma_deg for _, lean in each)]
    s = _scale(values, top + _HEAD)
    s = _Scale(0.0, s.high, s.top)
    last = each[-1][1]
    out = _heading(
        paper,
        top,
        "Lean of the base",
        f"{last.amount_deg:.2f}° ± {words.sigma_words(last.sigma_deg)}",
    )
    out += _rule(paper, s, _step(s))
    out.append(paper.line(_EDGE, s.y(0), paper.width - 4, s.y(0), "soft"))
    r = min(max(0.3 * paper.step, 1.0), 4.0)
    for i, lean in each:
        x, y = paper.x(i), s.y(lean.amount_deg)
        thin = min(1.5, 0.4 * paper.step)
        if paper.roomy:
            out.append(paper.line(x, s.y(0), x, y, "faint", thin))
        low, high = s.y(lean.amount_deg - lean.sigma_deg), s.y(lean.amount_deg + lean.sigma_deg)
        out.append(paper.line(x, low, x, high, "soft", thin))
        out.append(_arrow(paper, x, y, True) if s.beyond(lean.amount_deg) else paper.dot(x, y, r))
    return out


def _foot(paper: _Paper, strip: Strip, top: float) -> list[str]:
    """The rule of outings with its dates; a round level; what the marks mean."""
    y = top + 12
    out = []
    ten = 10 if len(strip.nights) > 60 else 1
    for i, night in enumerate(strip.nights):
        x = paper.x(i)
        if i % ten == 0:
            out.append(paper.line(x, y, x, y + (8 if (i // ten) % 5 == 0 else 5), "soft"))
        if night.left_out:
            out.append(
                f'<path class="strip-cross" d="M{x - 4:.1f} {y - 9:.1f}l8 8m0 -8l-8 8" '
                f'stroke="{paper.ink}" stroke-width="1.5" fill="none"/>'
            )
    out.append(paper.line(_EDGE, y, paper.width - _EDGE, y, "soft"))
    dated = [(i, n.utc.iso()[:10]) for i, n in enumerate(strip.nights) if n.utc is not None]
    if dated:
        out.append(paper.text(_EDGE - 10, y + 23, dated[0][1]))
    if len(dated) > 1:
        out.append(paper.text(paper.width - _EDGE + 10, y + 23, dated[-1][1], at="end"))
    return [*out, *_level(paper, strip, y + 92), *_key(paper, y + 46)]


def _level(paper: _Paper, strip: Strip, cy: float) -> list[str]:
    """A round level seen from above, north up: where the axis leaned in the last outings."""
    latest = [n.leaned for n in strip.nights if n.leaned is not None][-_LATEST:]
    if not latest:
        return []
    cx, R = 62.0, 56.0
    far = max(1.0, math.ceil(max(lean.amount_deg for lean in latest)))
    out = [
        f'<circle class="strip-ring" cx="{cx:g}" cy="{cy:g}" r="{R * k:.1f}" fill="none" '
        f'stroke="{paper.soft if k == 1 else paper.faint}" stroke-width="1.2"/>'
        for k in (0.5, 1.0)
    ]
    for turn in range(0, 360, 30):
        a = math.radians(turn)
        sin, cos = math.sin(a), -math.cos(a)
        inner = R - (7 if turn % 90 == 0 else 4)
        out.append(paper.line(cx + inner * sin, cy + inner * cos, cx + R * sin, cy + R * cos))
    out.append(paper.text(cx, cy - R + 19, "N", at="middle", size=11, bold=True))
    out.append(paper.text(cx + R - 3, cy + R + 1, f"{far:g}°", size=11))
    for k, lean in enumerate(latest):
        x, y = cx - R * lean.west_deg / far, cy - R * lean.north_deg / far
        newest = k == len(latest) - 1
        if newest:
            out.append(
                f'<circle class="strip-doubt" cx="{x:.1f}" cy="{y:.1f}" '
                f'r="{max(R * lean.sigma_deg / far, 5.0):.1f}" fill="{paper.soft}" '
                'fill-opacity="0.3"/>'
            )
        out.append(paper.dot(x, y, 4.0 if newest else 2.2, not newest))
    return out


def _key(paper: _Paper, y: float) -> list[str]:
    """What each mark means, beside the level."""
    x, gap = 148.0, 17.0
    rows: list[tuple[Callable[[float], str], str]] = [
        (lambda y: paper.line(x, y - 9, x, y + 2, "soft", 1.5) + paper.dot(x, y - 4, 3.2),
         "one outing, ± 1 sigma"),
        (lambda y: f'<rect class="strip-held" x="{x - 8}" y="{y - 10:.1f}" width="16" height="11" '
         f'fill="{paper.soft}" fill-opacity="0.3"/>' + paper.line(x - 8, y - 4.5, x + 8, y - 4.5),
         "what is believed of it"),
        (lambda y: paper.dot(x, y - 4, 3.6, True), "that evening only"),
        (lambda y: _wedge(paper, x, y - 1), "mended"),
        (lambda y: paper.text(x, y + 1, "!", at="middle", size=15, bold=True),
         "changed, and nobody told"),
        (lambda y: paper.text(x, y + 1, "?", at="middle", size=15, bold=True),
         "changed, perhaps"),
        (lambda y: f'<path class="strip-cross" d="M{x - 4:.1f} {y - 8:.1f}l8 8m0 -8l-8 8" '
         f'stroke="{paper.ink}" stroke-width="1.5" fill="none"/>', "left out"),
    ]  # fmt: skip
    out = []
    for n, (draw, said) in enumerate(rows):
        out += [draw(y + n * gap), paper.text(x + 16, y + n * gap, said)]
    return out
