"""``plumbstar check``: lists, tells, asks and answers."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from plumbstar.commands import check as module
from plumbstar.commands.check import command, parse_numbers
from plumbstar.diagnose import checks
from plumbstar.errors import UserError


def run(*args, **more):
    return CliRunner().invoke(command, list(args), **more)


def test_lists():
    out = run().output
    for c in checks.CHECKS:
        assert c.id in out
    assert len(json.loads(run("--json").output)["checks"]) == len(checks.CHECKS)


def test_tells_when_no_numbers_come_and_nobody_is_there():
    out = run("both-sides").output
    assert out.index("The Sun first") < out.index("1. ")
    assert "direct_az=x,x,x" in out
    assert json.loads(run("both-sides", "--json").output)["check"]["id"] == "both-sides"


def test_answers():
    result = run("stop-repeat", "90.02", "90.05,89.98", "90.01", "--json")
    d = json.loads(result.output)
    assert d["check"] == "stop-repeat"
    assert d["state"] in ("good", "unsure")
    assert {n["key"] for n in d["numbers"]} >= {"spread", "trend"}
    text = run("there-and-back", "before=-0.3,-0.2,1", "after=-0.3,-0.1,1").output
    assert text.startswith("Good.")


def test_negative_bare_numbers():
    d = json.loads(run("stop-repeat", "-0.02", "-0.05", "0.01", "--json").output)
    assert d["numbers"][0]["value"] == pytest.approx(0.03, abs=0.001)


def test_bare_numbers_go_where_they_belong():
    level = checks.find("level")
    assert parse_numbers(level, ("25", "800")) == {"rise_mm": "25", "over_mm": "800"}
    drift = checks.find("drift-field")
    assert parse_numbers(drift, ("240", "241", "dec-deg=5")) == {
        "seconds": ["240", "241"], "dec_deg": "5",
    }  # fmt: skip
    for name, words in (
        ("level", ("1", "2", "3")),
        ("backlash", ("1", "2")),
        ("stop-repeat", ("1", "readings=2")),
    ):
        with pytest.raises(UserError):
            parse_numbers(checks.find(name), words)


def test_asks_until_it_is_right(monkeypatch):
    monkeypatch.setattr(module, "attended", lambda: True)
    result = run("stop-direction", input="90 90.1 90\nx\n91 91.1 91\n5\n")
    assert result.exception is None, result.output
    assert "raises the tube" in result.output
    assert "a number in deg" in result.output


@pytest.mark.parametrize(
    ("args", "words"),
    [(["nonsense"], "once-round"), (["once-round", "1"], "at least 2"),
     (["once-round", "1", "2", "--kit", "/nowhere.toml"], "/nowhere.toml")],
)  # fmt: skip
def test_mistakes(args, words):
    result = run(*args)
    assert isinstance(result.exception, UserError)
    assert words in str(result.exception)


@pytest.fixture
def closed_kit(tmp_path):
    path = tmp_path / "closed.toml"
    path.write_text('[connection]\nkind = "controller"\n', encoding="utf-8")
    return str(path)


def test_beside_a_closed_controller_it_says_which_cannot_be_done(closed_kit):
    listed = " ".join(run("--kit", closed_kit).output.split())
    assert listed.count("does not show what its encoders read") == 4
    assert "lay an angle gauge on the tube" in listed
    assert "encoders read" not in run().output
    refused = run("once-round", "--kit", closed_kit)
    assert refused.exit_code != 0
    assert "not beside your controller" in str(refused.output) + str(refused.exception)
    assert "number-sign" in str(refused.output) + str(refused.exception)
    by_gauge = run("stop-repeat", "--kit", closed_kit).output
    assert by_gauge.startswith("Your controller shows no altitude: lay an angle gauge on the tube.")
    # Numbers that were written down are judged all the same.
    assert run("once-round", "12.0", "371.9", "731.8", "--kit", closed_kit).exit_code == 0
