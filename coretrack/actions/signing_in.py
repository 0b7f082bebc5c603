"""Signing in by name and password or by badge and PIN, the lock, signing out.

A session is a row of the database; the cookie holds 256 random bits of which only the SHA-256 is
stored. An unknown name, a wrong password and a person who is gone get the same answer after the
same work, and five failures in a row shut a name or badge for a quarter of an hour.
"""

from __future__ import annotations

import hashlib
import logging
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from coretrack.actions import passwords, people
from coretrack.errors import Forbidden, InvalidInput
from coretrack.figures.scan_reading import read_scan
from coretrack.figures.trade_objects import Person
from coretrack.records import people as stored_people
from coretrack.records import queries, sessions
from coretrack.records.database import connection, transaction
from coretrack.records.sessions import StoredSession
from coretrack.records.writer import writing

SESSION_TIME = timedelta(hours=12)
MOST_FAILURES = 5
SHUT_TIME = timedelta(minutes=15)
IDLE_UNIT = timedelta(minutes=1)
"""What `idle_minutes` of the shop are counted in."""

USUAL_STATIONS = {"clerk": "receiving", "inspector": "bench", "owner": "office"}
"""What a screen without a name of its own is called, by who signs in there."""
LONGEST_STATION = 30

_STRANGER = "nobody/"
_WRONG_NAME = "Name and password do not go together. Check both and try again."
_WRONG_BADGE = "Badge and PIN do not go together. Check both and try again."
_WRONG_PIN = "That PIN is not right."
_WRONG_PASSWORD = "That password is not right."

_log = logging.getLogger("coretrack.signing_in")

# When each session was last used. Kept in this process only: nothing is written at every page, and
# after a restart a session that was in use is locked, which costs its person a PIN.
_last_used: dict[str, datetime] = {}


@dataclass(frozen=True)
class Arrival:
    """Whom a cookie stands for; while `locked` only its person's PIN or password helps.

    `idle_seconds` is how long it may lie unused (0: for ever), `unused_seconds` how long it has.
    """

    name: str
    role: str
    station: str
    session: str
    locked: bool
    idle_seconds: float
    unused_seconds: float


def badge_number(text: str) -> int | None:
    """Return the number of the badge that was scanned or typed, None when it is no badge."""
    code = read_scan(text).code
    return code.number if code is not None and code.kind == "badge" else None


def is_other_code(text: str) -> bool:
    """Return whether a text is one of the shop's codes that opens nothing: a tag, a bin, an order.

    Somebody scanned at a page that asks for a secret; it was no try to guess one.
    """
    return passwords.looks_scanned(text) and badge_number(text) is None


def sign_in(name: str, password: str, *, station: str, now: datetime, leaving: str = "") -> str:
    """Return the token of a new session; InvalidInput, the same for every reason, if it fails.

    `leaving` is the token of the session this screen had before; it ends.
    """
    with connection():
        person = stored_people.person_called(name)
    door = people.name_door(person) if person else _stranger("name", stored_people.folded(name))
    stored = person.password_hash if person else ""
    _prove(door, person, stored, password, _WRONG_NAME, station=station, now=now)
    return new_session(door, person, station, now, leaving, by_badge=False)


def sign_in_by_badge(
    badge: str, pin: str, *, station: str, now: datetime, leaving: str = ""
) -> str:
    """Return the token of a new session for who carries this badge; InvalidInput if it fails."""
    number = badge_number(badge)
    if number is None:
        raise InvalidInput("That is not a badge of this shop. Scan the badge, or type your name.")
    with connection():
        person = stored_people.person_with_badge(number)
    door = people.badge_door(person) if person else _stranger("badge", str(number))
    stored = person.pin_hash if person else ""
    _prove(door, person, stored, pin, _WRONG_BADGE, station=station, now=now)
    return new_session(door, person, station, now, leaving, by_badge=True)


def arrival(token: str, now: datetime, *, in_use: bool = True) -> Arrival | None:
    """Return whom the token of a cookie stands for now, None when nobody is signed in by it.

    `in_use` notes that the person is doing something; a look at the clock alone is not that.
    """
    key = _hash(token)
    with connection():
        session = sessions.session_of(key)
        person = stored_people.person(session.person) if session else None
        shop = queries.shop()
    if session is None or person is None or not person.active or session.ends_at <= now:
        _last_used.pop(key, None)
        return None
    idle = IDLE_UNIT * (shop.idle_minutes if shop else 0)
    used = max(session.seen_at, _last_used.get(key, session.seen_at))
    locked = session.locked or bool(idle and now - used > idle)
    if in_use and not locked:
        _last_used[key] = now
    return Arrival(
        name=person.key,
        role=person.role,
        station=session.station,
        session=key,
        locked=locked,
        idle_seconds=idle.total_seconds(),
        unused_seconds=max(0.0, (now - used).total_seconds()),
    )


