"""What a scan names in a shop: found, asked about, offered or unknown; never chosen silently."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.part_numbers import match_key
from coretrack.figures.scans import Meaning, NumberHit, SerialHit, read_scan, resolve
from coretrack.figures.tags import make_shop_code, make_tag, show_tag

TAG = make_tag(1, 42)
OTHER = make_tag(1, 43)
UNDO = make_shop_code("order", "undo")


@dataclass
class Shelf:
    """A small shop's book, kept in lists."""

    tags: list[str] = field(default_factory=lambda: [TAG, OTHER])
    known: list[NumberHit] = field(default_factory=list)
    serials: list[SerialHit] = field(default_factory=list)
    invoices: list[str] = field(default_factory=list)
    articles: dict[str, NumberHit] = field(default_factory=dict)
    worn: dict[int, str] = field(default_factory=dict)

    def tag(self, tag: str) -> bool:
        return tag in self.tags

    def tags_like(self, digits: str, limit: int) -> Sequence[str]:
        return [tag for tag in self.tags if digits in tag][:limit]

    def numbers(self, match_key: str) -> Sequence[NumberHit]:
        return [hit for hit in self.known if key(hit) == match_key]

    def number_prefixes(self, match_key: str, limit: int) -> Sequence[NumberHit]:
        return [hit for hit in self.known if key(hit).startswith(match_key)][:limit]

    def serials_ignoring_case(self, text: str) -> Sequence[SerialHit]:
        return [hit for hit in self.serials if hit.serial.casefold() == text.casefold()]

    def papers(self, text: str) -> Sequence[str]:
        return [invoice for invoice in self.invoices if invoice == text]

    def gtin(self, text: str) -> Sequence[NumberHit]:
        return [self.articles[text]] if text in self.articles else []

    def metal_tag(self, number: int) -> str:
        return self.worn.get(number, "")


def key(hit: NumberHit) -> str:
    return match_key(hit.number)


def known(number: str, replaced: str = "") -> NumberHit:
    return NumberHit(number, "INJ-A", "injector", replaced)


def ask(text: str, shelf: Shelf | None = None) -> Meaning:
    return resolve(read_scan(text), Shelf() if shelf is None else shelf)


def texts(meaning: Meaning) -> list[str]:
    return [candidate.text for candidate in meaning.candidates]


@pytest.mark.parametrize(
    "raw", [TAG, f"\ufeff{TAG}\u200b\u00a0\r", f"]C0{TAG}\r", "1000 0042 35", "&ààààà'é\"("]
)
def test_a_tag_opens_its_core(raw: str) -> None:
    meaning = ask(raw)
    assert (meaning.kind, meaning.tag, meaning.confirm) == ("core", TAG, False)
    assert meaning.sentence == "Core 1000 0042 35."


def test_a_tag_undone_from_a_wrong_layout_says_so() -> None:
    assert "French (AZERTY)" in ask("&ààààà'é\"(").message


@pytest.mark.parametrize("typed", ["42", "0000042"])
def test_a_serial_alone_opens_its_core_after_the_full_tag_was_shown(typed: str) -> None:
    meaning = ask(typed)
    assert (meaning.kind, meaning.tag, meaning.confirm) == ("core", TAG, True)


def test_a_serial_alone_that_two_sites_have_is_asked_about() -> None:
    shelf = Shelf(tags=[TAG, make_tag(2, 42)])
    meaning = ask("42", shelf)
    assert (meaning.kind, texts(meaning)) == ("choose", [TAG, make_tag(2, 42)])


def test_a_whole_number_goes_before_a_short_form_which_is_still_offered() -> None:
    meaning = ask("42", Shelf(invoices=["42"]))
    assert (meaning.kind, meaning.paper, texts(meaning)) == ("paper", "42", [TAG])


def test_a_part_number_with_leading_zeros_is_no_short_form() -> None:
    assert ask("00042").kind == "unknown"


@pytest.mark.parametrize(
    "slip", ["10000004235", "1000004253", "1000004236", "100004235", "1000004225"]
)
def test_a_slip_in_a_tag_is_unknown_and_the_tag_is_offered(slip: str) -> None:
    meaning = ask(slip)
    assert (meaning.kind, meaning.tag) == ("unknown", None)
    assert TAG in texts(meaning)
    assert "1000 0042 35" in meaning.message


def test_a_right_tag_that_no_core_carries_is_unknown() -> None:
    meaning = ask(make_tag(1, 77))
    assert meaning.kind == "unknown"
    assert meaning.sentence.startswith("No core carries the tag 1000 0077")


def test_part_of_a_tag_opens_nothing_and_offers_the_tags_that_hold_it() -> None:
    meaning = ask(TAG[:8], Shelf(tags=[TAG]))
    assert (meaning.kind, texts(meaning)) == ("unknown", [TAG])


def test_an_order_is_an_order_wherever_it_is_scanned() -> None:
    meaning = ask(UNDO + "\r")
    assert (meaning.kind, meaning.sentence) == ("shop code", "Order undo.")
    assert meaning.scan.code is not None


