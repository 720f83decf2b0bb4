"""What commands take from the logbook unasked: it is said, can be left out, and is only read."""

from __future__ import annotations

import json
import math

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.logbook.as_csv import sightings_to_csv
from plumbstar.mount.priors import Noise
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX
from plumbstar.simulate.mounts import HiddenMount
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of

SCENE = thornback_ridge()
NAMES = ("Capella", "Rigel", "Castor", "Aldebaran")
STOP_DEG = -0.9


def evening(i: int, rng: np.random.Generator) -> tuple[list[Sighting], HiddenMount]:
    """Four stars of the scene, ``i`` evenings later, with a hidden stop of -0.9 degrees."""
    terms = np.zeros(12)
    terms[0], terms[2:4] = rng.uniform(-3, 3), rng.normal(0, math.radians(1), 2)
    terms[INDEX["altitude_zero"]] = math.radians(STOP_DEG)
    mount = HiddenMount(terms, Noise.from_kit(SCENE.kit), rng)
    rows = []
    for n, name in enumerate(NAMES):
        utc = SCENE.start.plus_seconds(i * 86400.0 + 3600.0 + 300.0 * n)
        rows.append(mount.sight(name, *place_of(find_target(name), utc, SCENE.site), utc))
    return rows, mount


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """Five evenings at the ridge; the first one's sightings as a table, too, and those of a sixth
    evening that the logbook does not have."""
    folder = tmp_path_factory.mktemp("taken")
    rng = np.random.default_rng(8)
    with Logbook.open(folder / "logbook.sqlite3") as made:
        for i in range(5):
            rows, _ = evening(i, rng)
            o = made.start_outing(
                SCENE.site, SCENE.kit, kits.example_text(), SCENE.start.plus_seconds(i * 86400.0)
            )
            for s in rows:
                made.add_sighting(o.id, s, "typed")
            made.end_outing(o.id, rows[-1].utc)
        made.set_skyline(SCENE.site, [(0.0, 5.0), (90.0, 30.0), (180.0, 5.0)])
        (folder / "first.csv").write_text(made.export_csv(1))
        (folder / "last.csv").write_text(made.export_csv(5))
    rows, _ = evening(5, rng)
    (folder / "next.csv").write_text(sightings_to_csv(rows[:2]))
    return folder / "logbook.sqlite3"


def asked(book, *args, raw=False):
    result = CliRunner().invoke(
        group, [*args, *(() if raw else ("--json",))], catch_exceptions=True
    )
    if isinstance(result.exception, UserError):
        raise result.exception
    assert result.exception is None, result.output
    return result.output if raw else json.loads(result.output)


def with_book(book, monkeypatch):
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(book))
    return book.parent


def test_a_fix_takes_kit_site_and_what_was_learnt_and_says_so(book, monkeypatch):
    table = str(with_book(book, monkeypatch) / "next.csv")
    fix = asked(book, "fix", table)
    said = fix["from_logbook"]
    assert (said["kit"], said["site"]["name"]) == ("Ridge box", SCENE.site.name)
    assert said["outings"] == [1, 2, 3, 4, 5]
    assert "--no-logbook" in said["sentence"]
    # Two stars: the stop is held by what the five evenings taught, not by the kit's 1 degree.
    stop = fix["terms"]["altitude_zero"]
    assert stop["value_deg"] == pytest.approx(STOP_DEG, abs=0.25)
    alone = asked(book, "fix", table, "--no-logbook", "--site", "47.2,11.6,940")
    assert "from_logbook" not in alone
    assert stop["sigma_deg"] < 0.8 * alone["terms"]["altitude_zero"]["sigma_deg"]
    out = asked(book, "fix", table, raw=True)
    assert out.count("From the logbook:") == 1
    assert "upright stop -0." in out


def test_what_is_given_wins(book, monkeypatch, tmp_path):
    folder = with_book(book, monkeypatch)
    kit = tmp_path / "kit.toml"
    kit.write_text('name = "another"\ncentring_arcmin = 3.0\n')
    fix = asked(book, "fix", str(folder / "next.csv"), "--kit", str(kit), "--site", "47.2,11.6,940")
    assert "from_logbook" not in fix  # no outing with that kit, and nothing else was wanting
    assert fix["centring_arcmin"] == pytest.approx(3.0)
    kit.write_text('name = "Ridge box"\ncentring_arcmin = 3.0\n')
    fix = asked(book, "fix", str(folder / "next.csv"), "--kit", str(kit),
                "--centring-arcmin", "4")  # fmt: skip
    assert fix["from_logbook"]["kit"] is None
    assert fix["from_logbook"]["outings"] == [1, 2, 3, 4, 5]
    assert fix["centring_arcmin"] == pytest.approx(4.0)
    flat = asked(book, "fix", str(folder / "last.csv"), "--flat-priors", "--terms",
                 "azimuth_zero,altitude_zero,lean_north,lean_west")  # fmt: skip
    assert flat["from_logbook"]["outings"] == []


def test_an_outing_does_not_teach_its_own_sightings(book, monkeypatch):
    folder = with_book(book, monkeypatch)
    assert asked(book, "fix", str(folder / "last.csv"))["from_logbook"]["outings"] == [1, 2, 3, 4]
    first = asked(book, "fix", str(folder / "first.csv"))
    assert first["from_logbook"]["outings"] == []


