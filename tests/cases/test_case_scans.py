"""Awkward scans at the counter: layouts, Caps Lock, doubled keys, cut scans, lost digits."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.scan_text import LAYOUTS
from coretrack.figures.scans import read_scan
from coretrack.figures.stray_codes import why_a_code
from coretrack.figures.tags import make_shop_code, make_tag, show_tag

if TYPE_CHECKING:
    from conftest import CounterShop

GIVEN = json.loads((Path(__file__).parent / "files" / "scans_open.json").read_text("utf-8"))
US = (
    "`1234567890-=qwertyuiop[]\\asdfghjkl;'zxcvbnm,./"
    '~!@#$%^&*()_+QWERTYUIOP{}|ASDFGHJKL:"ZXCVBNM<>?'
)
TAGS = st.builds(make_tag, st.integers(1, 8), st.integers(0, 10**9 - 1))


def typed_on(text: str, layout: str) -> str:
    """Return what a scanner that types for a US keyboard types on a computer set to `layout`."""
    return text.translate(str.maketrans(US, "".join(LAYOUTS[layout])))


def unshifted(text: str, layout: str) -> str:
    """Return the digits of `text` typed with Shift the wrong way round on `layout`."""
    rows = LAYOUTS[layout]
    other = rows[1] if rows[0][1:10] == "123456789" else rows[0]
    return text.translate(str.maketrans("1234567890", other[1:11]))


def offered(meaning: dict[str, object]) -> list[str]:
    """Return the texts that a scan's answer offers to choose from."""
    return [candidate["text"] for candidate in meaning["candidates"]]  # type: ignore[attr-defined]


@pytest.mark.parametrize("layout", list(LAYOUTS))
def test_aw_002_a_tag_opens_its_core_under_every_keyboard_layout(
    scanning: CounterShop, layout: str
) -> None:
    tag = scanning.tags()[3]
    for arrived in (typed_on(tag, layout), unshifted(tag, layout)):
        meaning = scanning.scan(arrived)
        assert (meaning["kind"], meaning["tag"]) == ("core", tag), arrived
        if arrived != tag:
            assert layout in meaning["message"]


@pytest.mark.parametrize("layout", list(LAYOUTS))
def test_aw_002_a_serial_through_a_wrong_layout_is_never_taken_for_another(
    scanning: CounterShop, layout: str
) -> None:
    arrived = typed_on("MY-200", layout)
    meaning = scanning.scan(arrived)
    assert meaning["kind"] in ("refused", "unknown")
    assert meaning["tag"] is None
    assert "MY-200" in offered(meaning)
    [why] = [c["why"] for c in meaning["candidates"] if c["text"] == "MY-200"]
    assert layout in why
    assert meaning["scan"]["raw"] == arrived


def test_aw_002_the_two_layouts_of_the_report_are_refused_by_name(scanning: CounterShop) -> None:
    for arrived, layout, meant in (
        ("MZß200", "German (QWERTZ)", "MY-200"),
        ("MY'200", "Italian", "MY-200"),
        ("CTß000123", "German (QWERTZ)", "CT-000123"),
        ("CT'000123", "Italian", "CT-000123"),
    ):
        meaning = scanning.scan(arrived)
        assert meaning["kind"] == "refused"
        assert layout in meaning["sentence"]
        assert meant in meaning["sentence"]


def test_aw_002_own_codes_hold_no_letter_that_a_layout_could_swap(shop: CounterShop) -> None:
    codes = [*shop.tags(), make_shop_code("badge", 7), make_shop_code("order", "undo")]
    assert all(code.isascii() and code.isdigit() for code in codes)


def test_aw_004_two_serials_that_differ_in_case_are_both_offered(shop: CounterShop) -> None:
    first = shop.tag_of("aB12c")
    # The shop may hold both bodies once the first is out of the way as a good one.
    shop.measure({first: "9.012"})
    shop.receive(["Ab12C"], "--lot", "LOT-2")
    second = shop.tag_of("Ab12C")
    for arrived in ("aB12c", "Ab12C", "AB12C", "ab12c"):
        meaning = shop.scan(arrived)
        assert (meaning["kind"], meaning["tag"]) == ("choose", None), arrived
        assert set(offered(meaning)) == {first, second}
    assert {row[0] for row in shop.sql("select serial from core")} >= {"aB12c", "Ab12C"}


