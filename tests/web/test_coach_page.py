"""A newcomer's message is answered on the pages as at the command line."""

from .server_rig import asynchronous, rig


@asynchronous
async def test_a_message_is_answered_and_never_refused(tmp_path):
    async with rig(tmp_path, encoders=False) as r:

        async def ask(text, **more):
            response = await r.client.get("/data/coach", params={"text": text, **more})
            assert response.status_code == 200, response.text
            return response.json()

        where = {"town": "Innsbruck", "day": "2027-01-28"}
        told = await ask("Capella 61.2/66.0, Rigel 141.0/28.0, quarter to eight", **where)
        assert told["place"] == "Innsbruck, Austria"
        assert told["asks"] == "next_star"
        number = await ask("it shows +1.4 after Capella and Deneb at 7pm", **where)
        assert "about 0.8° (give or take" in number["reply"]
        assert (await ask("it shows +1.4 after Capella and Deneb"))["asks"] == "site"
        there = await ask("Capella 7:42pm 61 66", town="47.2 N, 11.6 E", day="2027-01-28")
        assert (there["asks"], there["place"][:6]) == ("second_star", "47.200")
        assert (await ask(""))["asks"] == "start"
        # What the helper types is checked.
        for wrong in ({"town": "Qqxyzzy"}, {"day": "yesterday"}):
            refused = await r.client.get("/data/coach", params={"text": "", **wrong})
            assert refused.status_code == 400, refused.text
