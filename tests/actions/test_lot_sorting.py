"""A purchased lot is begun, weighed and sorted by scanner, by one person or several."""

from __future__ import annotations

import pytest
from core_yard import Yard, money
from lot_desk import Sorting

from coretrack.actions import lot_estimates, lot_sorting
from coretrack.actions.lot_estimates import Weighing
from coretrack.actions.lot_views import lots_view
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.tags import make_shop_code
from coretrack.records.writer import writing


@pytest.fixture
def lots(yard: Yard) -> Sorting:
    return Sorting(yard)


def test_a_lot_is_begun_with_its_terms_and_nothing_is_in_the_books_yet(lots: Sorting) -> None:
    code = lots.begin(
        source="coppard brokers", freight="12,50", gross="1250", tare="50", bid_yield="62 %",
        pieces="200", carrier="Harrow Freight", reference="CB 881",
    )  # fmt: skip
    assert code == "COPP-2026-10-30"
    lot = lots.yard.lot(code)
    assert (lot.status, lot.kind, lot.source, lot.pieces) == ("sorting", "purchase", "COPP", 0)
    assert (lot.price, lot.freight, lot.mass_g) == (money("10"), money("12.5"), 1_200_000)
    assert (lot.bid_yield, lot.carrier, lot.reference) == ("0.62", "Harrow Freight", "CB 881")
    assert lots.yard.cores() == []
    assert lots.begin() == "COPP-2026-10-30-2"
    assert lots.yard.is_sound()


def test_a_begun_lot_sent_twice_is_one_lot(lots: Sorting) -> None:
    assert lots.begin(key="same") == lots.begin(key="same")
    assert [line.code for line in lots_view(lots.at).open] == ["COPP-2026-10-30"]


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("62", "0.62"), ("62 %", "0.62"), ("0.62", "0.62"), ("1", "1"), ("0.5 %", "0.005"), ("", "")],
)
def test_the_yield_expected_may_be_percent_or_a_share(lots: Sorting, typed: str, kept: str) -> None:
    assert lots.view(lots.begin(bid_yield=typed)).bid_yield == kept


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("source", "ANSL", "Ansell Hydraulics is a customer: such cores come back on a sale"),
        ("source", "NOBODY", "no source of cores is called this; known: ANSL"),
        ("source", "", "Say who sold the lot"),
        ("received", "2026-11-02", "today is 2026-10-31"),
        ("received", "30.10.2026", "write it like 2026-05-04"),
        ("basis", "crate", "by the piece, by weight or as a lump"),
        ("price", "", "type 0 if nothing is paid"),
        ("price", "-3", "negative"),
        ("freight", "1000000420", "looks like a barcode"),
        ("bid_yield", "1.5", "write it like 62 %"),
        ("bid_yield", "101", "is no share"),
        ("pieces", "many", "is no whole number; write it like 12"),
        ("pieces", "1.5", "a whole number"),
        ("pieces", "0", "leave it empty"),
        ("gross", "1250", "the weigh ticket has both"),
        ("lot", "L\u202e1", "invisible"),
    ],
)
def test_a_field_that_cannot_be_used_is_named_and_nothing_is_stored(
    lots: Sorting, field: str, typed: str, said: str
) -> None:
    events = lots.yard.events()
    with pytest.raises(InvalidInput) as wrong:
        lots.begin(**{field: typed})
    named = {"gross": "tare"}.get(field, field)
    assert list(wrong.value.fields) == [named]
    assert said.casefold() in wrong.value.fields[named].casefold()
    assert lots.yard.events() == events


def test_every_wrong_field_is_named_at_once(lots: Sorting) -> None:
    with pytest.raises(InvalidInput) as wrong:
        lots.begin(source="ANSL", price="abc", gross="50", tare="1250")
    assert set(wrong.value.fields) == {"source", "price", "tare"}
    assert "swapped" in wrong.value.fields["tare"]


