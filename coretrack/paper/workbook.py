"""Workbooks that leave: real numbers, real dates, and formulas where an accountant looks for them.

Every sheet is one plain table from its first row on, so that it can be sorted, filtered and read
back; what has to be said about it stands on the sheet "Notes". A figure that is not known is an
empty cell with the reason in the column "why".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from decimal import Decimal

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import STEP_NAMES, CostParts, CostRow
from coretrack.figures.intervals import Interval
from coretrack.figures.money import Money, to_decimal
from coretrack.figures.summary import ShopSummary
from coretrack.figures.table import column_letters
from coretrack.figures.yields import YieldRow
from coretrack.paper.cells import Formula, Shown, Value, WorkbookWriter

MONEY = "#,##0.00"
WHOLE = "#,##0"
RATE = "0.0%"
WEEK_NOTE = (
    "Weeks are ISO 8601 weeks: Monday to Sunday, and the first week of a year is the one with "
    "4 January in it."
)
UNKNOWN_NOTE = "An empty figure is not known (not zero); the column 'why' says what lacks."
_TOTAL = "Total of these rows"

Cells = Sequence[Value | None]


@dataclass(frozen=True)
class Sheet:
    """One sheet: headings, rows, and by column the widths (characters) and number formats.

    `note` is put on the workbook's sheet "Notes".
    """

    title: str
    headings: tuple[str, ...]
    rows: Sequence[Cells]
    widths: tuple[float | None, ...] = ()
    note: str = ""
    formats: tuple[str | None, ...] = ()


def workbook(sheets: Sequence[Sheet], notes: Sequence[tuple[str, str]] = ()) -> bytes:
    """Return the .xlsx file with `sheets` and, where anything is to be said, a sheet of notes.

    `notes` are further (about, text) pairs. A heading that speaks of weeks brings the note that
    they are ISO weeks by itself. ValueError without sheets or when a row is too long.
    """
    if not sheets:
        raise ValueError("a workbook needs at least one sheet")
    writer = WorkbookWriter()
    said = list(notes)
    for sheet in sheets:
        widths = sheet.widths or tuple(_width(heading) for heading in sheet.headings)
        page = writer.add_sheet(sheet.title, widths=widths)
        page.write_heading(sheet.headings)
        for row in sheet.rows:
            if len(row) > len(sheet.headings):
                raise ValueError(
                    f"sheet '{sheet.title}': {len(row)} cells under {len(sheet.headings)} headings"
                )
            page.write_row(row, sheet.formats)
        if sheet.note:
            said.append((sheet.title, sheet.note))
        if any("week" in heading.casefold() for heading in sheet.headings):
            said.append((sheet.title, WEEK_NOTE))
    if said:
        page = writer.add_sheet("Notes", widths=(24, 100))
        page.write_heading(("about", "note"))
        for pair in said:
            page.write_row(pair)
    return writer.finish()


def money_cell(amount: Money | None) -> Decimal | None:
    """Return money for a cell: exact, shown with two places by the format `MONEY`."""
    return None if amount is None else to_decimal(amount)


def rate_cell(rate: float | None) -> Decimal | None:
    """Return a rate 0..1 for a cell, `None` while it is unknown."""
    return None if rate is None else Decimal(repr(float(rate)))


def summary_workbook(summary: ShopSummary) -> bytes:
    """Return the shop's figures as a workbook, one sheet a question.

    Cost per good body, good bodies, yields and totals are formulas over the cells beside them; the
    value coretrack worked out stands in them until a spreadsheet program recalculates.
    """
    money = f"Money is in {summary.currency}, exact to a ten-thousandth, shown with two places."
    sheets = [
        _summary_sheet(summary),
        _yield_sheet(summary.yields),
        _cost_sheet("Cost", "family", summary.costs),
        _cost_sheet("By source", "source", summary.by_source),
        _cost_sheet("By lot", "lot", summary.by_lot),
        _charge_sheet(summary.charges),
        _attention_sheet(summary),
    ]
    return workbook(sheets, [("all sheets", money), ("all sheets", UNKNOWN_NOTE)])


def _width(heading: str) -> float:
    return float(min(max(len(heading) + 2, 12), 40))


def _summary_sheet(summary: ShopSummary) -> Sheet:
    made = summary.made_at
    zone = made.strftime("%z") or "the shop's clock"
    counted: tuple[tuple[str, int], ...] = (
        ("cores received", summary.received),
        ("refused at the dock", summary.refused),
        ("not identified yet", summary.unknown),
        ("kept", summary.kept),
        ("in rework", summary.in_rework),
        ("scrapped", summary.scrapped),
        ("undecided", summary.undecided),
        ("waiting for inspection", summary.waiting),
        ("open core lines", summary.open_lines),
    )
    owed = (
        ("credits paid", summary.credits_paid),
        ("core charges on open lines", summary.open_line_money),
    )
    rows: list[Cells] = [
        ("shop", summary.shop_name, ""),
        ("made at", made.replace(tzinfo=None, second=0, microsecond=0), zone),
        *((name, Shown(number, WHOLE), "pieces") for name, number in counted),
        *((name, Shown(money_cell(amount), MONEY), summary.currency) for name, amount in owed),
    ]
    return Sheet("Summary", ("figure", "value", "unit"), rows, (28, 24, 16))


class _Lines:
    """Builds the rows of a sheet column by column and knows every column's letters."""

    def __init__(self, columns: Sequence[tuple[str, str | None]]) -> None:
        self.headings = tuple(heading for heading, _ in columns)
        self.formats = tuple(number_format for _, number_format in columns)
        self.rows: list[Cells] = []

    def place(self, heading: str) -> str:
        """Return the cell under `heading` in the row that is written next."""
        return f"{column_letters(self.headings.index(heading) + 1)}{len(self.rows) + 2}"

    def formula(self, value: Decimal | int | None, pattern: str, **headings: str) -> Formula | None:
        """Return the formula `pattern` over cells of this row, None while its value is unknown."""
        if value is None:
            return None
        cells = {name: self.place(heading) for name, heading in headings.items()}
        return Formula(pattern.format(**cells), value)

    def total(self, heading: str, values: Sequence[Decimal | int]) -> Formula:
        """Return the sum of the column so far."""
        letters = column_letters(self.headings.index(heading) + 1)
        return Formula(f"=SUM({letters}2:{letters}{len(self.rows) + 1})", sum(values))

    def sheet(self, title: str, note: str) -> Sheet:
        """Return the finished sheet."""
        return Sheet(title, self.headings, self.rows, note=note, formats=self.formats)


