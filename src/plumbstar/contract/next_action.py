"""What to do next, the same on every page."""

from __future__ import annotations

from typing import Literal

from plumbstar.contract.record import Record

#: Say where one stands, choose stars, start the outing, answer the question above the page, see
#: what went wrong, sight a star, find an object.
NextDo = Literal["site", "choose", "start", "answer", "mend", "sight", "find"]
NextPage = Literal["prepare", "sight", "mend", "find"]


class NextAction(Record, frozen=True, kw_only=True):
    """``page``: where it is done. ``star``: to be sighted; empty where another one than before
    will do, or it is still worked out. ``settles``: until it is done there is no fix to go by.
    ``sentence`` says why, ``button`` what it is."""

    do: NextDo
    page: NextPage
    star: str
    settles: bool
    sentence: str
    button: str
