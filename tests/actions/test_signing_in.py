"""Signing in: right and wrong secrets, five failures, badges, sessions that end, the lock."""

from __future__ import annotations

import json
import logging
from datetime import datetime, timedelta

import pytest
from databases import TestDatabase
from small_shop import SmallShop
from staff import CLERK, INSPECTOR, OWNER, PASSWORDS, PIN, add_staff, badge_of

from coretrack.actions import passwords, people, setting_up, signing_in
from coretrack.actions.people import PersonChange
from coretrack.errors import Forbidden, InvalidInput
from coretrack.records import database
from coretrack.records.verify import verify

WRONG = "never the right one"
MINUTE = timedelta(minutes=1)


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


def refused(name: str, now: datetime, password: str = WRONG) -> str:
    with pytest.raises(InvalidInput) as caught:
        sign_in(name, now, password)
    return caught.value.message


def history(db: TestDatabase, name: str) -> list[str]:
    rows = db.sql(
        "SELECT event FROM event WHERE object_kind = 'person' AND object_key = ? ORDER BY sequence",
        [name],
    )
    return [event for (event,) in rows]


def test_name_and_password_open_a_session_that_knows_person_role_and_station(
    badge: str, now: datetime
) -> None:
    token = signing_in.sign_in(CLERK, PASSWORDS[CLERK], station="  desk  two ", now=now)
    found = signing_in.arrival(token, now + MINUTE)
    assert found is not None
    assert (found.name, found.role, found.station, found.locked) == (
        CLERK, "clerk", "desk two", False,
    )  # fmt: skip


def test_a_name_is_known_whatever_its_case_and_blanks(badge: str, now: datetime) -> None:
    token = sign_in("  ilse   THORNBY ", now, PASSWORDS[CLERK])
    found = signing_in.arrival(token, now)
    assert found is not None
    assert found.name == CLERK


def test_badge_and_pin_open_a_session_as_scanned_or_typed(badge: str, now: datetime) -> None:
    for code in (badge, f"{badge}\r", " ".join((badge[:4], badge[4:8], badge[8:]))):
        found = signing_in.arrival(by_badge(code, now), now)
        assert found is not None
        assert found.name == CLERK


def test_no_answer_tells_whether_a_name_or_badge_is_known(badge: str, now: datetime) -> None:
    people.change_person(INSPECTOR, PersonChange(active=False), by=OWNER, now=now)
    told = {
        refused(CLERK, now),
        refused("Nobody Atall", now),
        refused(INSPECTOR, now, PASSWORDS[INSPECTOR]),
    }
    assert len(told) == 1
    answers = set()
    for code in (badge, "0010077713", badge_code_of_nobody()):
        with pytest.raises(InvalidInput) as caught:
            by_badge(code, now, "9517")
        answers.add(caught.value.message)
    assert len(answers) == 2  # a code that is no badge at all has nothing to tell
    assert any("not a badge of this shop" in answer for answer in answers)


def badge_code_of_nobody() -> str:
    return people.badge_code(99_999)


