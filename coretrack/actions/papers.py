"""What leaves the shop as files: the core-charge sheet, the workbook, a lot's labels."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from coretrack.actions import printing
from coretrack.errors import Unavailable
from coretrack.figures.summary import ShopSummary
from coretrack.records import queries
from coretrack.records.database import connection


def write_papers(
    summary: ShopSummary, folder: Path, more: Iterable[tuple[str, bytes]] = ()
) -> list[Path]:
    """Write the core-charge sheet, the workbook and the newest lot's labels; return their paths.

    `more` are further files, by name, that go beside them.
    """
    from coretrack.paper.charge_sheet import charge_sheet_pdf
    from coretrack.paper.workbook import summary_workbook

    papers = {
        "core-charge-sheet.pdf": charge_sheet_pdf(summary),
        "figures.xlsx": summary_workbook(summary),
        **_labels(),
        **dict(more),
    }
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in papers.items():
            path = folder / name
            path.write_bytes(content)
            written.append(path)
    except OSError as error:
        raise Unavailable(f"The papers cannot be written to {folder}: {error}.") from error
    return written


def _labels() -> dict[str, bytes]:
    with connection():
        lots = [lot for lot in queries.lots("purchase") if lot.pieces]
        if not lots:
            return {}
        newest = lots[-1].key
    labels = printing.labels_of_cores([newest], [])
    made = printing.print_labels(labels, "letter-30", name=f"labels of lot {newest}")
    roll = printing.print_labels(labels[:1], "roll-50x25", name="roll label", as_pdf=False)
    return {file.name: file.content for file in (*made.files, *roll.files)}
