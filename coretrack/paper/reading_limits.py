"""How large a table may be, and the small rules both readers (CSV and workbook) share."""

from __future__ import annotations

from coretrack.errors import InvalidInput
from coretrack.figures.table import EMPTY, TEXT, Cell

MOST_ROWS = 200_000
MOST_COLUMNS = 400
MOST_CELLS = 3_000_000
LONGEST_TEXT = 131_072
"""Characters of one cell: what Python's csv module takes, and four times a workbook's cell."""

_MOST_NAMED = 5
_EDGES = "\ufeff\u200b\u200e\u200f\u2060"


def trimmed(text: str) -> str:
    """Return `text` without blanks, no-break spaces and invisible marks at both ends."""
    return text.strip().strip(_EDGES).strip() if text else ""


def text_cell(raw: str, row: int, column: int) -> Cell:
    """Return the text or empty cell for `raw`; the cell's value keeps it as it stood."""
    text = trimmed(raw)
    if not text:
        return Cell("", EMPTY, None, row, column)
    return Cell(text, TEXT, raw, row, column)


def empty_cell(row: int, column: int) -> Cell:
    """Return an empty cell at that place."""
    return Cell("", EMPTY, None, row, column)


def some(names: list[str]) -> str:
    """Return the first few of `names` for a message, and how many more there are."""
    shown = ", ".join(names[:_MOST_NAMED])
    more = len(names) - _MOST_NAMED
    return f"{shown} and {more} more" if more > 0 else shown


class Allowance:
    """Counts rows and cells while a file is read, and stops it at the limits."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._rows = 0
        self._cells = 0

    def take(self, cells: int) -> None:
        """Count one more row of `cells` cells; InvalidInput when the table is too long."""
        self._rows += 1
        self._cells += cells
        if self._rows > MOST_ROWS:
            raise InvalidInput(
                f"{self._name} has more than {MOST_ROWS:,} rows; split it into several files."
            )
        if self._cells > MOST_CELLS:
            raise InvalidInput(
                f"{self._name} has more than {MOST_CELLS:,} cells; split it into several files or "
                "take out the columns that are not needed."
            )

    def check_width(self, column: int) -> None:
        """InvalidInput when `column` lies beyond the widest table that is read."""
        if column > MOST_COLUMNS:
            raise InvalidInput(
                f"{self._name} has more than {MOST_COLUMNS} columns; take out the columns that are "
                "not needed."
            )
