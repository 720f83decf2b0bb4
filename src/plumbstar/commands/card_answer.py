"""The night card as the record that programs are given."""

from __future__ import annotations

from plumbstar.card.model import Card, CardStar, CardStop, Field
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
from plumbstar.sky.times import Instant


def _iso(t: Instant | None) -> str | None:
    return t.iso() if t is not None else None


def card_answer(card: Card) -> CardContentReport:
    return CardContentReport(
        date=card.date.isoformat(),
        night=card.night,
        site=card.site,
        place=card.place,
        telescope=card.telescope,
        field_name=card.field_name,
        zone=card.zone,
        sky=card.sky,
        moments=tuple(
            MomentReport(
                key=m.key,
                what=m.what,
                meaning=m.meaning,
                instant_utc=_iso(m.instant),
                reason=m.reason,
            )
            for m in card.moments
        ),
        hours=tuple(
            HourReport(
                instant_utc=h.instant.iso(),
                stars=tuple(_aim(a) for a in h.stars),
                chance=h.chance,
                note=h.note,
            )
            for h in card.hours
        ),
        hours_note=card.hours_note,
        fields=tuple(_field(f) for f in card.fields),
        stops=tuple(_stop(s) for s in card.stops),
        left_out=tuple(CardSkippedReport(name=n, why=w) for n, w in card.left_out),
        has_route=card.has_route,
        cautions=card.cautions,
    )


def _aim(a: CardStar) -> AimReport:
    return AimReport(
        name=a.name,
        designation=a.designation,
        where=a.where,
        az_deg=a.az_deg,
        alt_deg=a.alt_deg,
        v_mag=a.v_mag,
        colour=a.colour,
        shows_utc=_iso(a.shows),
        field=a.field,
    )


def _field(f: Field) -> FieldDrawingReport:
    return FieldDrawingReport(
        number=f.number,
        name=f.name,
        designation=f.designation,
        instant_utc=f.instant.iso(),
        where=f.where,
        radius_deg=f.radius_deg,
        dots=tuple(
            DotReport(right_deg=d.right_deg, up_deg=d.up_deg, v_mag=d.v_mag, letter=d.letter)
            for d in f.dots
        ),
        alike=tuple(LetterReport(letter=x, sentence=said) for x, said in f.alike),
    )


def _stop(s: CardStop) -> CardStopReport:
    return CardStopReport(
        number=s.number,
        key=s.key,
        name=s.name,
        what=s.what,
        kind=s.kind,
        start_utc=s.start.iso(),
        minutes=s.minutes,
        eyepiece=s.eyepiece,
        magnification=s.magnification,
        az_deg=s.az_deg,
        alt_deg=s.alt_deg,
        where=s.where,
        push=s.push,
        difficulty=s.difficulty,
        chance=s.chance,
        reason=s.reason,
        note=s.note,
        sets_utc=_iso(s.sets),
    )
