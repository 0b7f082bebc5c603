"""One scan by itself: every way a scan is damaged on its way and what is made of it."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.amounts import parse_amount
from coretrack.figures.numbers import NotANumber
from coretrack.figures.readings import Reading, Refusal, read_reading
from coretrack.figures.scan_text import (
    LAYOUTS,
    bare,
    digit_triplets,
    layout_damage,
    undone_layouts,
)
from coretrack.figures.scans import read_scan
from coretrack.figures.tags import make_shop_code, make_tag, show_tag

TAG = make_tag(1, 42)
UNDO = make_shop_code("order", "undo")
LABEL = "010950600013435221AB12\x1d10LOT9"
TAGS = st.builds(make_tag, st.integers(1, 8), st.integers(0, 10**9 - 1))
US_KEYS = (
    "`1234567890-=qwertyuiop[]\\asdfghjkl;'zxcvbnm,./",
    '~!@#$%^&*()_+QWERTYUIOP{}|ASDFGHJKL:"ZXCVBNM<>?',
)


def on_layout(text: str, name: str) -> str:
    """Return what a US scanner's keys type on a computer set to the layout `name`."""
    keys = dict(zip("".join(US_KEYS), "".join(LAYOUTS[name]), strict=True))
    return "".join(keys.get(sign, sign) for sign in text)


def offered(text: str) -> list[str]:
    return [candidate.text for candidate in read_scan(text).candidates]


@pytest.mark.parametrize(
    "wedge",
    [
        "{}",
        "{}\r",
        "{}\r\n",
        "{}\t",
        " {} ",
        "]C0{}\r",
        "]Q0{}",
        "\ufeff{}\u200b\u00a0\r",
        "\ufeff]C0{}",
    ],
)
@given(tag=TAGS)
def test_a_tag_is_read_whatever_the_scanner_puts_round_it(wedge: str, tag: str) -> None:
    raw = wedge.format(tag)
    scan = read_scan(raw)
    assert (scan.kind, scan.tag, scan.sure, scan.raw) == ("tag", tag, True, raw)


@pytest.mark.parametrize("layout", list(LAYOUTS))
@given(tag=TAGS)
def test_a_tag_survives_every_keyboard_layout(layout: str, tag: str) -> None:
    scan = read_scan(on_layout(tag, layout))
    assert (scan.kind, scan.tag, scan.sure) == ("tag", tag, True)
    if on_layout(tag, layout) != tag:
        assert layout in scan.notes[-1]
        assert show_tag(tag) in scan.notes[-1]
    else:
        assert scan.notes == ()


@given(tag=TAGS)
def test_a_tag_from_a_scanner_set_to_azerty_on_a_us_computer_is_read(tag: str) -> None:
    scan = read_scan(tag.translate(str.maketrans("1234567890", "!@#$%^&*()")))
    assert (scan.kind, scan.tag) == ("tag", tag)
    assert "this computer is set to US" in scan.notes[-1]


def test_caps_lock_cannot_touch_a_tag() -> None:
    assert read_scan(TAG.swapcase()).tag == TAG


def test_an_order_is_read_by_name() -> None:
    code = read_scan(UNDO + "\r").code
    assert code is not None
    assert (code.kind, code.order) == ("order", "undo")


@pytest.mark.parametrize("typed", ["1000 0042 35", "1000-0042-35", "1000.0042.35"])
def test_a_tag_typed_in_groups_is_that_tag(typed: str) -> None:
    scan = read_scan(typed)
    assert (scan.kind, scan.tag, scan.notes) == ("tag", TAG, ("Typed in groups.",))


@pytest.mark.parametrize(
    ("layout", "typed"),
    [
        ("German (QWERTZ)", "zy ZY ß-?_ö"),
        ("Italian", "yz YZ '-?_ò"),
        ("Spanish", "yz YZ '-?_ñ"),
        ("French (AZERTY)", "yw YW )!°§m"),
        ("Belgian (AZERTY)", "yw YW )=°+m"),
        ("Czech (QWERTZ)", "zy ZY =-%_ů"),
        ("Slovak (QWERTZ)", "zy ZY =-%_ô"),
        ("Hungarian (QWERTZ)", "zy ZY ü-Ü_é"),
        ("Swiss (QWERTZ)", "zy ZY '-?_ö"),
        ("Portuguese", "yz YZ '-?_ç"),
        ("Swedish", "yz YZ +-?_ö"),
        ("Danish", "yz YZ +-?_æ"),
    ],
)
def test_each_layout_types_these_signs_for_the_keys_that_tell_it(layout: str, typed: str) -> None:
    # From memory of the keyboards: y, z, dash, slash, underscore, question mark, semicolon.
    assert on_layout("yz YZ -/_?;", layout) == typed
    assert "yz YZ -/_?;" in [c.text for c in undone_layouts(typed)]


