"""Collimation from a phone picture of a defocused star.

A reflecting telescope with a central obstruction shows a defocused star as a bright disc with a
dark shadow in it. :func:`judge` finds the two circles and says how far the shadow is off-centre,
which way, with its uncertainty, and what that does and does not say about the mirrors.
docs/collimate.md derives every formula and gives the measured accuracy.

:mod:`.photo` reads the file; :mod:`.circles` finds disc and shadow by way of :mod:`.edges` and
:mod:`.pixels`; :mod:`.no_star` knows cups and rings, :mod:`.keystone` what a tilted phone
(:mod:`.camera`) does; :mod:`.judgement` refuses or concludes, :mod:`.pair` weighs two pictures,
:mod:`.by_eye` what somebody set without one;
:mod:`.meaning` and :mod:`.optics` say what the offset amounts to, :mod:`.say` finds the words and
:mod:`.drawing` draws them in. All fill one record, :mod:`.result`.

Picture coordinates: x to the right, y down, in pixels, (0, 0) the middle of the top left pixel.
Directions are degrees clockwise from up in the picture.
"""

from plumbstar.collimate.by_eye import Setting, judge_by_eye
from plumbstar.collimate.camera import Camera, StarPlace
from plumbstar.collimate.drawing import overlay
from plumbstar.collimate.judgement import judge
from plumbstar.collimate.optics import (
    axis_in_diameters,
    coma_free_radius_mm,
    disc_diameter_mm,
    outside_beyond_mm,
)
from plumbstar.collimate.pair import combine
from plumbstar.collimate.photo import Photo, read_photo
from plumbstar.collimate.result import Collimation
from plumbstar.collimate.say import advice, clock_words

__all__ = [
    "Camera",
    "Collimation",
    "Photo",
    "Setting",
    "StarPlace",
    "advice",
    "axis_in_diameters",
    "clock_words",
    "coma_free_radius_mm",
    "combine",
    "disc_diameter_mm",
    "judge",
    "judge_by_eye",
    "outside_beyond_mm",
    "overlay",
    "read_photo",
]
