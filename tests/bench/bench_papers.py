"""Times a day's credit notes and notices of refusal as one PDF against bare lines of type.

Run it as a program; `--cores N` takes another count. The reference draws as many lines of text on
as many pages with reportlab alone, in one face and colour, nothing wrapped.
"""

from __future__ import annotations

import argparse
from datetime import date, datetime
from io import BytesIO
from statistics import median
from zoneinfo import ZoneInfo

from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas
from timing import seconds

from coretrack.figures.credits import CreditLine
from coretrack.figures.credits import refuse as refuse_credit
from coretrack.figures.tags import make_tag
from coretrack.paper.core_blocks import JudgedCore
from coretrack.paper.credit_note import CreditNote
from coretrack.paper.paper_bundle import bundle_pdf
from coretrack.paper.refusal_notice import RefusalNotice

DAY = date(2026, 5, 6)
AT = datetime(2026, 5, 5, 10, 14, tzinfo=ZoneInfo("Europe/Berlin"))
SHOP, CHARGE, A_NOTE = "Hollow Lane Injector Works", 450_000, 15


def _core(number: int, *, refused: bool) -> JudgedCore:
    taken = -135_000 if number % 3 == 0 else 0
    lines = [CreditLine("Core charge", CHARGE)]
    lines += [CreditLine("Connector broken: 30 % of the charge", taken)] if taken else []
    if refused:
        lines = list(refuse_credit(CHARGE, "Cracked body – seen with the naked eye").lines)
    return JudgedCore(
        tag=make_tag(1, number),
        number_read="077 130",
        arithmetic=tuple(lines),
        credit=sum(line.amount for line in lines),
        delivery=f"D-{number // 6:06d}",
        arrived=DAY,
        judged_by="Ana Ruiz",
        judged_at=AT,
        family="Injector body, 7 mm guide",
        serial=f"S-{number:05d}",
        invoice=f"INV-{4000 + number // 10}",
        line="2",
        sold_on=date(2026, 4, 10),
        number_sold="077 131",
        charge=CHARGE,
        criteria_version=3,
        reasons=("Cracked body",) if refused else ("Connector broken",) if taken else (),
        hold_until=date(2026, 5, 20) if refused else None,
    )


def papers(cores: int) -> tuple[list[CreditNote], list[RefusalNotice]]:
    """Return notes of 15 cores each, and notices for one core in twenty beside them."""
    notes, notices = [], []
    for place, start in enumerate(range(0, cores, A_NOTE)):
        some = tuple(_core(n, refused=False) for n in range(start, min(cores, start + A_NOTE)))
        total = sum(core.credit for core in some)
        who = (f"Marsh & Bexley Diesel {place}", f"MB{place:02d}", "EUR")
        notes.append(CreditNote(f"CN-{place:06d}", DAY, SHOP, *who, some, total))
        bad = (_core(cores + place, refused=True),)
        notices.append(RefusalNotice(f"RN-{place:06d}", DAY, SHOP, *who, bad))
    return notes, notices


def bare(lines: int, pages: int) -> bytes:
    """Return as many lines of type on as many pages, drawn by reportlab alone."""
    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=1)
    a_page = -(-lines // pages)
    for page in range(pages):
        canvas.setFont("Helvetica", 8.5)
        for line in range(min(a_page, lines - page * a_page)):
            canvas.drawString(
                60 + line % 3, 780 - 10.8 * (line // 3), f"Injector body, line {line}"
            )
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def lines_in(pdf: bytes) -> tuple[int, int]:
    """Return how many lines of type a PDF draws, and on how many pages."""
    reader = PdfReader(BytesIO(pdf))
    streams = [page.get_contents() for page in reader.pages]
    return sum(s.get_data().count(b" Tj") for s in streams if s is not None), len(reader.pages)


def main() -> None:
    """Time both and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cores", type=int, default=743)
    parser.add_argument("--runs", type=int, default=3)
    told = parser.parse_args()
    notes, notices = papers(told.cores)
    pdf = bundle_pdf("Papers of a day", SHOP, notes, notices)
    lines, pages = lines_in(pdf)
    times: dict[str, list[float]] = {"ours": [], "bare": []}
    for _ in range(told.runs):
        times["ours"].append(seconds(lambda: bundle_pdf("Papers of a day", SHOP, notes, notices)))
        times["bare"].append(seconds(lambda: bare(lines, pages)))
    ours, reference = median(times["ours"]), median(times["bare"])
    cores = told.cores + len(notices)
    print(f"{cores} cores on {len(notes) + len(notices)} papers: {lines:,} lines, {pages} pages")
    print(f"the bundle                {ours:.2f} s, {1000 * ours / cores:.1f} ms a core")
    print(f"bare lines of type        {reference:.2f} s")
    print(f"ratio (ours / bare)       {ours / reference:.2f}")


if __name__ == "__main__":
    main()