def test_aw_004_caps_lock_asks_and_the_exact_serial_alone_does_not(scanning: CounterShop) -> None:
    tag = scanning.tag_of("aB12c")
    assert scanning.scan("aB12c")["kind"] == "serial"
    for arrived in ("Ab12C", "AB12C", "ab12c"):
        meaning = scanning.scan(arrived)
        assert (meaning["kind"], offered(meaning)) == ("choose", [tag])
    # Caps Lock and a German layout at once: still only a question.
    assert offered(scanning.scan("mzß200")) == ["MY-200"]


def test_aw_010_the_same_scan_again_answers_the_same_and_changes_nothing(
    scanning: CounterShop,
) -> None:
    one, other = scanning.tags()[:2]
    first = scanning.scan(one + "\r")
    assert scanning.scan(one + "\r") == first
    assert scanning.scan(other + "\r")["tag"] == other


def test_aw_010_a_manifest_sent_twice_receives_its_cores_once(shop: CounterShop) -> None:
    first = shop.receive(["N2001", "N2002"], "--lot", "LOT-2")
    cores = shop.tags()
    second = shop.receive(["N2001", "N2002"], "--lot", "LOT-2")
    assert (first["stored"], second["stored"], second["already"]) == (2, 0, 2)
    assert shop.tags() == cores


@pytest.mark.parametrize(
    "arrived", ["{0}{1}", "{0}{0}", "{0}\r{1}\r", "{0}\r\n{0}\r\n", "{0} {1}", "{0}\t{1}"]
)
def test_aw_010_two_scans_in_one_field_are_told_apart_not_guessed(
    scanning: CounterShop, arrived: str
) -> None:
    one, other = scanning.tags()[:2]
    meaning = scanning.scan(arrived.format(one, other))
    assert (meaning["kind"], meaning["tag"]) == ("refused", None)
    assert "one at a time" in meaning["sentence"]
    assert set(offered(meaning)) <= {one, other}


def test_aw_010_a_serial_read_twice_in_one_go_is_offered_once(scanning: CounterShop) -> None:
    meaning = scanning.scan("MY-200MY-200")
    assert (meaning["kind"], offered(meaning)) == ("unknown", ["MY-200"])


def test_aw_012_no_prefix_and_no_rest_of_a_tag_opens_its_core(scanning: CounterShop) -> None:
    tag = scanning.tags()[4]
    for size in range(1, len(tag)):
        for part in (tag[:size], tag[size:]):
            meaning = scanning.scan(part)
            # A serial number alone may name a core, but then only to be confirmed.
            assert meaning["kind"] != "core" or meaning["confirm"], part
    assert scanning.scan(tag[:8])["kind"] == "unknown"
    assert tag in offered(scanning.scan(tag[:8]))
    assert tag in offered(scanning.scan(f"{tag[:4]} {tag[4:8]}"))


def test_aw_014_a_doubled_or_lost_key_offers_the_tag_and_opens_nothing(
    scanning: CounterShop,
) -> None:
    tag = scanning.tags()[3]
    slips = {tag[:at] + tag[at] + tag[at:] for at in range(len(tag))}
    slips |= {tag[:at] + tag[at + 1 :] for at in range(len(tag))}
    slips |= {tag[:at] + tag[at + 1] + tag[at] + tag[at + 2 :] for at in range(9)} - {tag}
    for slip in slips:
        meaning = scanning.scan(slip)
        assert (meaning["kind"], meaning["tag"]) == ("unknown", None), slip
        assert offered(meaning)[0] == tag, slip


@given(tag=TAGS, at=st.integers(0, 11), times=st.integers(1, 3))
def test_aw_014_no_tag_with_a_key_doubled_or_lost_is_another_tag_of_its_length(
    tag: str, at: int, times: int
) -> None:
    at %= len(tag)
    longer = tag[:at] + tag[at] * times + tag[at:]
    assert read_scan(longer).tag in (None, longer)
    if times == 1:
        assert read_scan(longer).kind != "tag"
        assert read_scan(tag[:at] + tag[at + 1 :]).kind != "tag"