def test_a_mass_that_could_be_a_thousand_times_as_much_is_asked_back(lots: Sorting) -> None:
    with pytest.raises(InvalidInput) as wrong:
        lots.begin(gross="1,250", tare="0")
    assert "1250" in wrong.value.fields["gross"]
    lots.begin(lot="L7", gross="1250000 g", tare="0")
    assert lots.yard.lot("L7").mass_g == 1_250_000


def test_a_code_that_is_taken_is_refused_also_in_other_capitals(lots: Sorting) -> None:
    lots.yard.sell("S1")
    lots.begin(lot="Pallet 9")
    for taken in ("pallet 9", "s1"):
        with pytest.raises(InvalidInput, match="is an invoice, a delivery or a lot already"):
            lots.begin(lot=taken)


def test_each_scan_adds_one_piece_whatever_family_it_is(lots: Sorting) -> None:
    code = lots.begin()
    reply = lots.scan(code, "gp 1044", "CB-77", "GP-1044", "GP1044")
    assert (reply.tone, reply.word) == ("good", "3 PIECES")
    assert reply.line == "GP-1044: 3 pieces; 4 in the lot."
    assert lots.counts(code) == {"GP-1044": 3, "CB-77": 1}
    families = {family.family: (family.count, family.share) for family in lots.view(code).families}
    assert families == {"GPB": (3, "75.0 %"), "CLB": (1, "25.0 %")}


def test_interchange_and_succession_are_said(lots: Sorting) -> None:
    code = lots.begin()
    assert "GP-1040 was superseded by GP-1044." in lots.scan(code, "GP-1040").detail
    assert "The same core as GP-1040 in this lot." in lots.scan(code, "GP-1044").detail
    assert lots.counts(code) == {"GP-1040": 1, "GP-1044": 1}


def test_the_beginning_of_a_number_is_asked_back_and_never_chosen(lots: Sorting) -> None:
    code = lots.begin()
    reply = lots.scan(code, "GP-10")
    assert (reply.tone, reply.word) == ("ask", "WHICH")
    assert [offer.text.split(",")[0] for offer in reply.offers] == [
        "GP-1040", "GP-1044", "unknown core: GP-10", "not readable",
    ]  # fmt: skip
    assert lots.counts(code) == {}
    lots.scan(code, reply.offers[1].scan)
    assert lots.counts(code) == {"GP-1044": 1}


def test_an_unknown_number_is_counted_once_it_was_called_unknown(lots: Sorting) -> None:
    code = lots.begin()
    lots.choose(code, "ZZ-9", "unknown core")
    assert "3 PIECES" in lots.scan(code, "zz 9", "ZZ9").word
    lots.choose(code, "QQ-1", "not readable")
    lot_sorting.add_unknown(code, "", **lots.told())
    assert lots.counts(code) == {"unknown core ZZ-9": 3, "not readable": 2}
    assert lots.view(code).unknown == 5


def test_an_offer_that_was_not_made_counts_nothing(lots: Sorting) -> None:
    code = lots.begin()
    assert lots.scan(code, "=unknown:XX").word == "NOT OFFERED"
    assert lots.counts(code) == {}


def test_up_to_three_digits_count_the_row_in_hand(lots: Sorting) -> None:
    code = lots.begin()
    assert lots.scan(code, "12").tone != "good"
    lots.scan(code, "GP-1040", "12")
    assert lots.counts(code) == {"GP-1040": 12}
    lots.scan(code, "GP-1040")
    assert lots.counts(code) == {"GP-1040": 13}
    lots.scan(code, "0")
    assert lots.counts(code) == {}


def test_a_count_typed_in_a_row_is_taken_and_a_slip_is_asked_back(lots: Sorting) -> None:
    code = lots.begin()
    lots.scan(code, "GP-1040")
    lots.change(code, "GP-1040", count="250")
    assert lots.counts(code) == {"GP-1040": 250}
    for slip in ("2001", "-1", "1.5", "many"):
        with pytest.raises(InvalidInput) as wrong:
            lots.change(code, "GP-1040", count=slip)
        assert list(wrong.value.fields) == ["count"]
    assert lots.counts(code) == {"GP-1040": 250}


