"""The upright stop: what to put under it or take out, and whether that is worth doing now."""

from plumbstar.diagnose.shims.advice import StopAdvice, advise, advise_from
from plumbstar.diagnose.shims.mended import Came, mended_lines, put_words
from plumbstar.diagnose.shims.pieces import (
    ShimsNow,
    beyond,
    listed,
    read_pieces,
    shims_now,
    summed,
    typed,
)
from plumbstar.diagnose.shims.planning import RESEATING, ShimPlan, chances, plan
from plumbstar.diagnose.shims.say import lacking, sentence, steps
from plumbstar.diagnose.shims.thickness import MOST_PIECES, Move, best_moves, thickness_wanted

__all__ = [
    "MOST_PIECES",
    "RESEATING",
    "Came",
    "Move",
    "ShimPlan",
    "ShimsNow",
    "StopAdvice",
    "advise",
    "advise_from",
    "best_moves",
    "beyond",
    "chances",
    "lacking",
    "listed",
    "mended_lines",
    "plan",
    "put_words",
    "read_pieces",
    "sentence",
    "shims_now",
    "steps",
    "summed",
    "thickness_wanted",
    "typed",
]
