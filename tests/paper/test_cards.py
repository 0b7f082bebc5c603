"""Badges, cards of places and bench sheets, printed to dots and read by an independent reader."""

from __future__ import annotations

from io import BytesIO
from itertools import pairwise

import pytest
import zxingcpp
from label_reading import printed_pages, read_all, read_middles
from PIL import Image
from pypdf import PdfReader

from coretrack.errors import InvalidInput
from coretrack.figures.tags import ORDERS, make_shop_code
from coretrack.paper.cards import (
    BadgeCard,
    CodeGroup,
    NamedCode,
    PlaceCard,
    badge_cards,
    code_sheet,
    order_codes,
    place_cards,
)

CARD_STOCKS = ["a4-cards-10", "letter-cards-10"]
PEOPLE = [
    BadgeCard(name, role, make_shop_code("badge", number))
    for number, (name, role) in enumerate(
        [
            ("Ana Lind", "Clerk"),
            ("Konstantin Przybyszewski-Larsson", "Inspector"),
            ("Maria del Carmen Fernández de la Vega", "Owner"),
        ],
        start=1,
    )
]
PLACES = [
    PlaceCard(name, make_shop_code(kind, number), kind)
    for number, (name, kind) in enumerate(
        [("A1", "bin"), ("Basket 12", "basket"), ("Turbo housings, washed", "rack")], start=1
    )
]
FAULTS = CodeGroup(
    "Injector bodies: why a core is refused",
    tuple(
        NamedCode(words, make_shop_code("reason", number))
        for number, words in enumerate(
            [
                "Cracked body",
                "Thread torn out",
                "Not fully assembled",
                "Disassembled before return, parts missing from the box",
            ],
            start=1,
        )
    ),
)
ORDER_GROUP = CodeGroup("Orders", order_codes())


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def strokes(page: Image.Image, across: int, dpi: int) -> list[tuple[float, float]]:
    """Return where bars begin and end down a column of dots, in mm; thinner ink is left out."""
    column = page.crop((across, 0, across + 1, page.height)).tobytes()
    found = []
    start = None
    for down, grey in enumerate([*column, 255]):
        if grey < 128 and start is None:
            start = down
        elif grey >= 128 and start is not None:
            if (down - start) * 25.4 / dpi > 8:
                found.append((start * 25.4 / dpi, down * 25.4 / dpi))
            start = None
    return found


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", CARD_STOCKS)
def test_every_badge_reads_as_its_own_code_and_shows_name_role_and_digits(
    stock: str, dpi: int
) -> None:
    pdf = badge_cards(PEOPLE, stock)
    for touched in (True, False):
        (page,) = printed_pages(pdf, dpi, touched=touched)
        assert read_all(page) == [card.code for card in PEOPLE]
    words = words_of(pdf)
    for card in PEOPLE:
        assert card.name in words
        assert card.role in words
        assert f"Badge {card.code[:4]} {card.code[4:8]} {card.code[8:]}" in words


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", CARD_STOCKS)
def test_every_place_reads_and_shows_its_kind_and_a_name_for_two_metres(
    stock: str, dpi: int
) -> None:
    pdf = place_cards(PLACES, stock)
    for touched in (True, False):
        (page,) = printed_pages(pdf, dpi, touched=touched)
        assert read_all(page) == sorted(card.code for card in PLACES)
    assert "Bin 0030 0001" in words_of(pdf)
    assert "Turbo housings, washed" in words_of(pdf)
    sizes: dict[str, float] = {}

    def noted(text: str, _: object, __: object, ___: object, size: float) -> None:
        if text.strip():
            sizes[text.strip()] = size

    PdfReader(BytesIO(pdf)).pages[0].extract_text(visitor_text=noted)
    assert sizes["A1"] >= sizes["Basket 12"] >= sizes["housings, washed"] >= 20


@pytest.mark.parametrize("stock", CARD_STOCKS)
def test_cards_begin_at_the_first_free_place_and_run_over_to_the_next_sheet(stock: str) -> None:
    places = [PlaceCard(f"Bin {n}", make_shop_code("bin", n), "bin") for n in range(1, 10)]
    pages = printed_pages(place_cards(places, stock, first=4), 150, touched=False)
    assert [read_all(page) for page in pages] == [
        [card.code for card in places[:7]],
        [card.code for card in places[7:]],
    ]
    middles = {text: (across, down) for text, across, down in read_middles(pages[0], 150)}
    across, down = middles[places[0].code]
    assert across > 105
    assert 13 + 51 < down < 13 + 2 * 54


