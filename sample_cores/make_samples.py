"""Write the invented shop's files again: `python sample_cores/make_samples.py [--out DIR]`.

The shop and family files under `shop/` are written by hand and only read here. The standard
library, openpyxl and Pillow are all this needs; the same seed always gives the same contents.
"""

from __future__ import annotations

import argparse
import csv
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

from invented_bench import BASKET_TIPPED, Bench, Look, make_bench
from invented_bodies import body_pictures
from invented_floor import (
    PROCESS_HEADING,
    SCAN_HEADING,
    STUDY_HEADING,
    basket_7,
    count,
    last_friday,
    process_checks,
    study_readings,
)
from invented_plans import PLANS, Sizes
from invented_terms import Trade, read_families
from invented_trade import make_trade
from openpyxl import Workbook

HERE = Path(__file__).resolve().parent
STAMP = (2026, 11, 1, 6, 0, 0)
LONG = ("time", "inspector", "gauge", "core", "check", "reading", "note")
Row = Sequence[object]


def write_csv(path: Path, rows: Iterable[Row], separator: str = ",") -> None:
    """Write rows as UTF-8 with plain line ends, so that the bytes do not depend on the platform."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = io.StringIO()
    csv.writer(text, delimiter=separator, lineterminator="\n").writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8", newline="\n")


def write_xlsx(path: Path, title: str, rows: Iterable[Row]) -> None:
    """Write one sheet; times inside the file are set to a fixed moment."""
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    for column in "ABCDEFGHI":
        sheet.column_dimensions[column].width = 16
    sheet.freeze_panes = "A2"
    raw = io.BytesIO()
    book.save(raw)
    moment = "{:04d}-{:02d}-{:02d}T{:02d}:{:02d}:{:02d}Z".format(*STAMP).encode()
    path.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(raw) as made, zipfile.ZipFile(path, "w") as fixed:
        for name in sorted(made.namelist(), key=lambda n: (n != "[Content_Types].xml", n)):
            content = made.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", moment, content)
            entry = zipfile.ZipInfo(name, STAMP)
            entry.compress_type = zipfile.ZIP_DEFLATED
            fixed.writestr(entry, content)


def write_sales(folder: Path, trade: Trade) -> None:
    rows: list[Row] = [
        (
            "Invoice",
            "Line",
            "Date",
            "Customer",
            "Number",
            "Quantity",
            "Core charge (USD)",
            "Mode",
            "Window days",
        )
    ]
    rows += [
        (
            s.invoice,
            s.line,
            s.sold,
            s.customer,
            s.number,
            s.quantity,
            Decimal(s.charge),
            s.mode,
            s.window,
        )
        for s in trade.sales
    ]
    write_xlsx(folder / "sales_2026.xlsx", "Core lines", rows)


def write_returns(folder: Path, trade: Trade) -> None:
    heading = (
        "delivery",
        "received",
        "customer",
        "invoice",
        "number",
        "serial",
        "faults",
        "comeback",
        "carrier_date",
        "mass",
        "note",
    )
    for month in sorted({core.received.month for core in trade.returns}):
        rows: list[Row] = [heading]
        rows += [
            (
                c.delivery,
                c.received.isoformat(),
                c.source,
                c.invoice,
                c.number,
                c.serial,
                ";".join(c.faults),
                "yes" if c.comeback else "",
                c.carrier,
                "",
                c.note,
            )
            for c in trade.returns
            if c.received.month == month
        ]
        write_csv(folder / f"returns_2026-{month:02d}.csv", rows)


def write_lots(folder: Path, trade: Trade) -> None:
    terms_rows: list[Row] = [
        ("lot", "file", "source", "received", "basis", "price", "freight", "bid_yield")
    ]
    for terms, cores in trade.lots:
        terms_rows.append(
            (
                terms.code,
                terms.file,
                terms.source,
                terms.received.isoformat(),
                terms.basis,
                terms.price,
                terms.freight,
                terms.bid_yield,
            )
        )
        heading = ("lot", "received", "number", "serial", "mass_kg", "price", "note")
        if terms.file.endswith(".xlsx"):
            book: list[Row] = [heading]
            book += [
                (
                    c.lot,
                    c.received,
                    c.number,
                    c.serial,
                    Decimal(c.mass) if c.mass else None,
                    Decimal(c.price) if c.price else None,
                    c.note or None,
                )
                for c in cores
            ]
            write_xlsx(folder / "lots" / terms.file, terms.code, book)
        else:
            plain: list[Row] = [heading]
            plain += [
                (c.lot, c.received.isoformat(), c.number, c.serial, c.mass, c.price, c.note)
                for c in cores
            ]
            write_csv(folder / "lots" / terms.file, plain)
    write_csv(folder / "lots" / "terms.csv", terms_rows)


def long_rows(look: Look, month: int) -> list[Row]:
    """Return a look one reading a row, some seconds apart, as its station writes them."""
    comma = (look.station, month) in {("bench1", 6), ("bench2", 9)}
    units = (look.station, month) in {("bench2", 8), ("recheck", 7)}
    rows: list[Row] = []
    when, last = look.when, len(look.readings) - 1
    for position, (check, answers) in enumerate(look.readings):
        for answer in answers:
            text = answer
            if isinstance(check, Sizes) and units and " " not in text:
                text = f"{text} {unit_of(look.core.family, check.code)}"
            if isinstance(check, Sizes) and comma:
                text = text.replace(".", ",")
            note = look.note if position == last else ""
            rows.append(
                (
                    moment(look, when),
                    look.inspector,
                    check.gauge,
                    look.core.serial,
                    check.code,
                    text,
                    note,
                )
            )
            when += timedelta(seconds=9)
    return rows


def moment(look: Look, when: datetime) -> str:
    """Return a time as the station's clock writes it: the turbo bench adds the offset."""
    text = when.isoformat(sep=" ", timespec="seconds")
    return f"{text.replace(' ', 'T')}-05:00" if look.station == "bench2" else text