@pytest.mark.parametrize("layout", ["French (AZERTY)", "Belgian (AZERTY)"])
def test_azerty_moves_a_q_w_z_and_m(layout: str) -> None:
    assert on_layout("aqwzm AQWZM 19", layout).startswith("qazw, QAZW? &")


@pytest.mark.parametrize(
    ("text", "layouts"),
    [("CTß000123", ["German"]), ("CT'000123", ["Italian", "Spanish"])],
)
def test_a_dash_from_another_layout_is_not_read_and_the_layout_is_named(
    text: str, layouts: list[str]
) -> None:
    scan = read_scan(text)
    assert (scan.kind, scan.sure) == ("wrong layout", False)
    assert offered(text) == ["CT-000123"]
    assert all(layout in scan.message for layout in layouts)


def test_y_and_z_change_places_on_a_german_layout() -> None:
    assert offered("MZß100") == ["MY-100"]
    assert on_layout("MY-100", "German (QWERTZ)") == "MZß100"


@pytest.mark.parametrize(
    "text", ["Prüf-7", "Müller", "Größe 2", "5'6\"", "MY-100", "B504K1", "00420"]
)
def test_plain_text_and_honest_accents_are_no_layout_damage(text: str) -> None:
    assert layout_damage(text) == ()
    assert (read_scan(text).kind, read_scan(text).text) == ("text", text)


@given(st.sampled_from(list(LAYOUTS)), st.from_regex(r"[A-Z0-9-]{4,12}", fullmatch=True))
def test_what_a_layout_did_to_a_number_is_always_among_what_is_undone(
    layout: str, number: str
) -> None:
    typed = on_layout(number, layout)
    assert typed == number or number in [c.text for c in undone_layouts(typed)]


@pytest.mark.parametrize("mark", ["]C1", "]d2", "]Q3", "]e0"])
def test_marked_gs1_data_gives_gtin_serial_and_lot_and_keeps_the_raw_text(mark: str) -> None:
    scan = read_scan(mark + LABEL)
    assert (scan.kind, scan.sure, scan.symbology) == ("gs1", True, mark)
    assert (scan.gtin, scan.serial, scan.lot) == ("09506000134352", "AB12", "LOT9")
    assert scan.raw == mark + LABEL


def test_a_serial_that_may_have_run_on_is_not_taken_without_a_warning() -> None:
    raw = LABEL.replace("\x1d", "")
    scan = read_scan(raw)
    assert (scan.sure, scan.raw) == (False, raw)
    assert "No separator was seen: the serial 'AB1210LOT9' may be too long" in scan.message
    assert offered(raw) == [
        "(01)09506000134352(21)AB12(10)LOT9",
        "(01)09506000134352(21)AB1210LOT9",
    ]
    chosen = read_scan(offered(raw)[0])
    assert (chosen.sure, chosen.serial, chosen.lot) == (True, "AB12", "LOT9")


def test_gs1_data_that_lost_its_separator_and_makes_no_sense_is_a_clear_error() -> None:
    raw = "1021072911172405310100693570007182"
    scan = read_scan(raw)
    assert (scan.sure, scan.raw, scan.serial, scan.lot) == (False, raw, None, None)
    assert "'693570007182' begins no known field" in scan.message


def test_a_bar_for_the_separator_is_read_when_set_and_asked_about_when_not() -> None:
    raw = LABEL.replace("\x1d", "|")
    scan = read_scan(raw, separator="|")
    assert (scan.sure, scan.serial, scan.lot, scan.raw) == (True, "AB12", "LOT9", raw)
    unset = read_scan(raw)
    assert (unset.sure, unset.serial) == (False, None)
    assert "The sign | may stand for the separator" in unset.message
    assert offered(raw) == ["(01)09506000134352(21)AB12(10)LOT9"]