@pytest.mark.parametrize(
    ("people", "said"),
    [
        ([BadgeCard("Ana Lind", "Clerk", "0010000120")], "The badge of Ana Lind: .*check digits"),
        (
            [BadgeCard("Ana Lind", "Clerk", make_shop_code("bin", 1))],
            "The badge of Ana Lind: .* is a bin code, not a badge code",
        ),
        (
            [*PEOPLE, BadgeCard("Wolfeschlegel" * 6, "Clerk", make_shop_code("badge", 9))],
            "^'Wolfeschlegel.*does not fit",
        ),
        ([], "no card to print"),
    ],
)
def test_a_badge_that_cannot_be_printed_is_refused_by_name(
    people: list[BadgeCard], said: str
) -> None:
    with pytest.raises(InvalidInput, match=said):
        badge_cards(people)


@pytest.mark.parametrize(
    ("card", "said"),
    [
        (
            PlaceCard("A1", make_shop_code("rack", 1), "bin"),
            "The card of A1: .* is a rack code, not a bin code",
        ),
        (
            PlaceCard("A1", make_shop_code("badge", 1), "shelf"),
            "is a badge code, not a bin, basket or rack code",
        ),
        (
            PlaceCard("A1", make_shop_code("bin", 1), "shelf"),
            "The card of A1: 'shelf' is no kind of place; it is bin, basket or rack",
        ),
        (
            PlaceCard("Quarantine for cracked bodies by the door", make_shop_code("bin", 1), "bin"),
            "^'Quarantine for cracked bodies by the door' .*at 20 pt",
        ),
    ],
)
def test_a_place_that_cannot_be_printed_is_refused_by_name(card: PlaceCard, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        place_cards([card])


def test_cards_go_on_card_stocks_only() -> None:
    with pytest.raises(InvalidInput, match="take a4-cards-10 or letter-cards-10"):
        badge_cards(PEOPLE, "roll-50x25")


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_code_of_a_bench_sheet_reads_back(paper: str, dpi: int) -> None:
    pdf = code_sheet("Receiving bench", [ORDER_GROUP, FAULTS], paper)
    for touched in (True, False):
        first, second = printed_pages(pdf, dpi, touched=touched)
        assert read_all(first) == sorted(make_shop_code("order", order) for order in ORDERS)
        assert read_all(second) == sorted(named.code for named in FAULTS.codes)
    words = words_of(pdf)
    for said in ("No indication", "Thread torn out", "parts missing from the box", "Page 2 of 2"):
        assert said in words
    assert "qualified people" in words


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_bars_keep_twenty_millimetres_from_their_neighbours(paper: str) -> None:
    longest = NamedCode("Text code", "ABCDEFGHIJKL")
    groups = [CodeGroup("Texts", (longest, longest)), ORDER_GROUP]
    dpi = 300
    page = printed_pages(code_sheet("Bench", groups, paper), dpi, touched=True)[0]
    found = zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.Code128)
    left_of = {each.position.top_left.x for each in found if each.text != longest.code}
    for across in left_of:
        bars = strokes(page, across + 4, dpi)
        assert len(bars) >= 6
        assert min(low[0] - high[1] for high, low in pairwise(bars)) >= 20
    texts = sorted(
        (each.position.top_left.x, each.position.bottom_right.x)
        for each in found
        if each.text == longest.code
    )
    assert (texts[1][0] - texts[0][1]) * 25.4 / dpi >= 20


def test_a_group_that_runs_over_says_so_and_no_title_stands_alone() -> None:
    reasons = tuple(NamedCode(f"Reason {n}", make_shop_code("reason", n)) for n in range(1, 12))
    pdf = code_sheet("Bench", [CodeGroup("First", reasons), CodeGroup("Second", reasons)], "letter")
    first, second = (page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert "First" in first
    assert "Second" not in first
    assert "Second" in second
    assert "continued" not in second
    long = code_sheet("Bench", [CodeGroup("First", (*reasons, *reasons))])
    assert "First, continued" in PdfReader(BytesIO(long)).pages[1].extract_text()


def test_a_code_that_does_not_fit_is_refused_by_its_words() -> None:
    too_long = CodeGroup("Texts", (NamedCode("Long one", "A" * 40),))
    with pytest.raises(InvalidInput, match=r"^Long one: .*too long"):
        code_sheet("Bench", [too_long])
    wordy = CodeGroup("Texts", (NamedCode("many words " * 12, make_shop_code("reason", 1)),))
    with pytest.raises(InvalidInput, match=r"^'many words .*does not fit"):
        code_sheet("Bench", [wordy])
    with pytest.raises(InvalidInput, match="no code to print"):
        code_sheet("Bench", [CodeGroup("Empty", ())])
    with pytest.raises(InvalidInput, match="a4 or letter"):
        code_sheet("Bench", [FAULTS], "a3")
    with pytest.raises(InvalidInput, match="There is no order 'stop'"):
        order_codes(["stop"])


def test_the_same_cards_give_the_same_bytes() -> None:
    assert badge_cards(PEOPLE) == badge_cards(PEOPLE)
    assert code_sheet("Bench", [FAULTS]) == code_sheet("Bench", [FAULTS])
