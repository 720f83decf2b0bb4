"""What the field of the eyepiece should look like, so that the object is known when it is there.

:func:`eye_view` works out the picture, :func:`finder_view` the wider one of the sky about a star,
:func:`svg` draws either. docs/field.md says what is assumed.
"""

from plumbstar.eyeview import say
from plumbstar.eyeview.drawing import svg, thumbnail
from plumbstar.eyeview.model import Disc, EyeStar, EyeView, Outline
from plumbstar.eyeview.orientation import KINDS, ViewKind
from plumbstar.eyeview.view import eye_view, finder_view

__all__ = [
    "KINDS", "Disc", "EyeStar", "EyeView", "Outline", "ViewKind", "eye_view", "finder_view", "say",
    "svg", "thumbnail",
]  # fmt: skip
