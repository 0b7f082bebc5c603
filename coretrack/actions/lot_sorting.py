"""A purchased lot is sorted out: every piece scanned or typed adds one to the row of its number.

All families are welcome, unknown pieces too; nothing is a core yet. What each person did last can
be taken back, also while others sort the same lot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.acting import act_once
from coretrack.actions.arrivals import ArrivalDesk
from coretrack.actions.bought_pieces import looks_like_all
from coretrack.actions.lot_beginning import hand_key, lot_being_sorted
from coretrack.actions.lot_fields import Fields, whole_count
from coretrack.actions.lot_rows import (
    MOST_A_ROW,
    Rows,
    SortedRow,
    change_between,
    moved,
    row_with,
    row_with_serial,
    rows_of,
)
from coretrack.actions.lot_scans import LotDesk, reply_to
from coretrack.actions.typed_fields import clean_code, grams, kilograms
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.part_numbers import match_key
from coretrack.figures.plain_words import counted
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.scans import Meaning
from coretrack.records import queries
from coretrack.records.writer import Writer

MOST_UNDONE = 50
"""Steps of one person that can be taken back."""


@dataclass(frozen=True)
class RowChange:
    """What is typed in a row, each as typed; what is None stays.

    `count` is how many pieces it has, `mass` the mass of one piece in kilograms, `serial` that of
    one piece, which becomes a row of its own.
    """

    count: str | None = None
    mass: str | None = None
    serial: str | None = None


def take_scan(
    writer: Writer, code: str, meaning: Meaning, *, text: str, spot: Spot, now: datetime
) -> ScanReply:
    """Act on a scan made at a lot's page, inside the caller's transaction; `text` as it came.

    A known number, or an unknown text that has a row already, adds one piece. One to three digits
    set the count of the row in hand. Everything else asks, or says why nothing was counted.
    """
    del spot
    try:
        lot_being_sorted(writer, code)
        return reply_to(text, meaning, _Sorter(writer, code, now))
    except (NotAllowed, InvalidInput) as error:
        return ScanReply("stop", "NOT COUNTED", error.message)


def change_row(
    code: str, row_id: str, change: RowChange, *, by: str, station: str, now: datetime, key: str
) -> None:
    """Change a row's count, mass or serial by hand; InvalidInput names each wrong field."""

    def act(writer: Writer) -> dict[str, Any]:
        lot_being_sorted(writer, code)
        _Sorter(writer, code, now).change_row(row_id, change)
        return {}

    act_once("lot row", key, act, by=by, station=station, now=now)


def add_unknown(code: str, text: str, *, by: str, station: str, now: datetime, key: str) -> None:
    """Add one piece of no known number: `text` as read off the body, empty when not readable."""

    def act(writer: Writer) -> dict[str, Any]:
        lot_being_sorted(writer, code)
        _Sorter(writer, code, now).add(SortedRow(number_text=clean_code(text, "number")))
        return {}

    act_once("lot unknown", key, act, by=by, station=station, now=now)


