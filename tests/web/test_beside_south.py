"""The evening beside a closed controller at a southern site, through the server: what every screen
is given, from the list of stars to Mend, Log and the card."""

import pytest

from plumbstar.simulate.scenario import saltpan_flat

from .server_rig import asynchronous, rig
from .test_beside import Evening

SCENE = saltpan_flat()
STARS = ["Rigil Kentaurus", "alpha Cru", "Canopus", "Denebola", "Antares", "Spica"]
#: As a person reads them; what a script or a sum left behind shows as one of these.
BROKEN = ("nan", "None", "undefined", "{", "-0.0", "° raise", "  ")


def sentences(value):
    """All that is written in an answer, keys left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for v in value.values() if isinstance(value, dict) else value:
            yield from sentences(v)


@asynchronous
async def test_from_prepare_to_the_card(tmp_path):
    async with rig(tmp_path, SCENE.start.plus_seconds(3600.0), site=SCENE.site) as r:
        await r.do("set_controller", stars=STARS, clock="unknown")
        await r.do("choose")
        await r.quiet()
        first, second = (await r.state())["choice"]["pairs"][0]["stars"]
        e = Evening(r, favoured="first", scene=SCENE)
        await e.align(first, second)
        seen = await e.beside()
        assert seen["sharing"][0]["way"] == "first"
        assert seen["mistakes"] == []
        half = (await r.state())["kit"]["field_deg"] / 2.0
        offs = []
        for name in ("NGC 5139", "M 4", "M 83"):
            offs.append(await e.find(name))
            push = (await e.beside())["push"]
            assert push["hit_chance"] > 0.8, (name, push)
        assert sum(off < half for off in offs) >= 2, offs
        # The stop as it is, and which way to mend it.
        why = await r.get("/data/why")
        truth = e.tube.truth().altitude_zero_deg
        (stop,) = (await r.get("/data/mount"))["terms"]
        assert stop["value_deg"] == pytest.approx(truth, abs=3.0 * stop["sigma_deg"])
        way = "lower" if truth > 0 else "higher"
        assert f"° {way}. One night may mislead" in why["measured"][0]["mend"]
        log = await r.get("/data/log/1")
        assert [s["what"] for s in log["shown"]][-1] == "M 83, centred"
        card = (await r.client.get("/card.html")).text
        assert "Push on from the controller’s zero" in card
        state = await r.state()
        shown = [state[k] for k in ("beside", "target", "choice", "plan", "messages")]
        for what in (*shown, why, log, await r.get("/data/checks")):
            for told in sentences(what):
                assert not any(b in told for b in BROKEN), told
