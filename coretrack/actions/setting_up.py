"""Setting up a shop: its settings, families with their plans, sources, gauges, rates, people."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from coretrack.errors import InvalidInput, NotAllowed, NotFound
from coretrack.figures.part_numbers import BadNumber, clean_number, match_key
from coretrack.figures.plan_files import FamilyFile, family_from_toml
from coretrack.figures.plans import plan_to_dict
from coretrack.figures.shop_files import ROLES, SOURCE_KINDS, ShopFile, shop_from_toml
from coretrack.figures.trade_objects import Source
from coretrack.records import queries, schema
from coretrack.records.database import connection
from coretrack.records.writer import Writer, writing

LEAST_PASSWORD = 10


def prepare_database() -> None:
    """Bring the open database up to the present schema."""
    schema.upgrade()


def set_up_from_folder(folder: Path, *, by: str, now: datetime, demo: bool = False) -> list[str]:
    """Read `folder`'s shop.toml and families/*.toml; return what was new or changed.

    Read again it changes only what differs. Passwords stand in a shop file only in the demo.
    """
    shop_file = shop_from_toml(_toml(folder / "shop.toml"))
    paths = sorted((folder / "families").glob("*.toml"))
    families = [_family(path) for path in paths]
    _refuse_twins(paths, families)
    with writing(by, now, "setup") as writer:
        changes = _store_shop(writer, shop_file)
        for family in families:
            changes += store_family(writer, family)
        for person in shop_file.people if demo else ():
            changes += _store_person(writer, person.name, person.role, person.demo_password)
    if not demo and any(person.demo_password for person in shop_file.people):
        changes.append("Passwords in the shop file were passed over; set them with 'people'.")
    return changes


def import_family(name: str, content: bytes, *, by: str, now: datetime) -> list[str]:
    """Read one family file; return what was new or changed (a changed plan is a new version)."""
    family = _parsed_family(name, content)
    with writing(by, now, "setup") as writer:
        return store_family(writer, family)


def add_owner(name: str, password: str, *, now: datetime) -> None:
    """Make the shop's first owner; NotAllowed once there are people."""
    with connection():
        if queries.people():
            raise NotAllowed("There are people already; an owner adds more with 'people'.")
    add_person(name, "owner", password, by=name, now=now)


def add_person(name: str, role: str, password: str, *, by: str, now: datetime) -> None:
    """Add or change a person who signs in with `password`."""
    if role not in ROLES:
        raise InvalidInput(f"'{role}' is not a role; use one of {', '.join(ROLES)}.")
    if len(password) < LEAST_PASSWORD:
        raise InvalidInput(f"The password is too short; use {LEAST_PASSWORD} signs or more.")
    with writing(by, now, "setup") as writer:
        _store_person(writer, name.strip(), role, password)


def set_shop(
    name: str, currency: str, time_zone: str, site: int, *, by: str, now: datetime
) -> list[str]:
    """Give a shop its settings without a shop file; its usual window stays as it is."""
    table = {"name": name, "currency": currency, "time_zone": time_zone, "site": site}
    fields = asdict(shop_from_toml({"shop": table}).shop)
    with writing(by, now, "setup") as writer:
        _keep_currency(writer, currency.upper())
        key = fields.pop("key")
        if writer.find("shop", key) is not None:
            fields = {given: fields[given] for given in table}
        return _set_fields(writer, "shop", key, fields)