def test_an_unknown_name_costs_as_much_work_as_a_wrong_password(
    badge: str, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    import werkzeug.security as security

    checked: list[str] = []
    real = security.check_password_hash

    def counting(stored: str, secret: str) -> bool:
        checked.append(stored.split("$")[0])
        return real(stored, secret)

    monkeypatch.setattr(security, "check_password_hash", counting)
    for name in (CLERK, "Nobody Atall"):
        refused(name, now)
    with pytest.raises(InvalidInput):
        by_badge(badge_code_of_nobody(), now)
    assert len(checked) == 3
    assert set(checked) == {"scrypt:32768:8:1"}


def test_five_failures_in_a_row_shut_a_name_for_fifteen_minutes(
    badge: str, now: datetime, db: TestDatabase, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING):
        said = [refused(CLERK, now) for _ in range(5)]
    assert "4 more tries" in said[0]
    assert "One more wrong try" in said[3]
    assert "shut until 07:15 (CDT)" in said[4]
    assert "shut until 07:15" in refused(CLERK, now + 14 * MINUTE, PASSWORDS[CLERK])
    assert sign_in(CLERK, now + 15 * MINUTE)
    assert history(db, CLERK)[-1] == "shut out"
    assert caplog.text.count("signing in failed") == 5
    assert WRONG not in caplog.text
    assert verify()[1] == []


def test_the_count_outlives_a_restart_and_a_success_clears_it(
    badge: str, now: datetime, db: TestDatabase
) -> None:
    for _ in range(4):
        refused(CLERK, now)
    database.close_database()
    database.open_database(db.url)
    assert "One more" not in refused(INSPECTOR, now)
    sign_in(CLERK, now)
    assert "4 more tries" in refused(CLERK, now)


def test_a_restart_opens_no_shut_name(badge: str, now: datetime, db: TestDatabase) -> None:
    for _ in range(5):
        refused(CLERK, now)
    database.close_database()
    database.open_database(db.url)
    assert "shut until" in refused(CLERK, now + MINUTE, PASSWORDS[CLERK])


def test_a_name_nobody_has_is_shut_just_the_same_and_not_written_down(
    badge: str, now: datetime, db: TestDatabase, caplog: pytest.LogCaptureFixture
) -> None:
    said = [refused("my secret word", now) for _ in range(5)]
    assert said == [refused(CLERK, now) for _ in range(5)]
    assert "shut until" in refused("my secret word", now)
    assert "my secret word" not in caplog.text
    assert "secret word" not in json.dumps(db.sql("SELECT key FROM sign_in"))


def test_a_shut_badge_leaves_the_name_open_and_the_other_way_round(
    badge: str, now: datetime
) -> None:
    for _ in range(5):
        with pytest.raises(InvalidInput):
            by_badge(badge, now, "9517")
    with pytest.raises(InvalidInput, match="shut until"):
        by_badge(badge, now)
    assert sign_in(CLERK, now)
    # Signing in by name opens no badge: its PIN may still be tried by somebody else.
    with pytest.raises(InvalidInput, match="shut until"):
        by_badge(badge, now)


def test_an_owner_lets_somebody_in_again_and_it_is_noted(
    badge: str, now: datetime, db: TestDatabase
) -> None:
    for _ in range(5):
        refused(CLERK, now)
    shut = {one.name: one.shut_until for one in people.all_people(now)}
    assert shut[CLERK] is not None
    assert shut[CLERK].strftime("%H:%M") == "07:15"
    assert shut[INSPECTOR] is None
    assert people.let_in_again(CLERK, by=OWNER, now=now)
    assert sign_in(CLERK, now)
    assert history(db, CLERK)[-2:] == ["shut out", "let in again"]
    assert not people.let_in_again(CLERK, by=OWNER, now=now)
    assert verify()[1] == []


def test_the_cookie_is_not_stored_and_every_sign_in_has_its_own(
    badge: str, now: datetime, db: TestDatabase
) -> None:
    one, two = sign_in(CLERK, now), sign_in(CLERK, now)
    assert one != two
    assert len(one) == 64
    stored = json.dumps(db.sql("SELECT token_hash, person FROM web_session"))
    assert one not in stored
    assert two not in stored
    assert signing_in.arrival(one, now) is not None


def test_signing_in_at_a_screen_ends_the_session_it_had(badge: str, now: datetime) -> None:
    before = sign_in(CLERK, now)
    sign_in(INSPECTOR, now, leaving=before)
    assert signing_in.arrival(before, now) is None


def test_a_session_ends_by_signing_out_after_twelve_hours_and_for_nobody(
    badge: str, now: datetime
) -> None:
    token = sign_in(CLERK, now)
    signing_in.sign_out(token)
    assert signing_in.arrival(token, now) is None
    long = sign_in(CLERK, now)
    assert signing_in.arrival(long, now + timedelta(hours=12) - MINUTE) is not None
    assert signing_in.arrival(long, now + timedelta(hours=12)) is None
    assert signing_in.arrival("", now) is None
    assert signing_in.arrival("f" * 64, now) is None


@pytest.mark.parametrize(
    "change",
    [
        PersonChange(active=False),
        PersonChange(password="five quiet lorries"),
        PersonChange(pin="8203"),
    ],
    ids=["sent away", "new password", "new PIN"],
)
def test_a_person_who_is_sent_away_or_has_a_new_secret_is_signed_out_at_once(
    badge: str, now: datetime, change: PersonChange
) -> None:
    hers, other = sign_in(CLERK, now), sign_in(INSPECTOR, now)
    people.change_person(CLERK, change, by=OWNER, now=now)
    assert signing_in.arrival(hers, now) is None
    assert signing_in.arrival(other, now) is not None


def test_a_new_role_counts_at_the_next_page(badge: str, now: datetime) -> None:
    token = sign_in(CLERK, now)
    people.change_person(CLERK, PersonChange(role="inspector"), by=OWNER, now=now)
    found = signing_in.arrival(token, now)
    assert found is not None
    assert found.role == "inspector"


def test_a_lost_badge_gets_the_next_number_and_the_old_one_opens_nothing(
    badge: str, now: datetime
) -> None:
    people.change_person(CLERK, PersonChange(new_badge=True), by=OWNER, now=now)
    newer = badge_of(CLERK, now)
    people.change_person(INSPECTOR, PersonChange(new_badge=True), by=OWNER, now=now)
    assert len({badge, newer, badge_of(INSPECTOR, now)}) == 3
    with pytest.raises(InvalidInput, match="do not go together"):
        by_badge(badge, now)
    assert by_badge(newer, now)


def test_a_badge_without_a_pin_opens_nothing(badge: str, now: datetime) -> None:
    people.change_person(INSPECTOR, PersonChange(new_badge=True), by=OWNER, now=now)
    with pytest.raises(InvalidInput, match="do not go together"):
        by_badge(badge_of(INSPECTOR, now), now, "")


def test_an_unused_session_locks_after_the_shops_idle_time(badge: str, now: datetime) -> None:
    token = sign_in(CLERK, now)
    used = signing_in.arrival(token, now + 9 * MINUTE)
    still = signing_in.arrival(token, now + 19 * MINUTE)
    gone = signing_in.arrival(token, now + 19 * MINUTE + 10 * MINUTE + timedelta(seconds=1))
    assert used is not None
    assert still is not None
    assert gone is not None
    assert (used.locked, still.locked, gone.locked) == (False, False, True)
    # Asking again is no use of the page either.
    again = signing_in.arrival(token, now + 30 * MINUTE)
    assert again is not None
    assert again.locked


def test_a_look_at_the_clock_is_no_use_of_the_page(badge: str, now: datetime) -> None:
    token = sign_in(CLERK, now)
    signing_in.arrival(token, now + 8 * MINUTE, in_use=False)
    found = signing_in.arrival(token, now + 11 * MINUTE)
    assert found is not None
    assert found.locked


def test_only_the_same_person_unlocks_by_pin_password_or_badge(badge: str, now: datetime) -> None:
    token = sign_in(CLERK, now)
    ways = [(PIN, ""), (PASSWORDS[CLERK], ""), (PIN, badge)]
    for secret, code in ways:
        signing_in.lock(token)
        found = signing_in.arrival(token, now)
        assert found is not None
        assert found.locked
        signing_in.unlock(token, secret, badge=code, now=now)
        found = signing_in.arrival(token, now)
        assert found is not None
        assert not found.locked
    signing_in.lock(token)
    people.change_person(INSPECTOR, PersonChange(new_badge=True), by=OWNER, now=now)
    for secret, code, said in (
        ("9517", "", "PIN is not right"),
        (PASSWORDS[INSPECTOR], "", "password is not right"),
        (PIN, badge_of(INSPECTOR, now), "not the badge of Ilse Thornby"),
    ):
        with pytest.raises(InvalidInput, match=said):
            signing_in.unlock(token, secret, badge=code, now=now)


def test_wrong_tries_at_the_lock_count_as_wrong_sign_ins(badge: str, now: datetime) -> None:
    token = sign_in(CLERK, now)
    signing_in.lock(token)
    for _ in range(5):
        with pytest.raises(InvalidInput):
            signing_in.unlock(token, "9517", now=now)
    with pytest.raises(InvalidInput, match="shut until"):
        signing_in.unlock(token, PIN, now=now)
    with pytest.raises(InvalidInput, match="shut until"):
        by_badge(badge, now)
    signing_in.sign_out(token)
    with pytest.raises(Forbidden, match="over"):
        signing_in.unlock(token, PIN, now=now)


def test_tries_that_come_at_the_same_moment_are_no_more_than_five(
    badge: str, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at = []

    def slow(stored: str, secret: str) -> bool:
        looked_at.append(secret)
        if len(looked_at) < 8:
            with pytest.raises(InvalidInput):
                sign_in(CLERK, now, f"guess {len(looked_at)}")
        return False

    monkeypatch.setattr(passwords, "fits", slow)
    with pytest.raises(InvalidInput):
        sign_in(CLERK, now, "guess 0")
    assert len(looked_at) == 5


def test_counts_of_names_nobody_has_do_not_fill_the_disk(
    badge: str, now: datetime, db: TestDatabase, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passwords, "fits", lambda stored, secret: False)
    monkeypatch.setattr("coretrack.records.sessions._MOST_STRANGERS", 5)
    refused(CLERK, now)
    for number in range(20):
        refused(f"stranger {number}", now)
    ((kept,),) = db.sql("SELECT COUNT(*) FROM sign_in")
    assert kept <= 8
    assert "3 more tries" in refused(CLERK, now)


@pytest.mark.parametrize("name", ["", "  \t ", "desk\x00two", "x" * 200, "desk two"])
def test_a_screens_name_is_short_and_printable(name: str) -> None:
    clean = signing_in.clean_station(name)
    assert clean.isprintable()
    assert len(clean) <= signing_in.LONGEST_STATION
    assert bool(clean) == bool(name.strip())
