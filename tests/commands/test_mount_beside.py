"""What many nights beside a closed controller come to: one score, in text, JSON and on Mend."""

import json

import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.logbook import Logbook
from plumbstar.logbook.shown import DISPLAY, DisplayEntry, as_saved
from plumbstar.mount.priors import Priors
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.views.beside_nights import Nights, mount_beside

START = Instant.parse("2027-01-03T19:00:00Z")
SITE = Site(47.2, 11.6, 940.0)
TEXT = 'name = "Beside"\n[connection]\nkind = "controller"\n'
FOUND = ("M 37", "M 42", "M 81", "M 35", "M 1", "M 31")
SAID = "Of your last 6 pushes 5 were promised to land in the field, and 4 did."


def pressed(minute, event, star="", **more):
    at = START.plus_seconds(60.0 * minute).to_unix()
    return DisplayEntry(f"press {minute}", at, event, star, **more)


@pytest.fixture
def book(tmp_path):
    """One evening: two stars without their number, four objects found, one found beside the field
    that was promised, and one not at all; each push promised 80 in 100."""
    with Logbook.open(tmp_path / "beside.sqlite3") as made:
        o = made.start_outing(SITE, kits.loads(TEXT), TEXT, START)
        told = [pressed(0, "star", "Capella"), pressed(2, "star", "Hamal")]
        for k, name in enumerate(FOUND):
            event = "missed" if k == 5 else "centred"
            told.append(pressed(10 + k, event, name, promised=0.8, landed=k < 4))
            found = None if event == "missed" else (80.0, 50.0)
            made.add_find(o.id, name, told[-1].utc, (80.0, 50.0), found, 0.4)
        made.update_state(o.id, **{DISPLAY: as_saved(tuple(told))})
        yield made


def asked(book, *line):
    done = CliRunner().invoke(group, [*line, "--logbook", str(book.path)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_the_score_is_the_same_everywhere(book):
    kit = kits.loads(TEXT)
    mend = mount_beside(Nights(kit, Priors.from_kit(kit), (), 0.8, book))
    assert mend.pushes.startswith(SAID)
    for line in (("log", "priors"), ("mount",)):
        assert mend.pushes in asked(book, *line)
        kept = json.loads(asked(book, *line, "--json"))["pushes"]
        assert kept["sentence"] == mend.pushes
        assert (kept["pushes"], kept["landed"]) == (6, 4)
        assert kept["promised"] == pytest.approx(4.8)


def test_the_nights_tell_of_the_stop(book):
    o = book.outings()[0]
    told = [
        pressed(0, "star", "Capella"),
        pressed(2, "star", "Hamal"),
        pressed(3, "number", number_deg=0.4),
    ]
    book.update_state(o.id, **{DISPLAY: as_saved(tuple(told))})
    answer = json.loads(asked(book, "mount", "--json"))
    assert answer["nights"] == 1
    assert 0.0 < answer["stop_sigma_deg"] < 1.0
    assert answer["sentence"] in asked(book, "mount")
    assert answer["pushes"] is None
    # The same from `log priors`, which says nothing to the contrary.
    text = asked(book, "log", "priors")
    assert text.startswith(f"Beside: {answer['sentence']}")
    assert "learnt" not in text
    assert json.loads(asked(book, "log", "priors", "--json"))["beside"] == answer


def test_what_cannot_be_drawn_is_refused(book, tmp_path):
    line = ["mount", "--logbook", str(book.path), "--svg", str(tmp_path / "x.svg")]
    assert CliRunner().invoke(group, line).exit_code != 0
