"""Replays the whole history and compares it with every stored state, roll-up and seal."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coretrack.errors import CoretrackError
from coretrack.figures import lifecycle, tallies
from coretrack.figures.history import START, event_hash, seal_digest
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.database import connection, database, is_sqlite
from coretrack.records.kinds import KINDS, Kind
from coretrack.records.readings import reading_rows
from coretrack.records.tables import EventRow, ReadingRow, SealRow, TallyRow
from coretrack.records.times import to_text


@dataclass(frozen=True)
class Difference:
    """Something stored that the history does not bear out; `thing` names the object."""

    thing: str
    what: str


@dataclass
class _Chain:
    facts: Any
    sequence: int
    head: str


class _Replay:
    """Walks all events once, oldest first, and notes whatever does not fit."""

    def __init__(self) -> None:
        self.chains: dict[tuple[str, str], _Chain] = {}
        self.tallies: dict[tallies.TallyKey, Counter[str]] = {}
        self.readings: Counter[tuple[Any, ...]] = Counter()
        self.differences: list[Difference] = []
        self.events = 0
        self._seals = list(SealRow.select().order_by(SealRow.upto))

    def run(self) -> None:
        for row in _events():
            self._check_seals_before(row.id)
            self.events += 1
            self._one(row)
        self._check_seals_before(None)

    def _note(self, thing: str, what: str) -> None:
        self.differences.append(Difference(thing, what))

    def _one(self, row: EventRow) -> None:
        thing = f"{row.object_kind} {row.object_key}"
        key = (row.object_kind, row.object_key)
        chain = self.chains.setdefault(key, _Chain(None, 0, START))
        if row.sequence != chain.sequence + 1:
            self._note(thing, f"event {chain.sequence + 1} is missing from its history")
        if row.previous_hash != chain.head or row.hash != event_hash(row.previous_hash, row.body):
            self._note(
                thing, f"event {row.sequence} ('{row.event}') was changed after it was written"
            )
        chain.sequence, chain.head = row.sequence, row.hash
        try:
            body = json.loads(row.body)
            told = (
                body["kind"],
                body["key"],
                body["sequence"],
                body["event"],
                body["at"],
                body["by"],
            )
            if told != (*key, row.sequence, row.event, row.at, row.by):
                self._note(thing, f"event {row.sequence}: its columns differ from its text")
            before = chain.facts
            chain.facts = KINDS[row.object_kind].apply(before, body["event"], body["detail"])
        except (ValueError, KeyError, TypeError, CoretrackError) as error:
            self._note(thing, f"event {row.sequence} cannot be replayed: {error}")
            return
        if isinstance(chain.facts, CoreFacts):
            for place, moved in tallies.change(before, chain.facts).items():
                self.tallies.setdefault(place, Counter()).update(moved)
            for reading in reading_rows(
                row.object_key, chain.facts.inspections, row.at, body["detail"]
            ):
                self.readings[tuple(reading.values())] += 1

    def _check_seals_before(self, event_id: int | None) -> None:
        while self._seals and (event_id is None or self._seals[0].upto < event_id):
            seal = self._seals.pop(0)
            if seal.digest != seal_digest(self._heads()) or seal.objects != len(self.chains):
                self._note(
                    f"seal of {seal.at[:10]}",
                    "the history up to this seal is not what was sealed",
                )

    def _heads(self) -> Iterator[tuple[str, str, int, str]]:
        for (kind, key), chain in self.chains.items():
            yield kind, key, chain.sequence, chain.head


def _events() -> Iterator[EventRow]:
    return iter(EventRow.select().order_by(EventRow.id).iterator())


def verify() -> tuple[int, list[Difference]]:
    """Return how many events were replayed, and every difference found."""
    with connection():
        replay = _Replay()
        replay.run()
        for kind in KINDS.values():
            _compare_states(kind, replay)
        _compare_tallies(replay)
        _compare_readings(replay)
        return replay.events, replay.differences


def _compare_states(kind: Kind, replay: _Replay) -> None:
    expected = {key: chain for (name, key), chain in replay.chains.items() if name == kind.name}
    for row in kind.table.select().iterator():
        key = getattr(row, kind.key)
        thing = f"{kind.name} {key}"
        chain = expected.pop(key, None)
        if chain is None:
            replay.differences.append(Difference(thing, "is stored but has no history"))
            continue
        if (row.version, row.head) != (chain.sequence, chain.head):
            replay.differences.append(Difference(thing, "its version or chain head differs"))
        if chain.facts is None:
            continue
        for name, value in kind.to_row(chain.facts).items():
            if getattr(row, name) != value:
                replay.differences.append(
                    Difference(
                        thing, f"'{name}' is {getattr(row, name)!r}, its history says {value!r}"
                    )
                )
    for key in expected:
        replay.differences.append(Difference(f"{kind.name} {key}", "has a history but no row"))


def _compare_tallies(replay: _Replay) -> None:
    names = (*tallies.COUNTERS, *lifecycle.COST_PARTS)
    expected = {
        key: {name: number for name, number in counts.items() if number}
        for key, counts in replay.tallies.items()
    }
    for row in TallyRow.select().iterator():
        key = (row.family, row.grouping, row.value, row.month)
        stored = {name: getattr(row, name) for name in names if getattr(row, name)}
        if stored != expected.pop(key, {}):
            replay.differences.append(
                Difference(f"roll-up {' / '.join(key)}", "does not equal its history")
            )
    for key, counts in expected.items():
        if counts:
            replay.differences.append(Difference(f"roll-up {' / '.join(key)}", "is missing"))


def _compare_readings(replay: _Replay) -> None:
    stored: Counter[tuple[Any, ...]] = Counter(
        (
            row.tag,
            row.inspection,
            row.check_code,
            row.place,
            row.typed,
            row.value,
            row.result,
            row.gauge,
            row.gauge_overdue,
            row.read_at,
        )
        for row in ReadingRow.select().iterator()
    )
    tags = {key[0] for key in (stored - replay.readings) + (replay.readings - stored)}
    for tag in sorted(tags):
        replay.differences.append(
            Difference(f"core {tag}", "its readings differ from its inspection events")
        )


def write_seal(at: datetime) -> None:
    """Seal all chain heads as they stand now. Call inside a transaction."""
    if not is_sqlite():
        # Waits for writers that already hold an event number, so that none slips in underneath.
        database.execute_sql('LOCK TABLE "event" IN SHARE MODE')
    newest = EventRow.select(EventRow.id).order_by(EventRow.id.desc()).first()
    if newest is None:
        return
    heads = [
        (kind.name, getattr(row, kind.key), row.version, row.head)
        for kind in KINDS.values()
        for row in kind.table.select().iterator()
    ]
    SealRow.insert(
        at=to_text(at), upto=newest.id, objects=len(heads), digest=seal_digest(heads)
    ).execute()


def sealed_on(at: datetime) -> bool:
    """Return whether a seal of the UTC day of `at` exists."""
    return bool(SealRow.select().where(SealRow.at.startswith(to_text(at)[:10])).exists())