@given(tag=TAGS, at=st.integers(0, 11), digit=st.sampled_from("0123456789"))
def test_aw_014_no_wrong_digit_makes_another_tag(tag: str, at: int, digit: str) -> None:
    at %= len(tag)
    wrong = tag[:at] + digit + tag[at + 1 :]
    assert wrong == tag or read_scan(wrong).kind != "tag"


@pytest.mark.parametrize("text", [GIVEN["AW-016"][0].strip(), "{tag}", "00420", "036000291452"])
def test_aw_016_a_barcode_in_a_price_field_is_refused_and_nothing_stored(
    scanning: CounterShop, text: str
) -> None:
    text = text.format(tag=scanning.tags()[1])
    path = scanning.file("one.csv", "number,serial\nB504,N3001\n")
    done = scanning.run(
        "intake", path, "--source", "MERE", "--lot", "L9", "--price", text, exit_code=1
    )
    assert "looks like a" in done.output
    assert "not an amount" in done.output


@pytest.mark.parametrize("column", ["price", "mass kg", "quantity"])
def test_aw_016_a_barcode_in_a_column_of_figures_is_refused_by_row(
    shop: CounterShop, column: str
) -> None:
    for text in (GIVEN["AW-016"][0].strip(), shop.tags()[1], "CT-000124"):
        path = shop.file("one.csv", f"number,{column}\nB504,{text}\n")
        given_price = [] if column == "price" else ["--price", "30.00"]
        answer = shop.json("intake", path, "--source", "MERE", "--lot", "L9", *given_price)
        [reject] = answer["rejected"]
        assert (reject["row"], reject["column"], reject["value"]) == (2, column, text)
        assert answer["stored"] == 0


def test_aw_016_codes_are_told_from_readings_and_prices(shop: CounterShop) -> None:
    for text in (*shop.tags(), GIVEN["AW-016"][0], "CT-000124", "]C1010950600013435221AB12"):
        assert why_a_code(text)
    for text in ("9.012", "+0009.012mm", "12.5", "1,234.50", "-0.012", "300"):
        assert why_a_code(text) == ""


@pytest.mark.parametrize(
    "arrived",
    [*GIVEN["AW-018"], "3600029145"],
)
def test_aw_018_a_upc_short_of_a_digit_is_offered_and_never_taken(
    scanning: CounterShop, arrived: str
) -> None:
    meaning = scanning.scan(arrived)
    assert (meaning["kind"], meaning["number"]) == ("choose", None)
    assert offered(meaning) == ["036000291452"]


def test_aw_018_other_lengths_of_an_article_number_lose_digits_the_same_way(
    scanning: CounterShop,
) -> None:
    for whole in ("9506000134352", "09506000134352", "]E09506000134352"):
        assert scanning.scan(whole)["number"] == "09506000134352"
    for whole in ("036000291452", "0036000291452", "00036000291452"):
        assert scanning.scan(whole)["number"] == "036000291452"
    for short in ("950600013435", "0950600013435"):
        meaning = scanning.scan(short)
        assert (meaning["kind"], offered(meaning)) == ("choose", ["09506000134352"])
    # A wrong check digit and an unknown number make no guess at all.
    for wrong in ("036000291453", "4006381333931", "400638133393"):
        assert scanning.scan(wrong)["kind"] == "unknown"


def test_aw_024_alt_mode_is_named_and_the_code_behind_it_offered(scanning: CounterShop) -> None:
    tag = scanning.tags()[3]
    for arrived, meant in (
        ("067084045048048048049050051", "CT-000123"),
        ("".join(f"{ord(sign):03d}" for sign in tag), tag),
        ("".join(f"{ord(sign):03d}" for sign in tag + "\r"), tag),
        ("".join(f"{ord(sign):04d}" for sign in tag), tag),
        ("".join(f"{ord(sign):03d}" for sign in "MY-200"), "MY-200"),
    ):
        meaning = scanning.scan(arrived)
        assert (meaning["kind"], meaning["tag"]) == ("choose", None)
        assert "ALT mode" in meaning["sentence"]
        assert offered(meaning) == [meant]


INVISIBLE = (
    *("\u00a0", "\ufeff", "\u200b", "\u200e", "\u200f", "\u2060", "\u202f", "\u202a", "\u2066"),
    *("\u2069", "\u00ad", "\u034f", "\u061c", "\u3164", "\ufe0f", "\u180e", "\u2007", "\u3000"),
    *("\u2063", "\u2028", "\u2029", "\U000e0020", "\u200d"),
)


