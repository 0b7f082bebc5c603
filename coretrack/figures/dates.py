"""The one reader of dates and times from files, and the shop's days, weeks and months.

A column of dates is read in one way throughout (year first, day first or month first); nothing is
decided row by row and nothing by the computer's region. Storage is UTC; the shop's time zone
decides which day, week and month a moment belongs to. Weeks are ISO 8601 weeks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from coretrack.figures.numbers import clean_text, quoted

DAY_FIRST = "day first"
MONTH_FIRST = "month first"
YEAR_FIRST = "year first"
ORDERS = (DAY_FIRST, MONTH_FIRST, YEAR_FIRST)


class NotADate(ValueError):
    """The text is no date or time; `str()` says what would be right."""


class AmbiguousDates(NotADate):
    """The column can be read in two ways, or not in one; `str()` names the choice to make."""


class AmbiguousTime(NotADate):
    """The clock showed this time twice (clocks went back); `str()` names both."""


@dataclass(frozen=True)
class ColumnDates:
    """A column read in one `order`; `dates` has None for blank and for wrong cells.

    `problems` maps the index of each wrong cell to its message. `order` is "year first" when
    nothing in the column needed another.
    """

    order: str
    dates: tuple[date | None, ...]
    problems: dict[int, str]


@dataclass(frozen=True)
class ColumnTimes:
    """Like ColumnDates, with aware UTC times."""

    order: str
    times: tuple[datetime | None, ...]
    problems: dict[int, str]


_MONTH_NAMES = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_MONTHS = {
    spelling: number
    for number, name in enumerate(_MONTH_NAMES, start=1)
    for spelling in (name, name[:3], name[:4])
}
_YEAR_FIRST = re.compile(r"(?a)(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_COMPACT = re.compile(r"(?a)((?:19|20)\d\d)(\d\d)(\d\d)")
_NUMERIC = re.compile(r"(?a)(\d{1,2})\s?([-/.])\s?(\d{1,2})\s?\2\s?(\d{4})")
_SHORT_YEAR = re.compile(r"(?a)\d{1,2}([-/.])\d{1,2}\1\d{2}")
_NAMED_DAY_FIRST = re.compile(r"(?a)(\d{1,2})\.?[\s\-]*([A-Za-z]{3,9})\.?[\s\-,]*(\d{4})")
_NAMED_MONTH_FIRST = re.compile(r"(?a)([A-Za-z]{3,9})\.?\s*(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})")
_CLOCK = re.compile(
    r"(?a)(?P<date>.+?)(?:[T\s]+|,\s*)(?P<hour>\d{1,2}):(?P<minute>\d{2})"
    r"(?::(?P<second>\d{2})(?:[.,](?P<fraction>\d{1,9}))?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<offset>[Zz]|[+-]\d{2}:?\d{2})?"
)
_LONGEST = 60
_HOW = "write it like 2026-05-04"


def column_dates(cells: Sequence[object], *, order: str | None = None) -> ColumnDates:
    """Return the dates of a whole column, read in one order.

    Cells are texts, dates or datetimes from a spreadsheet, or None. Without `order` the column's
    own unambiguous members decide; dates with points are day first (common practice, no source).
    Raises AmbiguousDates when members contradict each other, when none decides, or when real date
    cells stand beside day/month texts (a spreadsheet may have swapped the former).
    """
    _check_order(order)
    texts = [_date_part(cell) for cell in cells]
    found = order or _column_order(cells, texts)
    dates: list[date | None] = []
    problems: dict[int, str] = {}
    for index, cell in enumerate(texts):
        try:
            dates.append(_one_date(cell, found))
        except NotADate as error:
            dates.append(None)
            problems[index] = str(error)
    return ColumnDates(found, tuple(dates), problems)


def column_times(
    cells: Sequence[object], zone: str | ZoneInfo, *, order: str | None = None
) -> ColumnTimes:
    """Return the moments of a whole column in UTC; times without an offset are the shop's clock.

    A date alone is refused per cell, and so is a time that the clock never showed. A time that it
    showed twice counts as the first, unless the cells before it show that the hour was over.
    Raises AmbiguousDates as `column_dates` does.
    """
    _check_order(order)
    found = order or _column_order(cells, [_date_part(cell) for cell in cells])
    times: list[datetime | None] = []
    problems: dict[int, str] = {}
    latest: datetime | None = None
    for index, cell in enumerate(cells):
        try:
            moment = _one_time(cell, found, zone, latest)
            latest = moment or latest
            times.append(moment)
        except NotADate as error:
            times.append(None)
            problems[index] = str(error)
    return ColumnTimes(found, tuple(times), problems)


def read_date(text: str, *, order: str | None = None) -> date:
    """Return one date. Raises NotADate, or AmbiguousDates when `order` would have to decide."""
    column = column_dates([text], order=order)
    found = column.dates[0]
    if found is None:
        raise NotADate(column.problems.get(0, f"nothing is written here; {_HOW}"))
    return found


def local_to_utc(local: datetime, zone: str | ZoneInfo, *, fold: int | None = None) -> datetime:
    """Return the moment at which the shop's clock showed `local` (naive), in UTC.

    Raises NotADate for a time that the clock skipped. Where it showed the time twice, `fold` 0 is
    the first and 1 the second; without it AmbiguousTime is raised.
    """
    place = shop_zone(zone)
    try:
        first, second = (local.replace(tzinfo=place, fold=each).astimezone(UTC) for each in (0, 1))
    except OverflowError as error:
        raise NotADate(f"{local} is outside the calendar") from error
    if first == second:
        return first
    if first.astimezone(place).replace(tzinfo=None) != local.replace(fold=0):
        shown = f"{local:%Y-%m-%d %H:%M}"
        raise NotADate(f"the clock in {place.key} never showed {shown}: it was put forward then")
    if fold is None:
        raise AmbiguousTime(
            f"the clock in {place.key} showed {local:%Y-%m-%d %H:%M} twice, at "
            f"{first:%H:%M} and at {second:%H:%M} UTC; write the offset, such as "
            f"{first.astimezone(place).isoformat(timespec='minutes')}"
        )
    return second if fold else first


def day_bounds(day: date, zone: str | ZoneInfo) -> tuple[datetime, datetime]:
    """Return when the shop's `day` begins and when the next one does, in UTC (23 to 25 h)."""
    if day.year == date.max.year:
        raise NotADate(f"{day} is outside the calendar")
    return _midnight(day, zone), _midnight(day + timedelta(days=1), zone)


