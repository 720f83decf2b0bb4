"""The telescope by questions: the same kit as a file's, whatever it was before."""

from plumbstar import kit as kits

from .server_rig import asynchronous, rig

AXIS = {"ticks_count": 0, "reversed": False, "read_to_deg": 0.1}
CIRCLES = {
    "name": "Shed box",
    "aperture_mm": 254.0,
    "focal_length_mm": 1250.0,
    "eyepieces": [{"name": "30 mm", "focal_length_mm": 30.0, "apparent_field_deg": 70.0}],
    "reads": "typed",
    "azimuth": AXIS | {"reversed": True, "read_to_deg": 0.5},
    "altitude": AXIS,
}
COUNTED = AXIS | {"ticks_count": 8192}
BOARD = CIRCLES | {
    "reads": "tcp",
    "azimuth": COUNTED,
    "altitude": COUNTED,
    "host": "127.0.0.1",
    "port": 9,
    "asked": "Q\\r",
    "zero": "stop",
}


@asynchronous
async def test_what_is_asked_replaces_what_was_there_and_the_rest_stays(tmp_path):
    async with rig(tmp_path) as r:
        before = kits.loads((await r.state())["kit"]["toml"])
        assert (await r.get("/data/telescope"))["aperture_mm"] == before.telescope.aperture_mm
        await r.do("describe_telescope", **BOARD)
        kit = kits.loads((await r.state())["kit"]["toml"])
        assert (kit.name, kit.telescope.focal_length_mm) == ("Shed box", 1250.0)
        assert [e.name for e in kit.eyepiece] == ["30 mm"]
        assert (kit.connection.kind, kit.connection.poll) == ("tcp", "Q\r")
        assert kit.stop.counts_from_zero is True
        assert (kit.shim, kit.priors, kit.eye) == (before.shim, before.priors, before.eye)
        known = await r.get("/data/telescope")
        assert {k: known[k] for k in ("reads", "asked", "zero", "port")} == {
            "reads": "tcp", "asked": "Q\\r", "zero": "stop", "port": 9,
        }  # fmt: skip
        await r.do("describe_telescope", **CIRCLES)
        kit = kits.loads((await r.state())["kit"]["toml"])
        assert (kit.connection.kind, kit.azimuth.reversed) == ("typed", True)
        assert (kit.azimuth.resolution_deg, kit.altitude.resolution_deg) == (0.5, 0.1)


@asynchronous
async def test_a_telescope_that_cannot_be_is_refused_and_nothing_changed(tmp_path):
    async with rig(tmp_path) as r:
        before = (await r.state())["kit"]["toml"]
        for wrong, words in (
            ({"aperture_mm": 2.5}, "aperture_mm"),
            ({"azimuth": AXIS}, "ticks_per_turn"),
            ({"asked": "", "pushed": False}, "poll"),
        ):
            answer = await r.do("describe_telescope", status=400, **(BOARD | wrong))
            assert words in str(answer)
        assert (await r.state())["kit"]["toml"] == before


@asynchronous
async def test_filters_and_the_finder_are_asked_for_too(tmp_path):
    async with rig(tmp_path) as r:
        await r.do(
            "describe_telescope",
            **CIRCLES,
            filters=["line", "broadband"],
            finder_view="mirrored",
            finder_field_deg=6.5,
        )
        known = await r.get("/data/telescope")
        assert known["filters"] == ["line", "broadband"]
        assert (known["finder_view"], known["finder_field_deg"]) == ("mirrored", 6.5)
        await r.do("set_target", name="M 37")
        seen = await r.get("/data/eyepiece")
        assert seen["finder"] == "your finder"
        assert "6.5° across" in seen["finder_svg"]
        assert "as in a mirror" in seen["finder_ways"]
        # Left out they stay; a finder's field out of bounds is refused.
        await r.do("describe_telescope", **CIRCLES)
        assert (await r.get("/data/telescope"))["filters"] == ["line", "broadband"]
        answer = await r.do("describe_telescope", status=400, **CIRCLES, finder_field_deg=90.0)
        assert "0.5 to 40" in str(answer)
        await r.do("describe_telescope", **CIRCLES, filters=[], finder_field_deg=0)
        kit = kits.loads((await r.state())["kit"]["toml"])
        assert (kit.filters, kit.finder) == ((), kits.Kit().finder)
