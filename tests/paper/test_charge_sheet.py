"""The core-charge sheet: what is printed on it, where, and that it always prints the same."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader
from samples import sample_summary

from coretrack.errors import InvalidInput
from coretrack.figures.summary import ShopSummary
from coretrack.figures.wording import OWNER_DECIDES
from coretrack.paper.charge_sheet import charge_sheet_pdf, wrapped
from coretrack.paper.letters import printable

SHOP = sample_summary()


def pages(summary: ShopSummary, sheet: str = "A4") -> list[str]:
    reader = PdfReader(BytesIO(charge_sheet_pdf(summary, sheet)))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def test_three_families_fit_on_one_page_of_either_size() -> None:
    three = replace(SHOP, charges=SHOP.charges[:3])
    assert len(pages(three)) == 1
    assert len(pages(three, "Letter")) == 1


def test_a_family_shows_its_cost_its_range_and_todays_charge() -> None:
    text = pages(SHOP)[0]
    assert "Injector body, 7 mm guide" in text
    assert "Cost per good body 39.26 (36.84 … 42.26) n 380 decided, 259 good" in text
    assert "Suggested 18.27 … 22.02" in text
    assert "Today 18.00 since 2026-03-02" in text
    assert "Today's charge is 0.27 below the range." in text
    assert "Yield 68.2 % (63.3 … 72.6 %) of 380 decided cores (95 % interval)." in text
    for name in ("Broker pays", "Floor", "Make-whole range", "Ceiling", "New part"):
        assert name in text


def test_the_sheet_says_where_the_value_of_a_good_body_came_from() -> None:
    text = " ".join(pages(SHOP))
    assert "A good body is worth 40.37: 2 bought lots" in text
    assert "A good body is worth 64.00: a new body costs 64.00" in text


def test_what_is_unknown_is_a_sentence_and_never_a_zero() -> None:
    text = " ".join(pages(replace(SHOP, charges=SHOP.charges[3:4])))
    assert "Cost per good body: no figure yet" in text
    assert "Suggested: no figure yet" in text
    assert "No charge is suggested: no core of this group has been decided yet, and it" in text
    assert "nan" not in text.lower()
    assert " 0.0 %" not in text
    assert "±" not in text
    assert "0.00" not in text.replace("22.00", "").replace("88.00", "")


def test_a_family_with_none_good_shows_the_least_that_a_good_body_can_cost() -> None:
    text = " ".join(pages(replace(SHOP, charges=SHOP.charges[4:])))
    assert "Cost per good body: no figure yet, at least 99.44" in text
    assert "No charge suggested" in text
    assert "none of 14 decided cores is good" in text


def test_every_page_says_who_decides_and_what_a_verdict_is_not() -> None:
    printed = pages(SHOP)
    assert len(printed) == 2
    for text in printed:
        assert OWNER_DECIDES in text
        assert "A keep verdict is not an approval for service." in text
        assert "qualified people" in text


def test_a_shop_without_families_gets_a_sheet_that_says_so() -> None:
    assert "No family has a core-charge line yet" in pages(replace(SHOP, charges=()))[0]


def test_many_families_take_more_pages_and_none_is_lost() -> None:
    many = tuple(
        replace(SHOP.charges[0], family_name=f"Family {number:02d}") for number in range(17)
    )
    text = " ".join(pages(replace(SHOP, charges=many)))
    assert all(f"Family {number:02d}" in text for number in range(17))


def test_the_same_figures_print_the_same_bytes() -> None:
    assert charge_sheet_pdf(SHOP) == charge_sheet_pdf(sample_summary())


@pytest.mark.parametrize(("sheet", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_everything_stays_inside_the_margins_of_both_sheets(
    sheet: str, size: tuple[int, int]
) -> None:
    reader = PdfReader(BytesIO(charge_sheet_pdf(SHOP, sheet)))
    page = reader.pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size
    places: list[tuple[float, float]] = []

    def note(text: str, matrix: list[float], at: list[float], *_: object) -> None:
        if text.strip():
            x = at[4] * matrix[0] + matrix[4]
            places.append((x, at[5] * matrix[3] + matrix[5]))

    page.extract_text(visitor_text=note)
    assert len(places) > 50
    for x, y in places:
        assert 25 <= x <= size[0] - 25
        assert 25 <= y <= size[1] - 25


def test_an_unknown_sheet_is_refused() -> None:
    with pytest.raises(InvalidInput, match="A4 or Letter"):
        charge_sheet_pdf(SHOP, "A5")


def test_only_the_standard_faces_are_used_and_none_is_embedded() -> None:
    content = charge_sheet_pdf(SHOP)
    assert b"/Helvetica" in content
    assert b"/FontFile" not in content


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("± 5 µm, Ø 7 –", "± 5 µm, Ø 7 –"),
        ("Łukasz Čapek", "Lukasz Capek"),
        ("e\u0301tau", "étau"),
        ("≥ 55 \u2212 2", ">= 55 - 2"),
        ("部品", "??"),
        ("a\u200bb\x00c", "abc"),
    ],
)
def test_letters_that_the_face_lacks_are_replaced_not_dropped(text: str, shown: str) -> None:
    assert printable(text) == shown


def test_a_shop_name_in_any_script_still_prints() -> None:
    assert "Warsztat Lodz" in pages(replace(SHOP, shop_name="Warsztat Łódź".replace("ó", "o")))[0]
    assert pages(replace(SHOP, shop_name="部品"))


def test_text_wraps_within_its_width_and_a_long_word_is_cut() -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    lines = wrapped("short words and averyveryverylongwordwithoutanyspace end", 60, 10)
    assert "".join(lines).replace(" ", "") == "shortwordsandaveryveryverylongwordwithoutanyspaceend"
    assert all(stringWidth(line, "Helvetica", 10) <= 60 for line in lines)
    assert wrapped("", 60, 10) == []
