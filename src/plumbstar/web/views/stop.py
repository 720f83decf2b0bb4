"""What is said of the upright stop before the first star, where encoders are heard."""

from __future__ import annotations

from plumbstar.contract.picture import StopRecord
from plumbstar.sky.local_time import local
from plumbstar.sky.times import Instant
from plumbstar.web.evening.evening import Evening

#: An altitude reading that tells of a board which counts from zero: nothing is looked at so low,
#: and a stop that is read as 90 is far off. Common practice, no source.
LOW_DEG = 15.0


def stop_record(e: Evening) -> StopRecord | None:
    """None without encoders, and once a star was sighted: from then on the fix holds the stop."""
    if not e.kit.connection.heard or e.sightings.used:
        return None
    told, counts_from_zero = e.upright.told, e.kit.stop.counts_from_zero
    if e.slips.open is not None:
        return _record(
            "The encoders may have lost their place. Put the tube against its upright stop, then "
            "say so: that settles it before the first star.",
            asks=True,
        )
    if told is not None:
        at = local(Instant.parse(told.utc), e.site.time_zone if e.site is not None else "", True)
        return _record(f"The tube was on the upright stop at {at}: the altitude reads 90° there.")
    if counts_from_zero:
        return _record(
            "The altitude counts from where the encoders were switched on: that must be on the "
            "upright stop. If it was elsewhere, put the tube against the stop, then say so."
        )
    if counts_from_zero is None:
        return _record(
            "Most encoders count from zero where they were switched on. If the altitude reads far "
            "from true, put the tube against its upright stop, then say so: it reads 90° there.",
            asks=True,
            below_deg=LOW_DEG,
        )
    return _record(
        "The kit says that the encoders keep their place. If the altitude is wrong all the same, "
        "put the tube against its upright stop, then say so."
    )


def _record(sentence: str, asks: bool = False, below_deg: float | None = None) -> StopRecord:
    return StopRecord(sentence=sentence, asks=asks, below_deg=below_deg)
