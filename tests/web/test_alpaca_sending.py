"""What another program sends and is refused must leave everything as it was."""

import numpy as np
import pytest

from plumbstar.sky import lookup, ofdate
from plumbstar.sky.places import place_of
from plumbstar.web.alpaca import sending
from plumbstar.web.alpaca.faults import Fault

from .server_rig import DAY, SCENE, asynchronous, rig


def of_date(r, name):
    now = r.station.clock.now()
    ra, dec = ofdate.from_horizon(
        *place_of(lookup.find_target(name), now, SCENE.site), now, SCENE.site
    )
    return float(np.degrees(ra)) / 15.0, float(np.degrees(dec))


@asynchronous
async def test_a_target_that_the_sun_forbids_changes_nothing(tmp_path):
    async with rig(tmp_path, DAY) as r:
        await r.do("set_target", name="M 42")
        for name in ("Vega", "Sun", "Venus"):
            with pytest.raises(Fault, match=r"Sun|below the horizon") as e:
                await sending.send_target(r.station, *of_date(r, name))
            assert e.value.number == 0x40B
        s = await r.state()
        assert s["target"]["label"].startswith("M 42")
        assert not any("another program" in m["text"] for m in s["messages"])
        # It was the Sun, and not the asking: with the filter on, the same target is taken.
        await r.do("confirm_filter", confirmed=True)
        await sending.send_target(r.station, *of_date(r, "Vega"))
        assert (await r.state())["target"]["label"] == "Vega"