def test_a_number_that_passes_for_an_own_code_is_asked_about() -> None:
    for own in (TAG, UNDO):
        meaning = ask(own, Shelf(known=[known(own)]))
        assert meaning.kind == "choose"
        assert [c.kind for c in meaning.candidates][1] == "number"


def test_a_number_that_only_passes_for_a_tag_is_the_number() -> None:
    meaning = ask(TAG, Shelf(tags=[], known=[known(TAG)]))
    assert (meaning.kind, meaning.number) == ("number", known(TAG))


@pytest.mark.parametrize("typed", ["7731-120-123", "7731 120 123", "7731120123\r"])
def test_a_known_number_gives_its_core_group_however_it_is_written(typed: str) -> None:
    meaning = ask(typed, Shelf(known=[known("7731-120.123")]))
    assert meaning.number == known("7731-120.123")
    assert "core group INJ-A" in meaning.sentence


def test_a_superseded_number_says_what_replaced_it() -> None:
    meaning = ask("A1", Shelf(known=[known("A1", "A2")]))
    assert (meaning.kind, meaning.message) == ("number", "A1 was superseded by A2.")
    assert meaning.to_dict()["superseded_by"] == "A2"


def test_two_numbers_spelled_alike_are_never_chosen_between() -> None:
    shelf = Shelf(known=[known("A-B1"), NumberHit("AB-1", "TUR-B", "turbo")])
    meaning = ask("AB1", shelf)
    assert (meaning.kind, texts(meaning)) == ("choose", ["A-B1", "AB-1"])


def test_the_beginning_of_a_number_offers_it() -> None:
    meaning = ask("7731", Shelf(known=[known("7731-120-123")]))
    assert (meaning.kind, texts(meaning)) == ("unknown", ["7731-120-123"])


def test_a_serial_in_exact_case_is_taken_when_no_other_is_spelled_alike() -> None:
    meaning = ask("Ab12C", Shelf(serials=[SerialHit("Ab12C", TAG)]))
    assert (meaning.kind, meaning.serial, meaning.tag) == ("serial", "Ab12C", TAG)


def test_a_serial_that_differs_in_case_is_asked_about() -> None:
    meaning = ask("aB12c", Shelf(serials=[SerialHit("Ab12C", TAG)]))
    assert (meaning.kind, texts(meaning)) == ("choose", [TAG])
    assert "differs in case" in meaning.candidates[0].why


@pytest.mark.parametrize("typed", ["aB12c", "Ab12C"])
def test_two_serials_that_differ_in_case_only_are_both_listed(typed: str) -> None:
    shelf = Shelf(serials=[SerialHit("aB12c", TAG), SerialHit("Ab12C", OTHER)])
    meaning = ask(typed, shelf)
    assert (meaning.kind, sorted(texts(meaning))) == ("choose", sorted([TAG, OTHER]))
    assert "Ab12C" in meaning.candidates[1].why


@pytest.mark.parametrize("typed", ["CTß000123", "CT'000123"])
def test_a_number_damaged_by_a_layout_is_refused_and_offered(typed: str) -> None:
    meaning = ask(typed, Shelf(known=[known("CT-000123")]))
    assert (meaning.kind, texts(meaning)) == ("refused", ["CT-000123"])
    assert "keyboard" in meaning.sentence
    assert meaning.message == "Nothing was looked up or changed."


def test_y_for_z_is_never_taken_for_the_other_number() -> None:
    shelf = Shelf(known=[known("MY-100"), known("MZ-100")])
    meaning = ask("MZß100", shelf)
    assert (meaning.kind, texts(meaning)) == ("refused", ["MY-100"])


def test_a_swap_without_strange_signs_is_offered_when_the_number_is_unknown() -> None:
    meaning = ask("MZ100", Shelf(known=[known("MY-100")]))
    assert (meaning.kind, texts(meaning)) == ("unknown", ["MY100"])
    assert "German (QWERTZ)" in meaning.candidates[0].why


@pytest.mark.parametrize("typed", ["36000291452", "03600029145"])
def test_eleven_digits_of_a_known_number_are_asked_about(typed: str) -> None:
    meaning = ask(typed, Shelf(known=[known("036000291452")]))
    assert (meaning.kind, texts(meaning)) == ("choose", ["036000291452"])


def test_eleven_digits_that_are_known_themselves_are_still_asked_about() -> None:
    meaning = ask("36000291452", Shelf(known=[known("36000291452"), known("036000291452")]))
    assert (meaning.kind, texts(meaning)) == ("choose", ["36000291452", "036000291452"])


def test_an_article_barcode_finds_its_number_in_any_length() -> None:
    shelf = Shelf(articles={"04006381333931": known("A1")}, known=[known("036000291452")])
    assert ask("4006381333931", shelf).number == known("A1")
    assert ask("0036000291452", shelf).number == known("036000291452")
    assert ask("978020137962", shelf).kind == "unknown"


