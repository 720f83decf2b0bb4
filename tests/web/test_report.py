"""An evening as one file for a maintainer: the same fix, and nothing that was not agreed to."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar.cli import group
from plumbstar.errors import UserError
from plumbstar.web.evening.report import make_report, read_report, report_text, solve_report

from .server_rig import SCENE, asynchronous, rig


@asynchronous
async def test_read_back_it_is_the_same_fix_and_tells_no_place(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        for name in ("Capella", "Rigel", "Pollux", "Dubhe"):
            await r.sight(name)
            r.times.go(80.0)
        await r.do("base_moved")
        for name in ("Aldebaran", "Procyon"):
            await r.sight(name, off=(4.0, 0.0))
            r.times.go(80.0)
        await r.do("note", text="the dog ran into it")
        s = await r.state()
        await r.do("set_aside", id=s["sightings"][1]["id"], reason="by Aunt Mabel")
        await r.do("set_target", name="M 42")
        await r.do("not_in_field")
        live = r.station._evening.fix
        answer = await r.client.get("/data/log/1.report")
        assert answer.status_code == 200
        assert "outing-1-report.json" in answer.headers["content-disposition"]
        text = answer.text
        report = read_report(text)
        fix, same, _ = solve_report(report)
        assert same
        sigma = np.sqrt(np.diag(live.covariance))
        assert np.all(np.abs(fix.mean - live.mean)[sigma > 0] < 0.1 * sigma[sigma > 0])
        held = json.loads(text)
        # To the last digit aberration would tell the date and time, and so the longitude.
        for x in (*held["sightings"], *held["misses"]):
            for key in ("true_az_deg", "true_alt_deg", "az_deg", "alt_deg"):
                assert key not in x or x[key] == round(x[key], 2)
        assert "but without date and time not the longitude" in held["left_out"][0]
        assert held["place"] is None
        assert [x["star"] for x in held["sightings"]] == [f"star {k}" for k in range(1, 7)]
        assert [x["after_s"] for x in held["sightings"]] == [0, 80, 160, 240, 320, 400]
        for secret in (
            "Capella",
            "Thornback",
            "2027",
            "47.2",
            "11.6",
            "dog",
            "Mabel",
            SCENE.kit.name,
        ):
            assert secret not in text.replace(held["version"], "")
        # Agreed to, they are there, and the list says so.
        book = r.station._evening.book
        whole = report_text(make_report(book, 1, place=True, names=True))
        for told in ("Capella", "Thornback", "2027", "47.2", "dog", "Mabel", SCENE.kit.name):
            assert told in whole
        assert json.loads(whole)["left_out"] == []
        fix, same, _ = solve_report(read_report(whole))
        assert same
        assert np.array_equal(fix.mean, live.mean)
        assert np.array_equal(fix.covariance, live.covariance)
        # What moves among the stars tells the time, whatever is left out.
        await r.sight("Mars", off=(4.0, 0.0))
        told = make_report(book, 1).left_out[0]
        assert "its place among the stars tells date and time" in told
        assert len(json.loads(whole)["contains"]) == len(held["contains"]) + 2


def test_the_command_writes_lists_and_reads_it(tmp_path):
    @asynchronous
    async def evening():
        async with rig(tmp_path, encoders=False) as r:
            for name in ("Capella", "Rigel", "Pollux"):
                await r.sight(name)

    evening()
    run, file = CliRunner(), tmp_path / "report.json"
    book = str(tmp_path / "logbook.sqlite3")
    done = run.invoke(group, ["log", "report", "last", "-o", str(file), "--logbook", book])
    assert done.exit_code == 0, done.output
    assert "Left out: the site's coordinates" in done.output
    done = run.invoke(group, ["log", "report", "--read", str(file)])
    assert "The same fix as in the report, to the last digit." in done.output
    held = json.loads(file.read_text())
    held["sightings"][0]["az_reading_deg"] += 0.5
    file.write_text(json.dumps(held))
    done = run.invoke(group, ["log", "report", "--read", str(file)])
    assert "Not the fix in the report" in done.output


@asynchronous
async def test_read_back_it_says_the_chance_that_the_page_said(tmp_path):
    """Also of a push that no star has checked, and of objects that were not where they should be:
    98 in 100 came out where the page had said 96."""
    run, file = CliRunner(), tmp_path / "report.json"

    def said(text):
        file.write_text(text)
        done = run.invoke(group, ["log", "report", "--read", str(file)])
        assert done.exit_code == 0, done.output
        return done.output.splitlines()[0].replace("eyepiece's", SCENE.kit.eyepiece[0].name)

    async with rig(tmp_path) as r:
        for name in ("Capella", "Rigel", "Pollux", "Alpheratz"):
            await r.sight(name)
        sentences = set()
        for name in ("M42", "M35", "M31", "M37", "M1"):
            await r.do("set_target", name=name)
            if name == "M31":
                await r.do("not_in_field")
            if name == "M37":  # as on a board of one line a second
                await r.station.do(lambda e: e.since.went_unseen(83.0))
            page = (await r.state())["fix"]["sentence"]
            text = report_text(make_report(r.station._evening.book, 1))
            assert said(text) == page
            sentences.add(page.split(" targets")[0])
        assert len(sentences) >= 4
        held = json.loads(text)
        del held["since"]  # as older versions wrote it
        assert said(json.dumps(held)).split(" targets")[0] not in sentences
        await r.sight("Aldebaran")
        page = (await r.state())["fix"]["sentence"]
        assert said(report_text(make_report(r.station._evening.book, 1))) == page


@asynchronous
async def test_pushes_that_cannot_be_are_said(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await r.sight("Capella")
        held = json.loads(report_text(make_report(r.station._evening.book, 1)))
    for since in ({"pushes": 0}, {"pushes": 10**12}, {"unseen_deg": -1}):
        with pytest.raises(UserError):
            read_report(json.dumps(held | {"since": since}))


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"format": "other"}'])
def test_what_is_no_report_is_said(text):
    with pytest.raises(UserError):
        read_report(text)