def month_bounds(month: str, zone: str | ZoneInfo) -> tuple[datetime, datetime]:
    """Return when a month such as `2026-05` begins and when the next one does, in UTC."""
    found = re.fullmatch(r"(?a)(\d{4})-(\d{2})", month)
    try:
        first = date(int(found[1]), int(found[2]), 1) if found else None
    except ValueError:
        first = None
    if first is None or first.year == date.max.year:
        raise NotADate(f"{quoted(month)} is not a month; write it like 2026-05")
    following = (first + timedelta(days=31)).replace(day=1)
    return _midnight(first, zone), _midnight(following, zone)


def shop_day(moment: datetime, zone: str | ZoneInfo) -> date:
    """Return the day on the shop's calendar at `moment` (aware)."""
    return _local(moment, zone).date()


def month_of(moment: datetime, zone: str | ZoneInfo) -> str:
    """Return the shop's month at `moment` (aware), such as `2026-05`."""
    return f"{shop_day(moment, zone):%Y-%m}"


def iso_week(day: date) -> str:
    """Return the ISO 8601 week of `day`, such as `2026-W53`; its year is the week's own."""
    year, week, _ = day.isocalendar()
    return f"{year:04d}-W{week:02d}"


def week_days(day: date) -> tuple[date, date]:
    """Return Monday and Sunday of the ISO week of `day`."""
    monday = day - timedelta(days=day.weekday())
    return monday, monday + timedelta(days=6)