def test_a_scanner_in_alt_mode_is_asked_about_whether_or_not_the_number_is_known() -> None:
    for shelf in (Shelf(), Shelf(known=[known("CT-000123")])):
        meaning = ask("067084045048048048049050051", shelf)
        assert (meaning.kind, texts(meaning)) == ("choose", ["CT-000123"])
        assert "ALT mode" in meaning.sentence


def test_a_label_gives_its_number_and_serial_and_the_cores_that_had_it() -> None:
    shelf = Shelf(articles={"09506000134352": known("A1")}, serials=[SerialHit("AB12", TAG)])
    meaning = ask("]d2010950600013435221AB12\x1d10LOT9", shelf)
    assert (meaning.kind, meaning.number, meaning.serial) == ("number", known("A1"), "AB12")
    assert meaning.serials == (SerialHit("AB12", TAG),)


def test_a_label_whose_number_is_unknown_offers_the_core_with_its_serial() -> None:
    meaning = ask("]d2010950600013435221AB12", Shelf(serials=[SerialHit("AB12", TAG)]))
    assert (meaning.kind, texts(meaning), meaning.tag) == ("choose", [TAG], None)


def test_an_unknown_label_is_told_by_its_fields() -> None:
    meaning = ask("]d2010950600013435221AB12")
    assert (meaning.kind, meaning.serial) == ("unknown", "AB12")
    assert "serial AB12" in meaning.sentence


def test_a_supplier_label_without_serial_asks_for_it_and_never_takes_the_lot() -> None:
    shelf = Shelf(known=[known("7731-120-123")], serials=[SerialHit("317010", TAG)])
    meaning = ask("[)>\x1e06\x1d1P7731120123\x1dQ1\x1d1T317010\x1e\x04", shelf)
    assert (meaning.kind, meaning.number) == ("number", known("7731-120-123"))
    assert (meaning.serial, meaning.serials) == (None, ())
    assert "no serial" in meaning.message


def test_a_label_that_may_have_lost_a_separator_is_asked_about() -> None:
    shelf = Shelf(articles={"09506000134352": known("A1")})
    meaning = ask("010950600013435221AB1210LOT9", shelf)
    assert (meaning.kind, meaning.serial) == ("choose", None)
    assert "No separator was seen" in meaning.sentence
    chosen = ask(texts(meaning)[0], shelf)
    assert (chosen.kind, chosen.serial) == ("number", "AB12")


def test_label_data_that_cannot_be_read_is_refused() -> None:
    meaning = ask("1021072911172405310100693570007182")
    assert meaning.kind == "refused"
    assert "cannot be read" in meaning.sentence


def test_a_long_serial_that_looks_like_label_data_is_the_serial_when_known() -> None:
    serial = "10AB12CD34EF56GH78IJ9"
    assert ask(serial, Shelf(serials=[SerialHit(serial, TAG)])).kind == "serial"
    assert ask(serial).kind == "choose"


@pytest.mark.parametrize("raw", ["CT-00\u04121", "", "A\x00B"])
def test_what_cannot_be_read_is_refused(raw: str) -> None:
    meaning = ask(raw)
    assert (meaning.kind, meaning.sentence) == ("refused", meaning.scan.message)


@pytest.mark.parametrize("text", ["CTT-000123", "7731/120 A?B#1", "..", "1E10"])
def test_unknown_text_is_kept_as_typed(text: str) -> None:
    meaning = ask(text)
    assert (meaning.kind, meaning.scan.text) == ("unknown", text)
    assert meaning.sentence.endswith("is not known here.")


@given(st.text(max_size=40))
def test_nothing_but_a_whole_agreement_is_ever_taken(raw: str) -> None:
    shelf = Shelf(
        known=[known("A1"), known("7731-120-123")],
        serials=[SerialHit("Ab12C", TAG), SerialHit("aB12c", OTHER)],
        invoices=["1042"],
    )
    meaning = ask(raw, shelf)
    values = json.loads(json.dumps(meaning.to_dict(), allow_nan=False))
    assert values["kind"] == meaning.kind
    assert meaning.sentence
    if meaning.kind == "number":
        assert meaning.number in shelf.known
    if meaning.kind == "choose":
        assert meaning.candidates


def test_a_metal_tag_on_a_core_means_the_core_and_a_free_one_only_itself() -> None:
    tag, code = make_tag(1, 42), make_shop_code("metal tag", 12)
    worn = ask(code, Shelf(tags={tag}, worn={12: tag}))
    assert (worn.kind, worn.tag, worn.confirm) == ("core", tag, False)
    assert worn.sentence == f"Metal tag 12: core {show_tag(tag)}."
    free = ask(code, Shelf(tags={tag}, worn={13: tag}))
    assert (free.kind, free.tag, free.sentence) == ("shop code", None, "Metal tag 12.")


def test_a_basket_with_the_number_of_a_worn_metal_tag_is_the_basket() -> None:
    meaning = ask(make_shop_code("basket", 12), Shelf(worn={12: make_tag(1, 42)}))
    assert (meaning.kind, meaning.tag) == ("shop code", None)
