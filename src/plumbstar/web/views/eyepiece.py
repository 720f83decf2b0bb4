"""What the eyepiece should show of the target: the picture and the sentence, for the Find page."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.contract.asked import EyepieceView
from plumbstar.errors import UserError
from plumbstar.eyeview import eye_view, say, svg, thumbnail
from plumbstar.eyeview.drawing import Dress
from plumbstar.kit import Eyepiece, Kit
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening


@dataclass(frozen=True)
class EyepieceInputs:
    """All that the picture depends on."""

    target: Target
    now: Instant
    site: Site
    kit: Kit
    eyepiece: Eyepiece


def inputs_of(e: Evening) -> EyepieceInputs:
    """As the evening stands. Raises UserError without a site or a target."""
    if e.target is None:
        raise UserError("No target is chosen", "", "Choose a target first")
    return EyepieceInputs(e.target, e.now(), e.ground.need_site(), e.kit, e.instrument.eyepiece)


def inputs_for(e: Evening, name: str, eyepiece: str) -> EyepieceInputs:
    """The same for an object of tonight's list, in the eyepiece that is advised. Raises
    UserError for a name that nothing has."""
    found = next((x for x in e.kit.eyepiece if x.name == eyepiece), e.instrument.eyepiece)
    return EyepieceInputs(find_target(name), e.now(), e.ground.need_site(), e.kit, found)


def small(q: EyepieceInputs, dress: str) -> str:
    """The field alone, as SVG, for a row of the list."""
    view = eye_view(q.target, q.now, q.site, q.kit, q.eyepiece)
    return thumbnail(view, "day" if dress == "day" else "night")


def told(q: EyepieceInputs, dress: str) -> EyepieceView:
    """The sentence, and the drawing as SVG in "night" or "day" dress. Some hundredths of a second.

    For the thinking thread: the list of faint stars is read the first time.
    """
    view = eye_view(q.target, q.now, q.site, q.kit, q.eyepiece)
    chosen: Dress = "day" if dress == "day" else "night"
    return EyepieceView(
        label=view.label,
        eyepiece=view.eyepiece,
        sentence=say.sentence(view),
        ways=say.ways(view),
        notes=say.notes(view),
        svg=svg(view, chosen),
    )
