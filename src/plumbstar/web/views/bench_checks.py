"""The guided bench checks: what each asks for, and what the numbers mean."""

from __future__ import annotations

from collections.abc import Mapping

from plumbstar.contract.mending import CheckInput, CheckRecord, ChecksAnswer, CheckVerdict
from plumbstar.diagnose import checks as bench
from plumbstar.diagnose.checks.check import SUN_FIRST, Input
from plumbstar.kit import Kit
from plumbstar.web.views.figures import figures

#: What may be written down for one input.
Written = float | str | bool | list[float | str] | None


#: Checks of the encoders' own counts, which a closed controller keeps to itself.
_OF_READINGS = ("once-round", "there-and-back", "backlash", "both-sides")
#: The one that is of use beside such a controller only.
_OF_NUMBER = "number-sign"
#: How others are done beside one.
_INSTEAD = {
    "stop-repeat": "Your controller shows no altitude: lay an angle gauge on the tube.",
    "stop-direction": (
        "Your controller shows no altitude: lay an angle gauge on the tube. Or see with the same "
        "two stars whether the number moves the right way."
    ),
}


def checks(beside: bool = False) -> ChecksAnswer:
    """All of them, as the pages lead through them; ``beside`` a closed controller those of its
    encoders are named as what cannot be done."""
    shut = [c for c in bench.CHECKS if beside and c.id in _OF_READINGS]
    left = [c for c in bench.CHECKS if c not in shut and (beside or c.id != _OF_NUMBER)]
    return ChecksAnswer(
        sentence=SUN_FIRST,
        checks=tuple(
            CheckRecord(
                id=c.id,
                title=c.title,
                why=f"{c.why} {_INSTEAD[c.id]}" if beside and c.id in _INSTEAD else c.why,
                needs=tuple(c.needs),
                warning=c.warning,
                steps=tuple(c.steps),
                inputs=tuple(_input(i) for i in c.inputs),
            )
            for c in left
        ),
        cannot=tuple(
            f"{c.title}: not beside your controller, which does not show what its encoders read."
            for c in shut
        ),
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


def judge_check(check_id: str, inputs: Mapping[str, Written], kit: Kit) -> CheckVerdict:
    """What the numbers written down mean. Raises UserError for what is missing or odd."""
    verdict = bench.find(check_id).run({k: v for k, v in inputs.items() if v is not None}, kit)
    return CheckVerdict(
        state=verdict.state,
        sentence=verdict.sentence,
        mend=verdict.mend,
        numbers=tuple(figures(n) for n in verdict.numbers),
    )
