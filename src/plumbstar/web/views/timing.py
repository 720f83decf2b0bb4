"""What is known of the evening's clock, and the offer to correct times that a wrong one gave."""

from __future__ import annotations

from plumbstar.clock import say
from plumbstar.clock.doubts import Finding
from plumbstar.contract.parts import ClockFinding
from plumbstar.contract.picture import TimesOffer, TimingRecord
from plumbstar.web.evening.evening import Evening


def timing_record(e: Evening) -> TimingRecord | None:
    """None where the moments are beyond doubt."""
    timing = e.timekeeping
    if timing is None:
        return None
    offer = timing.offer(e.outing)
    return TimingRecord(
        compare=not timing.clock.rehearsal,
        source=timing.clock.source or "computer",
        sentence=timing.sentence,
        findings=tuple(finding_record(f) for f in timing.findings()),
        offer=TimesOffer(sentence=offer.sentence, count=offer.count, by=offer.shifts.words)
        if offer is not None
        else None,
    )


def finding_record(f: Finding) -> ClockFinding:
    """A doubt, as the pages say it."""
    return ClockFinding(
        kind=f.kind, off_s=f.seconds, sentence=say.sentence(f), remedy=say.remedy(f)
    )