def undo(code: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Take back what this person sorted last and say it; NotAllowed when there is nothing."""

    def act(writer: Writer) -> dict[str, Any]:
        lot_being_sorted(writer, code)
        return {"said": _Sorter(writer, code, now).undo()}

    return str(act_once("lot undo", key, act, by=by, station=station, now=now)["said"])


@dataclass(frozen=True)
class Hand:
    """What a person did last: the row in hand, and the steps that can be taken back."""

    row_id: str = ""
    steps: tuple[tuple[tuple[SortedRow, int], ...], ...] = ()


def hand_of(code: str, person: str) -> Hand:
    """Return what a person has in hand of a lot. Call with a connection."""
    body = drafts.read_draft(hand_key(code, person))
    if body is None:
        return Hand()
    steps = tuple(
        tuple((SortedRow(**row), pieces) for row, pieces in step) for step in body["steps"]
    )
    return Hand(body["row"], steps)


class _Sorter(LotDesk):
    """One person at one lot, inside a transaction."""

    def __init__(self, writer: Writer, code: str, now: datetime) -> None:
        self._writer, self._code, self._now = writer, code, now
        self._hand = hand_of(code, writer.by)

    @property
    def code(self) -> str:
        """The lot's code."""
        return self._code

    @property
    def rows(self) -> Rows:
        """The lot's rows as this transaction sees them."""
        return rows_of(self._writer.get("lot", self._code))

    @property
    def in_hand(self) -> SortedRow | None:
        """The row this person touched last, if it is still there."""
        return row_with(self.rows, self._hand.row_id)

    def add(self, row: SortedRow) -> SortedRow:
        """Add one piece to a row and return the row."""
        if row.serial:
            self._check_serial(row.serial)
        return self._step([(row, 1)], f"one piece: {row.name}")

    def set_count(self, row: SortedRow, count: int) -> SortedRow:
        """Let a row have so many pieces and return it (with none left it is gone)."""
        if count == row.count:
            self._keep(self._hand.steps, row.id)
            return row
        said = f"{row.name}: {counted(row.count, 'piece')} counted as {count}"
        return self._step([(row, count - row.count)], said)

    def undo(self) -> str:
        """Take this person's last step back and say what it was."""
        if not self._hand.steps:
            raise NotAllowed("There is nothing of yours to take back in this lot.")
        *steps, last = self._hand.steps
        taken_back = [(row, -pieces) for row, pieces in reversed(last)]
        said = "; ".join(
            f"{counted(abs(pieces), 'piece')} of {row.name} {'out' if pieces > 0 else 'back'}"
            for row, pieces in last
        )
        self._move(taken_back, f"taken back: {said}")
        self._keep(steps, last[0][0].id)
        return said

    def change_row(self, row_id: str, change: RowChange) -> None:
        """Apply what was typed in a row."""
        row = row_with(self.rows, row_id)
        if row is None:
            raise InvalidInput(
                "This row is gone meanwhile; scan the piece again.", {"count": "the row is gone"}
            )
        self._change(row, change)

    def _change(self, row: SortedRow, change: RowChange) -> None:
        fields = Fields()
        count = fields.read("count", lambda: _count(change.count, row), row.count)
        mass_g = fields.read("mass", lambda: _mass(change.mass, row), row.mass_g)
        serial = fields.read("serial", lambda: self._serial(change.serial, row), "")
        if not fields.problems:
            fields.read("mass", lambda: self._check_mass(row, mass_g, count), None)
        fields.settle()
        if mass_g != row.mass_g:
            self._set_mass(row, mass_g)
        left = self.set_count(replace(row, mass_g=mass_g), count)
        if serial:
            own = replace(left, serial=serial)
            self._step([(left, -1), (own, 1)], f"serial {serial} of {left.name}")

    def _serial(self, text: str | None, row: SortedRow) -> str:
        serial = clean_code(text or "", "serial")
        if not serial or serial == row.serial:
            return ""
        if row.serial:
            raise InvalidInput(
                f"This piece has serial {row.serial}; set its count to 0 and scan it again to "
                "give it another."
            )
        self._check_serial(serial)
        return serial

    def _check_serial(self, serial: str) -> None:
        """Raise NotAllowed when a piece with this serial is sorted, or a core in the house."""
        sorted_row = row_with_serial(self.rows, serial)
        if sorted_row is not None:
            raise NotAllowed(
                f"Serial {serial} is sorted in this lot already ({sorted_row.name}); one body is "
                "one piece.",
                {"serial": "sorted already"},
            )
        ArrivalDesk(self._writer, self._now).check_serial(serial)

    def _check_mass(self, row: SortedRow, mass_g: int, count: int) -> None:
        usual = self._usual_mass(row)
        if usual and mass_g and looks_like_all(mass_g, count, usual):
            raise InvalidInput(
                f"{kilograms(mass_g)} looks like the mass of all {count} pieces (one weighs about "
                f"{kilograms(usual)}); type the mass of one piece."
            )

    def _usual_mass(self, row: SortedRow) -> int:
        key = match_key(row.number)
        number = queries.numbers([key]).get(key) if row.number else None
        return self._writer.get("family", number.family).mass_g if number else 0

    def _set_mass(self, row: SortedRow, mass_g: int) -> None:
        rows = self.rows
        after = tuple(replace(each, mass_g=mass_g) if each.id == row.id else each for each in rows)
        told = kilograms(mass_g) if mass_g else "not weighed"
        self._store([change_between(rows, after)], f"mass of one piece, {row.name}: {told}")

    def _step(self, changes: Sequence[tuple[SortedRow, int]], said: str) -> SortedRow:
        """Do one step that can be taken back; return its last row as it stands then."""
        done = self._move(changes, said)
        last = done[-1][0]
        self._keep((*self._hand.steps, tuple(done)), last.id)
        return row_with(self.rows, last.id) or replace(last, count=0)

    def _move(
        self, changes: Sequence[tuple[SortedRow, int]], said: str
    ) -> list[tuple[SortedRow, int]]:
        """Move pieces in or out of rows; return the moves with the rows as they stood before."""
        rows, done, told = self.rows, [], []
        for row, pieces in changes:
            known = row_with(rows, row.id) or row
            after = moved(rows, known, pieces)
            done.append((known, pieces))
            told.append(change_between(rows, after))
            rows = after
        self._store(told, said)
        return done

    def _store(self, changes: Sequence[Mapping[str, Any]], said: str) -> None:
        self._writer.event("lot", self._code, "sorted", {"changes": list(changes)}, why=said)

    def _keep(self, steps: Sequence[tuple[tuple[SortedRow, int], ...]], row_id: str) -> None:
        self._hand = Hand(row_id, tuple(steps)[-MOST_UNDONE:])
        body = {
            "row": row_id,
            "steps": [[[asdict(row), n] for row, n in step] for step in self._hand.steps],
        }
        drafts.keep_draft(self._writer, hand_key(self._code, self._writer.by), body)


def _count(text: str | None, row: SortedRow) -> int:
    if text is None or not text.strip():
        return row.count
    return whole_count(text, "number of pieces", MOST_A_ROW)


def _mass(text: str | None, row: SortedRow) -> int:
    if text is None:
        return row.mass_g
    return grams(text) if text.strip() else 0