def lock(token: str) -> None:
    """Lock the session until its person shows who it is."""
    with connection(), transaction():
        sessions.lock_session(_hash(token))


def unlock(token: str, secret: str, *, badge: str = "", now: datetime) -> None:
    """Let the person of a locked session go on, by their PIN or password.

    InvalidInput when it is not theirs, Forbidden when the session has ended meanwhile.
    """
    key = _hash(token)
    with connection():
        session = sessions.session_of(key)
        person = stored_people.person(session.person) if session else None
    if session is None or person is None or session.ends_at <= now:
        raise Forbidden("This session is over; sign in again.")
    if badge and badge_number(badge) != (person.badge or None):
        raise InvalidInput(f"That is not the badge of {person.key}, who is signed in here.")
    by_pin = bool(badge) or (bool(person.pin_hash) and passwords.looks_like_pin(secret))
    door = people.badge_door(person) if by_pin else people.name_door(person)
    stored = person.pin_hash if by_pin else person.password_hash
    wrong = _WRONG_PIN if by_pin else _WRONG_PASSWORD
    _prove(door, person, stored, secret, wrong, station=session.station, now=now)
    with connection(), transaction():
        sessions.open_door(door)
        sessions.unlock_session(key, now)
    _last_used[key] = now


def sign_out(token: str) -> None:
    """End a session: every copy of its cookie is worth nothing from now on."""
    with connection(), transaction():
        sessions.drop_session(_hash(token))
    _last_used.pop(_hash(token), None)


def _prove(
    door: str,
    person: Person | None,
    stored: str,
    secret: str,
    wrong: str,
    *,
    station: str,
    now: datetime,
) -> None:
    """Raise InvalidInput unless `secret` belongs to `stored` and the person works here.

    The try is counted before it is looked at, and stays counted when it fails.
    """
    failures = knock(door, now)
    right = passwords.fits(stored, secret)
    if right and person is not None and person.active:
        return
    name = f"'{person.key}'" if person else "a name or badge nobody has"
    _log.warning(
        "signing in failed for %s at station %r, %d of %d", name, station, failures, MOST_FAILURES
    )
    if failures < MOST_FAILURES:
        raise InvalidInput(f"{wrong} {tries_left(failures)}")
    until = now + SHUT_TIME
    with writing("sign-in page", now, station) as writer:
        sessions.shut_door(door, failures, until)
        if person is not None:
            how = door.partition("/")[0]
            writer.event("person", person.key, "shut out", {"how": how, "failures": failures})
    _log.warning("%s is shut out until %s", name, until.isoformat())
    raise InvalidInput(_shut_words(until))


def knock(door: str, now: datetime) -> int:
    """Count a try at this door; return which in a row it is. InvalidInput when it is shut."""
    with connection(), transaction():
        sessions.forget_strangers(_STRANGER, now)
        allowed, counted = sessions.knock(door, now, MOST_FAILURES, SHUT_TIME)
    if not allowed and counted.until is not None:
        raise InvalidInput(_shut_words(counted.until))
    return counted.failures


def tries_left(failures: int) -> str:
    """Return how many wrong tries are left, in words."""
    left = MOST_FAILURES - failures
    if left == 1:
        return "One more wrong try shuts it for 15 minutes."
    return f"{left} more tries, then it is shut for 15 minutes."


def _shut_words(until: datetime) -> str:
    with connection():
        shop = queries.shop()
    there = until.astimezone(ZoneInfo(shop.time_zone if shop else "UTC"))
    return (
        f"Too many wrong tries: shut until {there:%H:%M} ({there:%Z}). "
        "An owner can open it again on the page of people."
    )


def _stranger(how: str, text: str) -> str:
    # What was typed may be a password in the wrong field, so only its hash is kept.
    return _STRANGER + hashlib.sha256(f"{how}/{text}".encode()).hexdigest()[:32]


def new_session(
    door: str, person: Person | None, station: str, now: datetime, leaving: str, *, by_badge: bool
) -> str:
    """Store a session for `person` and return its token; the door's failures are forgotten."""
    if person is None:
        raise Forbidden("Nobody is signed in here; sign in first.")
    token = secrets.token_hex(32)
    session = StoredSession(
        token_hash=_hash(token),
        person=person.key,
        station=clean_station(station) or USUAL_STATIONS.get(person.role, ""),
        started_at=now,
        seen_at=now,
        ends_at=now + SESSION_TIME,
        by_badge=by_badge,
    )
    with connection(), transaction():
        sessions.open_door(door)
        if leaving:
            sessions.drop_session(_hash(leaving))
        sessions.drop_ended(now)
        sessions.add_session(session)
    _last_used[session.token_hash] = now
    _log.info("%r signed in at station %r", person.key, session.station)
    return token


def clean_station(name: str) -> str:
    """Return a screen's name fit to be kept: single blanks, 30 signs at most."""
    clean = " ".join("".join(sign if sign.isprintable() else " " for sign in name).split())
    return clean[:LONGEST_STATION].strip()


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