def test_the_form_printed_under_a_symbol_may_be_typed() -> None:
    scan = read_scan("(01)09506000134352(21)AB12(10)LOT9")
    assert (scan.gtin, scan.serial, scan.lot) == ("09506000134352", "AB12", "LOT9")
    assert scan.sure


def test_a_wrong_check_digit_on_a_label_puts_the_scan_in_doubt() -> None:
    scan = read_scan("]C1010950600013435321AB12")
    assert not scan.sure
    assert "it would be 2" in scan.message


def test_a_date_without_a_day_is_shown_as_the_last_of_its_month() -> None:
    assert ("17", "expiry date", "2024-10-31") in [
        (f.identifier, f.name, f.value) for f in read_scan("]C117241000").fields
    ]


def test_a_long_unmarked_number_that_could_be_gs1_data_is_asked_about() -> None:
    scan = read_scan("10AB12CD34EF56GH78IJ9")
    assert not scan.sure
    assert scan.candidates[-1].text == scan.raw


@pytest.mark.parametrize(
    "label",
    [
        "[)>\x1e06\x1d1P7731120123\x1dQ1\x1d1T317010\x1e\x04",
        "[)>06\x1d1P7731120123\x1dQ1\x1d1T317010",
    ],
)
def test_a_supplier_label_gives_part_and_lot_and_asks_for_the_serial(label: str) -> None:
    scan = read_scan(label)
    assert (scan.kind, scan.numbers, scan.lot) == ("format 06", ("7731120123",), "317010")
    assert scan.serial is None
    assert scan.message == "The label gives no serial: read it off the part."
    assert scan.raw == label


def test_a_supplier_label_with_a_stray_sign_is_read_and_says_so() -> None:
    scan = read_scan(">[)>06\x1d1P7731120123\x1dSAB12")
    assert (scan.numbers, scan.serial, scan.message) == (("7731120123",), "AB12", "")
    assert "Stray signs '>'" in scan.notes[0]


def test_a_label_without_separators_is_refused_with_the_reason() -> None:
    scan = read_scan("[)>061P7731120123SAB12")
    assert scan.kind == "refused"
    assert "separators between the fields are missing" in scan.message


@pytest.mark.parametrize("text", ["4006381333931", "036000291452", "00036000291452"])
def test_an_article_barcode_is_known_as_one(text: str) -> None:
    scan = read_scan(text + "\r")
    assert (scan.kind, scan.gtin) == ("gtin", text.zfill(14))


@pytest.mark.parametrize("text", ["36000291452", "03600029145"])
def test_eleven_digits_are_offered_completed_and_never_taken(text: str) -> None:
    scan = read_scan(text)
    assert (scan.kind, scan.sure, scan.gtin) == ("text", False, None)
    assert "036000291452" in offered(text)


def test_a_shop_code_that_lost_its_zeros_is_offered_only() -> None:
    scan = read_scan(UNDO.lstrip("0"))
    assert (scan.kind, scan.sure) == ("text", False)
    assert UNDO in offered(UNDO.lstrip("0"))


def test_a_letter_for_a_digit_in_a_typed_tag_is_offered_only() -> None:
    scan = read_scan("1OOO OO42 3S")
    assert (scan.sure, offered("1OOO OO42 3S")) == (False, [TAG])


def test_a_scanner_in_alt_mode_is_recognised_and_never_read_as_a_number() -> None:
    scan = read_scan("067084045048048048049050051\r")
    assert (scan.kind, scan.sure) == ("digit triplets", False)
    assert "ALT mode" in scan.message
    assert [c.text for c in scan.candidates] == ["CT-000123"]


@given(TAGS)
def test_a_tag_sent_as_digit_triplets_is_offered(tag: str) -> None:
    sent = "".join(f"{ord(sign):03d}" for sign in tag + "\r")
    scan = read_scan(sent)
    assert (scan.kind, [c.text for c in scan.candidates]) == ("digit triplets", [tag])
    assert scan.candidates[0].kind == "tag"


@pytest.mark.parametrize("text", ["067084", "06708404", "067084999", "007084045", "06708404A"])
def test_other_digits_are_no_triplets(text: str) -> None:
    assert digit_triplets(text) is None