def test_undo_takes_back_what_the_person_did_last_and_only_that(lots: Sorting) -> None:
    code = lots.begin()
    other = Sorting(lots.yard, by="Bela Quirke")
    undo = make_shop_code("order", "undo")
    lots.scan(code, "GP-1040", "GP-1040")
    other.scan(code, "CB-77")
    assert "GP-1040" in lots.scan(code, undo).line
    assert lots.counts(code) == {"GP-1040": 1, "CB-77": 1}
    lots.scan(code, "30", undo)
    assert lots.counts(code) == {"GP-1040": 1, "CB-77": 1}
    lots.scan(code, undo)
    assert lots.counts(code) == {"CB-77": 1}
    assert "nothing of yours" in lots.scan(code, undo).line
    with pytest.raises(NotAllowed, match="nothing of yours"):
        lot_sorting.undo(code, **lots.told())
    assert other.view(code).undo == "take 1 piece of CB-77 out"


def test_a_label_with_number_and_serial_is_a_piece_of_its_own(lots: Sorting) -> None:
    code = lots.begin()
    label = "[)>\x1e06\x1d1PGP-1040\x1dSA77\x1e\x04"
    assert lots.scan(code, label).line.startswith("GP-1040, serial A77: 1 piece")
    assert "is sorted in this lot already" in lots.scan(code, label).line
    assert "is one piece" in lots.scan(code, "12").line
    lots.scan(code, "[)>\x1e06\x1d1PGP-1040\x1dSA78\x1e\x04")
    lots.take_in(code)
    assert [core.serial for core in lots.yard.cores()] == ["A77", "A78"]


def test_a_serial_typed_for_one_piece_makes_it_a_row_of_its_own(lots: Sorting) -> None:
    code = lots.begin()
    lots.scan(code, "GP-1040", "GP-1040", "CB-77")
    lots.change(code, "GP-1040", serial="A 7", mass="1.3")
    assert lots.counts(code) == {"GP-1040": 1, "GP-1040, serial A 7": 1, "CB-77": 1}
    for again in ("A7", "A-7"):
        with pytest.raises(InvalidInput, match="is sorted in this lot already"):
            lots.change(code, "GP-1040", serial=again)
    lots.scan(code, make_shop_code("order", "undo"))
    assert lots.counts(code) == {"GP-1040": 2, "CB-77": 1}


def test_a_body_that_is_in_the_house_cannot_be_sorted_again(lots: Sorting) -> None:
    lots.yard.buy("A1")
    code = lots.begin()
    lots.scan(code, "GP-1040")
    with pytest.raises(InvalidInput, match="came in before as core"):
        lots.change(code, "GP-1040", serial="A1")
    tag = lots.yard.core("A1").tag
    assert lots.scan(code, tag).word == "HAS A TAG"
    assert lots.scan(code, "A1").word == "SERIAL"
    assert lots.counts(code) == {"GP-1040": 1}


def test_the_mass_of_all_pieces_is_asked_back_as_the_mass_of_one(lots: Sorting) -> None:
    code = lots.begin(basis="weight", price="2")
    lots.scan(code, "GP-1040", "20")
    with pytest.raises(InvalidInput, match="looks like the mass of all 20 pieces"):
        lots.change(code, "GP-1040", mass="24.5")
    lots.change(code, "GP-1040", mass="1225 g")
    assert lots.view(code).price == money("49")


def test_an_order_and_a_paper_count_nothing(lots: Sorting) -> None:
    lots.yard.sell("S77")
    code = lots.begin()
    lots.scan(code, "GP-1040")
    assert lots.scan(code, make_shop_code("order", "done")).word == "CHECK"
    assert lots.scan(code, make_shop_code("order", "hold")).word == "NOT HERE"
    assert lots.scan(code, "S77").word == "A PAPER"
    assert lots.scan(code, code).word == "THIS LOT"
    assert lots.counts(code) == {"GP-1040": 1}


