"""The receipt given at the counter: what stands on it, how it fits, and odd texts."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from coretrack.errors import InvalidInput
from coretrack.figures.tags import make_tag, show_tag
from coretrack.paper.page_flow import moment_shown
from coretrack.paper.receipt import HALF, Receipt, ReceiptCore, receipt_pdf

RECEIPT = Receipt(
    shop_name="Hollow Lane Injector Works",
    delivery="D-000031",
    customer="Marsh & Bexley Diesel",
    customer_code="MB01",
    pieces=6,
    arrived=date(2026, 5, 2),
    received_by="Ana Ruiz",
    received_at=datetime(2026, 5, 4, 9, 12, tzinfo=ZoneInfo("Europe/Berlin")),
    reference="packing slip 8841",
    carrier="van, waybill 77 120 443",
    note="One box of two open on arrival.",
)
OUTCOMES = ("accepted in full", "part credit: connector broken", "refused: cracked body", "")


def some_cores(count: int) -> tuple[ReceiptCore, ...]:
    return tuple(
        ReceiptCore(make_tag(1, 40 + i), f"077 {i:03d}", OUTCOMES[i % 4]) for i in range(count)
    )


def pages(receipt: Receipt, page: str = "a4") -> list[str]:
    reader = PdfReader(BytesIO(receipt_pdf(receipt, page)))
    return [" ".join(sheet.extract_text().split()) for sheet in reader.pages]


def places(receipt: Receipt, page: str) -> list[tuple[str, float, float]]:
    """Return each text of the first page with its height above the lower edge and its size."""
    found: list[tuple[str, float, float]] = []

    def visit(text: str, _user: object, matrix: list[float], _font: object, size: float) -> None:
        if text.strip():
            found.append((text.strip(), matrix[5], size))

    PdfReader(BytesIO(receipt_pdf(receipt, page))).pages[0].extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_the_receipt_says_how_many_came_from_whom_when_and_by_which_way(page: str) -> None:
    (text,) = pages(RECEIPT, page)
    for words in (
        "Hollow Lane Injector Works",
        "Receipt D-000031",
        "6 pieces received from you, counted, not yet judged",
        "Marsh & Bexley Diesel (MB01)",
        "packing slip 8841",
        "van, waybill 77 120 443",
        "Arrived 2026-05-02",
        "2026-05-04 09:12 CEST (UTC+02:00)",
        "Received by Ana Ruiz",
        "Handed over by",
        "One box of two open on arrival.",
        "judged by the terms of the sale it answers",
        "This receipt is no credit.",
        "Page 1 of 1",
    ):
        assert words in text


@pytest.mark.parametrize(("page", "height"), [("a4", 841.89), ("letter", 792.0)])
def test_the_receipt_fits_the_upper_half_of_either_sheet(page: str, height: float) -> None:
    box = PdfReader(BytesIO(receipt_pdf(RECEIPT, page))).pages[0].mediabox
    assert float(box.height) == pytest.approx(height)
    upper = [y for text, y, _ in places(RECEIPT, page) if "Page" not in text and "," not in text]
    assert min(upper) > height / 2
    assert max(upper) < height
    assert (height - 740) / 2 + HALF <= height / 2 + 0.1


def test_the_counted_number_is_the_largest_thing_on_the_receipt() -> None:
    found = places(RECEIPT, "a4")
    largest = max(size for _, _, size in found)
    assert [text for text, _, size in found if size == largest] == ["6"]
    assert largest >= 48


def test_one_piece_is_one_piece() -> None:
    assert "1 piece received from you" in pages(replace(RECEIPT, pieces=1))[0]


def test_a_count_that_differs_from_the_customers_paper_is_said_on_the_receipt() -> None:
    assert "Your paper says 8; we counted 6." in pages(replace(RECEIPT, pieces_on_paper=8))[0]
    assert "Your paper says" not in pages(replace(RECEIPT, pieces_on_paper=6))[0]
    assert "Your paper says" not in pages(RECEIPT)[0]


def test_nothing_is_printed_for_what_is_not_known() -> None:
    text = pages(replace(RECEIPT, reference="", carrier=" ", note=""))[0]
    for label in ("Your paper", "Carrier", "Note"):
        assert label not in text


def test_what_is_judged_so_far_is_listed_with_tag_number_and_outcome() -> None:
    (text,) = pages(replace(RECEIPT, cores=some_cores(4)))
    assert "6 pieces received from you, counted; 3 of them judged so far" in text
    assert "Judged so far: 3 of 6" in text
    assert f"{show_tag(make_tag(1, 41))} 077 001 part credit: connector broken" in text
    assert f"{show_tag(make_tag(1, 43))} 077 003 not yet judged" in text
    assert "Not listed yet: 2 pieces." in text


def test_a_long_list_goes_on_under_repeated_heads() -> None:
    printed = pages(replace(RECEIPT, pieces=60, cores=some_cores(60)), "letter")
    assert len(printed) == 3
    for number, text in enumerate(printed, start=1):
        assert "Tag Number Outcome" in text
        assert f"Page {number} of 3" in text
    assert printed[1].startswith("Receipt D-000031, Marsh & Bexley Diesel (MB01)")
    whole = " ".join(printed)
    for core in some_cores(60):
        assert whole.count(show_tag(core.tag)) == 1
    assert "Not listed yet" not in whole


def test_a_long_note_is_printed_to_its_last_word() -> None:
    note = "The lid was torn and taped over. " * 120 + "End of the note."
    whole = " ".join(pages(replace(RECEIPT, note=note)))
    assert whole.count("taped over.") == 120
    assert "End of the note." in whole
    assert "Handed over by" in whole


def test_a_receipt_for_nothing_is_refused_by_name() -> None:
    with pytest.raises(InvalidInput, match="count what came in"):
        replace(RECEIPT, pieces=0)


def test_another_paper_is_refused_by_name() -> None:
    with pytest.raises(InvalidInput, match='"a7" is not known; use a4 or letter'):
        receipt_pdf(RECEIPT, "a7")


def test_the_same_receipt_always_prints_the_same_bytes() -> None:
    assert receipt_pdf(RECEIPT) == receipt_pdf(replace(RECEIPT))
    assert receipt_pdf(RECEIPT) != receipt_pdf(replace(RECEIPT, pieces=7))


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        (UTC, "2026-01-04 09:12 UTC"),
        (ZoneInfo("Europe/London"), "2026-01-04 09:12 GMT (UTC)"),
        (ZoneInfo("Asia/Kolkata"), "2026-01-04 09:12 IST (UTC+05:30)"),
        (ZoneInfo("America/Sao_Paulo"), "2026-01-04 09:12 UTC-03:00"),
        (timezone(timedelta(hours=-9, minutes=-30)), "2026-01-04 09:12 UTC-09:30"),
    ],
)
def test_a_moment_names_its_zone_and_its_distance_from_utc(
    zone: ZoneInfo | timezone, words: str
) -> None:
    assert moment_shown(datetime(2026, 1, 4, 9, 12, tzinfo=zone)) == words


def test_a_moment_without_a_zone_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="needs its zone"):
        moment_shown(datetime(2026, 1, 4, 9, 12))  # noqa: DTZ001


def test_letters_outside_the_printed_face_keep_their_base_letter() -> None:
    text = pages(replace(RECEIPT, customer="Zakład Łożysk", received_by="Renée Čapková"))[0]
    assert "Zaklad Lozysk (MB01)" in text
    assert "Renée Capková" in text


@settings(max_examples=40, deadline=None)
@given(
    name=st.text(max_size=60), code=st.text(max_size=20), note=st.text(max_size=300), by=st.text()
)
def test_any_text_in_any_field_makes_a_receipt(name: str, code: str, note: str, by: str) -> None:
    odd = replace(
        RECEIPT,
        shop_name=name,
        customer=name,
        customer_code=code,
        note=note,
        received_by=by,
        delivery=code,
        contact=note,
        cores=(ReceiptCore(make_tag(1, 1), code, note),),
    )
    assert any("pieces received from you" in text for text in pages(odd))


def test_a_word_of_ten_thousand_letters_is_cut_and_kept() -> None:
    whole = " ".join(pages(replace(RECEIPT, note="x" * 10_000)))
    assert whole.count("x") - " ".join(pages(RECEIPT)).count("x") > 9_990