def test_push_choose_card_and_why_take_the_same(book, monkeypatch, tmp_path):
    folder = with_book(book, monkeypatch)
    utc = SCENE.start.plus_seconds(5 * 86400.0 + 7200.0).iso()
    monkeypatch.chdir(tmp_path)
    each = {
        "push": ("push", "M42", str(folder / "next.csv"), "--from", "100,40", "--utc", utc),
        "choose": ("choose", "--utc", utc, "--max-mag", "2.2"),
        "card": ("card", "--utc", utc, "--hours", "1", "--no-targets", "--html", "card.html"),
        "why": ("why", str(folder / "next.csv")),
    }
    answers = {name: asked(book, *args) for name, args in each.items()}
    for name, args in each.items():
        said = answers[name]["from_logbook"]
        assert said["outings"] == [1, 2, 3, 4, 5], name
        assert said["site"]["name"] == SCENE.site.name, name
        if name != "why":
            with pytest.raises(UserError, match="No site was given"):
                asked(book, *args, "--no-logbook")
    for name in ("push", "why"):
        assert asked(book, *each[name], raw=True).count("From the logbook:") == 1, name
    # The skyline kept with the site comes with it: what is low in the east is behind it.
    free = asked(book, *each["choose"], "--site", "47.2,11.6,940")
    assert len(answers["choose"]["stars"]) < len(free["stars"])


def test_somebody_elses_numbers_are_not_weighed_by_ones_own_logbook(book, monkeypatch):
    with_book(book, monkeypatch)
    coach = "Capella 7:42pm az 61.2 alt 55; Rigel 7:44pm az 141 alt 28"
    args = ("why", "--coach", coach, "--utc", "2027-01-28", "--zone", "+1")
    # Not even its site: where they stand is asked for.
    assert asked(book, *args)["asks"] == "site"
    assert "from_logbook" not in asked(book, *args, "--site", "47.2,11.6")


def test_without_a_logbook_nothing_changes_and_none_is_made(book, monkeypatch, tmp_path):
    table = str(with_book(book, monkeypatch) / "next.csv")
    args = ("fix", table, "--site", "47.2,11.6,940")
    nowhere = tmp_path / "none" / "logbook.sqlite3"
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(nowhere))
    assert "from_logbook" not in asked(book, *args)
    assert not nowhere.parent.exists()
    empty = tmp_path / "empty.sqlite3"
    empty.touch()
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(empty))
    assert "from_logbook" not in asked(book, *args)
    assert empty.stat().st_size == 0
    # One that cannot be read is no reason to refuse; one that was named is.
    spoilt = tmp_path / "spoilt.sqlite3"
    spoilt.write_bytes(b"no logbook at all " * 100)
    monkeypatch.setenv("PLUMBSTAR_LOGBOOK", str(spoilt))
    said = asked(book, *args)["from_logbook"]["sentence"]
    assert said.startswith("Nothing was taken from the logbook: ")
    with pytest.raises(UserError, match="damaged"):
        asked(book, *args, "--logbook", str(spoilt))
    with pytest.raises(UserError, match="no logbook at"):
        asked(book, *args, "--logbook", str(nowhere))
    with pytest.raises(UserError, match="both given"):
        asked(book, *args, "--logbook", str(book), "--no-logbook")


def test_it_is_only_read(book, monkeypatch):
    table = str(with_book(book, monkeypatch) / "next.csv")

    def held():
        with Logbook.open(book, create=False) as b:
            return b.version(), msgspec.json.encode(b.outings())

    before = held()
    asked(book, "fix", table)
    assert held() == before


def test_what_was_learnt_becomes_lines_for_a_kit(book, tmp_path):
    printed = asked(book, "log", "priors", "--as-kit", "--logbook", str(book), raw=True)
    learnt = asked(book, "log", "priors", "--logbook", str(book))
    assert learnt["kit_toml"] in printed
    kit = kits.loads(printed).priors
    terms = {t["term"]: t for t in learnt["terms"]}
    for name in ("altitude_zero", "cone"):
        assert getattr(kit, f"{name}_deg") == pytest.approx(terms[name]["value_deg"], abs=0.01)
        sigma = getattr(kit, f"{name}_sigma_deg")
        assert terms[name]["sigma_deg"] <= sigma < 1.11 * terms[name]["sigma_deg"]
    scale = terms["azimuth_scale"]
    assert kit.azimuth_scale_percent == pytest.approx(scale["value_percent"], abs=0.006)


def test_an_evening_long_ago_knows_nothing_of_later_mends(book, tmp_path):
    """Solved again today, it starts from what was learnt by then."""
    copy = tmp_path / "copy.sqlite3"
    with Logbook.open(book, create=False) as b:
        b.copy_to(copy)
    with Logbook.open(copy) as b:
        at = b.outing(5).started
        before = learnt_priors(b, SCENE.kit, at).priors
        b.add_mend("Ridge box", ("altitude_zero",), "shimmed", at.plus_seconds(86400.0))
        assert learnt_priors(b, SCENE.kit, at).priors.key == before.key
        assert learnt_priors(b, SCENE.kit).priors.key != before.key