def shop_zone(zone: str | ZoneInfo) -> ZoneInfo:
    """Return the time zone named `zone`. Raises NotADate when there is none of this name."""
    if isinstance(zone, ZoneInfo):
        return zone
    try:
        return ZoneInfo(zone)
    except (ValueError, OSError, KeyError) as error:
        message = f"{quoted(zone)} is not a known time zone; write it like Europe/Berlin or UTC"
        raise NotADate(message) from error


def _check_order(order: str | None) -> None:
    if order is not None and order not in ORDERS:
        raise ValueError(f"order is one of {', '.join(ORDERS)}")


def _local(moment: datetime, zone: str | ZoneInfo) -> datetime:
    if moment.tzinfo is None:
        raise ValueError("a moment needs its offset; stored times are UTC")
    return moment.astimezone(shop_zone(zone))


def _midnight(day: date, zone: str | ZoneInfo) -> datetime:
    # Where the clock skips midnight, fold 0 gives the moment of the skip, which is when the day
    # begins; where it shows midnight twice, the first one.
    return datetime.combine(day, time(0), shop_zone(zone)).astimezone(UTC)


def _date_part(cell: object) -> date | str | None:
    """Return a date cell as a date, a text's date without its clock time, None when blank."""
    if cell is None:
        return None
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    if not isinstance(cell, str):
        return f"{cell}"
    plain = clean_text(cell)
    with_clock = _clock(plain)
    return (with_clock["date"].strip().rstrip(",") if with_clock else plain) or None


def _clock(plain: str) -> re.Match[str] | None:
    """Return date, time of day and offset of a text, None when it has no time of day."""
    return _CLOCK.fullmatch(plain) if len(plain) <= _LONGEST else None


def _numeric(text: date | str | None) -> tuple[int, str, int] | None:
    """Return first number, separator and second number of a text that is a date in some order."""
    found = _NUMERIC.fullmatch(text) if isinstance(text, str) else None
    if found is None or int(found[4]) == 0:
        return None
    first, second = sorted((int(found[1]), int(found[3])))
    possible = 1 <= first <= 12 and second <= 31
    return (int(found[1]), found[2], int(found[3])) if possible else None


def _evidence(texts: Iterable[date | str | None]) -> Iterator[tuple[str, str]]:
    """Yield each order that a text proves, with the text."""
    for text in texts:
        parts = _numeric(text)
        if parts is None or not isinstance(text, str):
            continue
        first, separator, second = parts
        if first > 12:
            yield DAY_FIRST, text
        elif second > 12:
            yield MONTH_FIRST, text
        elif separator == "." and first != second:
            yield DAY_FIRST, text


def _column_order(cells: Sequence[object], texts: Sequence[date | str | None]) -> str:
    """Return the order that fits the whole column, or raise AmbiguousDates."""
    open_text = next(
        (text for text in texts if (parts := _numeric(text)) and parts[0] != parts[2]), None
    )
    if open_text is None:
        return YEAR_FIRST
    proven: dict[str, str] = {}
    for order, text in _evidence(texts):
        proven.setdefault(order, text)
    if len(proven) == 2:
        raise AmbiguousDates(
            f"{quoted(proven[DAY_FIRST])} has the day first and {quoted(proven[MONTH_FIRST])} the "
            "month first; make the column the same throughout, best like 2026-05-04"
        )
    if any(isinstance(cell, date) for cell in cells):
        raise AmbiguousDates(
            f"some cells of the column are dates and others, such as {quoted(str(open_text))}, are "
            "text; the spreadsheet may have swapped day and month in the former. Say whether the "
            "day or the month comes first, once the date cells are checked"
        )
    if not proven:
        day_first, month_first = (_one_date(open_text, order) for order in (DAY_FIRST, MONTH_FIRST))
        raise AmbiguousDates(
            f"{quoted(str(open_text))} may be {day_first} (day first) or {month_first} (month "
            "first) and no date of the column tells; say which comes first"
        )
    return next(iter(proven))


