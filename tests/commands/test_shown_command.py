"""The command that reads one number: what a person types and gets."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar.cli import group
from plumbstar.commands.nights import read_nights
from plumbstar.controller.named_pair import pair_of, wrong_star_candidates
from plumbstar.errors import UserError
from plumbstar.sky.site import Site

RIDGE = "47.2,11.6,940"
TRUE_MINUS = "true-minus-measured"
PAIR = [
    "--star-a", "Capella", "--time-a", "2027-01-28T18:30:00Z",
    "--star-b", "Deneb", "--time-b", "2027-01-28T18:30:40Z", "--site", RIDGE,
]  # fmt: skip


def run(*args, ok=True):
    result = CliRunner().invoke(group, ["why", *args])
    if ok:
        assert result.exception is None, result.output
    return result


def test_one_number_in_words():
    out = run("--shown", "1.4", *PAIR, "--upright-time", "2027-01-28T18:29:40Z").output
    first = out.splitlines()[0]
    assert "stop" in first or "decide" in first
    assert "60 s, 40 of them between the stars: fine" in out
    assert "larger than will do" in out
    assert "common practice, no source" in out


def test_one_number_as_json_and_its_sign():
    plus = json.loads(run("--shown", "1.4", *PAIR, "--no-clock", "--json").output)
    minus = json.loads(
        run(
            "--shown", "-1.4", *PAIR, "--no-clock", "--sign", "true-minus-measured", "--json"
        ).output
    )
    assert plus["stop_deg"] == pytest.approx(minus["stop_deg"])
    assert plus["clockless_probability"] == 1.0
    assert plus["pair"]["seconds"] == pytest.approx(40.0, abs=1e-3)
    assert plus["stop_deg"] > 0


def test_several_numbers_and_a_file(tmp_path):
    both = json.loads(run("--shown", "1.4", "--shown", "1.3", *PAIR, "--json").output)
    assert len(both["evenings"]) == 2
    path = tmp_path / "evenings.csv"
    path.write_text(
        "# the controller's numbers\n"
        "shown_deg,star_a,time_a,star_b,time_b,label\n"
        "1.4,Capella,2027-01-28T18:30:00Z,Deneb,2027-01-28T18:30:40Z,first\n"
        "1.2,Capella,2027-01-29T18:30:00Z,Diphda,2027-01-29T18:30:30Z,second\n"
        "-0.2,Capella,2027-01-30T18:30:00Z,Aldebaran,2027-01-30T18:31:00Z,\n",
        encoding="utf-8",
    )
    answer = json.loads(run(str(path), "--site", RIDGE, "--json").output)
    assert [e["label"] for e in answer["evenings"]] == ["first", "second", "2027-01-30"]
    text = run(str(path), "--site", RIDGE).output
    assert "per deg" in text


def test_shims_are_named_when_the_number_decides(tmp_path):
    kit = tmp_path / "kit.toml"
    pair = [*PAIR[:5], "Diphda", *PAIR[6:]]
    text = kits.example_text()
    kit.write_text(text, encoding="utf-8")
    answer = json.loads(run("--shown", "1.6", *pair, "--clock", "--kit", str(kit), "--json").output)
    assert answer["decides"]
    assert "stop-direction" in answer["shims_lacking"]["remedy"]
    kit.write_text(text.replace('adding = "unknown"', 'adding = "lowers"'), encoding="utf-8")
    out = run("--shown", "1.6", *pair, "--clock", "--kit", str(kit)).output
    assert "add 3 x 1 mm" in out
    assert "on this kit adding lowers the tube, so the arithmetic says add" in out


def test_learn_sign_needs_no_stars():
    answer = json.loads(run("--learn-sign", "1.4", "0.6", "1", "--json").output)
    assert answer["to_zero_mm"] == pytest.approx(0.75)


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--shown", "1.4"], "site"),
        (["--shown", "1.4", "--site", RIDGE], "--star-a"),
        (["--shown", "1.4", *PAIR[:1], "Capela", *PAIR[2:]], "Capella"),
        (["/nowhere.csv", "--site", RIDGE], "/nowhere.csv"),
    ],
)
def test_mistakes(args, words):
    result = run(*args, ok=False)
    assert isinstance(result.exception, UserError)
    assert words in str(result.exception)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("shown,star_a\n1,Vega\n", "shown_deg"),
        ("shown_deg,star_a,time_a,star_b,time_b\n", "nothing else"),
        ("shown_deg,star_a,time_a,star_b,time_b\nx,Vega,1,Deneb,2\n", "line 2"),
        ("shown_deg,star_a,time_a,star_b,time_b\n1,Vega,1,Deneb,2\n", "line 2"),
    ],
)
def test_files_with_mistakes(text, words):
    with pytest.raises(UserError, match=words):
        read_nights(text, Site(47.2, 11.6), "list.csv")


def test_times_that_cannot_be():
    with pytest.raises(UserError, match="hours between"):
        pair_of(
            "Capella", "2027-01-28T18:30:00Z", "Deneb", "2027-01-29T18:30:00Z", Site(47.2, 11.6)
        )
    with pytest.raises(UserError, match="before the first star"):
        pair_of("Capella", "2027-01-28T18:30:00Z", "Deneb", "2027-01-28T18:30:30Z",
                Site(47.2, 11.6), "2027-01-28T19:00:00Z")  # fmt: skip


def test_a_planet_is_as_bright_as_it_is_that_night():
    """Jupiter two weeks before its opposition of February 2027: -2.5 or so (from memory)."""
    site, at = Site(47.2, 11.6), "2027-01-28T20:30:00Z"
    _, a, b = pair_of("Jupiter", at, "Capella", at, site)
    c = wrong_star_candidates(a, b, site)
    assert c.mag_a == pytest.approx(-2.5, abs=0.2)
    assert c.mags[c.names.index("Jupiter")] == c.mag_a
    assert c.mag_b == pytest.approx(0.08, abs=0.01)


def test_what_has_no_magnitude_may_be_the_star_meant():
    out = run("--shown", "1.4", "--star-a", "05h35m17s -05d23m", *PAIR[2:], "--json").output
    answer = json.loads(out)
    assert answer["right_stars_probability"] is not None


def test_nights_by_the_clock_of_the_site():
    """00:40 there is still the evening before in UTC: the same pair, called by the day there."""
    there = Site(47.2, 11.6, time_zone="Europe/Vienna")
    utc = (
        "shown_deg,star_a,time_a,star_b,time_b\n"
        "1.4,Capella,2027-01-28T23:40:00Z,Pollux,2027-01-28T23:44:00Z\n"
    )
    own = (
        "shown_deg,star_a,local_a,star_b,local_b\n"
        "1.4,Capella,2027-01-29 00:40,Pollux,2027-01-29 00:44\n"
    )
    (a,), _ = read_nights(utc, there, "list.csv")
    (b,), _ = read_nights(own, there, "list.csv")
    (c,), _ = read_nights(own, Site(47.2, 11.6), "list.csv", "+1")
    assert a.label == b.label == c.label == "2027-01-29"
    assert a.pair.a_deg == b.pair.a_deg == c.pair.a_deg
    assert b.pair.seconds == pytest.approx(240.0)
    with pytest.raises(UserError, match="no zone is known"):
        read_nights(own, Site(47.2, 11.6), "list.csv")