def _said(*parts: str | None) -> str | None:
    return "; ".join(dict.fromkeys(part for part in parts if part)) or None


def _level(intervals: Sequence[Interval]) -> str:
    levels = {interval.level for interval in intervals}
    return f" with {levels.pop():.0%} confidence" if len(levels) == 1 else ""


def _yield_sheet(rows: Sequence[YieldRow]) -> Sheet:
    whole = ("received", "decided", "open", "kept first pass", "kept after rework", "good")
    more = ("scrapped", "sent to rework", "refused", "source lost")
    rates = ("first-pass yield", "yield", "low", "high")
    lines = _Lines(
        [
            ("family", None),
            *((heading, WHOLE) for heading in (*whole, *more)),
            *((heading, RATE) for heading in rates),
            *((heading, None) for heading in ("method", "warnings", "why")),
        ]
    )
    for row in rows:
        counts = row.counts
        lines.rows.append(
            (
                row.group,
                counts.received,
                counts.decided,
                lines.formula(counts.open, "={a}-{b}", a="received", b="decided"),
                counts.kept_first_pass,
                counts.kept_after_rework,
                lines.formula(counts.good, "={a}+{b}", a="kept first pass", b="kept after rework"),
                counts.scrapped,
                counts.sent_to_rework,
                counts.refused,
                counts.source_lost,
                lines.formula(
                    rate_cell(row.first_pass_yield), "={a}/{b}", a="kept first pass", b="decided"
                ),
                lines.formula(rate_cell(row.body_yield), "={a}/{b}", a="good", b="decided"),
                rate_cell(row.interval.low),
                rate_cell(row.interval.high),
                row.interval.method,
                _said(*row.warnings),
                _said(row.why, row.interval.why),
            )
        )
    level = _level([row.interval for row in rows])
    note = f"yield = good bodies / decided cores; low and high bound it{level}."
    return lines.sheet("Yield by family", note)


_PARTS = tuple(item.name for item in fields(CostParts) if item.name != "recovery")
_RECOVERY = "scrap recovery"
_PER_BODY = "cost per good body"


def _cost_sheet(title: str, first: str, rows: Sequence[CostRow]) -> Sheet:
    parts = tuple((STEP_NAMES.get(name, name), name) for name in _PARTS)
    money = [*(heading for heading, _ in parts), "spent", _RECOVERY, "net cost"]
    figures = ["cost per core", _PER_BODY, "low", "high"]
    scrap = ["paid for scrap", "normal scrap", "abnormal scrap"]
    lines = _Lines(
        [
            (first, None),
            ("decided", WHOLE),
            ("good", WHOLE),
            *((heading, MONEY) for heading in (*money, *figures, *scrap)),
            *((heading, None) for heading in ("method", "warnings", "why")),
        ]
    )
    span = {"a": parts[0][0], "b": parts[-1][0]}
    for row in rows:
        spent = {heading: to_decimal(getattr(row.parts, name)) for heading, name in parts}
        lines.rows.append(
            (
                row.group,
                row.yields.counts.decided,
                row.yields.counts.good,
                *spent.values(),
                lines.formula(to_decimal(row.parts.spent), "=SUM({a}:{b})", **span),
                to_decimal(row.parts.recovery),
                lines.formula(to_decimal(row.parts.net), "={a}-{b}", a="spent", b=_RECOVERY),
                *_per_core_and_body(
                    lines, money_cell(row.cost_per_core), money_cell(row.cost_per_good_body)
                ),
                money_cell(row.cost_low),
                money_cell(row.cost_high),
                money_cell(row.scrap_share),
                money_cell(row.normal_scrap),
                money_cell(row.abnormal_scrap),
                row.method,
                _said(*row.warnings),
                _said(row.why, row.interval.why),
            )
        )
    if rows:
        lines.rows.append(_cost_total(lines, rows, parts))
    note = (
        f"{_PER_BODY} = net cost / good; net cost is everything spent on decided cores less scrap "
        f"recovery. Low and high bound it{_level([row.interval for row in rows])}."
    )
    return lines.sheet(title, note)