def _one_date(text: date | str | None, order: str) -> date | None:
    """Return one cell's date in the column's order; None when it is blank."""
    if text is None or isinstance(text, date):
        return text
    if found := _YEAR_FIRST.fullmatch(text):
        return _checked(text, int(found[1]), int(found[3]), int(found[4]))
    if found := _COMPACT.fullmatch(text):
        return _checked(text, int(found[1]), int(found[2]), int(found[3]))
    if found := _NAMED_DAY_FIRST.fullmatch(text):
        return _checked(text, int(found[3]), _month(text, found[2]), int(found[1]))
    if found := _NAMED_MONTH_FIRST.fullmatch(text):
        return _checked(text, int(found[3]), _month(text, found[1]), int(found[2]))
    if found := _NUMERIC.fullmatch(text):
        first, second, year = int(found[1]), int(found[3]), int(found[4])
        if order == YEAR_FIRST and first != second:
            raise NotADate(f"{quoted(text)} does not have the year first; {_HOW}")
        month, day = (first, second) if order == MONTH_FIRST else (second, first)
        return _checked(text, year, month, day, order)
    if _SHORT_YEAR.fullmatch(text):
        raise NotADate(f"{quoted(text)} has a year of two digits; {_HOW}")
    raise NotADate(f"{quoted(text)} is not a date; {_HOW}")


def _month(text: str, name: str) -> int:
    month = _MONTHS.get(name.lower())
    if month is None:
        raise NotADate(f"{quoted(text)} has no month that is known; {_HOW}")
    return month


def _checked(text: str, year: int, month: int, day: int, order: str = "") -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        how = f" with the {order}" if order in (DAY_FIRST, MONTH_FIRST) else ""
        raise NotADate(f"{quoted(text)} is no day of the calendar{how}; {_HOW}") from error


def _one_time(
    cell: object, order: str, zone: str | ZoneInfo, latest: datetime | None
) -> datetime | None:
    """Return one cell's moment in UTC; None when it is blank."""
    if cell is None or (isinstance(cell, str) and not clean_text(cell)):
        return None
    if isinstance(cell, datetime):
        return cell.astimezone(UTC) if cell.tzinfo else _settled(cell, zone, latest)
    found = _clock(clean_text(cell)) if isinstance(cell, str) else None
    if found is None:
        raise NotADate(f"{quoted(f'{cell}')} has no time of day; write it like 2026-05-04 09:13")
    day = _one_date(found["date"].strip().rstrip(","), order)
    local = datetime.combine(day, _clock_time(found)) if day else None
    if local is None:
        return None
    if found["offset"] is None:
        return _settled(local, zone, latest)
    offset = found["offset"].upper().replace("Z", "+0000").replace(":", "")
    shift = timedelta(hours=int(offset[1:3]), minutes=int(offset[3:]))
    if shift >= timedelta(hours=24) or int(offset[3:]) > 59:
        raise NotADate(f"{quoted(found.string)} has an offset that does not exist")
    try:
        moment = local + shift if offset[0] == "-" else local - shift
    except OverflowError as error:
        raise NotADate(f"{quoted(found.string)} is outside the calendar") from error
    return moment.replace(tzinfo=UTC)


def _clock_time(found: re.Match[str]) -> time:
    hour, half = int(found["hour"]), (found["half"] or "").lower()[:1]
    if half and not 1 <= hour <= 12:
        raise NotADate(f"{quoted(found.string)} has an hour that does not exist")
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    micro = int((found["fraction"] or "0").ljust(6, "0")[:6])
    try:
        return time(hour, int(found["minute"]), int(found["second"] or 0), micro)
    except ValueError as error:
        message = f"{quoted(found.string)} has a time of day that does not exist"
        raise NotADate(message) from error


def _settled(local: datetime, zone: str | ZoneInfo, latest: datetime | None) -> datetime:
    """Return the moment of a clock time; one shown twice is the first, after `latest` the second.

    Rows of a gauge's export stand in the order of time, so the hour's second pass shows itself
    where a row goes back against the one before (`latest`).
    """
    try:
        return local_to_utc(local, zone)
    except AmbiguousTime:
        first, second = (local_to_utc(local, zone, fold=each) for each in (0, 1))
        hour_over = latest is not None and first < latest <= second + timedelta(hours=1)
        return second if hour_over else first
