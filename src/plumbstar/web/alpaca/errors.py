"""The standard's error numbers, and how a refusal is said in them."""

from __future__ import annotations

from plumbstar.web.programs.refused import Refused, Why

NOT_IMPLEMENTED = 0x400
INVALID_VALUE = 0x401
VALUE_NOT_SET = 0x402
NOT_CONNECTED = 0x407
INVALID_OPERATION = 0x40B
CANCELLED = 0x40E
# 0x500 to 0xFFF are the device's own; this is the one used.
REFUSED = 0x500


class AlpacaError(Exception):
    """Answered with HTTP 200, an ErrorNumber and an ErrorMessage."""

    def __init__(self, number: int, message: str) -> None:
        super().__init__(message)
        self.number = number
        self.message = message


class Malformed(Exception):
    """The request itself is wrong: answered with HTTP 400 and a sentence."""


def not_implemented(what: str) -> AlpacaError:
    return AlpacaError(
        NOT_IMPLEMENTED, f"{what}: this telescope is moved by hand and has none of that."
    )


_NUMBERS = {
    Why.UNKNOWN: VALUE_NOT_SET,
    Why.IMPOSSIBLE: INVALID_OPERATION,
    Why.NOT_TAKEN: REFUSED,
}


def numbered(r: Refused) -> AlpacaError:
    """A refusal of the telescope's in the standard's numbers."""
    return AlpacaError(_NUMBERS[r.why], r.message)
