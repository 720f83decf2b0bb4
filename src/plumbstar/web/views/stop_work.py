"""What was put under the upright stop, and what the advice wants put there, to be recorded."""

from __future__ import annotations

from plumbstar.contract.mending import LastMend, PieceSaid, StopWork
from plumbstar.diagnose import shims
from plumbstar.diagnose.history import StopMended
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.mount.terms import STOP


def stop_work(
    book: Logbook, kit: Kit, advice: shims.StopAdvice | None, mended: StopMended | None = None
) -> StopWork:
    """``advice``: of Many nights, as it stands; None where nothing is advised. ``mended``: what
    outings tell of the last mend."""
    mends = book.mends(kit.name)
    now = shims.shims_now(kit, mends)
    # Also of none left: more may have been bought than the kit knows.
    thick = {s.thickness_mm for s in (*kit.shim, *now.in_place)}
    work = advice is not None and advice.then is not None
    moves = advice.plan.moves if work and advice is not None and advice.plan is not None else ()
    return StopWork(
        advised=tuple(PieceSaid(thickness_mm=m.thickness_mm, count=m.count) for m in moves),
        advised_words=shims.put_words(tuple((m.thickness_mm, m.count) for m in moves)),
        on_hand_mm=tuple(sorted(thick)),
        last=_last(book, kit, mended),
    )


def _last(book: Logbook, kit: Kit, mended: StopMended | None) -> LastMend | None:
    mends = book.mends(kit.name)
    k = max((i for i, m in enumerate(mends) if STOP in m.terms), default=None)
    if k is None:
        return None
    m = mends[k]
    day = m.utc.iso()[:10]
    if m.put:
        came = shims.Came.NOT_KNOWN
        if mended is not None and mended.outings:
            came = shims.Came.OTHER_WAY if mended.wrong_way else shims.Came.AS_TOLD
        said = shims.mended_lines(m.put, kit, shims.shims_now(kit, mends[:k]), came)
        sentence = f"Recorded on {day}: {shims.put_words(m.put)}. {' '.join(said)}"
    else:
        sentence = f"Recorded on {day}: {m.text}. The stop is learnt anew from then on."
    can = not book.readonly and book.change_of_mend(m.id) is not None
    return LastMend(id=m.id, sentence=sentence, can_undo=can)
