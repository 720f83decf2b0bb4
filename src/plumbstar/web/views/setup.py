"""What a night's list rests on: where, with what, behind which skyline, by whose eye."""

from __future__ import annotations

from typing import NamedTuple

from plumbstar.kit import Kit
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.targets.learnt_eye import LearntEye
from plumbstar.web.evening.evening import Evening


class Setup(NamedTuple):
    """What can be seen of the night's sky at all depends on this."""

    site: Site
    kit: Kit
    skyline: Skyline
    eye: LearntEye | None = None

    @staticmethod
    def of(e: Evening) -> Setup:
        """As the evening stands. Raises UserError without a site."""
        return Setup(e.ground.need_site(), e.kit, e.ground.skyline, e.instrument.eye)
