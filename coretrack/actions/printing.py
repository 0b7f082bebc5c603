"""Labels for cores, lots and free texts, on a sheet or a roll."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.labels import Label, SheetStock
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import show_tag
from coretrack.paper.file_names import safe_file_name
from coretrack.paper.label_design import printable
from coretrack.paper.label_files import layout_for, stock_named
from coretrack.paper.label_pdf import roll_pdf, sheet_pdf
from coretrack.paper.label_png import roll_png
from coretrack.records import queries
from coretrack.records.database import connection


@dataclass(frozen=True)
class PrintedFile:
    """One file to print: a safe name without folder, its bytes."""

    name: str
    content: bytes


@dataclass(frozen=True)
class PrintedLabels:
    """What came out: files, how many labels, which were refused and why, free place left."""

    files: tuple[PrintedFile, ...]
    printed: int
    refused: tuple[tuple[str, str], ...]
    next_free: int | None


def core_label(core: CoreFacts, note: str = "") -> Label:
    """Return the label of a core: its tag in bars and large, family and number, day and source.

    A `note`, such as the slot it comes out of, stands first: where rows lack, the last one goes.
    """
    family = core.family or "unknown family"
    number = core.number or "no number read"
    source = "source lost" if core.source_lost else core.source
    lines = (f"{family}  {number}", f"{core.received_on}  {source}")
    return Label(core.tag, show_tag(core.tag), (note, *lines) if note else lines)


def labels_of_cores(lots: Sequence[str], tags: Sequence[str]) -> list[Label]:
    """Return the labels of whole lots and of single tags, in the order asked for."""
    labels: list[Label] = []
    with connection():
        for lot in lots:
            cores = queries.cores_of_lot(lot)
            if not cores:
                raise NotFound(f"There is no lot '{lot}' with cores in it.")
            labels += [core_label(core) for core in cores]
        for tag in tags:
            scanned = read_scan(tag).tag
            core = queries.core(scanned) if scanned else None
            if core is None:
                raise NotFound(f"There is no core with tag '{tag}'.")
            labels.append(core_label(core))
    return labels


def text_label(text: str) -> Label:
    """Return a label for a text of the shop's own: a part number, a bin, a maker's serial."""
    return Label(text, text, ())


def print_labels(
    labels: Sequence[Label],
    stock_name: str,
    *,
    name: str,
    first: int = 1,
    dpi: int | None = None,
    as_pdf: bool = True,
) -> PrintedLabels:
    """Return the files for these labels; a label that cannot be printed never stops the others.

    Sheets are one PDF; rolls one PDF, or one picture a label when `as_pdf` is false.
    """
    stock = stock_named(stock_name)
    layout = layout_for(stock)
    if not labels:
        raise InvalidInput("There is no label to print; choose at least one core or text.")
    sorted_out = printable(stock, layout, labels, dpi)
    refused = tuple((item.label.code, item.why) for item in sorted_out.refused)
    good = sorted_out.good
    if not good:
        return PrintedLabels((), 0, refused, None)
    if isinstance(stock, SheetStock):
        if not as_pdf:
            raise InvalidInput(
                f"Stock {stock_name} is a sheet; name an output file ending in .pdf."
            )
        places = stock.rows * stock.columns
        content = sheet_pdf(stock, layout, good, first)
        file = PrintedFile(safe_file_name(name, ".pdf"), content)
        return PrintedLabels((file,), len(good), refused, (first - 1 + len(good)) % places + 1)
    if as_pdf:
        file = PrintedFile(safe_file_name(name, ".pdf"), roll_pdf(stock, layout, good, dpi))
        return PrintedLabels((file,), len(good), refused, None)
    several = len(good) > 1
    files = tuple(
        PrintedFile(
            safe_file_name(f"{name} {label.code}" if several else name, ".png"),
            roll_png(stock, layout, label, dpi),
        )
        for label in good
    )
    return PrintedLabels(files, len(good), refused, None)
