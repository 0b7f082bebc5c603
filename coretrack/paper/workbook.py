"""Workbooks that leave: real numbers, real dates, and formulas where an accountant looks for them.

Every sheet is one plain table from its first row on, so that it can be sorted, filtered and read
back; what has to be said about it stands on the sheet "Notes". A figure that is not known is an
empty cell with the reason in the column "why".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from decimal import Decimal

from coretrack.figures.charge import ChargeAdvice
from coretrack.figures.costing import STEP_NAMES, CostParts, CostRow
from coretrack.figures.intervals import Interval
from coretrack.figures.money import to_decimal
from coretrack.figures.plain_words import plural
from coretrack.figures.summary import ShopSummary
from coretrack.figures.wording import sentence, source_lost_note
from coretrack.figures.yields import YieldRow
from coretrack.paper.cells import Formula, Shown, WorkbookWriter
from coretrack.paper.sheet_lines import (
    MONEY,
    RATE,
    WHOLE,
    Cells,
    Sheet,
    SheetLines,
    money_cell,
    rate_cell,
)

WEEK_NOTE = (
    "Weeks are ISO 8601 weeks: Monday to Sunday, and the first week of a year is the one with "
    "4 January in it."
)
UNKNOWN_NOTE = "An empty figure is not known (not zero); the column 'why' says what lacks."
_TOTAL = "Total of these rows"


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


def summary_workbook(summary: ShopSummary) -> bytes:
    """Return the shop's figures as a workbook, one sheet a question.

    Cost per good body, good bodies, yields and totals are formulas over the cells beside them; the
    value coretrack worked out stands in them until a spreadsheet program recalculates.
    """
    money = f"Money is in {summary.currency}, exact to a ten-thousandth, shown with two places."
    lost = source_lost_note(summary.source_lost)
    sheets = [
        _summary_sheet(summary),
        _yield_sheet(summary.yields),
        _cost_sheet("Cost", "family", summary.costs),
        _cost_sheet("By source", "source", summary.by_source, lost),
        _cost_sheet("By lot", "lot", summary.by_lot, lost),
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
        *summary.whereabouts,
    )
    owed = (
        ("credits paid", summary.credits_paid),
        ("customers' deposits open", summary.open_line_money),
    )
    rows: list[Cells] = [
        ("shop", summary.shop_name, ""),
        ("made at", made.replace(tzinfo=None, second=0, microsecond=0), zone),
        *((name, Shown(number, WHOLE), "cores") for name, number in counted),
        ("open core lines", Shown(summary.open_lines, WHOLE), "lines"),
        *((name, Shown(money_cell(amount), MONEY), summary.currency) for name, amount in owed),
    ]
    note = (
        "cores received = good + in rework + scrapped + undecided + waiting + unknown + refused + "
        "excess + comebacks + no longer here; customers' deposits are the charges on cores not yet "
        "back."
    )
    return Sheet("Summary", ("figure", "value", "unit"), rows, (28, 24, 16), note)


def _said(*parts: str | None) -> str | None:
    return "; ".join(dict.fromkeys(part for part in parts if part)) or None


def _level(intervals: Sequence[Interval]) -> str:
    levels = {interval.level for interval in intervals}
    return f" with {levels.pop():.0%} confidence" if len(levels) == 1 else ""


def _yield_sheet(rows: Sequence[YieldRow]) -> Sheet:
    whole = ("received", "decided", "open", "kept first pass", "kept after rework", "good")
    more = ("scrapped", "sent to rework", "refused", "source lost")
    rates = ("first-pass yield", "yield", "low", "high")
    lines = SheetLines(
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


def _cost_sheet(title: str, first: str, rows: Sequence[CostRow], lost: str = "") -> Sheet:
    parts = tuple((STEP_NAMES.get(name, name), name) for name in _PARTS)
    money = [*(heading for heading, _ in parts), "spent", _RECOVERY, "net cost"]
    figures = ["cost per core", _PER_BODY, "low", "high"]
    scrap = ["paid for scrap", "normal scrap", "abnormal scrap"]
    lines = SheetLines(
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
        known = row.yields.counts.decided > 0
        spent = {heading: _spent(row, name) for heading, name in parts}
        lines.rows.append(
            (
                row.group,
                row.yields.counts.decided,
                row.yields.counts.good,
                *spent.values(),
                lines.formula(
                    money_cell(row.parts.spent if known else None), "=SUM({a}:{b})", **span
                ),
                _spent(row, "recovery"),
                lines.formula(
                    money_cell(row.parts.net if known else None),
                    "={a}-{b}",
                    a="spent",
                    b=_RECOVERY,
                ),
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
        lines.rows.append(_cost_total(lines, rows, parts, lost))
    note = (
        f"{_PER_BODY} = net cost / good; net cost is everything spent on decided cores less scrap "
        f"recovery. Low and high bound it{_level([row.interval for row in rows])}. "
        "Money counts with decided cores. Paid for scrap and its split are in whole cents."
    )
    if first == "source":
        note += " A source's row mixes its families."
    if lost:
        note += f" {sentence(lost)}"
    return lines.sheet(title, note)


def _per_core_and_body(
    lines: SheetLines, per_core: Decimal | None, per_body: Decimal | None
) -> tuple[Formula | None, Formula | None]:
    return (
        lines.formula(per_core, "={a}/{b}", a="net cost", b="decided"),
        lines.formula(per_body, "={a}/{b}", a="net cost", b="good"),
    )


def _spent(row: CostRow, part: str) -> Decimal | None:
    """Return money spent on the row's decided cores, `None` while there is none."""
    return to_decimal(getattr(row.parts, part)) if row.yields.counts.decided else None


def _cost_total(
    lines: SheetLines, rows: Sequence[CostRow], parts: Sequence[tuple[str, str]], lost: str
) -> Cells:
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
        *[None] * 6,
        lost or None,
        why,
    )


def _part(name: str) -> Callable[[CostRow], Decimal]:
    return lambda row: to_decimal(getattr(row.parts, name))


def _charge_sheet(rows: Sequence[ChargeAdvice]) -> Sheet:
    lines = SheetLines(
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
    rows = [
        (entry.headline, entry.count, plural(entry.noun), entry.advice)
        for entry in summary.attention
    ]
    headings = ("what", "how many", "of what", "what to do")
    return Sheet("Attention", headings, rows, (50, 12, 16, 80), formats=(None, WHOLE))
