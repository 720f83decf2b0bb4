"""What a satellite receiver sends."""

from __future__ import annotations


def sentence(body: str) -> bytes:
    """With its checksum: the exclusive or of the characters between $ and * (NMEA 0183)."""
    total = 0
    for b in body.encode():
        total ^= b
    return f"${body}*{total:02X}\r\n".encode()
