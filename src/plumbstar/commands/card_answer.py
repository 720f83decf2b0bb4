"""The night card as the record that programs are given."""

from __future__ import annotations

from plumbstar.card.model import Card, Field, Hour
from plumbstar.contract.answers.drawn import (
    AimReport,
    CardContentReport,
    CardSkippedReport,
    CardStopReport,
    DotReport,
    FieldDrawingReport,
    HourReport,
    LetterReport,
    MomentReport,
)
from plumbstar.contract.record import filled
from plumbstar.sky.times import Instant


def _iso(t: Instant | None) -> str | None:
    return t.iso() if t is not None else None


def card_answer(card: Card) -> CardContentReport:
    return filled(
        CardContentReport,
        card,
        date=card.date.isoformat(),
        moments=tuple(filled(MomentReport, m, instant_utc=_iso(m.instant)) for m in card.moments),
        hours=tuple(_hour(h) for h in card.hours),
        fields=tuple(_field(f) for f in card.fields),
        stops=tuple(
            filled(CardStopReport, s, start_utc=s.start.iso(), sets_utc=_iso(s.sets))
            for s in card.stops
        ),
        left_out=tuple(CardSkippedReport(name=n, why=w) for n, w in card.left_out),
    )


def _hour(h: Hour) -> HourReport:
    stars = tuple(filled(AimReport, a, shows_utc=_iso(a.shows)) for a in h.stars)
    return filled(HourReport, h, instant_utc=h.instant.iso(), stars=stars)


def _field(f: Field) -> FieldDrawingReport:
    return filled(
        FieldDrawingReport,
        f,
        instant_utc=f.instant.iso(),
        dots=tuple(filled(DotReport, d) for d in f.dots),
        alike=tuple(LetterReport(letter=x, sentence=said) for x, said in f.alike),
    )