def test_the_same_scan_sent_twice_counts_once(lots: Sorting) -> None:
    code = lots.begin()
    first = lots.scan(code, "GP-1040", key="scan-a")
    assert lots.scan(code, "GP-1040", key="scan-a") == first
    assert lots.counts(code) == {"GP-1040": 1}


def test_pieces_are_estimated_from_a_sample_weighed_one_by_one(lots: Sorting) -> None:
    code = lots.begin()
    said = lots.view(code).estimate
    assert said == "no estimate: weigh the lot and a sample of it"
    told = Weighing("220.55", "18", masses="412g 0.398; 0,405\n0.421")
    lot_estimates.weigh(code, told, **lots.told())
    # 202.55 kg net, 0.409 kg a piece
    assert lots.view(code).estimate.startswith("about 495 pieces, 4")
    lots.scan(code, "GP-1040")
    assert lots.view(code).pieces == 1
    assert lots.yard.cores() == []


def test_a_small_sample_is_never_called_the_whole_lot(lots: Sorting) -> None:
    code = lots.begin()
    told = Weighing("50", "0", masses="4.1 4.3 4.0 3.9")
    lot_estimates.weigh(code, told, **lots.told())
    assert lots.view(code).estimate == (
        "about 12 pieces: by the 4 pieces weighed no other number fits"
    )
    lot_estimates.weigh(code, Weighing("16.3", "0", masses="4.1 4.3 4.0 3.9"), **lots.told())
    assert lots.view(code).estimate == "4 pieces: all of them were weighed"


def test_a_sample_weighed_together_gives_no_interval_and_says_why(lots: Sorting) -> None:
    code = lots.begin()
    told = Weighing("220.55", "18", count="10", total="4.051", pieces="498")
    estimate = lot_estimates.weigh(code, told, **lots.told())
    assert (estimate["pieces"], estimate["low"], estimate["high"]) == (500, None, None)
    assert lots.view(code).estimate == (
        "about 500 pieces, no interval: the sample was weighed in one go, so how much pieces "
        "differ is not known"
    )
    assert lots.view(code).on_paper == 498


@pytest.mark.parametrize(
    ("told", "field", "said"),
    [
        (Weighing("", "", masses="1.2 1.3"), "gross", "weigh it with its boxes"),
        (Weighing("50", "1250", masses="1.2 1.3"), "tare", "swapped"),
        (Weighing("50", "1", masses="1.2 1.3", count="2"), "masses", "both one by one and"),
        (Weighing("50", "1", masses="1.2 x"), "masses", "without the unit"),
        (Weighing("50", "1", masses="40 30"), "masses", "heavier than the whole lot"),
        (Weighing("50", "1", count="3"), "total", "weigh together"),
        (Weighing("50", "1", total="3"), "count", "How many"),
        (Weighing("50", "1", count="0", total="3"), "total", "one piece at least"),
    ],
)
def test_weights_that_contradict_each_other_are_asked_back(
    lots: Sorting, told: Weighing, field: str, said: str
) -> None:
    code = lots.begin()
    with pytest.raises(InvalidInput) as wrong:
        lot_estimates.weigh(code, told, **lots.told())
    assert said in wrong.value.fields[field]
    assert lots.yard.lot(code).estimate == "{}"


def test_the_tag_of_a_core_that_was_taken_back_is_void_at_a_lot_too(lots: Sorting) -> None:
    lots.yard.bring_back("A1")
    tag = lots.yard.core("A1").tag
    with writing("Ilse Thornby", lots.yard.now) as writer:
        writer.event("core", tag, "taken back", {})
    code = lots.begin()
    assert lots.scan(code, tag).word == "VOID TAG"
    assert lots.scan(code, "A1").word == "WHICH", "its serial is no core's any more"
    assert lots.counts(code) == {}
