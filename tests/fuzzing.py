"""What a stranger may hand to the program, one function each: any bytes in, no surprise out.

A function may raise :class:`UserError`, the one clear message; anything else is a fault of ours.
tests/test_fuzz.py feeds them a bounded number of inputs; tools/fuzz.py, led by coverage, any.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from plumbstar import kit as kits
from plumbstar.collimate import read_photo
from plumbstar.encoders.parse import ReplyParser
from plumbstar.errors import UserError
from plumbstar.logbook import exchange
from plumbstar.logbook.as_csv import sightings_to_csv
from plumbstar.logbook.store import Logbook
from plumbstar.mount import sightings_file
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.star_places import placing
from plumbstar.sky.naming import lookup, own
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.web.indi.stream import BadStream, IndiStream
from plumbstar.web.live import actions

SITE = Site(47.2, 11.6, 940.0)


def text(data: bytes) -> str:
    return data.decode("utf-8", "replace")


def kit_file(data: bytes) -> None:
    kits.loads(text(data))


def sightings(data: bytes) -> None:
    sightings_file.parse(text(data), placing(SITE), "fuzz.csv")


def imported_csv(data: bytes) -> None:
    sightings_file.parse(text(data))


def imported_json(data: bytes) -> None:
    """What was taken in goes out as text, and in again as the same."""
    with Logbook.open(":memory:") as book, Logbook.open(":memory:") as other:
        book.import_json(text(data))
        other.import_json(out := book.export_json())
        assert other.export_json() == out


def encoder_bytes(data: bytes) -> None:
    """However the stream is cut, the same counts; a base and an order from the first byte."""
    options: dict[str, Any] = {
        "base": 16 if data[:1] and data[0] & 1 else 10,
        "altitude_first": bool(data[:1] and data[0] & 2),
    }
    whole, cut = ReplyParser(**options), ReplyParser(**options)
    at_once = whole.feed(data[1:])
    in_pieces = [c for i in range(1, len(data)) for c in cut.feed(data[i : i + 1])]
    assert at_once == in_pieces
    assert whole.flush() == cut.flush()


def name(data: bytes) -> None:
    lookup.find_target(text(data))


def search(data: bytes) -> None:
    lookup.search_targets(text(data), 5)


def own_objects(data: bytes) -> None:
    """What was read is written, and read back as the same table."""
    table = own.to_csv(own.parse(text(data)).objects)
    assert own.to_csv(own.parse(table).objects) == table


def site(data: bytes) -> None:
    Site.parse(text(data))


def moment(data: bytes) -> None:
    Instant.parse(text(data))


def skyline(data: bytes) -> None:
    again = Skyline.parse(text(data))
    assert Skyline.parse(again.text()).points == again.points


def photograph(data: bytes) -> None:
    read_photo(data)


def action_body(data: bytes) -> None:
    """A request's body against each action's type; the first byte says which."""
    types = [body for body, _ in actions.TABLE.values()]
    actions.read_body(data[1:], types[(data[0] if data else 0) % len(types)], "fuzz")


def indi_stream(data: bytes) -> None:
    """However the stream is cut, the same elements, and the same end."""
    whole, cut = IndiStream(), IndiStream()
    out: list[list[object]] = [[], []]
    for stream, pieces, found in (
        (whole, [data], out[0]),
        (cut, [data[i : i + 1] for i in range(len(data))], out[1]),
    ):
        try:
            for piece in pieces:
                found.extend(stream.feed(piece))
        except BadStream as e:
            found.append(str(e)[:10])
    assert out[0] == out[1]
    if out[0] and isinstance(out[0][-1], str):
        raise UserError(out[0][-1], "", "the line is cut")


INPUTS: dict[str, Callable[[bytes], None]] = {
    f.__name__: f
    for f in (kit_file, sightings, imported_csv, imported_json, encoder_bytes, name, search, site,
              moment, skyline, photograph, action_body, own_objects, indi_stream)
}  # fmt: skip

RIGEL = Sighting("Rigel", 3.0, 4.0, 1.0, 2.0, Instant.parse("2027-01-28T17:10:00Z"), "32 mm")
OUTING = exchange.OutingText(
    uid="1", started="2027-01-28T17:00:00Z",
    sightings=[exchange.SightingText(star="Rigel", az_reading_deg=1.0, alt_reading_deg=2.0,
                                     true_az_deg=3.0, true_alt_deg=4.0, az_count=1795,
                                     utc="2027-01-28T18:10:00Z", corrected_by_s=3600.0,
                                     saved_utc="2027-01-28T17:10:00Z", saved_true_az_deg=2.5,
                                     saved_true_alt_deg=3.5)],
    finds=[exchange.FindText(target="M 35", utc="2027-01-28T18:20:00Z", predicted_az_deg=90.0,
                             predicted_alt_deg=50.0, field_radius_deg=0.5, corrected_by_s=3600.0)],
    notes=[exchange.RemarkText(utc="2027-01-28T18:30:00Z", text="dew")],
    moves=[exchange.MoveText(after=1, moved=("azimuth",))],
)  # fmt: skip


def body_of(action: str, body: bytes) -> bytes:
    """A request as :func:`action_body` takes it."""
    return bytes([list(actions.TABLE).index(action)]) + body


#: Well-formed beginnings, which mutation then spoils.
SEEDS: dict[str, tuple[bytes, ...]] = {
    "indi_stream": (
        b'<getProperties version="1.7"/>\n<newNumberVector device="Plumbstar" name="A>"><oneNumber '
        b'name="RA"> 5:14:32.3 </oneNumber><oneNumber name="DEC">-8</oneNumber></newNumberVector>',
        b"<?xml version='1.0'?><newSwitchVector device='&lt;'></newSwitchVector ><enableBLOB>",
    ),
    "kit_file": (kits.example_text().encode(),),
    "sightings": (
        b"star,utc,az_reading_deg,alt_reading_deg\nCapella,2027-01-28T17:10:00Z,10.5,55.2\n",
        b"true_az_deg,true_alt_deg,az_reading_deg,alt_reading_deg\n1,2,3,4\n",
    ),
    "imported_csv": (sightings_to_csv([RIGEL, RIGEL]).encode(),),
    "imported_json": (exchange.to_json_text([OUTING]).encode(),),
    "encoder_bytes": (b"\x00+01234\t-00056\r\n", b"\x01E1=1F2A E2=0021\n", b"\x02 12;34;\r"),
    "name": (b"M 31", "α Ori".encode(), b"05h35m17s -05d23m", b"83.82 -5.39", b"Capela"),
    "search": (b"ring", b"NGC 8", b"bet"),
    "own_objects": (
        b"name,ra,dec,mag,size,minor,pa,kind\nA,5h35m17s,-5d23m,8.5,3,2,90,galaxy\n",
        b"name;ra_deg;dec\nB;83,82;-5,39\nC;1;2\n",
    ),
    "site": (
        b"47.2,11.6,940", "47°12'N 11°36'E".encode(), b"-31.5,21", b"47d12m30s 11d36m 3,084 ft",
        b"Ridge: 47,2 N; 11,6 E", b"geo:47.2,11.6;u=35",
    ),
    "moment": (b"2027-01-28T17:05:00Z", b"2027-01-28 17:05", b"2016-12-31T23:59:60Z"),
    "skyline": (b"0:8 104:10,300:27", b"300:27\n334:27"),
    "photograph": (
        b"P5\n4 4\n255\n" + bytes(range(16)),
        bytes.fromhex(
            "89504e470d0a1a0a0000000d4948445200000001000000010800000000"
            "3a7e9b550000000a49444154789c63600000000200 01e221bc330000000049454e44ae426082"
            .replace(" ", "")
        ),
    ),
    "action_body": (
        body_of("pick", b'{"stars":["Capella","Rigel"]}'),
        body_of("sight", b'{"id":"abcdefgh","star":"Rigel","ago_ms":12.5}'),
        body_of("set_site", b'{"lat_deg":1,"lon_deg":2,"time_zone":"Europe/Rome","zenith_mag":21}'),
        body_of("use_site", b'{"name":"Ridge"}'),
        body_of("set_site", b'{"lat_deg":47.2,"lon_deg":11.6,"elevation_m":940,"name":"Ridge"}'),
    ),
}  # fmt: skip


def harmless(function: Callable[[bytes], None], data: bytes) -> bool:
    """True if it was taken, False if it was refused in the one clear way; anything else raises."""
    try:
        function(data)
    except UserError as e:
        # What happened is told in a sentence; only of a value is it said what was wanted.
        said = (e.came, e.remedy)
    else:
        return True
    assert all(said)
    return False
