"""A made-up shop at work, for tests: files in, cores and lines and money out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from coretrack.actions import baskets, grading, receiving, sales, setting_up
from coretrack.actions.imports import FileRequest, ImportAnswer
from coretrack.figures.money import from_decimal
from coretrack.records import queries
from coretrack.records.database import connection
from coretrack.records.tables import CoreRow, CounterRow, EventRow, LineRow, LotRow
from coretrack.records.verify import verify

FOLDER = Path(__file__).resolve().parent / "shops" / "yard"

Cells = Sequence[object]

GOOD = ("24.010", "24.012", "24.011")
"""Three readings of a gear bore that are proven good."""


def money(text: str) -> int:
    """Return currency units as money."""
    return from_decimal(Decimal(text))


def csv_bytes(headings: str, rows: Iterable[Cells]) -> bytes:
    """Return a CSV file; cells that hold a comma are quoted."""
    lines = [headings]
    for row in rows:
        texts = ["" if cell is None else str(cell) for cell in row]
        lines.append(",".join(f'"{text}"' if "," in text else text for text in texts))
    return ("\n".join(lines) + "\n").encode()


def why(answer: ImportAnswer) -> str:
    """Return why the only rejected row was not stored."""
    (rejected,) = answer.rejected
    return rejected.why


@dataclass
class Yard:
    """The shop; `now` is the moment of every action. `day` texts are the shop's days."""

    now: datetime = datetime(2026, 10, 31, 12, tzinfo=UTC)
    by: str = "Ilse Thornby"
    preview: bool = False

    def set_up(self, folder: Path = FOLDER) -> list[str]:
        return setting_up.set_up_from_folder(folder, by=self.by, now=self.now)

    def request(self, content: bytes, name: str = "file.csv", **told: Any) -> FileRequest:
        return FileRequest(name, content, preview=self.preview, **told)

    def sell_file(self, content: bytes, name: str = "sales.csv", **told: Any) -> ImportAnswer:
        return sales.import_sales(self.request(content, name, **told), by=self.by, now=self.now)

    def sell(
        self,
        invoice: str = "S1",
        quantity: object = 1,
        *,
        day: str = "2026-05-04",
        customer: str = "ANSL",
        number: str = "GP-1040",
        charge: str = "",
        mode: str = "",
    ) -> ImportAnswer:
        """Import one sale."""
        headings = "invoice,date,customer,number,quantity,core charge,mode"
        row = (invoice, day, customer, number, quantity, charge, mode)
        return self.sell_file(csv_bytes(headings, [row]))

    def take_in(self, content: bytes, name: str = "manifest.csv", **terms: Any) -> ImportAnswer:
        """Import a manifest; `terms` as typed beside it."""
        told = receiving.manifest_terms(terms.pop("source", None), **terms)
        return receiving.import_manifest(
            self.request(content, name), told, by=self.by, now=self.now
        )

    def bring_back(
        self,
        *serials: str,
        number: str = "GP-1040",
        day: str = "2026-05-20",
        customer: str = "ANSL",
        **more: str,
    ) -> ImportAnswer:
        """Import one return a serial; `more` are further columns, the same for all."""
        headings = ",".join(["received", "customer", "number", "serial", *more])
        rows = [(day, customer, number, serial, *more.values()) for serial in serials]
        return self.take_in(csv_bytes(headings, rows))

    def buy(
        self,
        *serials: str,
        lot: str = "L1",
        number: str = "GP-1040",
        day: str = "2026-05-06",
        price: str = "10.00",
        **terms: str,
    ) -> ImportAnswer:
        """Import a purchased lot, one row a serial."""
        rows = [(number, serial) for serial in serials]
        content = csv_bytes("number,serial", rows)
        return self.take_in(content, source="COPP", lot=lot, received=day, price=price, **terms)

    def grade(self, *contents: bytes, name: str = "bench.csv") -> list[ImportAnswer]:
        requests = [self.request(content, name) for content in contents]
        return grading.grade_files(requests, by=self.by, now=self.now)

    def measure(
        self,
        serial: str,
        at: str = "2026-05-21 09:00",
        bore: Sequence[str] = GOOD,
        face: str = "3.0",
        thread: str = "go",
        crack: str = "none",
        look: str = "A",
        inspector: str = "Bela Quirke",
        gauge: str = "BG1",
    ) -> ImportAnswer:
        """Enter readings of one core; an empty text leaves a check out."""
        rows = [(at, inspector, gauge, serial, "bore", reading) for reading in bore]
        results = {"face": face, "thread": thread, "crack": crack, "look": look}
        rows += [(at, inspector, "", serial, check, r) for check, r in results.items() if r]
        return self.grade(csv_bytes("time,inspector,gauge,core,check,reading", rows))[0]

    def finish(
        self, serial: str, operation: str, at: str = "2026-05-22 09:00", minutes: str = ""
    ) -> ImportAnswer:
        """Report one finished rework."""
        row = (at, serial, operation, "Bela Quirke", minutes)
        return self.grade(csv_bytes("time,core,operation,person,minutes", [row]))[0]

    def tip(self, *serials: str) -> ImportAnswer:
        content = csv_bytes("core,basket", [(serial, "B1") for serial in serials])
        return baskets.import_source_lost(self.request(content), by=self.by, now=self.now)

    def overrule(self, serial: str, to: str, reason: str = "seen by me", **more: Any) -> Any:
        from coretrack.actions.inspecting import override_verdict

        told = {"role": "owner", **more}
        return override_verdict(self.core(serial).tag, to, reason, by=self.by, now=self.now, **told)

    def core(self, serial: str) -> Any:
        """Return the newest core with this serial."""
        with connection():
            return queries.cores_with_serial(serial)[0]

    def cores(self) -> list[Any]:
        """Return the stored rows of all cores, oldest first."""
        with connection():
            return list(CoreRow.select().order_by(CoreRow.tag))

    def line(self, key: str) -> Any:
        with connection():
            return LineRow.get(LineRow.key == key)

    def lines(self) -> list[Any]:
        with connection():
            return list(LineRow.select().order_by(LineRow.key))

    def lot(self, key: str) -> Any:
        with connection():
            return LotRow.get(LotRow.key == key)

    def events(self) -> int:
        with connection():
            return int(EventRow.select().count())

    def tags_given(self) -> int:
        with connection():
            row = CounterRow.get_or_none(CounterRow.name == "tags")
            return int(row.value) if row else 0

    def history(self, kind: str, key: str) -> list[tuple[str, dict[str, Any]]]:
        """Return an object's events: what happened, and its detail."""
        import json

        with connection():
            rows = EventRow.select().where(EventRow.object_kind == kind, EventRow.object_key == key)
            return [(row.event, json.loads(row.body)["detail"]) for row in rows]

    def tally(self, grouping: str, family: str = "GPB") -> dict[str, dict[str, int]]:
        """Return the roll-up by a grouping, over all months: value → what is not zero."""
        totals: dict[str, dict[str, int]] = {}
        with connection():
            for _, value, _, numbers in queries.tallies(grouping, family):
                row = totals.setdefault(value, {})
                for name, number in numbers.items():
                    if number:
                        row[name] = row.get(name, 0) + number
        return totals

    def is_sound(self) -> bool:
        """Return whether replaying every event gives every stored state and roll-up."""
        _, differences = verify()
        assert differences == []
        return True


def day(text: str) -> date:
    return date.fromisoformat(text)
