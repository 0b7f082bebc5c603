"""The credit note and the notice of refusal: facts, sums, pages, photos."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PageObject, PdfReader

from coretrack.errors import InvalidInput
from coretrack.figures.credits import ROUNDING, CreditLine
from coretrack.figures.credits import refuse as refuse_credit
from coretrack.figures.tags import make_tag, show_tag
from coretrack.paper.core_blocks import CAUTION, JudgedCore
from coretrack.paper.credit_note import CreditNote, credit_note_pdf
from coretrack.paper.paper_photos import CELL, PIXELS, TALLEST, PaperPhoto, upright
from coretrack.paper.refusal_notice import AFTER_HOLD, RefusalNotice, refusal_notice_pdf

AT = datetime(2026, 5, 5, 10, 14, tzinfo=ZoneInfo("Europe/Berlin"))
CHARGE = 450_000
FULL = JudgedCore(
    tag=make_tag(1, 42),
    number_read="077 130",
    arithmetic=(CreditLine("Core charge", CHARGE),),
    credit=CHARGE,
    delivery="D-000031",
    arrived=date(2026, 5, 4),
    judged_by="Ana Ruiz",
    judged_at=AT,
    family="Injector body, 7 mm guide",
    serial="S-90031",
    invoice="INV-4711",
    line="2",
    sold_on=date(2026, 4, 10),
    number_sold="077 131",
    charge=CHARGE,
    criteria_version=3,
)
PART = replace(
    FULL,
    tag=make_tag(1, 43),
    arithmetic=(
        CreditLine("Core charge", CHARGE),
        CreditLine("Connector broken: 30 % of the charge", -135_000),
        CreditLine("Not in its box: noted, nothing taken off", 0),
    ),
    credit=315_000,
    reasons=("Connector broken", "Not in its box"),
)
NOTE = CreditNote(
    number="CN-000012",
    day=date(2026, 5, 6),
    shop_name="Hollow Lane Injector Works",
    customer="Marsh & Bexley Diesel",
    customer_code="MB01",
    currency="EUR",
    cores=(FULL, PART),
    total=765_000,
)
REFUSED = replace(
    FULL,
    arithmetic=refuse_credit(CHARGE, "Cracked body").lines,
    credit=0,
    reasons=("Cracked body", "Rusted solid"),
    hold_until=date(2026, 5, 20),
)
NOTICE = RefusalNotice(
    number="RN-000004",
    day=date(2026, 5, 6),
    shop_name="Hollow Lane Injector Works",
    customer="Marsh & Bexley Diesel",
    customer_code="MB01",
    currency="EUR",
    cores=(REFUSED,),
    contact="Hollow Lane 4, tel. 555 0134",
)


def pages(paper: CreditNote | RefusalNotice, page: str = "a4") -> list[str]:
    return [" ".join(sheet.extract_text().split()) for sheet in read(paper, page).pages]


def read(paper: CreditNote | RefusalNotice, page: str = "a4") -> PdfReader:
    if isinstance(paper, CreditNote):
        return PdfReader(BytesIO(credit_note_pdf(paper, page)))
    return PdfReader(BytesIO(refusal_notice_pdf(paper, page)))


def photo(width: int = 800, height: int = 600, turned: int = 0, place: bool = False) -> bytes:
    """Return a grey JPEG with a red upper left quarter; `turned` is its EXIF orientation."""
    picture = Image.new("RGB", (width, height), "#888888")
    picture.paste("#ee0000", (0, 0, width // 2, height // 2))
    exif = Image.Exif()
    if turned:
        exif[0x0112] = turned
    if place:
        exif[0x010E] = "taken behind the mill"
    buffer = BytesIO()
    picture.save(buffer, "JPEG", exif=exif)
    return buffer.getvalue()


def heights_of_texts(sheet: PageObject) -> list[float]:
    """Return how far above the lower edge each text of a page stands."""
    found: list[float] = []

    def visit(text: str, _user: object, matrix: list[float], _font: object, _size: float) -> None:
        if text.strip():
            found.append(matrix[5])

    sheet.extract_text(visitor_text=visit)
    return found


def test_a_credited_core_shows_what_it_is_what_it_answers_and_who_judged_it() -> None:
    (text,) = pages(NOTE)
    for words in (
        "Credit note CN-000012",
        "Date 2026-05-06",
        "Marsh & Bexley Diesel (MB01)",
        "2 cores of delivery D-000031",
        show_tag(FULL.tag),
        "Injector body, 7 mm guide",
        "Number sold 077 131",
        "Number read 077 130",
        "S-90031",
        "invoice INV-4711, line 2, sold 2026-04-10",
        "D-000031, arrived 2026-05-04",
        "Ana Ruiz, 2026-05-05 10:14 CEST (UTC+02:00)",
        "version 3, in force at the sale",
        "credited in full",
        "credited in part",
        "Connector broken; Not in its box",
        "It is no tax document and no entry in the books.",
        "Page 1 of 1",
    ):
        assert words in text


def test_every_line_of_the_arithmetic_is_printed_with_its_amount() -> None:
    text = "\n".join(sheet.extract_text() for sheet in read(NOTE).pages)
    joined = " ".join(text.split())
    assert re.search(r"Connector broken: 30 % of the charge\s.*?-13\.50", joined)
    assert re.search(r"Not in its box: noted, nothing taken off\s.*?0\.00", joined)
    assert "Credit 31.50 EUR" in joined
    assert "Total credit for 2 cores of delivery D-000031 76.50 EUR" in joined
    assert f"Amounts in EUR. {ROUNDING}" in joined
    assert CAUTION in joined


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5_000_000), st.integers(0, 100)), min_size=1, max_size=12))
def test_the_printed_credits_add_up_to_the_printed_total(sold: list[tuple[int, int]]) -> None:
    """Charges finer than a cent included: what is printed must add up for the reader."""
    cores = []
    for number, (charge, percent) in enumerate(sold):
        off = charge * percent // 100
        lines = (CreditLine("Core charge", charge), CreditLine("Taken off", -off))
        tag = make_tag(1, number)
        cores.append(replace(FULL, tag=tag, charge=charge, arithmetic=lines, credit=charge - off))
    total = sum(core.credit for core in cores)
    text = " ".join(pages(replace(NOTE, cores=tuple(cores), total=total)))

    def amounts(words: str) -> list[Decimal]:
        return [Decimal(found.replace(",", "")) for found in re.findall(words, text)]

    printed = amounts(r"(?<!Total )Credit ([\d,.]+) EUR")
    assert len(printed) == len(cores)
    assert sum(printed) == amounts(r"D-000031 ([\d,.]+) EUR")[0] == Decimal(total) / 10_000


def test_a_note_that_does_not_add_up_is_never_printed() -> None:
    with pytest.raises(InvalidInput, match=r"CN-000012 come to 76\.50, its total is 76\.49"):
        replace(NOTE, total=764_900)
    with pytest.raises(InvalidInput, match=r"come to 31\.50, its credit is 31\.5001"):
        replace(PART, credit=315_001)
    with pytest.raises(InvalidInput, match="has no core"):
        replace(NOTE, cores=(), total=0)


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_sixty_cores_run_over_pages_and_no_core_is_parted(page: str) -> None:
    shown = PaperPhoto(photo(), AT, "box as it came")
    cores = tuple(
        replace(
            PART if i % 3 else FULL,
            tag=make_tag(1, 100 + i),
            serial=f"first-{i:02d}-",
            reasons=(f"last-{i:02d}-",),
            photos=(replace(shown, what=f"photo-{i:02d}-"),) if i % 5 == 0 else (),
        )
        for i in range(60)
    )
    long = replace(NOTE, cores=cores, total=sum(core.credit for core in cores))
    printed = pages(long, page)
    assert len(printed) > 5
    for number, text in enumerate(printed, start=1):
        assert f"Page {number} of {len(printed)}" in text
        if number > 1:
            head = "Credit note CN-000012, 2026-05-06, Marsh & Bexley Diesel (MB01)"
            assert text.startswith(head)
    for i, core in enumerate(cores):
        on = [text for text in printed if show_tag(core.tag) in text]
        assert len(on) == 1
        assert f"first-{i:02d}-" in on[0]
        assert f"last-{i:02d}-" in on[0]
        assert (f"photo-{i:02d}-" in on[0]) == (i % 5 == 0)
    assert "Total credit for 60 cores" in printed[-1]
    assert not any("Total credit" in text for text in printed[:-1])


def test_nothing_is_printed_outside_either_sheet() -> None:
    long = replace(PART, reasons=("Wordwithoutanyblank" * 40, "and more " * 60))
    for page, height in (("a4", 841.89), ("letter", 792.0)):
        for sheet in read(replace(NOTE, cores=(FULL, long), total=765_000), page).pages:
            heights = heights_of_texts(sheet)
            assert min(heights) > 20
            assert max(heights) < height - 20


def test_a_photo_is_printed_upright_and_small_and_tells_no_place() -> None:
    sideways = PaperPhoto(photo(1600, 1200, turned=6, place=True), AT, "crack at the lug")
    reader = read(replace(NOTE, cores=(FULL, replace(PART, photos=(sideways,)))))
    (image,) = reader.pages[0].images
    assert image.image is not None
    picture = image.image.convert("RGB")
    assert picture.size == (PIXELS * 3 // 4, PIXELS)
    # Turned a quarter clockwise, the upper left of what was stored is the upper right.
    assert picture.getpixel((picture.width - 20, 20))[0] > 200
    assert picture.getpixel((20, 20))[0] < 160
    assert b"behind the mill" not in image.data
    text = " ".join(reader.pages[0].extract_text().split())
    assert "2026-05-05 10:14 CEST (UTC+02:00): crack at the lug" in text
    drawn = reader.pages[0].get_contents()
    assert drawn is not None
    sizes = re.findall(rb"([\d.]+) 0 0 ([\d.]+) [\d.]+ [\d.]+ cm\s*/FormXob", drawn.get_data())
    ((width, height),) = sizes
    assert float(width) <= CELL
    assert float(height) == pytest.approx(TALLEST)
    assert float(width) / float(height) == pytest.approx(0.75, abs=0.01)


def test_photos_stand_several_in_a_row() -> None:
    four = tuple(PaperPhoto(photo(400 + i, 300), AT, f"side {i}") for i in range(4))
    page = read(replace(NOTE, cores=(FULL, replace(PART, photos=four)))).pages[0]
    assert len(page.images) == 4
    drawn = page.get_contents()
    assert drawn is not None
    heights = re.findall(rb"cm\s*/FormXob", drawn.get_data())
    assert len(heights) == 4
    ys = re.findall(rb"[\d.]+ 0 0 [\d.]+ [\d.]+ ([\d.]+) cm\s*/FormXob", drawn.get_data())
    assert len(set(ys)) == 2


def test_a_photo_that_cannot_be_read_says_so_and_keeps_the_paper() -> None:
    cut = PaperPhoto(photo()[:400], AT, "cut off")
    other = PaperPhoto(b"\x89PNG\r\n\x1a\n", AT, "no photo at all")
    (text,) = pages(replace(NOTE, cores=(FULL, replace(PART, photos=(cut, other)))))
    assert text.count("This photo cannot be read.") == 2
    assert "cut off" in text
    assert upright(b"") is None


def test_a_missing_photo_gives_its_reason_or_nothing() -> None:
    with_reason = replace(PART, no_photo="the camera was broken")
    assert "No photo: the camera was broken" in pages(replace(NOTE, cores=(FULL, with_reason)))[0]
    assert "photo" not in pages(NOTE)[0].lower()


def test_the_same_note_always_prints_the_same_bytes() -> None:
    cores = (FULL, replace(PART, photos=(PaperPhoto(photo(), AT, "box"),)))
    with_photo = replace(NOTE, cores=cores)
    assert credit_note_pdf(with_photo) == credit_note_pdf(replace(with_photo))
    assert refusal_notice_pdf(NOTICE, "letter") == refusal_notice_pdf(NOTICE, "letter")


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_a_refusal_gives_its_reasons_the_sum_the_last_day_and_the_way_back(page: str) -> None:
    (text,) = pages(NOTICE, page)
    for words in (
        "Notice of refusal RN-000004",
        "refused, kept until 2026-05-20",
        "Cracked body; Rusted solid",
        "Refused: Cracked body",
        "-45.00",
        "Credit 0.00 EUR",
        "kept in the hold bin until 2026-05-20, that day included",
        "Tell us by 2026-05-20 (Hollow Lane 4, tel. 555 0134), and give the tag.",
        "at your own freight",
        AFTER_HOLD,
        CAUTION,
    ):
        assert words in text


def test_the_caution_says_what_no_credit_means_and_defers_to_qualified_people() -> None:
    assert CAUTION.startswith("Neither credit nor refusal says that a core is fit for use. Crack")
    assert CAUTION.endswith("Follow the standard, local codes and qualified people.")


def test_cores_with_different_last_days_each_name_their_own() -> None:
    later = replace(REFUSED, tag=make_tag(1, 77), hold_until=date(2026, 5, 27))
    text = " ".join(pages(replace(NOTICE, cores=(REFUSED, later), contact="")))
    assert "refused, kept until 2026-05-20" in text
    assert "refused, kept until 2026-05-27" in text
    assert "Tell us by the day beside the core, and give the tag." in text
    assert "until 2026-05-20, that day included" not in text


def test_an_excess_core_answers_no_charge_and_has_no_criteria() -> None:
    excess = replace(
        REFUSED,
        arithmetic=(),
        charge=None,
        invoice="",
        sold_on=None,
        criteria_version=None,
        reasons=("No core of this group is owed",),
    )
    (text,) = pages(replace(NOTICE, cores=(excess,)))
    assert "no open core charge of yours" in text
    assert "Credit 0.00 EUR" in text
    assert "in force at the sale" not in text
    assert "None" not in text


@pytest.mark.parametrize(
    ("core", "words"),
    [
        (replace(REFUSED, reasons=(" ",)), "needs the reason"),
        (replace(REFUSED, hold_until=None), "needs the last day"),
        (replace(FULL, hold_until=date(2026, 5, 20)), r"45\.00 is credited for it"),
    ],
)
def test_a_refusal_that_would_not_hold_is_not_printed(core: JudgedCore, words: str) -> None:
    with pytest.raises(InvalidInput, match=f"{show_tag(core.tag)} cannot stand .*{words}"):
        replace(NOTICE, cores=(core,))


def test_a_core_with_more_photos_than_a_page_holds_still_prints_them_all() -> None:
    many = tuple(PaperPhoto(photo(300 + i, 400), AT, f"side-{i}-") for i in range(24))
    reader = read(replace(NOTICE, cores=(replace(REFUSED, photos=many),)))
    assert len(reader.pages) == 3
    assert sum(len(page.images) for page in reader.pages) == 24


@settings(max_examples=30, deadline=None)
@given(name=st.text(max_size=60), words=st.text(max_size=200), code=st.text(max_size=20))
def test_any_text_in_any_field_makes_both_papers(name: str, words: str, code: str) -> None:
    odd = {"serial": code, "number_read": code, "family": name, "judged_by": name, "line": code}
    photos = (PaperPhoto(b"", AT, words),)
    core = replace(PART, **odd, reasons=(words,), invoice=code, photos=photos)
    note = replace(NOTE, cores=(core,), total=core.credit, customer=name, shop_name=name)
    assert "Credit 31.50 EUR" in " ".join(pages(note))
    refused = replace(REFUSED, **odd, reasons=(f"x {words}",), no_photo=words)
    notice = replace(NOTICE, cores=(refused,), customer_code=code, contact=words, shop_name=name)
    assert "To get a core back" in " ".join(pages(notice))
