"""What a purchased lot was sorted into so far: rows of pieces, in the order they were begun."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures.part_numbers import loose_serial, match_key
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Lot

MOST_A_ROW = 2000
"""Pieces in one row; more is a slip of the finger (as for a row of a manifest)."""


@dataclass(frozen=True)
class SortedRow:
    """Pieces of one number. `number` is empty for unknown cores, `number_text` then what was read
    (empty: not readable). A piece with a serial is a row of its own. `mass_g` is the mass of one
    piece, 0 when it was not weighed.
    """

    number: str = ""
    number_text: str = ""
    serial: str = ""
    count: int = 0
    mass_g: int = 0

    @property
    def id(self) -> str:
        """What tells the row from the others of its lot, for forms."""
        known = self.number or ("?" + match_key(self.number_text) if self.number_text else "")
        return json.dumps([known, self.serial], ensure_ascii=False)

    @property
    def pile(self) -> str:
        """What the row has in common with rows of the same number."""
        return replace(self, serial="").id

    @property
    def name(self) -> str:
        """The row in words."""
        what = self.number or (f"unknown core {self.number_text}" if self.number_text else "")
        what = what or "not readable"
        return f"{what}, serial {self.serial}" if self.serial else what


Rows = tuple[SortedRow, ...]


def rows_of(lot: Lot) -> Rows:
    """Return the rows of a lot."""
    return tuple(SortedRow(**row) for row in lot.sorting)


def change_between(before: Rows, after: Rows) -> dict[str, Any]:
    """Return what turns the rows `before` into those `after`, as the event "sorted" tells it.

    It is small where one row changes, comes or goes: what stands before and behind is left out.
    """
    most = min(len(before), len(after))
    start = next((n for n in range(most) if before[n] != after[n]), most)
    most -= start
    end = next((n for n in range(most) if before[-1 - n] != after[-1 - n]), most)
    return {
        "at": start,
        "out": [asdict(row) for row in before[start : len(before) - end]],
        "into": [asdict(row) for row in after[start : len(after) - end]],
    }


def pieces_in(rows: Sequence[SortedRow]) -> int:
    """Return how many pieces are sorted."""
    return sum(row.count for row in rows)


def row_with(rows: Sequence[SortedRow], row_id: str) -> SortedRow | None:
    """Return the row with this id, or None."""
    return next((row for row in rows if row.id == row_id), None)


def moved(rows: Sequence[SortedRow], row: SortedRow, pieces: int) -> Rows:
    """Return the rows with `pieces` more (or fewer) in `row`, which is made when it is missing.

    A new row stands behind the others of its number, so that a pile's labels come together; an
    empty one goes. InvalidInput when the row would hold fewer than none or too many.
    """
    known = row_with(rows, row.id)
    count = (known.count if known else 0) + pieces
    if count < 0:
        raise InvalidInput(
            f"{row.name}: there are fewer pieces than that by now; count the row and type its "
            "number.",
            {"count": "count the row again"},
        )
    if count > MOST_A_ROW:
        raise InvalidInput(
            f"{row.name}: {counted(count, 'piece')} in one row; {MOST_A_ROW:,} are the most.",
            {"count": f"{MOST_A_ROW:,} at most"},
        )
    if row.serial and count > 1:
        raise InvalidInput(
            f"A piece with a serial is one piece; {row.serial} is sorted already.",
            {"serial": "sorted already"},
        )
    if known is not None:
        changed = [replace(each, count=count) if each is known else each for each in rows]
        return tuple(each for each in changed if each.count)
    if not count:
        return tuple(rows)
    places = [place for place, each in enumerate(rows, 1) if each.pile == row.pile]
    place = places[-1] if places else len(rows)
    return (*rows[:place], replace(row, count=count), *rows[place:])


def row_with_serial(rows: Sequence[SortedRow], serial: str) -> SortedRow | None:
    """Return the row of a serial; blanks and dashes tell no two bodies apart."""
    wanted = loose_serial(serial)
    return next((row for row in rows if row.serial and loose_serial(row.serial) == wanted), None)