def _per_core_and_body(
    lines: _Lines, per_core: Decimal | None, per_body: Decimal | None
) -> tuple[Formula | None, Formula | None]:
    return (
        lines.formula(per_core, "={a}/{b}", a="net cost", b="decided"),
        lines.formula(per_body, "={a}/{b}", a="net cost", b="good"),
    )


def _cost_total(lines: _Lines, rows: Sequence[CostRow], parts: Sequence[tuple[str, str]]) -> Cells:
    def total(heading: str, value: Callable[[CostRow], Decimal | int]) -> Formula:
        return lines.total(heading, [value(row) for row in rows])

    net = sum(row.parts.net for row in rows)
    decided = sum(row.yields.counts.decided for row in rows)
    good = sum(row.yields.counts.good for row in rows)
    per_core = to_decimal(net) / decided if decided else None
    per_body = to_decimal(net) / good if good else None
    why = None if good else "no good body yet"
    return (
        _TOTAL,
        total("decided", lambda row: row.yields.counts.decided),
        total("good", lambda row: row.yields.counts.good),
        *(total(heading, _part(name)) for heading, name in parts),
        total("spent", lambda row: to_decimal(row.parts.spent)),
        total(_RECOVERY, lambda row: to_decimal(row.parts.recovery)),
        total("net cost", lambda row: to_decimal(row.parts.net)),
        *_per_core_and_body(lines, per_core, per_body),
        *[None] * 7,
        why,
    )


def _part(name: str) -> Callable[[CostRow], Decimal]:
    return lambda row: to_decimal(getattr(row.parts, name))


def _charge_sheet(rows: Sequence[ChargeAdvice]) -> Sheet:
    lines = _Lines(
        [
            ("family", None),
            ("name", None),
            ("decided", WHOLE),
            ("good", WHOLE),
            *((heading, RATE) for heading in ("yield", "yield low", "yield high")),
            ("good body", MONEY),
            ("good body from", None),
            *((heading, MONEY) for heading in ("scrap recovery", "processing", "sourcing")),
            *((heading, MONEY) for heading in ("value of a core", "value low", "value high")),
            *((heading, MONEY) for heading in ("make-whole charge", "charge low", "charge high")),
            *((heading, MONEY) for heading in ("floor", "broker price", "ceiling", "new body")),
            ("charge today", MONEY),
            ("charged since", None),
            *((heading, None) for heading in ("warnings", "why")),
        ]
    )
    for row in rows:
        body = row.good_body
        lines.rows.append(
            (
                row.family,
                row.family_name,
                row.decided,
                row.good,
                lines.formula(rate_cell(row.body_yield), "={a}/{b}", a="good", b="decided"),
                rate_cell(row.yield_low),
                rate_cell(row.yield_high),
                money_cell(body.amount) if body else None,
                f"{body.origin}: {body.detail}" if body else None,
                money_cell(row.scrap_recovery),
                money_cell(row.processing),
                money_cell(row.sourcing),
                lines.formula(
                    money_cell(row.value),
                    "={y}*{g}+(1-{y})*{s}-{c}",
                    y="yield",
                    g="good body",
                    s="scrap recovery",
                    c="processing",
                ),
                money_cell(row.value_low),
                money_cell(row.value_high),
                lines.formula(
                    money_cell(row.make_whole), "={v}+{t}", v="value of a core", t="sourcing"
                ),
                *_charge_scale(row),
                _said(*row.warnings),
                row.why,
            )
        )
    note = (
        "value of a core = yield × good body + (1 − yield) × scrap recovery − processing; "
        "make-whole charge = value + sourcing. Nothing here changes a charge by itself."
    )
    return lines.sheet("Charges", note)


def _charge_scale(row: ChargeAdvice) -> Cells:
    return (
        money_cell(row.make_whole_low),
        money_cell(row.make_whole_high),
        money_cell(row.floor),
        money_cell(row.broker_price),
        money_cell(row.ceiling),
        money_cell(row.new_body_price),
        money_cell(row.charge_today),
        row.charge_since,
    )


def _attention_sheet(summary: ShopSummary) -> Sheet:
    rows = [(entry.headline, entry.count, entry.advice) for entry in summary.attention]
    return Sheet(
        "Attention", ("what", "how many", "what to do"), rows, (50, 12, 80), formats=(None, WHOLE)
    )