@pytest.mark.parametrize("sign", INVISIBLE, ids=lambda sign: f"U+{ord(sign):04X}")
def test_aw_026_signs_that_cannot_be_seen_do_not_hide_a_tag(
    scanning: CounterShop, sign: str
) -> None:
    tag = scanning.tags()[3]
    for arrived in (sign + tag + sign, tag[:4] + sign + tag[4:], sign * 3 + tag + sign + "\r\n"):
        meaning = scanning.scan(arrived)
        assert (meaning["kind"], meaning["tag"]) == ("core", tag), ascii(arrived)
        assert meaning["scan"]["raw"] == arrived


def test_aw_026_the_form_of_the_report_opens_the_core(scanning: CounterShop) -> None:
    tag = scanning.tags()[3]
    assert scanning.scan(f"\ufeff{tag}\u200b\u00a0")["tag"] == tag
    assert scanning.scan("\ufeffB5\u206004\u200b")["number"] == "B504"


@pytest.mark.parametrize(
    ("before", "after"),
    [
        *((f"]{mark}", "") for mark in ("C0", "A0", "E0", "Q1", "d1", "L2", "z0", "X0")),
        *(("", after) for after in ("\r", "\r\n", "\t", "\x03", "\x04", " ", "\x00")),
        *(("\x02", "\x03"), ("*", "*"), ("\x1d", ""), ("]C1\x1d", "")),
    ],
    ids=repr,
)
def test_aw_026_what_scanners_put_around_a_code_is_taken_off(
    scanning: CounterShop, before: str, after: str
) -> None:
    tag = scanning.tags()[3]
    assert scanning.scan(before + tag + after)["tag"] == tag


@pytest.mark.parametrize(
    "typed", ["{0} {1} {2}", "{0}-{1}-{2}", "{0}.{1}.{2}", "{0}{1} {2}", " {0}  {1}  {2} "]
)
def test_aw_028_a_tag_typed_in_groups_opens_its_core(scanning: CounterShop, typed: str) -> None:
    tag = scanning.tags()[3]
    meaning = scanning.scan(typed.format(tag[:4], tag[4:8], tag[8:]))
    assert (meaning["kind"], meaning["tag"]) == ("core", tag)
    assert show_tag(tag) in meaning["sentence"]


@pytest.mark.parametrize("typed", ["5", "0000005"])
def test_aw_028_the_serial_alone_shows_the_full_tag_before_anything_changes(
    scanning: CounterShop, typed: str
) -> None:
    tag = scanning.tags()[4]
    meaning = scanning.scan(typed)
    assert (meaning["kind"], meaning["tag"], meaning["confirm"]) == ("core", tag, True)
    assert show_tag(tag) in meaning["sentence"]


def test_aw_028_look_alike_letters_are_asked_about(scanning: CounterShop) -> None:
    tag = scanning.tags()[3]
    for typed in (tag.replace("0", "O"), "l" + tag[1:], tag[:9] + tag[9:].replace("2", "Z")):
        meaning = scanning.scan(typed)
        assert meaning["kind"] == "choose" or typed == tag
        assert offered(meaning) == [tag] or typed == tag


def test_aw_028_case_dashes_and_blanks_do_not_tell_part_numbers_apart(
    scanning: CounterShop,
) -> None:
    for typed in ("b504", "B 504", "b-504", "B.504", "7731-120-123", "7731 120 123"):
        assert scanning.scan(typed)["kind"] == "number"
    for typed in ("MY\u2013200", "MY\u2212200", "my-200", "MY\u2010200"):
        assert {"MY-200", scanning.tag_of("MY-200")} & set(offered(scanning.scan(typed)))


def test_every_open_scan_keeps_its_raw_text_and_changes_nothing(scanning: CounterShop) -> None:
    for texts in GIVEN.values():
        for text in texts:
            assert scanning.scan(text)["scan"]["raw"] == text


def test_a_scan_needs_a_shop_and_says_how_to_make_one(shop: CounterShop, tmp_path: Path) -> None:
    shop.data = tmp_path / "nowhere"
    done = shop.run("scan", "B504", exit_code=1)
    assert "coretrack setup" in done.output
