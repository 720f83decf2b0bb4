"""What each action of the pages is sent, checked: one record a body."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, Struct

from plumbstar.contract.seen import HowSeen
from plumbstar.kit.model import Filter, Listed, View
from plumbstar.logbook.looks import LARGEST_SKETCH, LONGEST_WORDS, SketchKind
from plumbstar.web.live.readings import LONGEST_AGO_MS

Name = Annotated[str, Meta(min_length=1, max_length=120)]
Answer = Annotated[str, Meta(max_length=120)]
Text = Annotated[str, Meta(max_length=40_000)]
Press = Annotated[str, Meta(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9._-]+$")]
Ago = Annotated[float, Meta(ge=0, le=LONGEST_AGO_MS)]


class ActionBody(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Every body: an unknown key is a mistake, not ignored."""


class Nothing(ActionBody, frozen=True):
    pass


class SiteBody(ActionBody, frozen=True):
    lat_deg: float
    lon_deg: float
    elevation_m: float = 0.0
    name: Annotated[str, Meta(max_length=120)] = ""
    time_zone: Annotated[str, Meta(max_length=64)] = ""
    zenith_mag: float | None = None


class Toml(ActionBody, frozen=True):
    toml: Text


class Named(ActionBody, frozen=True):
    name: Name


class Said(ActionBody, frozen=True):
    text: Text


class LookTold(ActionBody, frozen=True, kw_only=True):
    """How an object was seen; the same ``id`` again says it otherwise. Without words those stay."""

    id: Press
    ago_ms: Annotated[float, Meta(ge=0, le=14 * 3600 * 1000.0)] = 0.0
    target: Name
    seen: HowSeen
    words: Annotated[str, Meta(max_length=LONGEST_WORDS)] = ""


class SkyTold(ActionBody, frozen=True, kw_only=True):
    """What is told of the sky now; what is left out stays as it was told."""

    id: Press
    seeing: Annotated[int, Meta(ge=1, le=5)] | None = None
    transparency: Annotated[int, Meta(ge=1, le=5)] | None = None
    zenith_mag: float | None = None
    faintest_mag: float | None = None


class Sketched(ActionBody, frozen=True, kw_only=True):
    """A drawing: strokes as JSON, or a picture as base64 (logbook/looks.py)."""

    id: Press
    target: Name
    kind: SketchKind
    body: Annotated[str, Meta(max_length=LARGEST_SKETCH)]


class Wanted(ActionBody, frozen=True):
    stars: Annotated[int, Meta(ge=2, le=3)] = 2
    utc: str | None = None


class Stars(ActionBody, frozen=True):
    stars: Annotated[list[Name], Meta(max_length=12)]


class OneStar(ActionBody, frozen=True):
    star: Name


class Shown(ActionBody, frozen=True):
    """What the two circles show, degrees."""

    az_deg: float
    alt_deg: float


class Tap(ActionBody, frozen=True):
    """A press: ``id`` is the page's own name for it, so that sending it twice is one sighting."""

    id: Press
    ago_ms: Ago = 0.0
    reading: Shown | None = None


class StarTap(Tap, frozen=True, kw_only=True):
    star: Name


class TargetTap(Tap, frozen=True, kw_only=True):
    """``target``: what the press spoke of; left out, what is chosen when it arrives."""

    target: Name | None = None


class ControllerTicked(ActionBody, frozen=True, kw_only=True):
    """What is known of a closed controller, as ticked."""

    stars: Annotated[list[Name], Meta(max_length=400)]
    clock: Literal["yes", "no", "unknown"] = "unknown"
    sign: Literal["measured-minus-true", "true-minus-measured", "unknown"] = "unknown"
    decimals: Annotated[int, Meta(ge=0, le=3)] = 1
    #: The object lists it has; left out: as the kit says.
    catalogues: list[Listed] | None = None


class EyepieceTyped(ActionBody, frozen=True, kw_only=True):
    """An eyepiece: its field from the stop's width, or else as its maker says."""

    name: Name
    focal_length_mm: float
    field_stop_mm: float | None = None
    apparent_field_deg: float | None = None


class TelescopeTyped(ActionBody, frozen=True):
    aperture_mm: float
    focal_length_mm: float
    eyepieces: Annotated[list[EyepieceTyped], Meta(max_length=30)]


class AxisTyped(ActionBody, frozen=True):
    """One axis: encoders by their counts in a turn, a circle by its finest step."""

    ticks_count: int
    reversed: bool
    read_to_deg: float


class TelescopeAnswers(TelescopeTyped, frozen=True, kw_only=True):
    """A whole telescope, question by question; ``asked``: what a board must be sent, its line ends
    written out with a backslash; ``zero``: where encoders count from."""

    name: Annotated[str, Meta(max_length=120)]
    reads: Literal["typed", "serial", "tcp"]
    azimuth: AxisTyped
    altitude: AxisTyped
    device: Annotated[str, Meta(max_length=200)] = ""
    baud_count: int = 9600
    host: Annotated[str, Meta(max_length=200)] = ""
    port: int = 0
    asked: Annotated[str, Meta(max_length=80)] = ""
    pushed: bool = False
    zero: Literal["stop", "kept", "unknown"] = "unknown"
    #: Left out: as the kit says. A finder's field of 0: there is none.
    filters: list[Filter] | None = None
    finder_view: View | None = None
    finder_field_deg: float | None = None


