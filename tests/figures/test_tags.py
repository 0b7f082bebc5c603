"""Tags and shop codes: made, read back, shown, and what their check digits catch."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coretrack.figures.tags import (
    KINDS,
    ORDERS,
    BadCode,
    is_own_code,
    is_shop_code,
    is_tag,
    make_shop_code,
    make_tag,
    nearest_tags,
    parse_shop_code,
    parse_tag,
    show_tag,
)

SITES = st.integers(1, 8)
SERIALS = st.one_of(st.integers(0, 10**7 - 1), st.integers(0, 10**9 - 1))
TAGS = st.builds(make_tag, SITES, SERIALS)
NUMBERED = st.sampled_from([kind for kind in KINDS if kind != "order"])
CODES = st.one_of(
    TAGS,
    st.builds(make_shop_code, NUMBERED, st.integers(0, 10**7 - 1)),
    st.sampled_from([make_shop_code("order", order) for order in ORDERS]),
)


def test_core_42_of_site_1_has_this_tag() -> None:
    assert make_tag(1, 42) == "1000004235"
    assert show_tag("1000004235") == "1000 0042 35"
    # 98 - (1000004200 mod 97), worked out by hand
    assert 98 - 1_000_004_200 % 97 == 35


@given(SITES, SERIALS)
def test_a_tag_reads_back_as_site_and_serial(site: int, serial: int) -> None:
    tag = parse_tag(make_tag(site, serial))
    assert (tag.site, tag.serial) == (site, serial)
    assert len(tag.text) == (10 if serial < 10**7 else 12)
    assert not tag.text.startswith(("0", "9"))


@given(NUMBERED, st.integers(0, 10**7 - 1))
def test_a_shop_code_reads_back_as_kind_and_number(kind: str, number: int) -> None:
    code = parse_shop_code(make_shop_code(kind, number))
    assert (code.kind, code.number, code.order) == (kind, number, None)
    assert code.text.startswith("00")
    assert not is_tag(code.text)


@pytest.mark.parametrize("order", list(ORDERS))
def test_an_order_reads_back_by_name(order: str) -> None:
    assert parse_shop_code(make_shop_code("order", order)).order == order
    assert make_shop_code("order", ORDERS[order]) == make_shop_code("order", order)


def test_orders_and_kinds_have_numbers_of_their_own() -> None:
    assert len(set(ORDERS.values())) == len(ORDERS)
    assert len(set(KINDS.values())) == len(KINDS)


@given(CODES, st.data())
def test_one_wrong_digit_never_gives_another_own_code(code: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(code) - 1))
    for digit in set("0123456789") - {code[place]}:
        assert not is_own_code(code[:place] + digit + code[place + 1 :])


@given(CODES)
def test_a_swap_of_neighbours_never_gives_another_own_code(code: str) -> None:
    for place in range(len(code) - 1):
        swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
        assert swapped == code or not is_own_code(swapped)


@given(CODES)
def test_two_digits_swapped_across_a_third_never_give_another_own_code(code: str) -> None:
    for place in range(len(code) - 2):
        a, b, c = code[place : place + 3]
        swapped = code[:place] + c + b + a + code[place + 3 :]
        assert swapped == code or not is_own_code(swapped)


@given(CODES, st.data())
def test_a_doubled_inserted_or_missing_digit_never_gives_an_own_code(
    code: str, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(code) - 1))
    inserted = data.draw(st.sampled_from("0123456789"))
    assert not is_own_code(code[:place] + code[place] + code[place:])
    assert not is_own_code(code[:place] + inserted + code[place:])
    assert not is_own_code(code[:place] + code[place + 1 :])


def test_two_digits_too_many_slip_through_about_once_in_a_hundred_and_no_more() -> None:
    # The limit of two check digits: two slips that make a short tag as long as a long one.
    slipped = tried = 0
    for serial in range(1_234_000, 1_234_100):
        tag = make_tag(1, serial)
        for first in range(1, 10):
            for second in range(first + 1, 10):
                longer = tag[:first] + tag[first - 1 : second] + tag[second - 1 :]
                assert len(longer) == 12
                tried += 1
                slipped += is_tag(longer)
    assert 0 < slipped / tried < 0.015


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "not all digits"),
        ("CT-000123", "not all digits"),
        ("１０００００４２３５", "not all digits"),
        ("100000423", "has 9 digits"),
        ("9000004264", "starts with 9"),
        ("1000004236", "check digits of '1000 0042 36' do not fit"),
        ("100000004264", "longer than the number 42 needs"),
    ],
)
def test_what_is_wrong_with_a_tag_is_said(text: str, fault: str) -> None:
    with pytest.raises(BadCode, match=fault):
        parse_tag(text)
    assert not is_tag(text)


@pytest.mark.parametrize(("site", "serial"), [(0, 1), (9, 1), (1, -1), (1, 10**9)])
def test_a_tag_out_of_range_is_refused(site: int, serial: int) -> None:
    with pytest.raises(BadCode, match="is not possible"):
        make_tag(site, serial)


@pytest.mark.parametrize(
    ("kind", "number"),
    [("shelf", 1), ("badge", "undo"), ("order", "dance"), ("order", 99), ("lot", 10**7)],
)
def test_a_shop_code_that_does_not_exist_is_refused(kind: str, number: int | str) -> None:
    with pytest.raises(BadCode):
        make_shop_code(kind, number)


def test_an_order_or_kind_without_a_name_is_no_shop_code() -> None:
    from coretrack.figures.tags import check_digits

    assert not is_shop_code("00900099" + check_digits("00900099"))
    assert not is_shop_code("00000001" + check_digits("00000001"))
    assert not is_shop_code(make_tag(1, 1))


@given(TAGS, st.data())
def test_the_tag_before_a_slip_is_among_the_nearest(tag: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(tag) - 1))
    digit = data.draw(st.sampled_from("0123456789"))
    slips = [
        tag[:place] + tag[place] + tag[place:],
        tag[:place] + tag[place + 1 :],
        tag[:place] + digit + tag[place + 1 :],
    ]
    if place:
        slips.append(tag[: place - 1] + tag[place] + tag[place - 1] + tag[place + 1 :])
    for slip in slips:
        near = list(nearest_tags(slip))
        assert tag in near or slip == tag
        assert len(near) == len(set(near))


def test_nothing_is_near_to_text() -> None:
    assert list(nearest_tags("CTT-000123")) == []
