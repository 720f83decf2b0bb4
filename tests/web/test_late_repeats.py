"""A press that is sent again after its outing's end: it was saved, and begins no other outing."""

from .server_rig import asynchronous, rig
from .test_nameless import unknown


def count(r):
    return len(r.book.outings(deleted=True))


@asynchronous
async def test_what_is_sent_again_after_the_end_is_answered_and_begins_nothing(tmp_path):
    sky = {"id": "press-of-the-sky", "seeing": 2}
    drawn = {
        "id": "press-of-a-sketch",
        "target": "M 42",
        "kind": "strokes",
        "body": "[[[0,0],[9,9]]]",
    }
    look = {"id": "press-of-a-look", "target": "M 42", "seen": "clearly"}
    async with rig(tmp_path, encoders=False) as r:
        await unknown(r, "Betelgeuse", id="press-forgotten")
        await r.do("forget_nameless")
        await unknown(r, "Rigel", id="press-of-rigel")
        presses = [("tell_sky", sky), ("sketch", drawn), ("look", look)]
        for name, body in presses:
            await r.do(name, **body)
        await r.do("end_outing")
        assert count(r) == 1
        for name, body in presses:
            await r.do(name, **body)
        await r.do("look", **{**look, "seen": "faintly"})  # said otherwise: that one, still
        assert (await unknown(r, "Rigel", id="press-of-rigel"))["again"]
        assert (await unknown(r, "Betelgeuse", id="press-forgotten"))["again"]
        assert count(r) == 1
        (one,) = r.book.outings()
        assert [x.seen for x in r.book.looks(one.id)] == ["faintly"]
        assert (len(r.book.skies(one.id)), len(r.book.sketches(one.id))) == (1, 1)
        # Of an outing that was deleted since: answered all the same, and a new one is not.
        r.book.delete_outing(one.id)
        for name, body in presses:
            await r.do(name, **body)
        assert count(r) == 1


@asynchronous
async def test_a_press_beside_a_controller_is_no_other_outing_either(tmp_path):
    async with rig(tmp_path) as r:
        star = {"id": "press-of-a-star", "event": "star", "star": "Capella"}
        await r.do("controller_entry", **star)
        await r.do("end_outing")
        await r.do("controller_entry", **star)
        assert count(r) == 1
