"""What the simulated telescope is told to do, and what it then tells of itself."""

from __future__ import annotations

import json
import socket
from collections.abc import Mapping

import msgspec


class TubeAt(msgspec.Struct, frozen=True):
    """Where the simulated tube truly points, and what its circles show, degrees."""

    true_az_deg: float
    true_alt_deg: float
    az_reading_deg: float
    alt_reading_deg: float
    moving: bool = False


class Ordered(msgspec.Struct, frozen=True):
    """What the simulated telescope answers to an order, as far as anyone asks."""

    where: TubeAt | None = None


def order(control: tuple[str, int], what: Mapping[str, float | bool], timeout_s: float) -> Ordered:
    """Send one order to its control port. Raises OSError where nothing answers in time, ValueError
    where the answer is none of a simulated telescope."""
    with socket.create_connection(control, timeout=timeout_s) as link:
        link.sendall(json.dumps(what).encode() + b"\n")
        return msgspec.json.decode(link.makefile().readline() or "{}", type=Ordered)
