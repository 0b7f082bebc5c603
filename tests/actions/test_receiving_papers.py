"""Receipts, credit notes and notices of refusal say what was stored, and say it again the same."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pytest
from core_yard import Yard, money
from dock_station import TODAY, Clerk
from made_photos import bench_top
from pypdf import PdfReader

from coretrack.actions import photos
from coretrack.actions.credit_release import CreditDays, credits_waiting, release_credits
from coretrack.actions.hold_bin import Decision, settle_core
from coretrack.actions.receiving_papers import (
    credit_note_file,
    notes_between,
    notice_file,
    papers_file,
    receipt_file,
    refused_on,
)
from coretrack.errors import InvalidInput, NotFound
from coretrack.records.writer import writing

NOW = datetime(2026, 5, 25, 15, tzinfo=UTC)
ALL = CreditDays(date(2026, 12, 31), upto=True)


def text_of(content: bytes) -> str:
    pages = PdfReader(BytesIO(content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def page_count(content: bytes) -> int:
    return len(PdfReader(BytesIO(content)).pages)


def release(*customers: str) -> tuple[str, ...]:
    shown = credits_waiting(ALL, NOW)
    ticked = {one.customer: one.seen for one in shown.customers if one.customer in customers}
    done = release_credits(
        ticked, ALL, by="Oda Fenn", station="dock 1", now=NOW, key=" ".join(customers)
    )
    return done.notes


def photograph(tag: str, when: datetime = NOW) -> None:
    content = BytesIO()
    bench_top(320, 240).save(content, "JPEG")
    photos.add_photo(
        content.getvalue(), "core", tag, "fault", by="Oda Fenn", station="dock 1", now=when
    )


@pytest.fixture
def served(yard: Yard) -> Yard:
    """A delivery of three judged at the dock: full, in part, refused; a fourth was counted."""
    yard.sell("S1", 4)
    clerk = Clerk()
    code = clerk.open("ANSL", 4, reference="RMA 12", carrier="Van", arrived_on="2026-05-19")
    clerk.receive(code, serial="A1")
    clerk.receive(code, serial="A2", faults=("port", "plug"), no_photo="thread seen by two")
    clerk.receive(code, serial="A3", faults=("cracked",), no_photo="the camera is broken")
    return yard


def test_a_receipt_says_what_was_counted_and_what_is_judged(served: Yard) -> None:
    file = receipt_file("D-0001")
    said = text_of(file.content)
    assert file.name.endswith(".pdf")
    for words in (
        "Receipt D-0001",
        "Ansell Hydraulics (ANSL)",
        "4 pieces received from you",
        "RMA 12",
        "Van",
        "2026-05-19",
        "Received by Ilse Thornby",
        "Judged so far: 3 of 4",
        "Not listed yet: 1 piece",
    ):
        assert words in said, words
    assert receipt_file("D-0001") == file


def test_a_receipt_needs_a_count_and_a_delivery(yard: Yard) -> None:
    code = Clerk().open("ANSL", "")
    with pytest.raises(InvalidInput, match="count its pieces first"):
        receipt_file(code)
    yard.buy("P1", lot="L1")
    for wrong in ("nowhere", "L1"):
        with pytest.raises(NotFound):
            receipt_file(wrong)


def test_a_delivery_by_file_has_a_receipt_of_its_cores(yard: Yard) -> None:
    yard.sell("S1", 2)
    yard.bring_back("A1", "A2", delivery="BOX/7 #2")
    file = receipt_file("BOX/7 #2")
    assert "2 pieces received from you" in text_of(file.content)
    assert "/" not in file.name


def test_a_credit_note_prints_the_arithmetic_that_was_stored(served: Yard) -> None:
    (number,) = release("ANSL")
    said = text_of(credit_note_file(number).content)
    for words in (
        "Credit note CN-000001",
        "Port thread damaged: 25 % of the charge -5.00",
        "Plug missing -3.50",
        "credited in part",
        "credited in full",
        "invoice S1, line 1, sold 2026-05-04",
        "Criteria version 1, in force at the sale",
        "Judged by Ilse Thornby, 2026-05-20 10:",
        "No photo: thread seen by two",
        "Total credit for 2 cores of delivery D-0001 31.50 EUR",
    ):
        assert words in said, words
    assert served.core("A3").tag[:4] + " " + served.core("A3").tag[4:8] not in said


def test_a_note_prints_the_same_bytes_after_rules_and_photos_changed(served: Yard) -> None:
    photograph(served.core("A1").tag, NOW - timedelta(hours=1))
    (number,) = release("ANSL")
    before = credit_note_file(number)
    with writing("Ilse Thornby", NOW) as writer:
        writer.event("family", "GPB", "set", {"criteria_version": 9})
        writer.event("shop", "shop", "set", {"window_days": 1, "hold_days": 99})
    photograph(served.core("A2").tag, NOW + timedelta(hours=1))
    served.measure("A1", at="2026-05-26 09:00")
    assert credit_note_file(number) == before
    assert notes_between(number, number)[0][0].total == money("31.50")
    assert served.is_sound()


def test_a_charge_that_was_not_paid_yet_is_said_on_the_note(yard: Yard) -> None:
    yard.sell("S1", 1, mode="billed later")
    yard.sell("S2", 1, mode="core first", number="CB-77", charge="9.00")
    yard.bring_back("A1", faults="port", day="2026-05-20")
    yard.bring_back("A2", number="CB-77", day="2026-05-20")
    (number,) = release("ANSL")
    said = text_of(credit_note_file(number).content)
    assert "Charge mode billed later: 5.00 EUR to bill 0.00" in said
    assert "Charge mode core first: counts as one unit 0.00" in said
    assert "Total credit for 2 cores" in said
    assert "24.00 EUR" in said


def test_a_core_by_file_has_a_day_and_no_made_up_time(yard: Yard) -> None:
    yard.sell("S1", 1)
    yard.bring_back("A1", day="2026-05-20")
    (number,) = release("ANSL")
    said = text_of(credit_note_file(number).content)
    assert "Judged by Ilse Thornby" in said
    assert "12:00" not in said


def test_a_notice_says_why_until_when_and_how_to_get_the_core_back(served: Yard) -> None:
    tag = served.core("A3").tag
    photograph(tag)
    one = notice_file(tag=tag)
    said = text_of(one.content)
    for words in (
        "Notice of refusal",
        "Refused for Visible crack",
        "Core charge 20.00",
        "Refused: Visible crack -20.00",
        "2026-05-30, that day included",
        "becomes the shop's scrap",
        "fault",
    ):
        assert words in said, words
    assert notice_file(tag=tag) == one
    whole = text_of(notice_file(delivery="D-0001").content)
    assert "Notice of refusal D-0001" in whole
    assert "1 core of delivery D-0001" in whole


def test_an_excess_core_that_was_refused_has_a_notice_too(yard: Yard) -> None:
    yard.bring_back("E1", day="2026-05-20")
    tag = yard.core("E1").tag
    with pytest.raises(InvalidInput, match="is not refused"):
        notice_file(tag=tag)
    decision = Decision(tag, "refuse", 2, reason="wrong casting")
    settle_core(decision, role="clerk", by="Oda Fenn", station="dock 1", now=NOW, key="k")
    said = text_of(notice_file(tag=tag).content)
    assert "Refused for wrong casting" in said
    assert "no open core charge of yours" in said
    assert "2026-06-04" in said


def test_who_is_not_refused_or_not_there_has_no_notice(served: Yard) -> None:
    with pytest.raises(InvalidInput, match="is not refused"):
        notice_file(tag=served.core("A1").tag)
    for wrong in ({"tag": "1"}, {"delivery": "nowhere"}):
        with pytest.raises(NotFound):
            notice_file(**wrong)
    for number in ("CN-000001", "", "CN-", "CN-x"):
        with pytest.raises(NotFound):
            credit_note_file(number)
        with pytest.raises(NotFound):
            papers_file(number, number)


def test_a_core_refused_without_a_last_day_gets_no_promise_on_paper(served: Yard) -> None:
    tag = served.core("A3").tag
    with writing("Ilse Thornby", NOW) as writer:
        writer.event("core", tag, "unjudged", {})
        writer.event("core", tag, "accepted", {"outcome": "refuse", "faults": []}, why="old")
    with pytest.raises(InvalidInput, match="before last days were noted"):
        notice_file(tag=tag)
    with pytest.raises(NotFound):
        notice_file(delivery="D-0001")
    assert refused_on(ALL) == (0, 0)


def test_all_papers_of_a_release_are_one_file_with_pages_of_their_own(served: Yard) -> None:
    served.sell("S9", 1, customer="BROD")
    served.bring_back("B1", customer="BROD", day="2026-05-20")
    first, last = release("ANSL", "BROD")
    assert refused_on(ALL) == (1, 1)
    bundle = papers_file(first, last, ALL)
    said = text_of(bundle.content)
    for words in (
        "Credit note CN-000001",
        "Credit note CN-000002",
        "Notice of refusal ANSL 2026-05-20",
        "Page 1 of 1",
    ):
        assert words in said, words
    apart = [credit_note_file(number).content for number in (first, last)]
    assert page_count(bundle.content) == sum(map(page_count, apart)) + 1
    for content in apart:
        assert text_of(content) in said
    assert papers_file(first, last, ALL) == bundle
    without = papers_file(first, last)
    assert "Notice of refusal" not in text_of(without.content)
    only = papers_file("", "", CreditDays(date(2026, 5, 20)))
    assert "Notice of refusal ANSL" in text_of(only.content)
    with pytest.raises(NotFound):
        papers_file("", "", CreditDays(date(2026, 5, 19)))


@pytest.mark.parametrize(("paper", "height"), [("a4", 841), ("letter", 792)])
def test_papers_have_the_shops_paper_size(served: Yard, paper: str, height: int) -> None:
    with writing("Ilse Thornby", TODAY) as writer:
        writer.event("shop", "shop", "set", {"paper_size": paper})
    (number,) = release("ANSL")
    for file in (
        receipt_file("D-0001"),
        credit_note_file(number),
        notice_file(tag=served.core("A3").tag),
        papers_file(number, number, ALL),
    ):
        box = PdfReader(BytesIO(file.content)).pages[0].mediabox
        assert int(box.height) == height
