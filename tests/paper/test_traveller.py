"""The card that travels with a wash basket: every slot on it, its bars read, its cautions there."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from label_reading import printed_pages, read_all
from pypdf import PdfReader

from coretrack.errors import InvalidInput
from coretrack.figures.tags import make_shop_code, make_tag, show_tag
from coretrack.figures.wording import WASH_SAFETY
from coretrack.paper.traveller import KEEP_ORDER, Traveller, TravellerSlot, traveller_pdf


def slots(*numbers: int) -> tuple[TravellerSlot, ...]:
    return tuple(
        TravellerSlot(number, make_tag(1, number), f"077 {number:03d}", "injector body")
        for number in numbers
    )


CARD = Traveller(
    shop_name="Hollow Lane Injector Works",
    basket="Basket 12",
    basket_code=make_shop_code("basket", 12),
    wash="W-0031",
    slots=slots(1, 2, 3, 5),
    families=(("Injector body", 4),),
    made_by="Ana Ruiz",
    made_at=datetime(2026, 5, 4, 7, 12, tzinfo=UTC),
)


def pages(card: Traveller, page: str = "a4") -> list[str]:
    reader = PdfReader(BytesIO(traveller_pdf(card, page)))
    return [" ".join(sheet.extract_text().split()) for sheet in reader.pages]


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_the_card_names_each_slot_its_core_and_the_empty_ones(page: str) -> None:
    (text,) = pages(CARD, page)
    for slot in CARD.slots:
        assert show_tag(slot.tag) in text
        assert slot.number in text
    assert text.count("empty") == 1
    for words in ("Basket 12", "W-0031", "4 cores in it", "Injector body: 4", "4 went in"):
        assert words in text
    assert WASH_SAFETY in text
    assert KEEP_ORDER in text


def test_the_bars_read_as_the_code_of_the_basket() -> None:
    (picture,) = printed_pages(traveller_pdf(CARD), 203, touched=False)
    assert read_all(picture) == [CARD.basket_code]


def test_a_metal_tag_stands_beside_its_core() -> None:
    worn = (replace(CARD.slots[0], metal_tag=77), *CARD.slots[1:])
    assert "metal tag 77" in pages(replace(CARD, slots=worn))[0]


def test_a_basket_of_forty_fits_one_sheet_and_a_fuller_one_goes_on_with_its_head() -> None:
    assert len(pages(replace(CARD, slots=slots(*range(1, 41))))) == 1
    first, second = pages(replace(CARD, slots=slots(*range(1, 100))))
    assert "Page 1 of 2" in first
    assert second.startswith("Basket card W-0031, Basket 12")
    assert show_tag(make_tag(1, 99)) in second


def test_an_empty_basket_has_no_card() -> None:
    with pytest.raises(InvalidInput, match="Nothing lies in Basket 12"):
        replace(CARD, slots=())


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=120), st.text(max_size=120))
def test_any_name_can_stand_on_the_card_and_prints_the_same_bytes_twice(
    basket: str, family: str
) -> None:
    card = replace(CARD, basket=basket, families=((family, 4),))
    assert traveller_pdf(card) == traveller_pdf(card)
