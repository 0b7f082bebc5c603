"""The shop's first owner, made once and before anybody can sign in; and the shop, if need be."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from coretrack.actions import passwords, people, setting_up
from coretrack.actions.signing_in import MOST_FAILURES, knock, new_session, tries_left
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.records import people as stored_people
from coretrack.records import queries, sessions
from coretrack.records.database import connection, transaction
from coretrack.records.writer import writing

_DOOR = "first owner"
_WRONG_CODE = "That is not the code which 'coretrack serve' printed when it started."


@dataclass(frozen=True)
class FirstOwner:
    """What the first owner tells; the shop's part is left out where there is a shop already."""

    name: str
    password: str
    again: str
    shop_name: str = ""
    currency: str = ""
    time_zone: str = ""
    site: str = ""


def needs_first_owner() -> bool:
    """Return whether the shop has nobody yet who may look after it."""
    with connection():
        return not _has_owner()


def shop_name() -> str:
    """Return the shop's name, "" while there is no shop."""
    with connection():
        shop = queries.shop()
    return shop.name if shop else ""


def make_first_owner(told: FirstOwner, *, station: str, now: datetime) -> str:
    """Make the first owner, and the shop where there is none; return the token of their session.

    NotAllowed once there is an owner. InvalidInput names every field that is wrong.
    """
    wrong = _wrong_passwords(told)
    name = " ".join(told.name.split())
    if not name:
        wrong["name"] = "Your name is needed: it stands beside everything you do here."
    with writing(name or _DOOR, now, station) as writer:
        if _has_owner():
            raise NotAllowed("The shop has an owner already; sign in, or ask them to add you.")
        new_shop = queries.shop() is None
        if new_shop:
            wrong |= _wrong_shop(told)
        if wrong:
            raise InvalidInput("Something here has to be put right first.", wrong)
        if new_shop:
            setting_up.store_shop(
                writer,
                told.shop_name.strip(),
                told.currency.strip(),
                told.time_zone.strip(),
                int(told.site),
            )
        key = people.store_first_owner(writer, name, told.password)
    with connection():
        owner = stored_people.person(key)
    return new_session(_DOOR, owner, station, now, "", by_badge=False)


def check_first_code(given: str, right: str, *, now: datetime) -> None:
    """Raise InvalidInput unless `given` is the one-time code that the server printed."""
    tries = knock(_DOOR, now)
    plain = "".join(sign for sign in given.upper() if sign.isalnum())
    if right and secrets.compare_digest(plain.encode(), right.encode()):
        with connection(), transaction():
            sessions.open_door(_DOOR)
        return
    left = tries_left(tries) if tries < MOST_FAILURES else "It is shut for 15 minutes now."
    raise InvalidInput(f"{_WRONG_CODE} {left}", {"code": _WRONG_CODE})


def _has_owner() -> bool:
    return any(one.role == "owner" and one.active for one in stored_people.everyone())


def _wrong_passwords(told: FirstOwner) -> dict[str, str]:
    try:
        passwords.check_password(told.password, told.name, told.shop_name or shop_name())
    except InvalidInput as error:
        return {"password": error.message}
    if told.password != told.again:
        return {"again": "This is not the same password; type it again."}
    return {}


def _wrong_shop(told: FirstOwner) -> dict[str, str]:
    wrong = {}
    if not told.shop_name.strip():
        wrong["shop_name"] = "The shop needs a name; it stands on its papers."
    if told.site not in tuple("12345678"):
        wrong["site"] = "The site is one digit from 1 to 8; every tag begins with it."
    currency = told.currency.strip()
    if len(currency) != 3 or not (currency.isascii() and currency.isalpha()):
        wrong["currency"] = "Three letters such as USD or EUR (ISO 4217)."
    try:
        ZoneInfo(told.time_zone.strip() or "?")
    except (KeyError, ValueError, OSError):
        wrong["time_zone"] = "A zone's name such as America/Chicago or Europe/Berlin."
    return wrong
