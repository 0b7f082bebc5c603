"""A finished pass of rework as told: its minutes, the stock it took off, and what is left of both.

Minutes are the shop's cost, stock is the body's: what may come off a face is bounded over all lives
of the body (`rework.over_allowance`).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from coretrack.figures.judging import with_unit
from coretrack.figures.limits import MICRO, Limits, from_micro
from coretrack.figures.numbers import half_up
from coretrack.figures.plans import Check, Operation
from coretrack.figures.readings import Question, Reading, Refusal, read_reading
from coretrack.figures.rework import BodyHistory, passes_left, stock_left
from coretrack.figures.wording import sentence

MOST_MINUTES = 24 * 60
"""More minutes for one pass of rework are a slip."""

_FAR = 3
"""Time since the scan that is more than so many times the plan's, or less than that part of it, is
no measure of the work: somebody was called away, or scanned afterwards (the shop's own habit)."""

_LESS, _MORE = 10, 4
"""Stock down to a tenth and up to four times the plan's is taken without a question: an inch taken
for a millimetre, 25.4 times, always is asked back."""


def minutes_proposed(seconds: int | None, planned: int) -> int | None:
    """Return the whole minutes since a pass was begun, where they can be its work; else None.

    `seconds` since the scan that began it (None: it never was); `planned` minutes by the plan.
    """
    if seconds is None or seconds < 0 or not planned:
        return None
    if not planned * 60 <= seconds * _FAR or seconds > planned * 60 * _FAR:
        return None
    return max(1, half_up(Decimal(seconds) / 60))


def read_minutes(text: str) -> Decimal | str:
    """Return the minutes that a text tells ("12", "12 min", "0.5 h"), or why it tells none."""
    answer = read_reading(text, unit="min", plausible=Limits(0, MOST_MINUTES * MICRO))
    if isinstance(answer, Reading):
        return from_micro(answer.value)
    if isinstance(answer, Question):
        return f"One pass takes from 0 to {MOST_MINUTES} minutes, not {answer.as_typed.strip()}."
    return answer.text


def read_stock(text: str, check: Check, operation: Operation) -> Reading | Question | Refusal:
    """Return what a text tells of the stock that a pass of `operation` took off `check`.

    In the check's unit where none is told. Far from what the plan says, or off by 25.4, it is asked
    back; less than nothing is refused.
    """
    planned = operation.removes or 0
    answer = read_reading(
        text,
        unit=check.unit,
        resolution=check.resolution,
        nominal=planned,
        plausible=Limits(planned // _LESS, planned * _MORE),
    )
    if isinstance(answer, Question) and answer.value is not None and answer.value < 0:
        return Refusal(
            text, "Stock that was taken off is never less than nothing; type what came off."
        )
    return answer


@dataclass(frozen=True)
class StockLedger:
    """The stock of one face over all lives of a body, in words; `near` says that it runs out.

    `gone` of `allowance` with their unit, `left` what remains, `passes` how many more fit.
    """

    face: str
    gone: str
    allowance: str
    left: str
    passes: int
    near: bool
    said: str


def stock_ledger(
    check: Check, operation: Operation, history: BodyHistory, *, planned: bool = True
) -> StockLedger | None:
    """Return the ledger of the face that an operation works on, `None` where none is kept.

    It runs out when no pass by the plan fits any more after one more (`planned`), or now.
    """
    left = stock_left(operation, history)
    if left is None or operation.allowance is None:
        return None
    fit = passes_left(operation, history)
    near = fit < (2 if planned else 1)
    gone = with_unit(check, history.removed.get(operation.check, 0))
    allowance, rest = with_unit(check, operation.allowance), with_unit(check, left)
    said = (
        f"{check.name}: {gone} of {allowance} is gone over all lives of this body, {rest} is left"
    )
    if near:
        said += "; after this pass no further one fits" if fit else "; no further pass fits"
    return StockLedger(check.name, gone, allowance, rest, fit, near, sentence(said))