@pytest.mark.parametrize("raw", [f"{TAG}{TAG}", f"{TAG}\r{TAG}\r", f"{TAG}\r\n{make_tag(1, 43)}"])
def test_two_scans_in_one_are_refused_and_each_is_offered(raw: str) -> None:
    scan = read_scan(raw)
    assert scan.kind == "refused"
    assert scan.candidates[0].text == TAG
    assert "2 scans arrived as one" in scan.message


def test_a_doubled_sign_never_makes_another_tag() -> None:
    assert read_scan(TAG[:4] + TAG[3:]).tag is None
    assert read_scan("CTT-000123").kind == "text"


def test_a_letter_of_another_alphabet_is_refused_by_sign_and_place() -> None:
    scan = read_scan("CT-00\u04121")
    assert (scan.kind, scan.sure) == ("refused", False)
    assert "Sign 6 of the scan" in scan.message
    assert "Cyrillic" in scan.message


@pytest.mark.parametrize("text", ["7731/120 A?B#1", "A/B", "..", "00420", "0010", "1E10", "B504"])
def test_awkward_numbers_stay_as_typed(text: str) -> None:
    scan = read_scan(text + "\r")
    assert (scan.kind, scan.text, scan.sure) == ("text", text, True)


@pytest.mark.parametrize("raw", ["", " \r\n", "\ufeff\u200b"])
def test_nothing_is_said_to_be_nothing(raw: str) -> None:
    assert (read_scan(raw).kind, read_scan(raw).message) == ("empty", "Nothing was scanned.")


def test_a_scan_longer_than_any_label_is_refused() -> None:
    assert read_scan("9" * 5000).kind == "refused"
    assert read_scan("x" * 81).kind == "refused"


@given(st.text(max_size=60))
def test_any_text_is_understood_somehow_and_kept_sign_for_sign(raw: str) -> None:
    scan = read_scan(raw)
    assert scan.raw == raw
    assert scan.sure or scan.message or scan.candidates
    json.dumps(scan.to_dict(), allow_nan=False)


@given(st.text("]CdQ1230[)>\x1d\x1e\x04|(0)21AB\r ", max_size=40))
def test_any_mixture_of_marks_and_separators_is_understood_somehow(raw: str) -> None:
    assert read_scan(raw).raw == raw
    assert read_scan(raw, separator="|").raw == raw


def test_a_scan_as_plain_values_names_every_field() -> None:
    values = read_scan("]C1" + LABEL).to_dict()
    assert values["serial"] == "AB12"
    assert values["fields"][1] == {"identifier": "21", "name": "serial", "value": "AB12"}
    assert values["notes"] == ["The mark ]C1 in front says: Code 128 with GS1 data."]
    assert read_scan(UNDO).to_dict()["code"]["order"] == "undo"


def test_invisible_signs_inside_are_left_out_and_said() -> None:
    assert bare("10000\u200b04235").text == TAG
    assert read_scan("10000\u200b04235").notes == ("Invisible signs inside were left out.",)


@pytest.mark.parametrize(
    "text",
    [
        "4006381333931",
        "4006381333931\r",
        TAG,
        "1000 0042 35",
        "&ààààà'é\"(",
        UNDO,
        "CT-000124\r",
        "]C0123",
        LABEL,
        "(01)09506000134352",
        "[)>\x1e06\x1d1P77\x1e\x04",
        "12345678",
        "067084045048",
    ],
)
def test_a_code_never_becomes_a_reading_or_a_price(text: str) -> None:
    assert isinstance(read_reading(text, unit="mm"), Refusal)
    with pytest.raises(NotANumber):
        parse_amount(text)


@pytest.mark.parametrize(
    "text",
    ["9.012", "9,012", "+0009.012mm", "-0.012", "FFFF000012330", "0.3548 in", "9012 µm", "300"],
)
def test_readings_are_not_taken_for_codes(text: str) -> None:
    assert isinstance(read_reading(text, unit="mm"), Reading)


@pytest.mark.parametrize("text", ["1,234,567.89", "1.234,50", "1234567", "12.50", "0"])
def test_prices_are_not_taken_for_codes(text: str) -> None:
    assert parse_amount(text) >= 0
