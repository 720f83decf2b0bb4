"""The guided bench checks: what each asks for, and what the numbers mean."""

from __future__ import annotations

from collections.abc import Mapping

from plumbstar.contract.mending import CheckInput, CheckRecord, ChecksAnswer, CheckVerdict
from plumbstar.diagnose import checks as bench
from plumbstar.diagnose.checks.beside import OF_NUMBER, Feasible, beside, beside_words
from plumbstar.diagnose.checks.check import SUN_FIRST, Input
from plumbstar.diagnose.checks.verdict import Verdict
from plumbstar.kit import Kit
from plumbstar.web.views.figures import figures

#: What may be written down for one input.
Written = float | str | bool | list[float | str] | None


def checks(closed: bool = False) -> ChecksAnswer:
    """All of them, as the pages lead through them; beside a ``closed`` controller those of its
    encoders are named as what cannot be done."""
    shut = [c for c in bench.CHECKS if closed and beside(c) is Feasible.CANNOT]
    left = [c for c in bench.CHECKS if c not in shut and (closed or c.id != OF_NUMBER)]
    return ChecksAnswer(
        sentence=SUN_FIRST,
        checks=tuple(
            CheckRecord(
                id=c.id,
                title=c.title,
                why=f"{c.why} {beside_words(c)}".strip() if closed else c.why,
                needs=tuple(c.needs),
                warning=c.warning,
                steps=tuple(c.steps),
                inputs=tuple(_input(i) for i in c.inputs),
            )
            for c in left
        ),
        cannot=tuple(f"{c.title}: {beside_words(c)}" for c in shut),
    )


def _input(i: Input) -> CheckInput:
    return CheckInput(
        key=i.key,
        label=i.label,
        unit=i.unit,
        kind="numbers" if i.many else "text" if i.text else "number",
        default=i.default,
        choices=tuple(i.choices),
    )


#: What is on the button that takes a verdict into the kit, by the first key that it writes.
_BUTTONS = {"reversed": "Turn the figures round"}


def _judged(check_id: str, inputs: Mapping[str, Written], kit: Kit) -> Verdict:
    return bench.find(check_id).run({k: v for k, v in inputs.items() if v is not None}, kit)


def keys_of(
    check_id: str, inputs: Mapping[str, Written], kit: Kit
) -> tuple[tuple[str, str, object], ...]:
    """What the verdict on these numbers writes into the kit: (heading, key, value)."""
    return _judged(check_id, inputs, kit).keys


def judge_check(check_id: str, inputs: Mapping[str, Written], kit: Kit) -> CheckVerdict:
    """What the numbers written down mean. Raises UserError for what is missing or odd."""
    verdict = _judged(check_id, inputs, kit)
    return CheckVerdict(
        state=verdict.state,
        sentence=verdict.sentence,
        mend=verdict.on_pages or verdict.mend,
        button=_BUTTONS.get(verdict.keys[0][1], "Write it into the kit") if verdict.keys else "",
        numbers=tuple(figures(n) for n in verdict.numbers),
    )
