"""The rejects file of an import: the rows that were not stored, as they stood, and why.

Corrected, it can be imported as it is: the four columns added at its end are passed over by name
(`REJECT_HEADINGS`), and each rejected row stands in it once, however much is wrong with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from decimal import Decimal

from coretrack.figures.columns import REJECT_HEADINGS
from coretrack.figures.dates import AmbiguousDates, NotADate, read_date
from coretrack.figures.table import (
    COVERED,
    DATE,
    ERROR,
    NO_VALUE,
    NUMBER,
    PERCENT,
    TEXT,
    Cell,
    Row,
    Table,
)
from coretrack.paper.cells import DATE_FORMAT, SheetError, Shown, Value, WorkbookWriter, to_csv

CSV = "csv"
XLSX = "xlsx"
_OWN_WIDTHS = (10, 20, 24, 60)
_COLUMN_WIDTH = 16


@dataclass(frozen=True)
class Reject:
    """One thing wrong: the row's number in the file, the column, the value found, and why."""

    row: int
    column: str
    value: str
    why: str


def rejects_file(rejects: Sequence[Reject], original: Table, kind: str = CSV) -> bytes:
    """Return the rejects as CSV or XLSX (`kind`), in the order of the file.

    XLSX gives every cell back as it was, so that one the spreadsheet damaged is refused again until
    it is corrected; take it for a workbook's rejects. CSV would make clean texts of such cells, so
    there they are left empty, and so are dates in a column that is not one of dates. A row with
    more cells than headings is left empty too: nobody can say which cell belongs where.
    """
    if kind not in {CSV, XLSX}:
        raise ValueError(f"a rejects file is 'csv' or 'xlsx', not {kind!r}")
    places = [
        place
        for place, heading in enumerate(original.headings)
        if heading and heading.casefold() not in REJECT_HEADINGS
    ]
    headings = [*(original.headings[place] for place in places), *REJECT_HEADINGS]
    dated = {place for place in places if _is_date_column(original, place)}
    rows = list(_rows(rejects, original, places, dated if kind == CSV else None))
    if kind == CSV:
        return to_csv(headings, rows)
    writer = WorkbookWriter()
    widths = [*[_COLUMN_WIDTH] * len(places), *_OWN_WIDTHS]
    sheet = writer.add_sheet("Rejects", widths=widths)
    sheet.write_heading(headings)
    for row in rows:
        sheet.write_row(row)
    return writer.finish()


def _is_date_column(table: Table, place: int) -> bool:
    """Whether every text of the column is a date too; then its date cells are meant as dates."""
    for row in table.rows:
        if row.problem is None and row.cells[place].kind == TEXT:
            try:
                read_date(row.cells[place].text)
            except AmbiguousDates:
                continue
            except NotADate:
                return False
    return True


def _rows(
    rejects: Sequence[Reject],
    original: Table,
    places: Sequence[int],
    csv_dates: set[int] | None,
) -> Iterator[list[Value | None]]:
    by_row: dict[int, list[Reject]] = {}
    for reject in rejects:
        by_row.setdefault(reject.row, []).append(reject)
    stored = {row.number: row for row in original.rows}
    for number in sorted(by_row):
        found = by_row[number]
        row = stored.get(number)
        if row is None or row.problem:
            own: list[Value | None] = [None] * len(places)
        elif csv_dates is None:
            own = [_as_it_was(row.cells[place]) for place in places]
        else:
            own = [_as_text(row.cells[place], place in csv_dates) for place in places]
        yield [
            *own,
            number,
            _joined(reject.column for reject in found),
            _joined(_value(reject, row) for reject in found),
            _joined(reject.why for reject in found),
        ]


def _value(reject: Reject, row: Row | None) -> str:
    """A row that cannot be split into its columns is shown whole."""
    if reject.value or row is None or not row.problem:
        return reject.value
    return " | ".join(cell.text for cell in row.cells)


def _joined(parts: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(part for part in parts if part))


def _as_text(cell: Cell, dates_allowed: bool) -> Value | None:
    """CSV has only texts: whatever would turn from damaged into clean is left out."""
    if cell.problem or (cell.kind == DATE and not dates_allowed):
        return None
    if cell.kind == NUMBER:
        return None if cell.shown_as else _number_as_seen(cell)
    return cell.text or None


def _number_as_seen(cell: Cell) -> Value | None:
    """A number shown with leading zeros (00420) is a code; the zeros are kept as text."""
    if isinstance(cell.value, Decimal) and cell.text == format(cell.value, "f"):
        return cell.value
    return cell.text


def _as_it_was(cell: Cell) -> Value | None:
    if cell.kind == TEXT:
        return cell.text
    if cell.kind == ERROR:
        return SheetError(cell.text)
    if cell.kind in {NO_VALUE, COVERED}:
        # Left empty it would come back as a cell where nothing was ever meant to stand.
        return SheetError("#N/A")
    if cell.kind in {NUMBER, DATE} and cell.problem:
        number = float(cell.text)
        return Shown(number, DATE_FORMAT) if cell.kind == DATE else number
    if isinstance(cell.value, timedelta):
        return Shown(cell.value / timedelta(days=1), "[h]:mm:ss")
    if isinstance(cell.value, Decimal):
        if cell.kind == PERCENT:
            return Shown(cell.value, "0.00%")
        dress = {"fraction": "# ?/?", "scientific": "0.00E+00"}.get(cell.shown_as)
        if (
            dress is None
            and len(cell.text) > 1
            and cell.text.startswith("0")
            and cell.text.isdigit()
        ):
            dress = "0" * len(cell.text)
        return Shown(cell.value, dress) if dress else cell.value
    if isinstance(cell.value, bool | date | time):
        return cell.value
    return None