class HandOrder(ActionBody, frozen=True):
    """One thing that a hand does at a simulated controller: simulate/closed_telescope.py."""

    do: Annotated[str, Meta(max_length=20)]
    name: Annotated[str, Meta(max_length=120)] = ""
    right_deg: float = 0.0
    up_deg: float = 0.0
    look_for: Annotated[str, Meta(max_length=120)] = ""


class HandOrders(ActionBody, frozen=True):
    orders: Annotated[list[HandOrder], Meta(min_length=1, max_length=6)]


class Entered(ActionBody, frozen=True, kw_only=True):
    """A press beside a closed controller, with what its display shows; sent twice it is one.

    It may have waited long on a phone without a link: nothing else is needed to save it.
    """

    id: Press
    ago_ms: Annotated[float, Meta(ge=0, le=14 * 3600 * 1000.0)] = 0.0
    event: Literal["upright", "star", "number", "centred", "missed"]
    star: Annotated[str, Meta(max_length=120)] = ""
    number_deg: float | None = None
    left_az_deg: float | None = None
    left_alt_deg: float | None = None
    chosen: Annotated[str, Meta(max_length=120)] = ""


class Rehearsed(ActionBody, frozen=True):
    """From the stop to the second star, without a telescope."""

    seconds: Annotated[float, Meta(ge=0, le=3600)]


class PieceChanged(ActionBody, frozen=True):
    """Shims of one thickness put under the stop, or taken out (minus)."""

    thickness_mm: Annotated[float, Meta(ge=0.01, le=100)]
    count: Annotated[int, Meta(ge=-1000, le=1000)]


class Shimmed(ActionBody, frozen=True):
    """``id`` is the page's own name for it: sent twice it is one mend. No pieces: nobody knows."""

    id: Press
    pieces: Annotated[list[PieceChanged], Meta(max_length=20)]


class Which(ActionBody, frozen=True):
    id: int


class WhichAndWhy(Which, frozen=True):
    reason: Annotated[str, Meta(max_length=400)] = ""


class SetAside(ActionBody, frozen=True):
    """Sightings to set aside at once, by their ids."""

    ids: Annotated[tuple[int, ...], Meta(min_length=1, max_length=400)]
    reason: Annotated[str, Meta(max_length=400)] = ""


class EnteredAs(Which, frozen=True):
    """The sighting ``id`` was of another star."""

    star: Annotated[str, Meta(max_length=80)]


class EnteredAnew(ActionBody, frozen=True):
    """Sightings that were of other stars, entered as these at once."""

    those: Annotated[tuple[EnteredAs, ...], Meta(min_length=1, max_length=20)]


class DoubtAnswer(ActionBody, frozen=True):
    """``id``: the press that was asked about; ``near``: save it as of the star that stands where
    the tube pointed; ``exchanged``: its two readings were typed the wrong way round; ``reading``:
    typed anew."""

    id: Press
    save: bool
    near: bool = False
    exchanged: bool = False
    reading: Shown | None = None


class ColourAnswer(ActionBody, frozen=True):
    """Whether the star of that press, which has no name yet, is deep orange."""

    id: Press
    orange: bool


class BrighterAnswer(ActionBody, frozen=True):
    """What the star of the one press was beside that of the other; both have no name yet."""

    id: Press
    other: Press
    was: Literal["brighter", "fainter", "alike"]


class MoveAnswer(ActionBody, frozen=True):
    """``after``: the id of the last sighting before it."""

    after: int
    moved: bool


class Confirmed(ActionBody, frozen=True):
    confirmed: bool


class CheckBody(ActionBody, frozen=True):
    """A guided check: what was written down, by name."""

    id: Name
    inputs: dict[Name, float | str | bool | list[float | str] | None]


class CirclesTurned(ActionBody, frozen=True):
    """Whose figures run the other way than the kit says."""

    axes: Annotated[tuple[Literal["azimuth", "altitude"], ...], Meta(min_length=1, max_length=2)]


class StopWay(ActionBody, frozen=True):
    """What adding thickness under the stop does to the tube."""

    adding: Literal["raises", "lowers"]


class OwnObject(ActionBody, frozen=True):
    """An object of the observer's own, each answer as it was typed."""

    name: Name
    ra: Name
    dec: Name
    kind: Answer = ""
    mag: Answer = ""
    size: Answer = ""


class MessageId(ActionBody, frozen=True):
    id: Name


class PhoneTime(ActionBody, frozen=True):
    """A phone's clock when its request left, and how long the last one took there and back."""

    phone_ms: Annotated[float, Meta(ge=-1e14, le=1e14)]
    round_trip_ms: Annotated[float, Meta(ge=0, le=60_000)]
    phone: Annotated[str, Meta(max_length=24, pattern=r"^[A-Za-z0-9-]*$")] = ""


class SunSeen(ActionBody, frozen=True):
    """Whether the Sun is below the horizon, and on which screen that was answered."""

    below: bool
    screen: Annotated[str, Meta(max_length=24, pattern=r"^[A-Za-z0-9-]*$")] = ""


class TimesConsent(ActionBody, frozen=True):
    """What the page asked about: so many sightings, by so much, in its own words."""

    count: Annotated[int, Meta(ge=0)]
    by: Annotated[str, Meta(max_length=80)]


class BookAnswer(ActionBody, frozen=True):
    """Whether to go on with the logbook's good copy, or without it."""

    bring_back: bool
