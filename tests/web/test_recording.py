"""A recorded evening, done again: the same fix to the last digit."""

import sys
from pathlib import Path

import numpy as np
import pytest

from plumbstar.errors import UserError
from plumbstar.web.live.recorder import Recorder
from plumbstar.web.live.replaying import replay

sys.path.append(str(Path(__file__).parents[2] / "tools"))
from nights import night

from .server_rig import asynchronous, rig


async def again(path, tmp_path, name):
    folder = tmp_path / name
    folder.mkdir()
    return await replay(path, folder)


def same(fix, other):
    return np.array_equal(fix.mean, other.mean) and np.array_equal(fix.covariance, other.covariance)


@asynchronous
async def test_typed_readings_undo_and_a_slip_told(tmp_path):
    one, two = tmp_path / "one.rec", tmp_path / "two.rec"
    async with rig(tmp_path, encoders=False, recorder=Recorder(one)) as r:
        for name in ("Capella", "Rigel", "Pollux"):
            await r.sight(name)
            r.times.go(63.7)
        await r.do("undo")
        await r.sight("Procyon", ago_ms=1234.5)
        await r.do("set_target", name="M 42")
        fix = r.station._evening.fix
    done = await again(one, tmp_path, "a")
    assert same(done.fix, fix)
    assert (done.sightings, done.refused, done.slip) == (3, (), False)
    # Another recording that begins in the middle of the outing.
    async with rig(tmp_path, encoders=False, recorder=Recorder(two)) as r:
        r.presses = 10
        await r.do("base_moved")
        await r.sight("Aldebaran", off=(5.0, 0.0))
        await r.sight("Alpheratz", off=(5.0, 0.0))
        fix = r.station._evening.fix
    done = await again(two, tmp_path, "b")
    assert same(done.fix, fix)
    assert done.sightings == 5
    assert done.sentence


@asynchronous
async def test_bytes_of_a_board_that_slips_and_loses_lines(tmp_path):
    (tmp_path / "live").mkdir()
    n = night.Night(3, tmp_path / "live", ("azimuth jumps", "lost lines"))
    n.recorder = Recorder(tmp_path / "night.rec")
    await n.run()
    evening = n.station.evening
    assert evening.desk.slips
    done = await again(tmp_path / "night.rec", tmp_path, "a")
    assert same(done.fix, evening.fix)
    assert done.sightings == len(evening.sightings.all) >= 3
    assert done.presses > 3


def test_it_never_grows_beyond_its_bound_and_takes_no_others_place(tmp_path):
    r = Recorder(tmp_path / "new" / "a.rec", most_bytes=1000)
    for k in range(100):
        r.press(float(k), "undo", b"{}", float(k))
    assert 800 < (tmp_path / "new" / "a.rec").stat().st_size <= 1000
    assert "bound" in r.ended
    with pytest.raises(UserError, match="new file"):
        Recorder(tmp_path / "new" / "a.rec")


@asynchronous
async def test_what_is_no_recording_is_said(tmp_path):
    bad = tmp_path / "bad.rec"
    bad.write_bytes(b"hello\nworld\n")
    with pytest.raises(UserError, match="line 1"):
        await again(bad, tmp_path, "a")
    with pytest.raises(UserError, match="No such file"):
        await again(tmp_path / "none.rec", tmp_path, "b")
