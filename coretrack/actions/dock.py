"""The dock: a returned core is matched to what the customer bought, judged by eye, and credited.

Acceptance says nothing about the grade: a core may be credited and scrapped, or refused and good.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from coretrack.actions.lookups import Catalogue
from coretrack.errors import InvalidInput
from coretrack.figures.credits import CreditResult, credit
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.trade_objects import Line, Number
from coretrack.figures.windows import WindowRule, lateness
from coretrack.records import queries
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class Offered:
    """A core that a customer offers for credit; `place` is how notes name it ("row 12")."""

    place: str
    customer: str
    number: Number
    received: date
    arrived: date
    invoice: str = ""
    fault_codes: tuple[str, ...] = ()
    comeback: bool = False


@dataclass(frozen=True)
class Judgement:
    """What the dock decided: accept, part credit, refuse, excess or comeback."""

    outcome: str
    line: Line | None
    result: CreditResult | None
    faults: tuple[Fault, ...]
    why: str


class Dock:
    """Judges cores one after the other; every credit closes one unit of a core line."""

    def __init__(self, writer: Writer, catalogue: Catalogue, note: Callable[[str], None]) -> None:
        self._writer = writer
        self._catalogue = catalogue
        self._note = note

    def judge(self, core: Offered) -> Judgement:
        """Return what the core earns by the charge, window and criteria of its sale."""
        if core.comeback:
            return Judgement(
                "comeback", None, None, (), "came back under warranty; it earns no core credit"
            )
        line = self._match(core)
        if line is None:
            why = (
                f"{core.customer} owes no core of group {core.number.core_group} "
                f"on {core.received.isoformat()}: an excess core, to be refused or bought"
            )
            return Judgement("excess", None, None, (), why)
        faults = self._faults(line, core.fault_codes)
        rule = WindowRule(
            line.window_days, line.after, Decimal(line.slide_percent), line.slide_days
        )
        late = lateness(rule, date.fromisoformat(line.sold_on), core.arrived)
        result = credit(line.charge, faults, late)
        return Judgement(result.outcome, line, result, faults, "; ".join(result.reasons))

    def store(self, tag: str, core: Offered, judgement: Judgement) -> None:
        """Write the judgement into the core's history and, where it answers one, its line's."""
        at = self._catalogue.noon(core.received)
        result = judgement.result
        detail: dict[str, Any] = {
            "outcome": judgement.outcome,
            "faults": [fault.code for fault in judgement.faults],
            "arrived": core.arrived.isoformat(),
        }
        if judgement.line and result:
            detail["line"] = judgement.line.key
            detail["arithmetic"] = [[line.text, line.amount] for line in result.lines]
            if judgement.outcome != "refuse":
                detail["costs"] = {"credit": result.credit}
        self._writer.event("core", tag, "accepted", detail, at=at, why=judgement.why)
        if judgement.line and result:
            what = "refused" if judgement.outcome == "refuse" else "credited"
            told = {"tag": tag, "credit": result.credit}
            self._writer.event("line", judgement.line.key, what, told, at=at)

    def _match(self, core: Offered) -> Line | None:
        """Return the line this core answers: the invoice's own, else the customer's oldest open."""
        number = core.number
        if core.invoice:
            mine = [
                line
                for line in self._fresh(_lines_of_invoice(core.invoice))
                if line.customer == core.customer and line.core_group == number.core_group
            ]
            # The very number sold goes before another one of its group.
            mine.sort(key=lambda line: match_key(line.number) != match_key(number.shown))
            for line in mine:
                if _takes(line, core):
                    return line
        lines = self._fresh(queries.lines_of_customer(core.customer, number.core_group))
        found = next((line for line in lines if _takes(line, core)), None)
        if found and core.invoice:
            self._note(
                f"{core.place}: invoice {core.invoice} owes {core.customer} no core "
                f"of group {number.core_group}; credited on line {found.key} instead"
            )
        return found

    def _fresh(self, lines: list[Line]) -> list[Line]:
        """Return the lines as this transaction sees them, its own credits included."""
        return [self._writer.get("line", line.key) for line in lines]

    def _faults(self, line: Line, codes: tuple[str, ...]) -> tuple[Fault, ...]:
        known = self._catalogue.faults(line.family, line.criteria_version)
        by_name = {name.casefold(): f for f in known for name in (f.code, f.name)}
        faults = []
        for code in codes:
            if code.casefold() not in by_name:
                raise InvalidInput(
                    f"family {line.family} had no fault '{code}' at the sale; it had: "
                    f"{', '.join(fault.code for fault in known) or 'none'} "
                    "(several are parted by semicolons)",
                    {"faults": code},
                )
            faults.append(by_name[code.casefold()])
        return tuple(dict.fromkeys(faults))


def _takes(line: Line, core: Offered) -> bool:
    return line.owed > 0 and line.sold_on <= core.received.isoformat()


def _lines_of_invoice(invoice: str) -> list[Line]:
    """Return an invoice's core lines; capitals count only where two invoices differ by them."""
    found = queries.lines_of_paper(invoice)
    if found:
        return found
    spelled = [paper for paper in queries.papers(invoice) if paper != invoice]
    return queries.lines_of_paper(spelled[0]) if len(spelled) == 1 else []
