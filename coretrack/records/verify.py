"""Replays the whole history and compares it with every stored state, roll-up, photo and seal.

Stored values are read as the database holds them, not as the models would like to see them:
whatever was changed behind coretrack's back must be named, and must not stop the check.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from types import SimpleNamespace
from typing import Any

from coretrack.errors import CoretrackError
from coretrack.figures import lifecycle, tallies
from coretrack.figures.history import START, event_hash, seal_digest
from coretrack.figures.lifecycle import CoreFacts
from coretrack.records.bench_tables import ReadingRow
from coretrack.records.database import database, is_sqlite, snapshot
from coretrack.records.kinds import KINDS, Kind
from coretrack.records.readings import reading_rows
from coretrack.records.station_tables import PhotoRow
from coretrack.records.tables import EventRow, SealRow, TallyRow
from coretrack.records.times import to_text

_Head = tuple[str, str, int, str]
_UNREADABLE = (ValueError, LookupError, TypeError, AttributeError)
_NUMBERS = (*tallies.COUNTERS, *lifecycle.COST_PARTS)


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
    row: dict[str, Any]


class _Replay:
    """Walks all events once, oldest first, and notes whatever does not fit."""

    def __init__(self) -> None:
        self.chains: dict[tuple[str, str], _Chain] = {}
        self.tallies: dict[tallies.TallyKey, Counter[str]] = {}
        self.readings: Counter[tuple[Any, ...]] = Counter()
        self.photos: set[tuple[str, str, str]] = set()
        self.differences: list[Difference] = []
        self.events = 0
        self._seals = list(_stored(SealRow, "upto", "id"))
        self._sealed_before = START

    def run(self) -> None:
        for row in _stored(EventRow, "id"):
            self._check_seals_before(row.id)
            self.events += 1
            self._one(row)
        self._check_seals_before(None)

    def note(self, thing: str, what: str) -> None:
        """Note a difference."""
        self.differences.append(Difference(thing, what))

    def _one(self, row: Any) -> None:
        thing = f"{row.object_kind} {row.object_key}"
        key = (row.object_kind, row.object_key)
        chain = self.chains.setdefault(key, _Chain(None, 0, START, {}))
        if row.sequence != chain.sequence + 1:
            self.note(thing, f"event {chain.sequence + 1} is missing from its history")
        chain.sequence = row.sequence if isinstance(row.sequence, int) else chain.sequence + 1
        before, chain.head = chain.head, row.hash
        try:
            if row.previous_hash != before or row.hash != event_hash(before, row.body):
                self.note(
                    thing, f"event {row.sequence} ('{row.event}') was changed after it was written"
                )
            self._replay(thing, chain, row)
        except (*_UNREADABLE, CoretrackError) as error:
            self.note(thing, f"event {row.sequence} cannot be replayed: {error!r}")

    def _replay(self, thing: str, chain: _Chain, row: Any) -> None:
        body = json.loads(row.body)
        told = tuple(body[name] for name in ("kind", "key", "sequence", "event", "at", "by"))
        if told != (row.object_kind, row.object_key, row.sequence, row.event, row.at, row.by):
            self.note(thing, f"event {row.sequence}: its columns differ from its text")
        kind, before = KINDS[row.object_kind], chain.facts
        facts = kind.apply(before, body["event"], body["detail"])
        state = kind.to_row(facts)
        if isinstance(facts, CoreFacts):
            for place, moved in tallies.change(before, facts).items():
                self.tallies.setdefault(place, Counter()).update(moved)
            for reading in reading_rows(row.object_key, facts.inspections, row.at, body["detail"]):
                self.readings[tuple(reading.values())] += 1
        if body["event"] == "photographed":
            named = str(body["detail"].get("sha256", ""))
            self.photos.add((row.object_kind, row.object_key, named))
        chain.facts, chain.row = facts, state

    def _check_seals_before(self, event_id: int | None) -> None:
        while self._seals:
            seal = self._seals[0]
            if event_id is not None and isinstance(seal.upto, int) and seal.upto >= event_id:
                return
            del self._seals[0]
            if not self._is_sound(seal):
                self.note(
                    f"seal of {str(seal.at)[:10]}",
                    "it, or the history up to it, is not what was sealed",
                )
            self._sealed_before = seal.digest

    def _is_sound(self, seal: Any) -> bool:
        heads = [(kind, key, c.sequence, c.head) for (kind, key), c in self.chains.items()]
        try:
            digest = _digest(heads, seal.at, seal.upto, self._sealed_before)
        except _UNREADABLE:
            return False
        return bool(seal.digest == digest and seal.objects == len(heads))


def _stored(table: type[Any], *order: str) -> Iterator[Any]:
    """Return a table's rows with their values as the database gives them."""
    query = table.select().order_by(*(getattr(table, name) for name in order))
    names = [field.column_name for field in table._meta.sorted_fields]
    for values in database.execute(query):
        yield SimpleNamespace(**dict(zip(names, values, strict=True)))