UNITS = {("INJ", "seal_face"): "um", ("INJ", "seat_runout"): "um", ("INJ", "hardness"): "HRC"}


def unit_of(family: str, check: str) -> str:
    return UNITS.get((family, check), "mm")


def wide_heading() -> Row:
    return (
        "time",
        "inspector",
        "gauge",
        "core",
        "Bore 1 (mm)",
        "Bore 2 (mm)",
        "Seal groove width (mm)",
        "Slide pin bore (mm)",
        "Bleeder thread",
        "Pressure test",
        "Look",
        "note",
    )


def wide_row(look: Look) -> Row:
    """Return a caliper look as one row; two pin readings share a cell."""
    answers = {check.code: list(found) for check, found in look.readings}
    bore = answers.get("bore", ["", ""])
    cells: list[str] = [*bore]
    for check in PLANS["CAL"][1:]:
        cells.append("/".join(answers.get(check.code, [])))
    return (moment(look, look.when), look.inspector, "DB2", look.core.serial, *cells, look.note)


def write_bench(folder: Path, bench: Bench) -> None:
    files: dict[tuple[str, int], list[Row]] = {}
    for look in bench.looks:
        month = look.when.month
        rows = files.setdefault((look.station, month), [])
        if look.station == "bench3":
            rows.append(wide_row(look))
        else:
            rows.extend(long_rows(look, month))
    for (station, month), rows in sorted(files.items()):
        heading = wide_heading() if station == "bench3" else LONG
        separator = ";" if (station, month) == ("bench1", 6) else ","
        write_csv(folder / f"readings_{station}_2026-{month:02d}.csv", [heading, *rows], separator)
    for month in sorted({row.when.month for row in bench.reworks}):
        done: list[Row] = [("time", "core", "operation", "person", "minutes", "note")]
        done += [
            (
                r.when.isoformat(sep=" ", timespec="seconds"),
                r.core.serial,
                r.operation,
                r.person,
                r.minutes,
                r.note,
            )
            for r in bench.reworks
            if r.when.month == month
        ]
        write_csv(folder / f"rework_2026-{month:02d}.csv", done)
    tipped: list[Row] = [("time", "basket", "core", "note")]
    tipped += [
        (
            BASKET_TIPPED.isoformat(sep=" ", timespec="minutes"),
            "B07",
            core.serial,
            "basket tipped at the spray cabinet, bodies re-tagged under these marks",
        )
        for core in bench.tipped
    ]
    write_csv(folder / "events" / "tipped_basket.csv", tipped)


def write_bodies(folder: Path) -> None:
    """Write the drawings of the bodies."""
    (folder / "bodies").mkdir(parents=True, exist_ok=True)
    for code, picture in body_pictures().items():
        picture.save(folder / "bodies" / f"{code}.png", optimize=True)


def write_floor(folder: Path, bench: Bench) -> None:
    """Write the log of lamps and baths, and what was scanned and typed at the bench."""
    write_csv(folder / "process_checks_2026.csv", [PROCESS_HEADING, *process_checks()])
    basket = basket_7([core.serial for core in bench.tipped])
    write_csv(folder / "bench" / "basket_7.csv", [SCAN_HEADING, *basket])
    write_csv(folder / "bench" / "last_friday.csv", [SCAN_HEADING, *last_friday()])
    write_csv(folder / "bench" / "count.csv", [SCAN_HEADING, *count()])
    write_csv(folder / "bench" / "study_ag1.csv", [STUDY_HEADING, *study_readings()])


def make(folder: Path) -> None:
    """Write every generated file below `folder`."""
    trade = make_trade(read_families(HERE / "shop"))
    bench = make_bench(trade)
    write_sales(folder, trade)
    write_returns(folder, trade)
    write_lots(folder, trade)
    write_bench(folder, bench)
    write_floor(folder, bench)
    write_bodies(folder)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to")
    make(parser.parse_args().out)


if __name__ == "__main__":
    main()
