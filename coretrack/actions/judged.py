"""A core in hand as the dock judged it, and what is said of it before it is stored."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from coretrack.actions.dock import Judgement, Offered, late_for
from coretrack.actions.hands import Hand
from coretrack.actions.lookups import Catalogue, near_numbers
from coretrack.figures.credits import CreditResult
from coretrack.figures.money import Money, shown
from coretrack.figures.part_numbers import match_key
from coretrack.figures.trade_objects import Line, Number, Source

UNTOLD = "the reason is not told yet"
ONLY_LATE = "it only came late: there is nothing to be seen on it"
"""Why a core needs no photo when only the window takes something off."""

COMPLAINT = "What does the customer complain of, and on which invoice was it sold?"
"""Asked of a comeback; whoever tests it under warranty wants to know."""


@dataclass(frozen=True)
class Judged:
    """The core in hand, judged: `number` None is an unknown one, `offered` None not judged."""

    hand: Hand
    number: Number | None
    offered: Offered | None
    judgement: Judgement | None
    notes: tuple[str, ...]

    @property
    def outcome(self) -> str:
        """Return the outcome in a word, empty while nothing is told.

        An excess core that is refused at once is a refusal for everybody who looks at it.
        """
        if self.judgement is not None:
            return "refuse" if self.judgement.refused_excess else self.judgement.outcome
        return "unknown" if self.hand.named else ""

    @property
    def only_late(self) -> bool:
        """Return whether the window alone takes something off."""
        judged = self.judgement
        return bool(judged and not judged.faults and not self.hand.refuse)

    @property
    def line(self) -> Line | None:
        """Return the line that the core answers."""
        return self.judgement.line if self.judgement else None


def sentence(judged: Judged, catalogue: Catalogue, source: Source, told: str) -> str:
    """Return what is proposed; `told` is the number as it was told, `source` who sent the core."""
    hand, judgement = judged.hand, judged.judgement
    if judgement is None or judged.number is None:
        if not hand.named:
            return "Scan or type the number."
        what = "The number is illegible" if hand.illegible else f"'{told}' is not known"
        return f"{what}: an unknown core, which earns no credit until it is identified."
    if judgement.outcome == "comeback":
        return "A comeback under warranty: it earns no core credit."
    line, result = judgement.line, judgement.result
    kept = f"; kept until {judgement.hold_until}" if judgement.hold_until else ""
    if line is None or result is None:
        group = f"{judged.number.core_group} ({judged.number.group_name})"
        owes = f"{source.name} owes no core of group {group}"
        if judgement.refused_excess:
            return f"Refused: {judgement.why}. {owes}, so it is an excess core too{kept}."
        return (
            f"{owes}: an excess core. It earns no credit; it can be refused, or bought at a "
            "stated price."
        )
    on = f"line {line.key}, {line.number} sold {line.sold_on}"
    if line.customer != (judged.offered.customer if judged.offered else source.key):
        on += f" to {line.customer}"
    if judgement.outcome == "refuse":
        return f"No credit: {judgement.why} ({on}){kept}."
    return _credited(judgement.outcome, judgement.why, line, result, on, catalogue)


def _credited(
    outcome: str, why: str, line: Line, result: CreditResult, on: str, catalogue: Catalogue
) -> str:
    currency = catalogue.shop.currency
    amount = f"{shown(result.credit)} {currency}"
    if outcome == "accept":
        said = f"Full credit {amount} on {on}."
    else:
        said = f"{amount} of {shown(line.charge)} {currency} on {on}: {why}."
    if catalogue.family(line.family).credit_when == "teardown":
        said += " Released after teardown."
    return said


def asked_notes(judged: Judged, photos: int) -> tuple[str, ...]:
    """Return what is worth writing down or taking a photo of, though the core comes in without."""
    hand = judged.hand
    if hand.named and judged.number is None and not photos:
        return ("A photo of the core helps whoever identifies it.",)
    if judged.outcome == "comeback" and not hand.note:
        return (f"For the note: {COMPLAINT[:1].lower()}{COMPLAINT[1:]}",)
    return ()


def number_notes(judged: Judged) -> tuple[str, ...]:
    """Return what is worth saying of the number in hand, and of the number that was sold."""
    number, notes = judged.number, []
    if number is None:
        near = near_numbers(judged.hand.number_text) if judged.hand.number_text else []
        return (f"Numbers that begin alike: {', '.join(near)}.",) if near else ()
    if number.superseded_by:
        notes.append(f"{number.shown} was superseded by {number.superseded_by}.")
    line = judged.line
    if line is not None and match_key(line.number) != match_key(number.shown):
        notes.append(
            f"Sold {line.number}, received {number.shown}: both are core group "
            f"{number.core_group} ({number.group_name})."
        )
    return tuple(notes)


def line_notes(
    judged: Judged, earns: Callable[[Line], Money], others: Sequence[Line], currency: str
) -> tuple[str, ...]:
    """Return what a person should know of the `others` before saying yes, best paid first.

    Older lines that were passed over because their window is over are named, and a line that would
    pay more than the one proposed. A line that a person chose stands without comment.
    """
    line, offered, judgement = judged.line, judged.offered, judged.judgement
    if line is None or offered is None or judgement is None or judged.hand.line:
        return ()
    notes = []
    if not late_for(line, offered.arrived):
        gone = sorted(
            (other.sold_on, other.key)
            for other in others
            if other.sold_on < line.sold_on and late_for(other, offered.arrived)
        )
        if gone:
            more = f" (and {len(gone) - 1} more)" if len(gone) > 1 else ""
            notes.append(
                f"Older and past its window, so passed over: line {gone[0][1]}, sold "
                f"{gone[0][0]}{more}."
            )
    best = others[0] if others else None
    credit = judgement.result.credit if judgement.result else 0
    if best is not None and earns(best) > credit:
        notes.append(
            f"Line {best.key}, sold {best.sold_on}, would pay more: {shown(earns(best))} "
            f"{currency}. Choose it if this core belongs to it."
        )
    return tuple(notes)
