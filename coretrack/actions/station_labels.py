"""Labels at the station: pages for the browser's print dialogue, and the note that they went out.

What is printed is noted when it is sent, by a form or a scan: whether the paper came out nobody
can know. Looking at a print page notes nothing.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from coretrack.actions.printing import (
    PrintedFile,
    PrintedLabels,
    core_label,
    print_labels,
    text_label,
)
from coretrack.actions.slot_notes import slot_notes
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.labels import Label, SheetStock, Stock
from coretrack.figures.lifecycle import GONE, CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import LabelStock, Shop
from coretrack.paper.file_names import safe_file_name
from coretrack.paper.label_design import printable
from coretrack.paper.label_files import layout_for, load_stocks, stock_named
from coretrack.paper.label_svg import label_svg, print_page_css, roll_pages_svg, sheet_pages_svg
from coretrack.records import core_queries, queries
from coretrack.records.database import connection
from coretrack.records.writer import Writer, writing

CARD_LAYOUT = "code-card"
"""The layout of the stocks that cards are printed on; no labels go on them."""

MOST_LABELS = 1_000
"""Labels of one batch; more would keep everybody waiting for the page."""


@dataclass(frozen=True)
class StockChoice:
    """A stock one can print on; `places` and `next_free` are 0 for a roll."""

    name: str
    title: str
    columns: int = 0
    places: int = 0
    next_free: int = 0


@dataclass(frozen=True)
class LabelPages:
    """A batch laid out to be printed: one SVG a page, and the labels that cannot be printed."""

    title: str
    stock: str
    first: int
    pages: tuple[str, ...]
    printed: int
    refused: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class LabelRun:
    """What was sent to be printed: cores, texts of one's own, and the places they took.

    `first` is the first place used (1 on a roll), `next_free` the one free after the run (0 on a
    roll); `refused` are tags and texts without a label, and why; `wash` is the one they come out
    of, whose slots stand on the labels.
    """

    tags: tuple[str, ...]
    texts: tuple[str, ...]
    stock: str
    first: int = 1
    next_free: int = 0
    refused: tuple[tuple[str, str], ...] = ()
    wash: str = ""


def stock_choices() -> list[StockChoice]:
    """Return the stocks that labels are printed on, each sheet with its first free place."""
    with connection():
        return [_choice(stock) for stock in load_stocks().values() if stock.layout != CARD_LAYOUT]


def _choice(stock: Stock) -> StockChoice:
    if not isinstance(stock, SheetStock):
        return StockChoice(stock.name, stock.title)
    known = core_queries.label_stock(stock.name)
    free = known.next_free if known else 1
    return StockChoice(stock.name, stock.title, stock.columns, stock.places, free)


def labels_page(
    tags: Sequence[str],
    stock: str = "",
    first: int | None = None,
    texts: Sequence[str] = (),
    wash: str = "",
) -> LabelPages:
    """Return the print pages of these cores' labels, then of texts of one's own.

    `stock` empty takes the shop's label stock, `first` None the sheet's first free place. A label
    that cannot be printed is named and does not stop the others; a tag nobody has is NotFound.
    """
    with connection():
        cores = [_core(tag) for tag in tags]
        chosen = _chosen(stock)
        place = _first(chosen, first)
        notes = slot_notes(wash)
    gone = [(show_tag(core.tag), _gone(core)) for core in cores if core.state in GONE]
    labels = [core_label(core, notes.get(core.tag, "")) for core in cores if core.state not in GONE]
    labels += [text_label(text) for text in texts]
    if not labels and not gone:
        raise InvalidInput("There is no label to print; choose at least one core or text.")
    sorted_out = printable(chosen, layout_for(chosen), labels)
    pages = _pages(chosen, list(sorted_out.good), place)
    refused = (*gone, *((item.label.shown, item.why) for item in sorted_out.refused))
    title = counted(len(sorted_out.good), "label")
    return LabelPages(title, chosen.name, place, tuple(pages), len(sorted_out.good), tuple(refused))


def sent_page(run: LabelRun) -> LabelPages:
    """Return the print pages of labels that were noted as sent, and those of them refused."""
    pages = labels_page(run.tags, run.stock, run.first, run.texts, run.wash)
    return replace(pages, refused=(*run.refused, *pages.refused))


def _pages(stock: Stock, labels: list[Label], first: int) -> list[str]:
    if not labels:
        return []
    layout = layout_for(stock)
    if isinstance(stock, SheetStock):
        return sheet_pages_svg(stock, layout, labels, first)
    return roll_pages_svg(stock, layout, labels)


def labels_style(stock: str) -> str:
    """Return the style sheet of a print page on this stock; NotFound without the stock."""
    return print_page_css(stock_named(stock))


def labels_file(run: LabelRun, name: str) -> PrintedLabels:
    """Return a run's labels as one PDF, from the same free place."""
    with connection():
        notes = slot_notes(run.wash)
        labels = [core_label(_core(tag), notes.get(tag, "")) for tag in run.tags]
    labels += [text_label(text) for text in run.texts]
    return print_labels(labels, run.stock, name=name, first=run.first)


