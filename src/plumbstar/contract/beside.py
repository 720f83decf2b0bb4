"""What the pages show of an evening beside a closed controller."""

from __future__ import annotations

from plumbstar.contract.parts import PatchRecord
from plumbstar.contract.record import Record


class BesideEyepiece(Record, frozen=True, kw_only=True):
    """As the kit has it: the field stop's width, or else the apparent field."""

    name: str
    focal_length_mm: float
    field_stop_mm: float | None
    apparent_field_deg: float | None


class BesideKitRecord(Record, frozen=True, kw_only=True):
    """What is known of the controller. ``clock`` is yes, no or unknown; ``catalogues`` of M, NGC,
    IC, C and planets."""

    stars: tuple[str, ...]
    catalogues: tuple[str, ...]
    clock: str
    sign: str
    decimals: int
    aperture_m: float
    focal_length_m: float
    eyepieces: tuple[BesideEyepiece, ...]


class BesideTap(Record, frozen=True, kw_only=True):
    """``event`` is upright or star; ``after_s`` since the first tap of the three."""

    event: str
    star: str
    utc: str
    after_s: float


class BesideMistake(Record, frozen=True, kw_only=True):
    """What may have gone wrong, and how likely that is. ``number_deg``: the number that one press
    types in its place, else None."""

    sentence: str
    probability: float
    probability_words: str
    number_deg: float | None


class BesideSharing(Record, frozen=True, kw_only=True):
    """One way in which a controller shares the contradiction between its two stars."""

    way: str
    words: str
    probability: float
    probability_words: str


class BesideSweep(Record, frozen=True, kw_only=True):
    """A search: stops are right and up of the likely place, on the sky; pushes are from the
    controller's zero, on the circles, for the field to look at now."""

    index: int
    stops_deg: tuple[tuple[float, float], ...]
    found_by: tuple[float, ...]
    found_by_words: str
    push_az_deg: float
    push_alt_deg: float


class BesidePush(Record, frozen=True, kw_only=True):
    """How to go on from the controller's zero for ``from_name``: right and up positive, degrees on
    the circles. ``right_deg`` and ``up_deg``: the same on the sky, as the eyepiece shows it.

    ``known``: whether the controller has the target itself; else ``from_name`` is the nearest that
    it has. ``patch``: how well that is known. ``warnings``: what makes it harder, in sentences.
    """

    from_name: str
    from_label: str
    known: bool
    push_az_deg: float
    push_alt_deg: float
    right_deg: float
    up_deg: float
    words: str
    patch: PatchRecord
    hit_chance: float
    hit_chance_words: str
    hit_chance_at_zero: float
    hit_chance_at_zero_words: str
    warnings: tuple[str, ...]
    sweep: BesideSweep | None


class BesideFind(Record, frozen=True, kw_only=True):
    """What became of an object; what the controller still wanted when it was centred. ``now``:
    since the present target was chosen, so that one chosen again is pushed to again."""

    target: str
    utc: str
    found: bool
    now: bool
    left_az_deg: float | None
    left_alt_deg: float | None


class BesideRecord(Record, frozen=True, kw_only=True):
    """The whole of it. ``step``: what is asked next: kit, pair, upright, first, second, number,
    look_back or find. ``stars``: the two, in their order.

    ``upright_unix_ms``: when the tube was on the stop, of this alignment. ``taps_words``: how long
    it took to the second star. ``pair_words``: what the two chosen stars would give.
    ``answer``: in the eyepiece's terms; ``look_back_deg``: what was left to push then, or None.
    ``takes_back``: what the button that takes back would take, in words, or empty.
    """

    kit: BesideKitRecord
    step: str
    stars: tuple[str, ...]
    taps: tuple[BesideTap, ...]
    upright_unix_ms: float | None
    taps_words: str
    pair_words: str
    slow_hands: str
    number_deg: float | None
    answer: str
    meaning: str
    mistakes: tuple[BesideMistake, ...]
    #: Whether one of the two stars was likelier another one than not.
    start_again: bool
    look_back_deg: tuple[float, float] | None
    sharing: tuple[BesideSharing, ...]
    sharing_words: str
    push: BesidePush | None
    finds: tuple[BesideFind, ...]
    takes_back: str
    rehearsed_s: tuple[float, ...]


class OfferedStar(Record, frozen=True, kw_only=True):
    """A bright star that a controller may have in its list."""

    name: str
    constellation: str


class OfferedStars(Record, frozen=True, kw_only=True):
    """``/data/controller_stars``: to tick them off."""

    stars: tuple[OfferedStar, ...]
