"""The dock: a returned core is matched to what the customer bought, judged by eye, and credited.

Acceptance says nothing about the grade: a core may be credited and scrapped, or refused and good.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from coretrack.actions.lookups import Catalogue
from coretrack.errors import InvalidInput
from coretrack.figures.credits import CreditResult, credit, refuse
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.trade_objects import Line, Number
from coretrack.figures.windows import WindowRule, lateness
from coretrack.records import queries
from coretrack.records.happenings import first_detail
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class Offered:
    """A core that a customer offers for credit; `place` is how notes name it ("row 12").

    `line` is the core line that a person chose, empty to let the rules choose. `refusal` says why
    the person refuses it, beside the faults. `judged` is the day of the judgement where that is
    not the day it came in.
    """

    place: str
    customer: str
    number: Number
    received: date
    arrived: date
    invoice: str = ""
    fault_codes: tuple[str, ...] = ()
    comeback: bool = False
    line: str = ""
    refusal: str = ""
    judged: date | None = None


@dataclass(frozen=True)
class Judgement:
    """What the dock decided: accept, part credit, refuse, excess or comeback.

    `others` are further lines that the core could answer. `hold_until` is the last day a refused
    core is kept for the customer.
    """

    outcome: str
    line: Line | None
    result: CreditResult | None
    faults: tuple[Fault, ...]
    why: str
    others: tuple[Line, ...] = ()
    hold_until: str = ""


class Dock:
    """Judges cores one after the other; every credit closes one unit of a core line."""

    def __init__(self, writer: Writer, catalogue: Catalogue, note: Callable[[str], None]) -> None:
        self._writer = writer
        self._catalogue = catalogue
        self._note = note

    def judge(self, core: Offered, lines: Sequence[Line] | None = None) -> Judgement:
        """Return what the core earns by the charge, window and criteria of its sale.

        `lines` are those that `lines_for` gave, where they were asked already.
        """
        if core.comeback:
            return Judgement(
                "comeback", None, None, (), "came back under warranty; it earns no core credit"
            )
        lines = self.lines_for(core) if lines is None else lines
        if not lines:
            why = (
                f"{core.customer} owes no core of group {core.number.core_group} "
                f"on {core.received.isoformat()}: an excess core, to be refused or bought"
            )
            return Judgement("excess", None, None, (), why)
        line, *others = lines
        self._say_if_other(core, line)
        faults = self._faults(line, core.fault_codes)
        late = lateness(window_of(line), date.fromisoformat(line.sold_on), core.arrived)
        result = credit(line.charge, faults, late)
        if core.refusal:
            seen = [fault.name or fault.code for fault in faults if fault.effect == "refuse"]
            result = refuse(line.charge, "; ".join([*dict.fromkeys(seen), core.refusal]))
        hold = self._hold_until(core) if result.outcome == "refuse" else ""
        why = "; ".join(result.reasons)
        return Judgement(result.outcome, line, result, faults, why, tuple(others), hold)

    def store(
        self,
        tag: str,
        core: Offered,
        judgement: Judgement,
        *,
        at: datetime | None = None,
        more: Mapping[str, Any] | None = None,
    ) -> None:
        """Write the judgement into the core's history and, where it answers one, its line's.

        `at` is the moment it happened, noon of the day where only the day is known; `more` is
        noted with the judgement.
        """
        at = at or self._catalogue.noon(core.received)
        result = judgement.result
        detail: dict[str, Any] = {
            "outcome": judgement.outcome,
            "faults": [fault.code for fault in judgement.faults],
            "arrived": core.arrived.isoformat(),
            **(more or {}),
        }
        if judgement.hold_until:
            detail["hold_until"] = judgement.hold_until
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

    def lines_for(self, core: Offered) -> list[Line]:
        """Return the lines this core can answer, the one it is taken for first.

        The chosen line goes first, then the invoice's own (the very number sold before another one
        of its group), then the customer's oldest.
        """
        number = core.number
        found: list[Line] = []
        if core.line:
            chosen = self._writer.find("line", core.line)
            if chosen is not None and chosen.core_group == number.core_group:
                found.append(chosen)
        if core.invoice:
            mine = [
                line
                for line in self._fresh(lines_of_invoice(core.invoice))
                if line.customer == core.customer and line.core_group == number.core_group
            ]
            mine.sort(key=lambda line: match_key(line.number) != match_key(number.shown))
            found += mine
        found += self._fresh(queries.open_lines(core.customer, core_group=number.core_group))
        unique = {line.key: line for line in found}
        return [line for line in unique.values() if takes(line, core.received)]

    def _say_if_other(self, core: Offered, line: Line) -> None:
        if core.line and core.line != line.key:
            self._note(
                f"{core.place}: line {core.line} expects no core of group "
                f"{core.number.core_group} any more; taken for line {line.key} instead"
            )
        elif core.invoice and not core.line and not _same_paper(line.invoice, core.invoice):
            self._note(
                f"{core.place}: invoice {core.invoice} owes {core.customer} no core "
                f"of group {core.number.core_group}; credited on line {line.key} instead"
            )

    def _hold_until(self, core: Offered) -> str:
        """Return the last day a core refused now is kept: the customer has that long to answer."""
        from_day = core.judged or core.received
        return (from_day + timedelta(days=self._catalogue.shop.hold_days)).isoformat()

    def _fresh(self, lines: list[Line]) -> list[Line]:
        """Return the lines as this transaction sees them, its own credits included."""
        return [self._writer.latest("line", line.key, line) for line in lines]

    def _faults(self, line: Line, codes: tuple[str, ...]) -> tuple[Fault, ...]:
        """Return the faults with these codes; one that counts each time as often as it is told."""
        known = self._catalogue.faults(line.family, line.criteria_version)
        by_name = {name.casefold(): f for f in known for name in (f.code, f.name)}
        faults: list[Fault] = []
        for code in codes:
            if code.casefold() not in by_name:
                raise InvalidInput(
                    f"family {line.family} had no fault '{code}' at the sale; it had: "
                    f"{', '.join(fault.code for fault in known) or 'none'} "
                    "(several are parted by semicolons)",
                    {"faults": code},
                )
            fault = by_name[code.casefold()]
            if fault.each or fault not in faults:
                faults.append(fault)
        return tuple(faults)


def came_in(core: CoreFacts, number: Number, place: str, **told: Any) -> Offered:
    """Return a core that is in the house already as the dock judges it later.

    The window of a return runs to the day it arrived, however late it is judged. `told` replaces
    what was noted when it came in.
    """
    came = first_detail("core", core.tag)
    known: dict[str, Any] = {
        "customer": came.get("customer", core.source),
        "received": date.fromisoformat(core.received_on),
        "arrived": date.fromisoformat(came.get("arrived", core.received_on)),
        "invoice": came.get("invoice", ""),
        "fault_codes": tuple(came.get("faults_seen", ())),
        "comeback": core.stream == "comeback",
    }
    return Offered(place=place, number=number, **{**known, **told})


def window_of(line: Line) -> WindowRule:
    """Return the window that was promised at the sale."""
    return WindowRule(
        line.window_days,
        line.after,
        Decimal(line.slide_percent),
        line.slide_days,
        Decimal(line.slide_most),
        line.nothing_after or None,
    )


def takes(line: Line, received: date) -> bool:
    """Return whether a core received on this day can still answer the line."""
    return line.owed > 0 and line.sold_on <= received.isoformat()


def lines_of_invoice(invoice: str) -> list[Line]:
    """Return an invoice's core lines; capitals count only where two invoices differ by them."""
    found = queries.lines_of_paper(invoice)
    if found:
        return found
    spelled = [paper for paper in queries.papers(invoice) if paper != invoice]
    return queries.lines_of_paper(spelled[0]) if len(spelled) == 1 else []


def _same_paper(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()