def add_source(code: str, name: str, kind: str, *, by: str, now: datetime) -> list[str]:
    """Add or change a source of cores."""
    if kind not in SOURCE_KINDS:
        raise InvalidInput(
            f"'{kind}' is not a kind of source; use one of {', '.join(SOURCE_KINDS)}."
        )
    try:
        source = Source(clean_number(code, "code", 20), clean_number(name, "name"), kind)
    except BadNumber as error:
        raise InvalidInput(str(error)) from None
    with writing(by, now, "setup") as writer:
        return _set(writer, "source", source)


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise NotFound(f"There is no file {path}.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InvalidInput(f"{path.name} is not a readable TOML file: {error}.") from None


def _refuse_twins(paths: Sequence[Path], families: Sequence[FamilyFile]) -> None:
    """Raise InvalidInput when two files (one perhaps a copy) describe the same family."""
    first: dict[str, str] = {}
    for path, family in zip(paths, families, strict=True):
        other = first.setdefault(family.code.casefold(), path.name)
        if other != path.name:
            raise InvalidInput(
                f"{other} and {path.name} both describe family {family.code}; keep one of them."
            )


def _family(path: Path) -> FamilyFile:
    return _parsed_family(path.name, path.read_bytes())


def _parsed_family(name: str, content: bytes) -> FamilyFile:
    try:
        return family_from_toml(tomllib.loads(content.decode("utf-8-sig")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InvalidInput(f"{name} is not a readable TOML file: {error}.") from None
    except (ValueError, InvalidInput) as error:
        raise InvalidInput(f"{name}: {error}") from None


def _keep_currency(writer: Writer, currency: str) -> None:
    """Raise InvalidInput when books that hold money would get another currency."""
    known = writer.find("shop", "shop")
    if known and known.currency != currency and queries.lots():
        raise InvalidInput(
            f"The books are kept in {known.currency}; amounts already stored cannot become "
            f"{currency}. Start new books in a folder of their own."
        )


def _store_shop(writer: Writer, shop_file: ShopFile) -> list[str]:
    _keep_currency(writer, shop_file.shop.currency)
    changes = _set(writer, "shop", shop_file.shop)
    for kind, things in (
        ("source", shop_file.sources),
        ("gauge", shop_file.gauges),
        ("rate", shop_file.rates),
    ):
        for thing in things:
            changes += _set(writer, kind, thing)
    return changes


def store_family(writer: Writer, family: FamilyFile) -> list[str]:
    """Store a family, its numbers and charges; a plan or criteria that differ get a new version."""
    known = writer.find("family", family.code)
    plan_version = known.plan_version if known else 0
    definition = {**plan_to_dict(family.plan), "version": 0}
    stored = writer.find("plan", f"{family.code}/{plan_version}")
    changes: list[str] = []
    if stored is None or stored.definition != definition:
        plan_version += 1
        changes += _new_version(writer, "plan", family.code, plan_version, definition=definition)
    criteria_version = known.criteria_version if known else 0
    faults = [{**asdict(fault), "value": str(fault.value)} for fault in family.faults]
    criteria = writer.find("criteria", f"{family.code}/{criteria_version}")
    if criteria is None or [dict(fault) for fault in criteria.faults] != faults:
        criteria_version += 1
        changes += _new_version(writer, "criteria", family.code, criteria_version, faults=faults)
    prices = {
        name: str(value) if isinstance(value, Decimal) else value
        for name, value in asdict(family.prices).items()
    }
    changes += _set_fields(
        writer,
        "family",
        family.code,
        {
            "name": family.name,
            "mass_g": family.mass_g,
            "metal": family.metal,
            "credit_when": family.credit_when,
            "standard_yield": "" if family.standard_yield is None else str(family.standard_yield),
            "plan_version": plan_version,
            "criteria_version": criteria_version,
            "definition": {"prices": prices},
        },
    )
    changes += _store_numbers(writer, family)
    for first_day, amount in family.charges:
        key = f"{family.code}@{first_day.isoformat()}"
        fields = {"family": family.code, "valid_from": first_day.isoformat(), "amount": amount}
        changes += _set_fields(writer, "core charge", key, fields)
    return changes


def _new_version(writer: Writer, kind: str, family: str, number: int, **fields: Any) -> list[str]:
    key = f"{family}/{number}"
    writer.event(kind, key, "set", {"key": key, "family": family, "number": number, **fields})
    return [f"{kind} {key}"]


def _store_numbers(writer: Writer, family: FamilyFile) -> list[str]:
    changes: list[str] = []
    for group in family.groups:
        for number in group.numbers:
            key = match_key(number.number)
            known = writer.find("number", key)
            if known is not None and known.family != family.code:
                raise InvalidInput(
                    f"Number {number.number} belongs to family {known.family} already; "
                    f"it cannot belong to {family.code} too."
                )
            fields = {
                "shown": number.number,
                "kind": number.kind,
                "core_group": group.code,
                "group_name": group.name,
                "family": family.code,
                "valid_from": number.valid_from.isoformat() if number.valid_from else "",
                "superseded_by": number.superseded_by or "",
            }
            changes += _set_fields(writer, "number", key, fields)
    return changes


def _store_person(writer: Writer, name: str, role: str, password: str) -> list[str]:
    from werkzeug.security import check_password_hash, generate_password_hash

    if not name:
        raise InvalidInput("A person needs a name.")
    known = writer.find("person", name)
    if known and known.role == role and check_password_hash(known.password_hash, password):
        return []
    fields = {
        "name": name,
        "role": role,
        "password_hash": generate_password_hash(password),
    }
    return _set_fields(writer, "person", name, fields)


def _set(writer: Writer, kind: str, thing: Any) -> list[str]:
    fields = asdict(thing)
    return _set_fields(writer, kind, fields.pop("key"), fields)


def _set_fields(writer: Writer, kind: str, key: str, fields: dict[str, Any]) -> list[str]:
    """Give the object these fields unless it has them already; return what was set."""
    known = writer.find(kind, key)
    changed = {
        name: value
        for name, value in fields.items()
        if known is None or getattr(known, name) != value
    }
    if known is not None and not changed:
        return []
    writer.event(kind, key, "set", {"key": key, **changed})
    return [f"{kind} {key}"]


def shop_name(folder: Path) -> str:
    """Return the shop's name in `folder`'s shop.toml."""
    return shop_from_toml(_toml(folder / "shop.toml")).shop.name