def verify() -> tuple[int, list[Difference]]:
    """Return how many events were replayed, and every difference found.

    All of it is read from one state of the database, also while others write.
    """
    with snapshot(), _reading_any_text():
        replay = _Replay()
        if is_sqlite():
            for (told,) in database.execute_sql("PRAGMA integrity_check(20)").fetchall():
                if told != "ok":
                    replay.note("database file", told)
        replay.run()
        for kind in KINDS.values():
            _compare_states(kind, replay)
        _compare_tallies(replay)
        _compare_readings(replay)
        _compare_photos(replay)
        return replay.events, replay.differences


@contextmanager
def _reading_any_text() -> Iterator[None]:
    """Read also text that is no UTF-8 any more, which SQLite would stop at."""
    if not is_sqlite():
        yield
        return
    link = database.connection()
    link.text_factory = lambda raw: raw.decode("utf-8", "backslashreplace")
    try:
        yield
    finally:
        link.text_factory = str


def _compare_states(kind: Kind, replay: _Replay) -> None:
    expected = {key: chain for (name, key), chain in replay.chains.items() if name == kind.name}
    for row in _stored(kind.table):
        key = getattr(row, kind.key)
        thing = f"{kind.name} {key}"
        chain = expected.pop(key, None)
        if chain is None:
            replay.note(thing, "is stored but has no history")
            continue
        if (row.version, row.head) != (chain.sequence, chain.head):
            replay.note(thing, "its version or chain head differs")
        for name, value in chain.row.items():
            stored = getattr(row, name)
            if stored != value:
                replay.note(thing, f"'{name}' is {stored!r}, its history says {value!r}")
    for key in expected:
        replay.note(f"{kind.name} {key}", "has a history but no row")


def _compare_tallies(replay: _Replay) -> None:
    expected = {
        key: {name: number for name, number in counts.items() if number}
        for key, counts in replay.tallies.items()
    }
    for row in _stored(TallyRow):
        key = (row.family, row.grouping, row.value, row.month)
        stored = {name: getattr(row, name) for name in _NUMBERS if getattr(row, name)}
        if stored != expected.pop(key, {}):
            replay.note(_roll_up(key), "does not equal its history")
    for key, counts in expected.items():
        if counts:
            replay.note(_roll_up(key), "is missing")


def _roll_up(key: Iterable[Any]) -> str:
    return f"roll-up {' / '.join(str(part) for part in key)}"


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
        for row in _stored(ReadingRow)
    )
    tags = {str(key[0]) for key in (stored - replay.readings) + (replay.readings - stored)}
    for tag in sorted(tags):
        replay.note(f"core {tag}", "its readings differ from its inspection events")


def _compare_photos(replay: _Replay) -> None:
    """Compare each photo with the hash it is kept under, and with the events that name it.

    Photos of a draft belong to no history yet.
    """
    stored: set[tuple[Any, ...]] = set()
    columns = (PhotoRow.id, PhotoRow.object_kind, PhotoRow.object_key, PhotoRow.sha256)
    places = database.execute(PhotoRow.select(*columns).order_by(PhotoRow.id)).fetchall()
    for number, *place in places:
        kind, key, named = place
        thing, photo = f"{kind} {key}", f"photo {str(named)[:12]}"
        # One after the other: all photos of a shop may be more than fits into memory.
        of_this = PhotoRow.select(PhotoRow.content).where(PhotoRow.id == number)
        ((content,),) = database.execute(of_this).fetchall()
        if not isinstance(content, bytes) or sha256(content).hexdigest() != named:
            replay.note(thing, f"{photo} is not the picture that was taken: its bytes differ")
        if kind != "draft" and tuple(place) not in replay.photos:
            replay.note(thing, f"{photo} is stored but no event names it")
        stored.add(tuple(place))
    for kind, key, named in sorted(replay.photos - stored, key=str):
        replay.note(f"{kind} {key}", f"photo {named[:12]} is missing")


def _digest(heads: Iterable[_Head], at: str, upto: int, before: str) -> str:
    """Return a seal's digest: over all chain heads, its own moment and place, and the last seal."""
    return seal_digest([*heads, ("seal", at, upto, before)])


def hold_writers() -> None:
    """Let nobody else write or seal until this transaction ends. Call inside a transaction.

    It waits for writers that already hold an event number, so that none slips in underneath, and
    for another who seals, so that each seal stands on the one before it. SQLite has one writer.
    """
    if not is_sqlite():
        database.execute_sql('LOCK TABLE "event" IN SHARE ROW EXCLUSIVE MODE')


def write_seal(at: datetime) -> None:
    """Seal all chain heads as they stand now. Call inside a transaction."""
    hold_writers()
    newest = EventRow.select(EventRow.id).order_by(EventRow.id.desc()).first()
    if newest is None:
        return
    last = SealRow.select(SealRow.digest).order_by(SealRow.upto.desc(), SealRow.id.desc()).first()
    heads = [
        (kind.name, getattr(row, kind.key), row.version, row.head)
        for kind in KINDS.values()
        for row in kind.table.select().iterator()
    ]
    moment = to_text(at)
    SealRow.insert(
        at=moment,
        upto=newest.id,
        objects=len(heads),
        digest=_digest(heads, moment, newest.id, last.digest if last else START),
    ).execute()


def sealed_on(at: datetime) -> bool:
    """Return whether a seal of the UTC day of `at` exists."""
    return bool(SealRow.select().where(SealRow.at.startswith(to_text(at)[:10])).exists())
