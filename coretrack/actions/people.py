"""The people of the shop: added, changed, given badge and PIN, let in again, sent away."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from coretrack.actions import passwords
from coretrack.errors import Conflict, InvalidInput, NotAllowed, NotFound
from coretrack.figures.scan_text import printable
from coretrack.figures.shop_files import ROLES
from coretrack.figures.tags import make_shop_code
from coretrack.figures.trade_objects import Person
from coretrack.records import people as stored_people
from coretrack.records import queries, sessions
from coretrack.records.database import connection
from coretrack.records.writer import Writer, writing

LONGEST_NAME = 60


@dataclass(frozen=True)
class PersonChange:
    """What is to be changed of a person; what is left empty stays.

    `new_badge` gives the next badge number, and the old badge opens nothing from then on.
    """

    role: str = ""
    password: str = ""
    pin: str = ""
    new_badge: bool = False
    active: bool | None = None


@dataclass(frozen=True)
class PersonSeen:
    """A person as the owner sees them; `shut_until`, on the shop's clock, is None unless shut.

    `badge` is the code on the badge, empty without one.
    """

    name: str
    role: str
    active: bool
    badge: str
    has_password: bool
    has_pin: bool
    shut_until: datetime | None

    @property
    def ways(self) -> str:
        """Return how this person can sign in, in words."""
        by_badge = "badge and PIN" if self.badge and self.has_pin else ""
        by_name = "name and password" if self.has_password else ""
        return ", or ".join(way for way in (by_name, by_badge) if way) or "nothing yet"


def name_door(person: Person) -> str:
    """Return the key under which this person's failures by name and password are counted."""
    return f"name/{person.key}"


def badge_door(person: Person) -> str:
    """Return the key under which this person's failures by badge and PIN are counted."""
    return f"badge/{person.key}"


def all_people(now: datetime) -> tuple[PersonSeen, ...]:
    """Return everybody by name, those who are gone last."""
    with connection():
        everyone = stored_people.everyone()
        keys = [door(person) for person in everyone for door in (name_door, badge_door)]
        doors = sessions.doors(keys)
        shop = queries.shop()
    zone = ZoneInfo(shop.time_zone if shop else "UTC")
    seen = []
    for person in everyone:
        shut = [
            door.until.astimezone(zone)
            for key in (name_door(person), badge_door(person))
            if (door := doors.get(key)) and door.until and door.shut(now)
        ]
        seen.append(
            PersonSeen(
                name=person.key,
                role=person.role,
                active=person.active,
                badge=badge_code(person.badge),
                has_password=bool(person.password_hash),
                has_pin=bool(person.pin_hash),
                shut_until=max(shut, default=None),
            )
        )
    return tuple(sorted(seen, key=lambda one: (not one.active, one.name.casefold())))


def badge_code(number: int) -> str:
    """Return the code on the badge with this number, "" for none."""
    return make_shop_code("badge", number) if number else ""


def add_owner(name: str, password: str, *, now: datetime) -> None:
    """Make the shop's first owner; NotAllowed once there are people."""
    with connection():
        if queries.people():
            raise NotAllowed("There are people already; an owner adds more with 'people'.")
    add_person(name, "owner", password, by=name, now=now)


def add_person(
    name: str,
    role: str,
    password: str,
    *,
    by: str,
    now: datetime,
    station: str = "setup",
    more: PersonChange | None = None,
    key: str = "",
) -> list[str]:
    """Add a person who signs in with `password`; `more` may give badge and PIN at once.

    Return what was done. Conflict when somebody has this name, InvalidInput that names the field.
    """
    clean = _clean_name(name)
    with connection():
        shop = queries.shop()
    with _in_field("password"):
        passwords.check_password(password, clean, shop.name if shop else "")

    def add(writer: Writer) -> list[str]:
        if stored_people.person_called(clean) is not None:
            raise Conflict(
                f"There is a {clean} already; change that person, or add an initial to the name.",
                {"name": "There is a person with this name already."},
            )
        store_person(writer, clean, _known_role(role), password)
        return [f"is {role}"] + (_change(writer, writer.get("person", clean), more) if more else [])

    return _once(add, key, by, station, now)


def change_person(
    name: str,
    change: PersonChange,
    *,
    by: str,
    now: datetime,
    station: str = "setup",
    key: str = "",
) -> list[str]:
    """Change a person; return what was done, in words.

    A new password or PIN, or being sent away, ends every session of theirs at once. NotFound when
    nobody has this name, NotAllowed when the shop would be left without an owner.
    """
    with connection():
        person = _found(name)
        shop = queries.shop()
    if change.password:
        with _in_field("password"):
            passwords.check_password(change.password, person.key, shop.name if shop else "")
    return _once(
        lambda writer: _change(writer, writer.get("person", person.key), change),
        key,
        by,
        station,
        now,
    )


