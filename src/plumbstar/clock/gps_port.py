"""A satellite receiver on a serial port: opened, listened to, closed again."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from plumbstar.clock.gps import GpsFix, Receiver
from plumbstar.errors import UserError

#: The usual speed today; NMEA 0183's own is 4800.
USUAL_BAUD = 9600
#: Listened for this long at a time, so that a stop is heeded.
SLICE_S = 0.2


def parse_port(text: str) -> tuple[str, int]:
    """``/dev/ttyUSB1`` or ``/dev/ttyUSB1@4800``: port and speed. Raises :class:`UserError`."""
    port, at, speed = text.partition("@")
    if not port or (at and not (speed.isdigit() and 300 <= int(speed) <= 1_000_000)):
        raise UserError(
            f"the GPS port '{text}'",
            "a port, and a speed if it is not 9600",
            "As /dev/ttyUSB1@4800",
        )
    return port, int(speed) if at else USUAL_BAUD


def open_port(text: str) -> Any:
    """The open port. Raises :class:`UserError` naming what hinders."""
    import serial

    port, baud = parse_port(text)
    try:
        source = serial.Serial(port, baud, timeout=SLICE_S)
        source.reset_input_buffer()  # lines that waited tell of a time that is over
        return source
    except (serial.SerialException, OSError, ValueError) as e:
        code = getattr(e, "errno", None)
        why = os.strerror(code).lower() if code else " ".join(str(e).split())
        raise UserError(
            f"The GPS port {port} could not be opened ({why})",
            "",
            "Check cable and name (`ls /dev/ttyUSB* /dev/ttyACM*`), that no other program has it "
            "(gpsd does), and that you may use it (group dialout)",
        ) from None


def listen(
    port: Any,
    receiver: Receiver,
    steady: Callable[[], float],
    seconds: float,
    stop: Callable[[], bool] = lambda: False,
) -> GpsFix | None:
    """Listen on an open port until there is a fix, ``stop`` says so, or the time is over.

    Raises :class:`UserError` when the port goes away.
    """
    import serial

    end = steady() + seconds
    while steady() < end and not stop():
        try:
            data = port.read(1)
            came = steady()
            data += port.read(port.in_waiting)
        except (serial.SerialException, OSError, TypeError) as e:
            raise UserError(
                f"The GPS stopped answering ({e})", "", "Check its cable and plug, and try again"
            ) from None
        if data and (fix := receiver.feed(data, came)) is not None:
            return fix
    return None
