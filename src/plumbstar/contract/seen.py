"""What was seen tonight: the looks of the outing, and its sky as the observer told it."""

from __future__ import annotations

from typing import Literal

from plumbstar.contract.record import Record

#: How well; "seen" where nobody said how well, "not": it was in the field, and did not show.
HowSeen = Literal["clearly", "faintly", "barely", "seen", "not"]


class LookTonight(Record, frozen=True, kw_only=True):
    """A look of this outing. ``press``: the page's name for it, empty for one told elsewhere;
    ``seen``: clearly, faintly, barely, seen or not; ``sketches``: how many there are of it."""

    press: str
    target: str
    label: str
    utc: str
    seen: HowSeen
    words: str
    sketches: int


class SkyTonight(Record, frozen=True, kw_only=True):
    """The sky as last told: seeing and transparency 1 (best) to 5, its darkness as typed."""

    seeing: int | None
    transparency: int | None
    zenith_mag: float | None
    faintest_mag: float | None


class SeenTonight(Record, frozen=True, kw_only=True):
    """``sky`` is None until it was told."""

    looks: tuple[LookTonight, ...]
    sky: SkyTonight | None
