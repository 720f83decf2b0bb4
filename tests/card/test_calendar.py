"""The calendar file, read by an independent parser (icalendar)."""

import dataclasses
import datetime as dt

import pytest

import needs
from plumbstar.card import calendar
from plumbstar.sky.times import Instant

from .rig import NASTY, card, full, with_names

icalendar = needs.module("icalendar")
MADE = Instant.parse("2027-01-20T10:00:00Z")


def events(text):
    parsed = icalendar.Calendar.from_ical(text.encode("utf-8"))
    assert parsed["VERSION"] == "2.0"
    assert str(parsed["PRODID"])
    return {str(e["SUMMARY"]): e for e in parsed.walk("VEVENT")}


def unix(value):
    assert value.dt.utcoffset() == dt.timedelta(0)
    return value.dt.timestamp()


def test_one_event_for_each_time_in_utc():
    c = card()
    found = events(calendar.ics(c, MADE))
    wanted = {m.what: m for m in c.moments if m.key in calendar.EVENTS}
    assert set(found) == set(wanted)
    assert {"Sunset", "Astronomical dusk", "Moonrise", "Sunrise"} <= set(found)
    for what, e in found.items():
        assert unix(e["DTSTART"]) == pytest.approx(wanted[what].instant.to_unix(), abs=0.51)
        assert unix(e["DTSTAMP"]) == MADE.to_unix()
        assert "DTEND" not in e
        assert str(e["LOCATION"]) == "Thornback Ridge"


def test_a_visit_for_each_target_with_their_length_and_place():
    c = full()
    found = events(calendar.ics(c, MADE))
    assert {s.name for s in c.stops} <= set(found)
    e = found[c.stops[3].name]
    assert unix(e["DTEND"]) - unix(e["DTSTART"]) == 15 * 60
    assert c.stops[3].where in str(e["DESCRIPTION"])


def uids(text):
    return [e["UID"] for e in icalendar.Calendar.from_ical(text).walk("VEVENT")]


def test_uids_are_each_events_own_and_stay_when_the_card_is_made_again():
    c = full()
    first = uids(calendar.ics(c, MADE))
    assert len(set(first)) == len(first)
    moved = tuple(dataclasses.replace(s, start=s.start.plus_seconds(600.0)) for s in c.stops)
    later = dataclasses.replace(c, stops=moved)
    assert uids(calendar.ics(later, MADE.plus_seconds(9e4))) == first
    next_night = dataclasses.replace(c, date=c.date + dt.timedelta(days=1))
    assert set(uids(calendar.ics(next_night, MADE))).isdisjoint(first)


@pytest.mark.parametrize("name", NASTY)
def test_lines_are_short_ended_right_and_words_come_back_as_they_were(name):
    c = with_names(full(), name)
    text = calendar.ics(c, MADE)
    assert text.endswith("END:VCALENDAR\r\n")
    for line in text.split("\r\n"):
        assert "\n" not in line
        assert "\r" not in line
        assert len(line.encode("utf-8")) <= 75
    parsed = icalendar.Calendar.from_ical(text.encode("utf-8"))
    found = [e for e in parsed.walk("VEVENT") if str(e["SUMMARY"]) == c.site]
    assert len(found) == 12
    assert all(str(e["LOCATION"]) == c.site for e in parsed.walk("VEVENT"))
    assert not parsed.walk("VALARM")


def test_folding_keeps_every_character_whole():
    line = "SUMMARY:" + "α🦉" * 40
    folded = calendar.fold(line)
    parts = folded.split("\r\n")
    assert all(len(p.encode()) <= 75 for p in parts)
    assert parts[0] + "".join(p[1:] for p in parts[1:]) == line


def test_text_is_escaped_as_the_standard_says():
    assert calendar.escape("a\\b;c,d\r\ne\x07") == "a\\\\b\\;c\\,d\\ne "


def test_a_time_that_does_not_come_is_no_event():
    c = card()
    none = tuple(dataclasses.replace(m, instant=None, reason="why") for m in c.moments)
    assert "VEVENT" not in calendar.ics(dataclasses.replace(c, moments=none), MADE)


def test_coordinates_stay_out_of_it():
    text = calendar.ics(full(), MADE)
    assert "47.2" not in text
    assert "11.6" not in text