def text_file(text: str, stock: str = "") -> PrintedLabels:
    """Return a label of a text of one's own as PDF with a safe name; InvalidInput says why not."""
    chosen = _with_room(text, stock)
    made = print_labels([text_label(text)], chosen.name, name=text)
    if made.refused:
        raise InvalidInput(f"'{text}' cannot be printed: {made.refused[0][1]}", {"text": text})
    return made


def text_drawing(text: str, stock: str = "") -> PrintedFile:
    """Return the same label as an SVG of its own size; InvalidInput says why not."""
    chosen = _with_room(text, stock)
    drawn = label_svg(chosen, layout_for(chosen), text_label(text))
    return PrintedFile(safe_file_name(text, ".svg"), drawn.encode())


def chosen_tags(typed: str, lot: str = "") -> list[str]:
    """Return the tags of a whole lot or delivery and of the tags typed, each once, in that order.

    NotFound names the lot or the tag that there is not; InvalidInput when there is nothing at all.
    """
    found: list[str] = []
    with connection():
        if lot.strip():
            cores = queries.cores_of_lot(_paper(lot.strip()))
            if not cores:
                raise NotFound(
                    f"There is no delivery or lot '{lot.strip()}' with cores in it.",
                    {"lot": "not known; type its number as it stands on the paper"},
                )
            found += [core.tag for core in cores if core.state not in GONE]
        found += [_core(part).tag for part in _parted(typed)]
    if not found:
        raise InvalidInput(
            "There is no label to print: name a delivery or lot, or scan tags.",
            {"tags": "scan or type at least one tag"},
        )
    if len(found) > MOST_LABELS:
        raise InvalidInput(
            f"{counted(len(found), 'label')} are too many at once; print at most {MOST_LABELS:,}.",
            {"lot": f"at most {MOST_LABELS:,} labels"},
        )
    return list(dict.fromkeys(found))


def _paper(text: str) -> str:
    """Return the lot as it is written in the books, whatever capitals were typed."""
    if queries.lot(text) is not None:
        return text
    return next((key for key in queries.papers(text) if queries.lot(key) is not None), text)


def _parted(typed: str) -> list[str]:
    """Return the tags in what was typed: one a line or parted by commas; blanks inside belong."""
    lines = typed.replace(",", "\n").replace(";", "\n").replace("\t", "\n").splitlines()
    return [line.strip() for line in lines if line.strip()]


