"""The one way to write: events and the state they lead to, together, in one transaction.

A `Writer` collects what an action does and stores it when the action's transaction ends (or at
`flush`, before a query must see it). Versions are compared when stored: whoever read an older
state is told, and nothing of his action is kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import peewee
from peewee import EXCLUDED, chunked

from coretrack.errors import Conflict, NotFound
from coretrack.figures import lifecycle, tallies
from coretrack.figures.history import START, event_body, event_hash
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.bench_tables import ReadingRow
from coretrack.records.database import connection, transaction
from coretrack.records.happenings import last_of
from coretrack.records.kinds import KINDS, Kind
from coretrack.records.readings import reading_rows
from coretrack.records.statements import add_to_counter, insert_rows, rows_with, update_row
from coretrack.records.station_tables import OnceRow
from coretrack.records.tables import (
    CounterRow,
    EventRow,
    TallyRow,
)
from coretrack.records.times import to_text

_CHUNK = 400


@dataclass
class _Held:
    """An object as this transaction sees it: `stored` is the version in the database (0: none)."""

    kind: Kind
    facts: Any
    version: int
    head: str
    stored: int
    changed: bool = False


@dataclass
class _Attempt:
    """What must be put back when a row fails half-way.

    `held`: each object the row touched as it was before (None: it was not there). `moved`: what
    it added to the roll-ups. `numbers`: how many running numbers it took, per counter.
    """

    events: int
    readings: int
    once: int
    held: dict[tuple[str, str], _Held | None] = field(default_factory=dict)
    moved: list[dict[tallies.TallyKey, dict[str, int]]] = field(default_factory=list)
    numbers: Counter[str] = field(default_factory=Counter)


class Writer:
    """Collects the events of one action by one person at one station."""

    def __init__(self, by: str, at: datetime, station: str = "") -> None:
        self.by = by
        self.at = at
        self.station = station
        self._held: dict[tuple[str, str], _Held] = {}
        self._events: list[dict[str, Any]] = []
        self._readings: list[dict[str, Any]] = []
        self._once: list[dict[str, Any]] = []
        self._tallies: dict[tallies.TallyKey, Counter[str]] = {}
        self._attempt: _Attempt | None = None

    @contextmanager
    def attempt(self) -> Iterator[None]:
        """Run one row of many: whatever the block raises, nothing of the row is left behind.

        Events, states, readings, roll-ups, keys and running numbers are as before it. Attempts do
        not nest, and nothing is flushed inside one.
        """
        if self._attempt is not None:
            raise RuntimeError("an attempt cannot be made inside another one")
        self._attempt = _Attempt(len(self._events), len(self._readings), len(self._once))
        try:
            yield
        except BaseException:
            self._undo(self._attempt)
            raise
        finally:
            self._attempt = None

    def _undo(self, attempt: _Attempt) -> None:
        del self._events[attempt.events :]
        del self._readings[attempt.readings :]
        del self._once[attempt.once :]
        for key, held in attempt.held.items():
            if held is None:
                del self._held[key]
            else:
                self._held[key] = held
        for moved in attempt.moved:
            for row, numbers in moved.items():
                self._tallies[row].subtract(numbers)
        for counter, count in attempt.numbers.items():
            CounterRow.update(value=CounterRow.value - count).where(
                CounterRow.name == counter
            ).execute()

    def find(self, kind: str, key: str) -> Any | None:
        """Return the facts of an object as this transaction sees it, or None."""
        held = self._load(kind, key)
        return held.facts if held else None

    def get(self, kind: str, key: str) -> Any:
        """Return the facts of an object; NotFound when there is none."""
        facts = self.find(kind, key)
        if facts is None:
            raise NotFound(f"There is no {kind} '{key}'.")
        return facts

    def latest(self, kind: str, key: str, read: Any) -> Any:
        """Return an object that was just `read`, with what this transaction did to it since."""
        held = self._held.get((kind, key))
        return held.facts if held else read

    def version(self, kind: str, key: str) -> int:
        """Return the object's version, 0 when there is none."""
        held = self._load(kind, key)
        return held.version if held else 0

    def expect(self, kind: str, key: str, version: int) -> None:
        """Raise Conflict when the object is no longer at `version`."""
        if self.version(kind, key) != version:
            last = last_of(kind, key)
            who = f" by {last.by}" if last else ""
            raise Conflict(
                f"The {kind} {key} was changed meanwhile{who}. Look at what is new, then try again."
            )

    def event(
        self,
        kind: str,
        key: str,
        event: str,
        detail: Mapping[str, Any],
        *,
        why: str = "",
        at: datetime | None = None,
    ) -> Any:
        """Let `event` happen to the object and return its new facts.

        `at` is when it happened in the shop, if that was earlier than now (an import).
        """
        held = self._load(kind, key)
        before = held.facts if held else None
        definition = KINDS[kind]
        facts = definition.apply(before, event, detail)
        if self._attempt is not None and (kind, key) not in self._attempt.held:
            self._attempt.held[kind, key] = replace(held) if held else None
        if held is None:
            held = _Held(definition, facts, 0, START, 0)
            self._held[kind, key] = held
        body = event_body(
            object_kind=kind,
            object_key=key,
            sequence=held.version + 1,
            event=event,
            at=to_text(at or self.at),
            by=self.by,
            station=self.station,
            detail=detail,
            why=why,
        )
        digest = event_hash(held.head, body)
        self._events.append(
            {
                "object_kind": kind,
                "object_key": key,
                "sequence": held.version + 1,
                "event": event,
                "at": to_text(at or self.at),
                "by": self.by,
                "body": body,
                "previous_hash": held.head,
                "hash": digest,
            }
        )
        held.facts, held.head, held.changed = facts, digest, True
        held.version += 1
        if isinstance(facts, CoreFacts):
            self._count(before, facts)
            self._readings += reading_rows(key, facts.inspections, to_text(at or self.at), detail)
        return facts

    def answers(self, keys: Sequence[str]) -> dict[str, str]:
        """Return the answers given earlier to forms, scans or rows with these keys."""
        found: dict[str, str] = {}
        for some in chunked(keys, _CHUNK):
            rows = OnceRow.select().where(OnceRow.key.in_(list(some)))
            found.update({row.key: row.answer for row in rows})
        return found

    def remember(self, key: str, answer: str) -> None:
        """Note that the form, scan or row `key` was acted on; Conflict when it was already."""
        self._once.append({"key": key, "at": to_text(self.at), "answer": answer})

    def forget(self, key: str) -> None:
        """Take back a `remember` of this transaction that is not stored yet."""
        self._once = [row for row in self._once if row["key"] != key]

    def next_number(self, counter: str, count: int = 1) -> int:
        """Take `count` running numbers; return the first of them. Gapless, never given twice."""
        if self._attempt is not None:
            self._attempt.numbers[counter] += count
        return add_to_counter(CounterRow, counter, count) - count + 1

    def flush(self) -> None:
        """Store what was collected so far; still inside the transaction."""
        if self._attempt is not None:
            raise RuntimeError("nothing can be stored while a row is only attempted")
        # Always in the same order, so that no two writers wait for each other's rows.
        for _, held in sorted(self._held.items()):
            if held.changed and held.stored:
                self._update(held)
        self._insert_new()
        for batch in chunked(self._events, _CHUNK):
            _insert(EventRow, batch)
        for batch in chunked(self._readings, _CHUNK):
            _insert(ReadingRow, batch)
        for batch in chunked(sorted(self._once, key=lambda row: str(row["key"])), _CHUNK):
            _insert(OnceRow, batch)
        self._store_tallies()
        self._events, self._readings, self._once, self._tallies = [], [], [], {}

    def _load(self, kind: str, key: str) -> _Held | None:
        held = self._held.get((kind, key))
        if held is None:
            definition = KINDS[kind]
            rows = rows_with(definition.table, definition.key, key)
            if not rows:
                return None
            row = rows[0]
            held = _Held(definition, definition.from_row(row), row.version, row.head, row.version)
            self._held[kind, key] = held
        return held

    def _update(self, held: _Held) -> None:
        key = getattr(held.facts, held.kind.key)
        changes = {
            "version": held.version,
            "head": held.head,
            **held.kind.to_row(held.facts),
        }
        if not update_row(held.kind.table, held.kind.key, key, held.stored, changes):
            raise Conflict(
                f"The {held.kind.name} {key} was changed meanwhile by somebody else. "
                "Look at what is new, then try again; nothing was stored."
            )
        held.stored, held.changed = held.version, False

    def _insert_new(self) -> None:
        new: dict[type[Any], list[dict[str, Any]]] = {}
        for _, held in sorted(self._held.items()):
            if held.changed and not held.stored:
                row = {
                    "version": held.version,
                    "head": held.head,
                    **held.kind.to_row(held.facts),
                }
                new.setdefault(held.kind.table, []).append(row)
                held.stored, held.changed = held.version, False
        for table, rows in new.items():
            for batch in chunked(rows, _CHUNK):
                _insert(table, batch)

    def _count(self, before: CoreFacts | None, after: CoreFacts) -> None:
        change = tallies.change(before, after)
        if self._attempt is not None:
            self._attempt.moved.append(change)
        for key, moved in change.items():
            self._tallies.setdefault(key, Counter()).update(moved)

    def _store_tallies(self) -> None:
        counters = (*tallies.COUNTERS, *lifecycle.COST_PARTS)
        rows = [
            {
                "family": family,
                "grouping": grouping,
                "value": value,
                "month": month,
                **{name: moved.get(name, 0) for name in counters},
            }
            for (family, grouping, value, month), moved in sorted(self._tallies.items())
            if any(moved.values())
        ]
        for batch in chunked(rows, _CHUNK):
            TallyRow.insert_many(batch).on_conflict(
                conflict_target=[
                    TallyRow.grouping,
                    TallyRow.family,
                    TallyRow.value,
                    TallyRow.month,
                ],
                update={
                    getattr(TallyRow, name): getattr(TallyRow, name) + getattr(EXCLUDED, name)
                    for name in counters
                },
            ).execute()


def _insert(table: type[Any], rows: list[dict[str, Any]]) -> None:
    try:
        insert_rows(table, rows)
    except peewee.IntegrityError as error:
        raise Conflict(
            "Somebody else stored the same thing at the same moment. "
            "Look at what is new, then try again; nothing was stored."
        ) from error


@contextmanager
def writing(by: str, at: datetime, station: str = "") -> Iterator[Writer]:
    """Open one action's transaction; what the block raises leaves nothing behind."""
    with connection(), transaction():
        writer = Writer(by, at, station)
        yield writer
        writer.flush()
