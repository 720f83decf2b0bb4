"""Lists: how far one has got, what is left, and what of it stands well this month."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from plumbstar.logbook import Logbook
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.programmes import left_now, programme_named, programmes, progress

from .rig import DUSK, RIDGE, outing

SALTPAN = Site(-31.5, 21.0, 1200.0, name="Saltpan Flat")


def test_the_packaged_lists_are_whole() -> None:
    every = programmes({})
    sizes = {p.name: len(p.targets) for p in every}
    # 109 Caldwell objects by their list; 110 of Messier with M 102 as NGC 5866 (common practice).
    assert (sizes["Messier"], sizes["Caldwell"], sizes["Planets"]) == (110, 109, 7)
    messier = programme_named("messier", every)
    assert [t.label.partition(" (")[0] for t in messier.targets[:3]] == ["M 1", "M 2", "M 3"]


def test_what_stands_well_in_january_is_what_an_almanac_says() -> None:
    """Orion is up and Sagittarius is not, north and south; what never rises never is."""
    for site in (RIDGE, SALTPAN):
        labels = {t.key for t in left_now([find_target(n) for n in (
            "M 42", "M 22", "NGC 104", "M 81")], DUSK, site)}  # fmt: skip
        assert "M42" in labels
        assert "M22" not in labels
        assert ("M81" in labels) == (site.lat_deg > 0)
    july = left_now([find_target("M 22"), find_target("M 42")], Instant.parse(
        "2027-07-02T00:00:00Z"), RIDGE)  # fmt: skip
    assert [t.key for t in july] == ["M22"]  # 18 degrees up at the best: still its best
    # The first to go down first: Andromeda before the Crab, that before the Beehive.
    order = [
        t.key for t in left_now(programme_named("Messier", programmes({})).targets, DUSK, RIDGE)
    ]
    assert order.index("M31") < order.index("M1") < order.index("M44")


def test_progress_counts_every_name_of_an_object_once(book: Logbook, tmp_path: Path,
                                                      log: Callable[..., str]) -> None:  # fmt: skip
    n = outing(book)
    for name in ("Orion Nebula", "NGC1976", "M 31"):
        book.add_look(n, name, DUSK, "clearly")
    book.add_look(n, "M 33", DUSK, "not")
    every = programmes({"Mine": ["M 42", "Andromeda Galaxy", "M31", "Erfunden 7"]})
    mine = progress(programme_named("Mine", every), {"M42", "M31"}, DUSK, None)
    assert (mine.seen, mine.left, mine.programme.unknown) == (2, (), ("Erfunden 7",))

    said = log("lists", "--utc", "2027-02-01T00:00:00Z")
    assert "Messier: 2 of 110 seen" in said
    file = tmp_path / "mine.csv"
    file.write_text("object;why\nM 42;near\nM 33;far\n")
    said = log("lists", "Winter", "nights", "--add", str(file), "--utc", "2027-02-01T00:00:00Z")
    assert "Winter nights: 1 of 2 seen" in said
    assert "M 33" in said
    answer = json.loads(log("lists", "winter nights", "--json"))["lists"][0]
    assert answer["left"] == ["M 33 (Triangulum Galaxy)"]
    assert "one of" in log("lists", "Erfunden", fails=True) or "Winter" in log(
        "lists", "Erfunden", fails=True
    )
    assert "any more" in log("lists", "Winter nights", "--remove")
    assert "another name" in log("lists", "Messier", "--add", str(file), fails=True)