def note_printed(
    tags: Sequence[str],
    stock: str = "",
    *,
    first: int | None = None,
    texts: Sequence[str] = (),
    wash: str = "",
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> LabelRun:
    """Note that these cores' labels are sent to be printed, and move the sheet's first free place.

    `stock` and `first` as in `labels_page`. The same `key` again notes nothing and answers the
    same. Cores whose label cannot be printed are named and not noted; NotFound for an unknown tag.
    """
    with writing(by, now, station) as writer:
        if key and (answer := writer.answers([key]).get(key)):
            return run_from_text(answer)
        run = note_in(writer, tags, stock, first, texts, wash)
        if key:
            writer.remember(key, run_to_text(run))
        return run


def note_in(
    writer: Writer,
    tags: Sequence[str],
    stock: str = "",
    first: int | None = None,
    texts: Sequence[str] = (),
    wash: str = "",
) -> LabelRun:
    """Note printed labels inside the caller's transaction; see `note_printed`."""
    cores = [_known(writer, tag) for tag in dict.fromkeys(tags)]
    run = _planned(cores, _chosen(stock), first, texts, wash)
    for core in cores:
        if core.tag in run.tags:
            detail = {"stock": run.stock, "reprint": core.labels > 0}
            writer.event("core", core.tag, "label printed", detail)
    if run.next_free:
        known: LabelStock | None = writer.find("label stock", run.stock)
        if known is None or known.next_free != run.next_free:
            detail = {"key": run.stock, "next_free": run.next_free}
            writer.event("label stock", run.stock, "set", detail)
    return run


def plan_run(
    tags: Sequence[str],
    stock: str = "",
    first: int | None = None,
    texts: Sequence[str] = (),
    wash: str = "",
) -> LabelRun:
    """Return what `note_printed` would note; nothing is stored."""
    with connection():
        cores = [_core(tag) for tag in dict.fromkeys(tags)]
        return _planned(cores, _chosen(stock), first, texts, wash)


def _planned(
    cores: Sequence[CoreFacts], stock: Stock, first: int | None, texts: Sequence[str], wash: str
) -> LabelRun:
    place, notes = _first(stock, first), slot_notes(wash)
    mine = [core_label(core, notes.get(core.tag, "")) for core in cores if core.state not in GONE]
    of_cores = printable(stock, layout_for(stock), mine)
    of_texts = printable(stock, layout_for(stock), map(text_label, texts))
    refused = [(show_tag(core.tag), _gone(core)) for core in cores if core.state in GONE]
    refused += [(no.label.shown, no.why) for no in (*of_cores.refused, *of_texts.refused)]
    count = len(of_cores.good) + len(of_texts.good)
    return LabelRun(
        tuple(label.code for label in of_cores.good),
        tuple(label.code for label in of_texts.good),
        stock.name,
        place,
        (place - 1 + count) % stock.places + 1 if isinstance(stock, SheetStock) else 0,
        tuple(refused),
        wash,
    )


def sent_before(key: str) -> LabelRun | None:
    """Return what was sent under this key, or None."""
    with connection():
        answer = core_queries.answer_given(key) if key else None
    return None if answer is None else run_from_text(answer)


def sent_run(key: str) -> LabelRun:
    """Return what was sent under this key; NotFound when nothing was."""
    run = sent_before(key)
    if run is None:
        raise NotFound("These labels were not sent to be printed from here; choose them again.")
    return run


def run_to_text(run: LabelRun) -> str:
    """Return a run as the text that is remembered under its key."""
    return json.dumps(asdict(run), ensure_ascii=False)


def run_from_text(text: str) -> LabelRun:
    """Return the run that `run_to_text` wrote; NotFound when the text is another answer."""
    try:
        told: dict[str, Any] = json.loads(text)
        return LabelRun(
            tuple(told["tags"]),
            tuple(told["texts"]),
            told["stock"],
            told["first"],
            told["next_free"],
            tuple((tag, why) for tag, why in told["refused"]),
            told.get("wash", ""),
        )
    except (ValueError, KeyError, TypeError):
        raise NotFound("That key belongs to something else than labels.") from None


def _core(tag: str) -> CoreFacts:
    scanned = read_scan(tag).tag
    core = queries.core(scanned) if scanned else None
    if core is None:
        raise NotFound(
            f"There is no core with tag '{tag}'; scan the tag again or find the core by its "
            "serial or number.",
            {"tags": f"'{tag}' is no core's tag"},
        )
    return core


def _known(writer: Writer, tag: str) -> CoreFacts:
    scanned = read_scan(tag).tag
    core: CoreFacts | None = writer.find("core", scanned) if scanned else None
    return core if core is not None else _core(tag)


def _gone(core: CoreFacts) -> str:
    return f"the core is no longer in the house ({core.state})"


def _chosen(stock: str) -> Stock:
    """Return the stock of that name, the shop's label stock where none is named."""
    if not stock:
        shop = queries.shop() or Shop("shop")
        stock = shop.label_stock
    chosen = stock_named(stock)
    if chosen.layout == CARD_LAYOUT:
        raise InvalidInput(
            f"'{stock}' is card for bins and badges; choose a stock of labels.",
            {"stock": "choose a stock of labels"},
        )
    return chosen


def _with_room(text: str, stock: str) -> Stock:
    """Return the stock named, else the shop's, else the first one that has room for the text."""
    with connection():
        usual = _chosen(stock)
    if stock:
        return usual
    fits = [
        other
        for other in (usual, *sorted(load_stocks().values(), key=lambda one: one.name))
        if other.layout != CARD_LAYOUT
        and printable(other, layout_for(other), [text_label(text)]).good
    ]
    return fits[0] if fits else usual


def _first(stock: Stock, first: int | None) -> int:
    """Return the place a batch begins at: as told, else the remembered one; 1 on a roll."""
    if not isinstance(stock, SheetStock):
        return 1
    if first is None:
        known = core_queries.label_stock(stock.name)
        return min(known.next_free, stock.places) if known else 1
    if not 1 <= first <= stock.places:
        raise InvalidInput(
            f"The first free place must be 1 to {stock.places} on '{stock.name}', not {first}.",
            {"first": f"1 to {stock.places}"},
        )
    return first
