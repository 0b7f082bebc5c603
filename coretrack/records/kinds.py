"""The kinds of object: which table keeps them, what they look like, what an event does to them."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property, partial
from typing import Any

from coretrack.figures import bench_objects, lifecycle, trade_objects
from coretrack.figures.history import canonical
from coretrack.records import bench_tables, rows, station_tables, tables


@dataclass(frozen=True)
class Kind:
    """One kind of object. `structured` names the fields kept as JSON text."""

    name: str
    table: type[rows.ObjectRow]
    facts: type[Any]
    apply: Callable[[Any, str, Mapping[str, Any]], Any]
    key: str
    structured: frozenset[str]

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """The names of the object's facts, which are those of its columns."""
        return tuple(f.name for f in fields(self.facts))

    def to_row(self, facts: Any) -> dict[str, Any]:
        """Return the column values that keep `facts`."""
        return {
            name: canonical(getattr(facts, name))
            if name in self.structured
            else getattr(facts, name)
            for name in self.columns
        }

    def from_row(self, row: Any) -> Any:
        """Return the facts that a stored row keeps."""
        values: dict[str, Any] = {}
        for name in self.columns:
            value = getattr(row, name)
            if name in self.structured:
                value = json.loads(value)
                value = tuple(value) if isinstance(value, list) else value
            values[name] = value
        return self.facts(**values)


def _simple(name: str, table: type[rows.ObjectRow], facts: type[Any], *structured: str) -> Kind:
    apply = partial(trade_objects.apply_set, facts)
    return Kind(name, table, facts, apply, "key", frozenset(structured))


CORE = Kind(
    "core",
    tables.CoreRow,
    lifecycle.CoreFacts,
    lifecycle.apply,
    "tag",
    frozenset({"faults", "operations", "reasons", "findings", "done_since", "removed", "done"}),
)
LINE = Kind(
    "line", tables.LineRow, trade_objects.Line, trade_objects.apply_line, "key", frozenset()
)
LOT = Kind(
    "lot",
    tables.LotRow,
    trade_objects.Lot,
    trade_objects.apply_lot,
    "key",
    frozenset({"sorting", "estimate"}),
)

PERSON = Kind(
    "person",
    tables.PersonRow,
    trade_objects.Person,
    trade_objects.apply_person,
    "key",
    frozenset(),
)

FAMILY = Kind(
    "family",
    tables.FamilyRow,
    trade_objects.Family,
    trade_objects.apply_family,
    "key",
    frozenset({"definition"}),
)

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        CORE,
        LINE,
        LOT,
        FAMILY,
        _simple("plan", tables.PlanRow, trade_objects.PlanVersion, "definition"),
        _simple("criteria", tables.CriteriaRow, trade_objects.Criteria, "faults"),
        _simple("number", tables.NumberRow, trade_objects.Number),
        _simple("source", tables.SourceRow, trade_objects.Source),
        _simple("rate", tables.RateRow, trade_objects.Rate),
        _simple("core charge", tables.CoreChargeRow, trade_objects.CoreCharge),
        _simple("gauge", bench_tables.GaugeRow, trade_objects.Gauge),
        PERSON,
        _simple("shop", tables.ShopRow, trade_objects.Shop, "print_command"),
        _simple("label stock", station_tables.LabelStockRow, trade_objects.LabelStock),
        _simple("reason", station_tables.ReasonRow, trade_objects.Reason),
        _simple("place", station_tables.PlaceRow, trade_objects.Place),
        _simple("wash", bench_tables.WashRow, bench_objects.Wash, "slots"),
        _simple(
            "process check", bench_tables.ProcessCheckRow, bench_objects.ProcessCheck, "measured"
        ),
        _simple(
            "process rule",
            bench_tables.ProcessRuleRow,
            bench_objects.ProcessRule,
            "methods",
            "limits",
        ),
        _simple(
            "gauge study",
            bench_tables.GaugeStudyRow,
            bench_objects.GaugeStudy,
            "design",
            "readings",
        ),
        _simple("second look", bench_tables.SecondLookRow, bench_objects.SecondLook, "findings"),
        _simple(
            "stock take",
            bench_tables.StockTakeRow,
            bench_objects.StockTake,
            "scope",
            "expected",
            "found",
        ),
        _simple("credit note", station_tables.CreditNoteRow, trade_objects.CreditNote, "tags"),
        _simple("file", tables.ImportedFileRow, trade_objects.ImportedFile, "answer"),
    )
}
