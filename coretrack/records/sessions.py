"""Who is signed in where, and how often signing in failed: plain tables, no history.

A function that changes something runs inside its caller's transaction.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from coretrack.records.statements import rows_with
from coretrack.records.station_tables import SessionRow, SignInRow
from coretrack.records.times import from_text, to_text

_MOMENTS = ("started_at", "seen_at", "ends_at")

_MOST_STRANGERS = 1000
"""Names nobody here has that are counted at most; a name that is known is never let go."""


@dataclass(frozen=True)
class StoredSession:
    """One person signed in at one screen; `token_hash` is the SHA-256 of what the cookie holds."""

    token_hash: str
    person: str
    station: str
    started_at: datetime
    seen_at: datetime
    ends_at: datetime
    by_badge: bool
    locked: bool = False


@dataclass(frozen=True)
class Door:
    """Failures in a row under one name or badge; `until` is when it opens by itself again."""

    key: str
    failures: int = 0
    until: datetime | None = None

    def shut(self, now: datetime) -> bool:
        """Return whether nobody is let in here at `now`."""
        return self.until is not None and now < self.until


def add_session(session: StoredSession) -> None:
    """Store a new session."""
    values: dict[str, Any] = asdict(session)
    SessionRow.insert({**values, **{name: to_text(values[name]) for name in _MOMENTS}}).execute()


def session_of(token_hash: str) -> StoredSession | None:
    """Return the session whose cookie has this hash."""
    rows = rows_with(SessionRow, "token_hash", token_hash)
    if not rows:
        return None
    values = vars(rows[0])
    return StoredSession(**{**values, **{name: from_text(values[name]) for name in _MOMENTS}})


def lock_session(token_hash: str) -> None:
    """Note that this session is locked until its person shows who it is."""
    SessionRow.update(locked=True).where(SessionRow.token_hash == token_hash).execute()


def unlock_session(token_hash: str, now: datetime) -> None:
    """Note that this session's person is here again."""
    SessionRow.update(locked=False, seen_at=to_text(now)).where(
        SessionRow.token_hash == token_hash
    ).execute()


def drop_session(token_hash: str) -> None:
    """Take a session away: every copy of its cookie is worth nothing from now on."""
    SessionRow.delete().where(SessionRow.token_hash == token_hash).execute()


def drop_sessions_of(person: str) -> None:
    """Take away every session of a person."""
    SessionRow.delete().where(SessionRow.person == person).execute()


def drop_ended(now: datetime) -> None:
    """Take away the sessions that are over."""
    SessionRow.delete().where(SessionRow.ends_at <= to_text(now)).execute()


def doors(keys: list[str]) -> dict[str, Door]:
    """Return the doors of these keys that somebody failed at."""
    return {row.key: _door(row) for row in SignInRow.select().where(SignInRow.key.in_(keys))}


def knock(key: str, now: datetime, most: int, shut_for: timedelta) -> tuple[bool, Door]:
    """Count one try before it is looked at; return whether it may be looked at, and the count.

    Counting first keeps tries that come at the same moment from being more than `most`. The try
    that fills the count shuts the door for `shut_for`; one that succeeds opens it (`open_door`).
    """
    SignInRow.insert(key=key, failures=0, until="").on_conflict_ignore().execute()
    # Writing the row first makes a second try wait here until this one is counted.
    SignInRow.update(failures=SignInRow.failures).where(SignInRow.key == key).execute()
    door = _door(SignInRow.get(SignInRow.key == key))
    if door.shut(now):
        return False, door
    failures = (0 if door.until is not None else door.failures) + 1
    until = now + shut_for if failures >= most else None
    _store(key, failures, until)
    return True, Door(key, failures, until)


def shut_door(key: str, failures: int, until: datetime) -> None:
    """Shut a door until that moment."""
    _store(key, failures, until)


def open_door(key: str) -> None:
    """Forget the failures under this name or badge."""
    SignInRow.delete().where(SignInRow.key == key).execute()


def forget_strangers(prefix: str, now: datetime) -> None:
    """Let counts of names nobody has go once there are very many of them."""
    strangers = SignInRow.key.startswith(prefix)
    if SignInRow.select().where(strangers).count() > _MOST_STRANGERS:
        SignInRow.delete().where(strangers, SignInRow.until <= to_text(now)).execute()


def _store(key: str, failures: int, until: datetime | None) -> None:
    text = "" if until is None else to_text(until)
    SignInRow.update(failures=failures, until=text).where(SignInRow.key == key).execute()


def _door(row: Any) -> Door:
    return Door(row.key, row.failures, from_text(row.until) if row.until else None)
