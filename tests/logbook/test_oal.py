"""Open Astronomy Log 2.1: every export valid by the standard's own schema, and read back; nothing
in a file from elsewhere reaches out or swells."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import needs
from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.logbook.oal_in import import_oal, oal_from
from plumbstar.logbook.oal_out import oal_text
from plumbstar.logbook.places import key_of
from plumbstar.logbook.seen import SeenQuery, seen_entries, seen_names
from plumbstar.sky.lists import deepsky, doubles
from samples import tries

from .rig import DUSK, KIT, RIDGE, full, outing

SCHEMA = Path(__file__).parents[1] / "authorities" / "oal21" / "oal21.xsd"


@cache
def schema() -> Any:
    return needs.module("xmlschema").XMLSchema10(str(SCHEMA), allow="local", defuse="always")


def valid(text: str) -> str:
    schema().validate(text)
    return text


#: An invented log as another program may write it: sessions, its own scope, an object no list has,
#: coordinates in other units, times with a zone, and Latin 1.
OTHER = """<?xml version="1.0" encoding="ISO-8859-1"?>
<oal:observations xmlns:oal="http://groups.google.com/group/openastronomylog"
  xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" version="2.1">
<observers><observer id="o1"><name>Frida</name><surname>Erfunden</surname></observer></observers>
<sites><site id="s1"><name>H\u00fcgel</name><longitude unit="rad">0.2</longitude>
<latitude unit="deg">47.2</latitude><elevation>940</elevation><timezone>60</timezone></site></sites>
<sessions><session id="e1"><begin>2026-02-10T20:00:00+01:00</begin>
<end>2026-02-10T23:30:00+01:00</end><site>s1</site><weather>k\u00fchl</weather>
<comments>first night out</comments></session></sessions>
<targets>
<target id="t1" xsi:type="oal:deepSkyGX"><datasource>x</datasource><name>Bode</name>
<alias>M 81</alias></target>
<target id="t2" xsi:type="oal:deepSkyNA"><observer>o1</observer><name>Erfunden 7</name>
<position><ra unit="rad">1.5</ra><dec unit="arcmin">-1200</dec></position></target>
<target id="t3" xsi:type="oal:PlanetTargetType"><datasource>x</datasource>
<name>Jupiter</name></target>
</targets>
<scopes><scope id="c1" xsi:type="oal:scopeType"><model>Plank 10</model><aperture>254</aperture>
<focalLength>1200</focalLength></scope></scopes>
<eyepieces><eyepiece id="y1"><model>12 mm</model><focalLength>12</focalLength></eyepiece>
</eyepieces>
<lenses/><filters><filter id="f1"><model>band</model><type>O-III</type></filter></filters><imagers/>
<observation id="b1"><observer>o1</observer><site>s1</site><session>e1</session><target>t1</target>
<begin>2026-02-10T21:00:00+01:00</begin><faintestStar>5.9</faintestStar>
<sky-quality unit="mags-per-squarearcsec">21.1</sky-quality><seeing>2</seeing><scope>c1</scope>
<eyepiece>y1</eyepiece><filter>f1</filter>
<result xsi:type="oal:findingsDeepSkyType" mottled="true">
<description>bright &amp; oval</description>
<rating>1</rating></result><image>m81.png</image></observation>
<observation><observer>o1</observer><session>e1</session><target>t2</target>
<begin>2026-02-10T21:20:00+01:00</begin>
<result xsi:type="oal:findingsDeepSkyType"><description/><rating>7</rating></result></observation>
<observation><observer>o1</observer><site>s1</site><target>t3</target>
<begin>2026-03-01T19:00:00Z</begin>
<result><description>two bands</description></result></observation>
</oal:observations>
"""


def test_another_program_s_log_comes_in_and_goes_out_again(
    book: Logbook, log: Callable[..., str], tmp_path: Path
) -> None:
    file = tmp_path / "other.xml"
    file.write_bytes(OTHER.encode("latin-1"))
    said = log("import", str(file))
    assert "Imported 3 observations in 2 outings" in said
    first, second = book.outings()
    assert first.site is not None
    assert first.site.name == "H\u00fcgel"
    assert abs(first.site.lon_deg - 11.4592) < 1e-3  # 0.2 radians
    assert (first.kit_name, first.started.iso()[:16]) == ("Plank 10", "2026-02-10T19:00")
    (sky,) = book.skies(first.id)
    assert (sky.seeing, sky.zenith_mag, sky.faintest_mag, sky.words) == (2, 21.1, 5.9, "k\u00fchl")
    assert [n.text for n in book.notes(first.id)] == ["first night out"]
    galaxy, unknown = book.looks(first.id)
    assert (galaxy.target, galaxy.seen, galaxy.words) == ("M 81", "clearly", "bright & oval")
    assert (unknown.target, unknown.seen) == ("Erfunden 7", "not")
    assert seen_names(book) == ["M 81", "Jupiter"]  # an imported object counts as seen
    assert seen_entries(book, SeenQuery("M81"))[0].kit == "Plank 10"
    out = valid(oal_text(book, [first, second], "Nobody At All"))
    for kept in ("Frida", "Erfunden 7", "O-III", "m81.png", 'mottled="true"', "<rating>1</rating>",
                 "<aperture>254", "two bands", "bright &amp; oval"):  # fmt: skip
        assert kept in out, kept
    # Brought in again, as it came or as it went out: all of it is here already.
    wide = out.replace('encoding="UTF-8"', 'encoding="UTF-16"').encode("utf-16")
    for text in (OTHER.encode("latin-1"), out.encode(), wide):
        file.write_bytes(text)
        said = log("import", str(file))
        assert "3 observations of it were here already" in said
        assert "cannot be shown" not in said  # UTF-16 has a NUL beside each letter
    assert len(book.outings()) == 2
    book.undo()
    assert book.outings() == ()


def test_what_this_program_logs_is_valid_and_comes_back(book: Logbook, tmp_path: Path) -> None:
    full(book)
    n = outing(book, DUSK.plus_seconds(86400.0))
    names = [
        "Jupiter",
        "Moon",
        "Albireo",
        "Vega",
        "no such thing \u0001 <&>",
        "M 40",
        "M 45",
        "M 57",
    ]
    kinds = {k: i for i, k in enumerate(deepsky.load().kind)}
    names += [deepsky.load()[int(i)].key for i in kinds.values()]
    names += [d.key for d in doubles.load()[:3]]
    how = ("clearly", "faintly", "barely", "not", "seen")
    for k, name in enumerate(names):
        eyepiece = KIT.eyepiece[0].name if k % 2 else "borrowed"
        utc = DUSK.plus_seconds(86400.0 + 60.0 * k)
        book.add_look(n, name, utc, how[k % 5], eyepiece, "caf\u00e9 \u0007" * (k % 3))  # type: ignore[arg-type]
    text = valid(oal_text(book, list(book.outings()), "Frida Erfunden"))
    assert "<surname>Erfunden</surname>" in text
    assert kits.loads(kits.example_text()).name in text
    with Logbook.open(tmp_path / "other.sqlite3") as other:
        outings, passed = import_oal(other, oal_from(text))
        assert passed == 0
        assert [o.site for o in outings] == [RIDGE, RIDGE]
        ours = {
            (key_of(x.target), x.utc.iso()): x.seen
            for x in book.looks()
            if x.target not in ("Jupiter", "Moon")
        }
        back = {(key_of(x.target), x.utc.iso()): x.seen for x in other.looks()}
        assert {k: v for k, v in ours.items() if "such" not in k[0]}.items() <= back.items()
        valid(oal_text(other, list(other.outings())))
    valid(oal_text(book, []))


LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol">'
    + "".join(f'<!ENTITY lol{k} "{"&lol%s;" % (k - 1 or "") * 10}">' for k in range(1, 10))
    + ']><observations version="2.1"><observers>&lol9;</observers></observations>'
)


@pytest.mark.parametrize(
    "text",
    [
        LAUGHS,
        '<!DOCTYPE a SYSTEM "http://127.0.0.1:9/none.dtd"><observations version="2.1"/>',
        '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]><observations version="2.1">&x;'
        "</observations>",
        '<!DOCTYPE a [<!ENTITY % p SYSTEM "http://127.0.0.1:9/p">%p;]><observations/>',
    ],
)
def test_no_entity_is_declared_or_fetched(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    def none(*_: object, **__: object) -> None:
        raise AssertionError("the network was asked")

    monkeypatch.setattr(socket, "create_connection", none)
    with pytest.raises(UserError, match="DOCTYPE"):
        oal_from(text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("<a/>", "begins with <observations>"),
        ('<observations version="1.7"/>', "2.0 or 2.1"),
        ("<observations", "Correct the line"),
        ("<a>" * 60, "nested deeper"),
        (OTHER.replace("<target>t1<", "<target>t9<"), "refers to 't9'"),
        (OTHER.replace(">5.9<", ">dim<"), "'dim'"),
        (OTHER.replace("2026-02-10T21:00:00+01:00", "yesterday"), "<begin>"),
        (OTHER.replace('unit="rad">0.2', 'unit="gon">0.2'), "deg, rad"),
        (OTHER.replace(">47.2<", ">147.2<"), "<site>"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, why: str) -> None:
    with pytest.raises(UserError) as e:
        oal_from(text)
    assert why in str(e.value)


def test_any_change_of_a_log_is_taken_whole_or_refused_in_the_one_way() -> None:
    rng = random.Random(20270129)
    parts = OTHER.split(">")
    taken = 0
    for _ in range(tries(40, 90)):
        text = OTHER
        for _ in range(rng.randint(1, 3)):
            i = rng.randrange(len(text))
            kind = rng.randrange(4)
            if kind == 0:
                text = text[:i] + rng.choice("<>&\"';\x00\ud7ff9-eZ") + text[i + 1 :]
            elif kind == 1:
                text = text[:i] + text[i + rng.randint(1, 40) :]
            elif kind == 2:
                text = text.replace(rng.choice(parts) + ">", rng.choice(parts) + ">", 1)
            else:
                old = rng.choice(("2.1", "5.9", "47.2", "254", "t1", "7"))
                new = rng.choice(("nan", "-1", "1e999", "", "9" * 40, "t2", "\u0000"))
                text = text.replace(old, new, 1)
        with Logbook.open(":memory:") as book:
            try:
                import_oal(book, oal_from(text))
            except UserError:
                continue
            taken += 1
            assert all(x.target for x in book.looks())
            valid(oal_text(book, list(book.outings())))
    assert taken > 2
