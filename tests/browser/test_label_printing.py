"""Labels printed through the browser's own print dialogue: right pages, every code reads."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO

import pytest
from browser.browsing import browser, opened, served
from flask import Flask, Response, request, url_for
from label_reading import bar_runs, printed_pages, read_all, read_middles, tag_label
from playwright.sync_api import Browser
from pypdf import PdfReader

from coretrack.figures.labels import Label, RollStock, SheetStock, Stock, sheet_places
from coretrack.paper.barcodes import encode_code128
from coretrack.paper.label_design import design_label
from coretrack.paper.label_files import layout_for, load_stocks, stock_named
from coretrack.paper.label_svg import print_page_css, roll_pages_svg, sheet_pages_svg
from coretrack.web import hooks

pytestmark = pytest.mark.browser

FIRST = 5
HEADS = [
    (name, dpi)
    for name, stock in load_stocks().items()
    if isinstance(stock, RollStock)
    for dpi in stock.dpi
]
SHEETS = ["a4-24", "letter-30"]

PAGE = """<!doctype html><html lang="en"><head><title>Labels</title>
<meta name="color-scheme" content="light dark">
<link rel="icon" href="/static/mark.svg"><link rel="stylesheet" href="/static/style.css">
<link rel="stylesheet" href="STYLE"></head>
<body><a class="skip" href="#main">Skip to the labels</a><header><p>Aside: Kessel Yard</p></header>
<main id="main"><h1>Aside: print 30 labels</h1><section><p>Aside: scale 100, margins none</p>
<div>PAGES</div><button>Aside: print</button></section></main>
<footer>Aside: foot</footer></body></html>"""


def batch(stock: Stock) -> list[Label]:
    """Return labels enough to run over to a second sheet, or a few of a roll."""
    many = stock.places if isinstance(stock, SheetStock) else 3
    return [tag_label(serial) for serial in range(42, 42 + many)]


def label_app() -> Flask:
    """Return a site with the product's own headers and style that shows a batch of labels."""
    app = Flask("coretrack.web", static_folder="static")
    app.after_request(hooks.add_headers)

    @app.get("/labels")
    def labels() -> str:
        stock, dpi = stock_named(request.args["stock"]), int(request.args["dpi"])
        if isinstance(stock, SheetStock):
            pages = sheet_pages_svg(stock, layout_for(stock), batch(stock), FIRST, dpi)
        else:
            pages = roll_pages_svg(stock, layout_for(stock), batch(stock), dpi)
        style = url_for("style", stock=stock.name)
        return PAGE.replace("STYLE", style).replace("PAGES", "\n".join(pages))

    @app.get("/labels/print.css")
    def style() -> Response:
        return Response(print_page_css(stock_named(request.args["stock"])), mimetype="text/css")

    return app


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(label_app()) as where:
        yield where


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with browser() as started:
        yield started


def printed(running: Browser, address: str, name: str, dpi: int, scheme: str = "light") -> bytes:
    """Return what the browser sends to the printer; a refused style or script fails the test."""
    with opened(running, f"{address}/labels?stock={name}&dpi={dpi}", scheme=scheme) as page:
        return page.pdf(prefer_css_page_size=True)


def has_size(pdf: bytes, width: int, height: int) -> bool:
    """Return whether every page is so large, in 1/10 000 mm, within 0.5 mm."""
    wanted = (width / 10_000, height / 10_000)
    return all(
        float(side) * 25.4 / 72 == pytest.approx(length, abs=0.5)
        for page in PdfReader(BytesIO(pdf)).pages
        for side, length in zip((page.mediabox.width, page.mediabox.height), wanted, strict=True)
    )


@pytest.mark.parametrize(("name", "dpi"), HEADS)
def test_a_roll_prints_one_label_a_page_on_the_print_heads_own_dots(
    running: Browser, address: str, name: str, dpi: int
) -> None:
    stock = stock_named(name)
    labels = batch(stock)
    pdf = printed(running, address, name, dpi)
    assert has_size(pdf, stock.label_width, stock.label_height)
    for touched in (True, False):
        pages = printed_pages(pdf, dpi, touched=touched)
        assert [read_all(page) for page in pages] == [[label.code] for label in labels]
    for label, page in zip(labels, printed_pages(pdf, dpi, touched=True), strict=True):
        widths = encode_code128(label.code).widths
        runs = bar_runs(page)
        dots = runs[1] // widths[0]
        assert runs[1:-1] == [width * dots for width in widths]
        assert min(runs[0], runs[-1]) >= 10 * dots


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_prints_every_label_in_its_place_from_the_first_free_one(
    running: Browser, address: str, name: str, dpi: int
) -> None:
    stock = stock_named(name)
    assert isinstance(stock, SheetStock)
    codes = [label.code for label in batch(stock)]
    pdf = printed(running, address, name, stock.dpi[0])
    assert has_size(pdf, stock.page_width, stock.page_height)
    for touched in (True, False):
        pages = printed_pages(pdf, dpi, touched=touched)
        assert len(pages) == 2
        found: dict[int, str] = {}
        for number, page in enumerate(pages):
            for text, across, down in read_middles(page, dpi):
                column = int((across * 10_000 - stock.margin_left) // stock.pitch_x)
                row = int((down * 10_000 - stock.margin_top) // stock.pitch_y)
                found[number * stock.places + row * stock.columns + column + 1] = text
        assert found == dict(enumerate(codes, start=FIRST))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["roll-50x25", "a4-24"])
def test_only_the_labels_are_printed_and_their_text_is_text(
    running: Browser, address: str, name: str, scheme: str
) -> None:
    stock = stock_named(name)
    pdf = printed(running, address, name, stock.dpi[0], scheme)
    words = " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert "Aside" not in words
    assert "Skip" not in words
    for label in batch(stock):
        assert label.shown.replace(" ", "") in words.replace(" ", "")
    page = printed_pages(pdf, 100, touched=False)[0]
    assert page.getpixel((1, 1)) == page.getpixel((page.width - 2, page.height - 2)) == 255


@pytest.mark.parametrize("size", ["bench", "phone"])
def test_on_the_screen_the_labels_fit_the_window(running: Browser, address: str, size: str) -> None:
    with opened(running, f"{address}/labels?stock=a4-24&dpi=300", size, "dark") as page:
        assert page.locator("svg.label-page").count() == 2
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= page.evaluate("window.innerWidth")
        assert page.get_by_text("Aside: print", exact=True).is_visible()


@pytest.mark.parametrize("name", SHEETS)
def test_bars_of_a_sheet_begin_and_end_on_the_pages_own_dots(
    running: Browser, address: str, name: str
) -> None:
    stock = stock_named(name)
    assert isinstance(stock, SheetStock)
    dpi = stock.dpi[0]
    page = printed_pages(printed(running, address, name, dpi), dpi, touched=True)[0]
    for label, place in zip(batch(stock)[:3], sheet_places(stock, 3, FIRST), strict=True):
        fit = design_label(stock, layout_for(stock), label, dpi, label_left=place.box.left).fit
        down = [edge * dpi // 254_000 for edge in (place.box.top, place.box.bottom)]
        across = [place.box.left * dpi // 254_000, place.box.right * dpi // 254_000]
        runs = bar_runs(page.crop((across[0], down[0], across[1], down[1])))
        assert across[0] + runs[0] == fit.first_dot
        widths = encode_code128(label.code).widths
        assert runs[1:-1] == [width * fit.module_dots for width in widths]
