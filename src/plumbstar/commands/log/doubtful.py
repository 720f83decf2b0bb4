"""Sightings from elsewhere that cannot be what they say: asked about before they are saved."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.sighting import Sighting


class Doubtful(UserError):
    """Not imported: it cannot be, and nobody said that it is."""


def ask(sightings: Sequence[Sighting], kit: Kit | None, source: str) -> None:
    """One question for all of them on a terminal; raises Doubtful for "no", and where nobody can
    be asked. Without a kit nothing is known that could speak against them."""
    if kit is None:
        return
    from plumbstar.mount.priors import Noise, Priors
    from plumbstar.solve.credible import those_far_off
    from plumbstar.solve.say import far_off_sentence

    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    priors, noise = Priors.from_kit(kit), Noise.from_kit(kit)
    questions = [
        f"Sighting {k + 1}: "
        + far_off_sentence(
            sightings[k].star,
            far.off_deg,
            far.altitude_only,
            sightings[far.same_as].star if far.same_as is not None else "",
        )
        for k, far in those_far_off(sightings, priors, noise, field_deg)
    ]
    if not questions:
        return
    told = " ".join(questions)
    if sys.stdin.isatty() and click.confirm(f"{told} Import all the same?", err=True):
        return
    raise Doubtful(f"{source}: {told}", "", "Correct the file, or say --sure. Nothing was imported")
