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
from coretrack.figures.money import Money
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plan_files import Fault
from coretrack.figures.trade_objects import Line, Number
from coretrack.figures.windows import WindowRule, due_date, lateness
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
    core is kept for the customer; an excess core has one when it was refused too, and `why` then
    says for what.
    """

    outcome: str
    line: Line | None
    result: CreditResult | None
    faults: tuple[Fault, ...]
    why: str
    others: tuple[Line, ...] = ()
    hold_until: str = ""

    @property
    def refused_excess(self) -> bool:
        """Return whether nothing is owed for the core and it is refused at once."""
        return self.outcome == "excess" and bool(self.hold_until)


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
            return self._excess(core)
        line, *others = lines
        self._say_if_other(core, line)
        faults = self._faults(line, core.fault_codes)
        result = _result(core, line, faults)
        hold = self._hold_until(core) if result.outcome == "refuse" else ""
        why = "; ".join(result.reasons)
        return Judgement(result.outcome, line, result, faults, why, tuple(others), hold)

    def earns(self, core: Offered, line: Line) -> Money:
        """Return what the core would earn on a line; faults unknown at its sale take nothing."""
        known = self._by_name(line.family, line.criteria_version)
        codes = tuple(code for code in core.fault_codes if code.casefold() in known)
        return _result(core, line, self._faults(line, codes)).credit

    def _excess(self, core: Offered) -> Judgement:
        """Return the judgement of a core that nothing is owed for; a person may refuse it."""
        if not core.refusal:
            return Judgement("excess", None, None, (), _owes_none(core))
        family = self._catalogue.family(core.number.family)
        known = self._by_name(family.key, family.criteria_version)
        ticked = [code.casefold() for code in core.fault_codes if code.casefold() in known]
        faults = tuple(dict.fromkeys(known[code] for code in ticked))
        why = _refused_for(core, faults)
        return Judgement("excess", None, None, faults, why, (), self._hold_until(core))

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
        why = judgement.why
        if judgement.refused_excess:
            why = _owes_none(core)
        elif judgement.hold_until:
            detail["hold_until"] = judgement.hold_until
        if judgement.line and result:
            detail["line"] = judgement.line.key
            detail["arithmetic"] = [[line.text, line.amount] for line in result.lines]
            if judgement.outcome != "refuse":
                detail["costs"] = {"credit": result.credit}
        self._writer.event("core", tag, "accepted", detail, at=at, why=why)
        if judgement.refused_excess:
            held = {"hold_until": judgement.hold_until}
            self._writer.event("core", tag, "held", held, at=at, why=judgement.why)
        if judgement.line and result:
            what = "refused" if judgement.outcome == "refuse" else "credited"
            told = {"tag": tag, "credit": result.credit}
            self._writer.event("line", judgement.line.key, what, told, at=at)

    def lines_for(self, core: Offered) -> list[Line]:
        """Return the lines this core can answer, the one it is taken for first.

        The chosen line goes first, then those of the invoice that was told; then a line that is
        still in time on the day the core arrived before a late one, the very number sold before
        another one of its group, and the customer's oldest.
        """
        group = core.number.core_group
        chosen = self._writer.find("line", core.line) if core.line else None
        found = [chosen] if chosen is not None and chosen.core_group == group else []
        on_paper: set[str] = set()
        if core.invoice:
            mine = [line for line in lines_of_invoice(core.invoice) if line.core_group == group]
            mine = self._fresh([line for line in mine if line.customer == core.customer])
            on_paper = {line.key for line in mine}
            found += mine
        found += self._fresh(queries.open_lines(core.customer, core_group=group))
        unique = {line.key: line for line in found}
        open_now = [line for line in unique.values() if takes(line, core.received)]
        number = match_key(core.number.shown)

        def place(line: Line) -> tuple[bool, bool, bool, bool, str]:
            other = match_key(line.number) != number
            is_late = late_for(line, core.arrived)
            return line.key != core.line, line.key not in on_paper, is_late, other, line.sold_on

        # Sorting keeps the order of lines that are alike in all this: the one by their keys.
        return sorted(open_now, key=place)

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
        by_name = self._by_name(line.family, line.criteria_version)
        faults: list[Fault] = []
        for code in codes:
            if code.casefold() not in by_name:
                raise InvalidInput(
                    f"family {line.family} had no fault '{code}' at the sale; it had: "
                    f"{', '.join(dict.fromkeys(f.code for f in by_name.values())) or 'none'} "
                    "(several are parted by semicolons)",
                    {"faults": code},
                )
            fault = by_name[code.casefold()]
            if fault.each or fault not in faults:
                faults.append(fault)
        return tuple(faults)

    def _by_name(self, family: str, version: int) -> dict[str, Fault]:
        """Return the acceptance faults by code and by name, without capitals."""
        known = self._catalogue.faults(family, version)
        return {name.casefold(): f for f in known for name in (f.code, f.name)}


def _result(core: Offered, line: Line, faults: tuple[Fault, ...]) -> CreditResult:
    """Return what the core earns on a line by the line's own charge and window."""
    if core.refusal:
        return refuse(line.charge, _refused_for(core, faults))
    late = lateness(window_of(line), date.fromisoformat(line.sold_on), core.arrived)
    return credit(line.charge, faults, late)


def _refused_for(core: Offered, faults: tuple[Fault, ...]) -> str:
    seen = [fault.name or fault.code for fault in faults if fault.effect == "refuse"]
    return "; ".join(dict.fromkeys([*seen, core.refusal]))


def _owes_none(core: Offered) -> str:
    return (
        f"{core.customer} owes no core of group {core.number.core_group} "
        f"on {core.received.isoformat()}: an excess core, to be refused or bought"
    )


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


def late_for(line: Line, arrived: date) -> bool:
    """Return whether a core that arrived on this day came after the line's window."""
    due = due_date(window_of(line), date.fromisoformat(line.sold_on))
    return due is not None and arrived > due


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
