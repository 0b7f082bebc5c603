"""The people of the shop: passwords and PINs that are refused, badges, the last owner."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_shop import SmallShop
from staff import CLERK, INSPECTOR, OWNER, PASSWORDS, PIN, add_staff, badge_of

from coretrack.actions import passwords, people, setting_up, signing_in
from coretrack.actions.people import PersonChange
from coretrack.errors import Conflict, CoretrackError, InvalidInput, NotAllowed, NotFound


@pytest.fixture
def badge(shop: SmallShop, now: datetime) -> str:
    """The clerk's badge; the owner and the inspector have none. The shop's clock is not UTC."""
    setting_up.set_shop(shop.name, "EUR", "America/Chicago", 1, by=OWNER, now=now)
    return add_staff(now)


def sign_in(name: str, now: datetime, password: str = "", **more: str) -> str:
    told = password or PASSWORDS.get(name, "")
    return signing_in.sign_in(name, told, station="receiving", now=now, **more)


def by_badge(code: str, now: datetime, pin: str = PIN) -> str:
    return signing_in.sign_in_by_badge(code, pin, station="receiving", now=now)


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("short", "too short"),
        ("x" * 201, "too long"),
        ("1234567890", "first that anybody"),
        ("Password123", "first that anybody"),
        ("aaaaaaaaaaaa", "first that anybody"),
        ("tallow yard cores", "holds 'Tallow Yard Cores'"),
        ("TallowYardCores2026", "holds 'Tallow Yard Cores'"),
        ("i am vera lund", "holds 'Vera Lund'"),
    ],
)
def test_a_password_that_is_easily_guessed_is_refused_at_its_field(
    badge: str, now: datetime, password: str, said: str
) -> None:
    with pytest.raises(InvalidInput, match=said) as caught:
        people.add_person("Vera Lund", "clerk", password, by=OWNER, now=now)
    assert set(caught.value.fields) == {"password"}


@pytest.mark.parametrize("pin", ["123", "123456789", "12 34", "١٢٣٤", "1111", "1234", "9876", "x"])
def test_a_pin_that_is_none_or_easily_guessed_is_refused(
    badge: str, now: datetime, pin: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        people.change_person(CLERK, PersonChange(pin=pin), by=OWNER, now=now)
    assert set(caught.value.fields) == {"pin"}
    assert by_badge(badge, now)


@given(st.text(max_size=10) | st.text("0123456789", min_size=3, max_size=9))
def test_any_text_is_a_pin_or_refused_in_words(text: str) -> None:
    good = len(text) in range(4, 9) and text.isascii() and text.isdigit() and len(set(text)) > 1
    if good and text not in "0123456789" and text not in "9876543210":
        passwords.check_pin(text)
    else:
        with pytest.raises(InvalidInput):
            passwords.check_pin(text)


def test_a_password_is_the_same_from_a_keyboard_that_makes_letters_of_two_signs(
    badge: str, now: datetime
) -> None:
    people.change_person(CLERK, PersonChange(password="Mühle ächzt früh"), by=OWNER, now=now)
    assert sign_in(CLERK, now, "Mu\u0308hle a\u0308chzt fru\u0308h")


@pytest.mark.parametrize(
    ("name", "role", "error", "field"),
    [
        ("", "clerk", InvalidInput, "name"),
        ("x" * 61, "clerk", InvalidInput, "name"),
        ("12345", "clerk", InvalidInput, "name"),
        ("Vera\x07Lund", "clerk", InvalidInput, "name"),
        ("Vera Lund", "boss", InvalidInput, "role"),
        ("ilse  thornby", "clerk", Conflict, "name"),
    ],
)
def test_a_person_that_cannot_be_added_is_named_with_the_field(
    badge: str, now: datetime, name: str, role: str, error: type[CoretrackError], field: str
) -> None:
    with pytest.raises(error) as caught:
        people.add_person(name, role, "five quiet lorries", by=OWNER, now=now)
    assert field in caught.value.fields
    assert len(people.all_people(now)) == 3


def test_the_last_owner_stays_owner(badge: str, now: datetime) -> None:
    for change in (PersonChange(active=False), PersonChange(role="clerk")):
        with pytest.raises(NotAllowed, match="only owner"):
            people.change_person(OWNER, change, by=OWNER, now=now)
    people.change_person(INSPECTOR, PersonChange(role="owner"), by=OWNER, now=now)
    assert people.change_person(OWNER, PersonChange(active=False), by=INSPECTOR, now=now) == [
        "can no longer sign in"
    ]


def test_a_form_sent_twice_gives_one_badge_and_the_same_answer(badge: str, now: datetime) -> None:
    told = {"by": OWNER, "now": now, "key": "a-form"}
    first = people.change_person(CLERK, PersonChange(new_badge=True), **told)
    again = people.change_person(CLERK, PersonChange(new_badge=True), **told)
    assert first == again == [f"has badge {badge_of(CLERK, now)}"]


def test_nobody_can_be_changed_who_is_not_there(badge: str, now: datetime) -> None:
    with pytest.raises(NotFound, match="nobody called 'Vera Lund'"):
        people.change_person("Vera Lund", PersonChange(role="clerk"), by=OWNER, now=now)