def let_in_again(
    name: str, *, by: str, now: datetime, station: str = "setup", key: str = ""
) -> bool:
    """Open a person's name and badge again after too many failures; return whether any was shut."""
    with connection():
        person = _found(name)

    def let_in(writer: Writer) -> list[str]:
        keys = [name_door(person), badge_door(person)]
        shut = [door for door in sessions.doors(keys).values() if door.shut(now)]
        for door in keys:
            sessions.open_door(door)
        if shut:
            writer.event("person", person.key, "let in again", {})
        return ["let in again"] if shut else []

    return bool(_once(let_in, key, by, station, now))


def store_person(writer: Writer, name: str, role: str, password: str) -> list[str]:
    """Store a person inside the caller's transaction; return what was set, [] when nothing was."""
    known = writer.find("person", name)
    if known and known.role == role and passwords.fits(known.password_hash, password):
        return []
    fields = {"name": name, "role": role, "password_hash": passwords.kept(password)}
    writer.event("person", name, "set", {"key": name, **fields})
    return [f"person {name}"]


def store_first_owner(writer: Writer, name: str, password: str) -> str:
    """Make `name` owner inside the caller's transaction, known or new; return their key."""
    clean = _clean_name(name)
    known = stored_people.person_called(clean)
    fields = {"role": "owner", "password_hash": passwords.kept(password), "active": True}
    if known is None:
        fields["name"] = clean
    key = known.key if known else clean
    writer.event("person", key, "set", {"key": key, **fields})
    return key


def _change(writer: Writer, person: Person, change: PersonChange) -> list[str]:
    fields: dict[str, Any] = {}
    done = []
    if change.role and _known_role(change.role) != person.role:
        fields["role"] = change.role
        done.append(f"is {change.role}")
    if change.active is not None and change.active != person.active:
        fields["active"] = change.active
        done.append("works here again" if change.active else "can no longer sign in")
    if change.password:
        fields["password_hash"] = passwords.kept(change.password)
        done.append("has a new password")
    if change.pin:
        with _in_field("pin"):
            passwords.check_pin(change.pin)
        fields["pin_hash"] = passwords.kept(change.pin)
        done.append("has a new PIN")
    if change.new_badge:
        fields["badge"] = writer.next_number("badges")
        done.append(f"has badge {badge_code(fields['badge'])}")
    if {"role", "active"} & set(fields):
        _keep_an_owner(person, fields)
    if fields:
        writer.event("person", person.key, "set", {"key": person.key, **fields})
    if {"password_hash", "pin_hash"} & set(fields) or fields.get("active") is False:
        sessions.drop_sessions_of(person.key)
    return done


def _keep_an_owner(person: Person, fields: dict[str, Any]) -> None:
    stays = fields.get("role", person.role) == "owner" and fields.get("active", person.active)
    others = [
        one
        for one in stored_people.everyone()
        if one.role == "owner" and one.active and one.key != person.key
    ]
    if person.role == "owner" and person.active and not stays and not others:
        raise NotAllowed(
            f"{person.key} is the only owner; make somebody else owner first, or nobody could "
            "look after people and prices."
        )


def _once(
    act: Callable[[Writer], list[str]], key: str, by: str, station: str, now: datetime
) -> list[str]:
    """Run `act` in a transaction of its own; a form sent twice acts once and answers the same."""
    with writing(by, now, station) as writer:
        name = f"people:{key}"
        earlier = writer.answers([name]) if key else {}
        if earlier:
            return [line for line in earlier[name].split("\n") if line]
        done = act(writer)
        if key:
            writer.remember(name, "\n".join(done))
        return done


def _found(name: str) -> Person:
    person = stored_people.person_called(name)
    if person is None:
        raise NotFound(f"There is nobody called '{printable(name)}' here.")
    return person


def _known_role(role: str) -> str:
    if role not in ROLES:
        raise InvalidInput(
            f"'{printable(role)}' is not a role; use one of {', '.join(ROLES)}.",
            {"role": f"Choose one of {', '.join(ROLES)}."},
        )
    return role


def _clean_name(name: str) -> str:
    clean = " ".join(name.split())
    if not clean:
        wrong = "A person needs a name."
    elif len(clean) > LONGEST_NAME:
        wrong = f"The name has {len(clean)} signs; {LONGEST_NAME} are the most."
    elif not clean.isprintable() or not any(sign.isalpha() for sign in clean):
        wrong = "A name needs letters, and no signs that cannot be printed."
    else:
        return clean
    raise InvalidInput(wrong, {"name": wrong})


@contextmanager
def _in_field(name: str) -> Iterator[None]:
    """Say in which field of a form what the block refuses was typed."""
    try:
        yield
    except InvalidInput as error:
        error.fields.setdefault(name, error.message)
        raise
