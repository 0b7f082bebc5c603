"""Setting up a shop: its settings, families with their plans, sources, gauges, rates, people."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from coretrack.actions import people
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.part_numbers import BadNumber, clean_number, match_key
from coretrack.figures.plan_files import FamilyFile, Fault, family_from_toml
from coretrack.figures.plans import plan_to_dict
from coretrack.figures.shop_files import SOURCE_KINDS, PersonFile, ShopFile, shop_from_toml
from coretrack.figures.trade_objects import Criteria, Gauge, Source
from coretrack.records import gauge_queries, queries
from coretrack.records.writer import Writer, writing

STATION_SETTINGS = frozenset(
    {
        "hold_days",
        "idle_minutes",
        "paper_size",
        "label_stock",
        "sheet_stock",
        "print_command",
        "second_look_percent",
    }
)
"""Settings made on the pages: a shop file does not say them, and reading one leaves them alone."""

REGISTER_FIELDS = ("checked_on", "interval_days", "out_of_use", "note")
"""What only the register's pages say of a gauge."""


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
            changes += people.store_person(writer, person.name, person.role, person.demo_password)
    if not demo and any(person.demo_password for person in shop_file.people):
        changes.append("Passwords in the shop file were passed over; set them with 'people'.")
    return changes


def import_family(name: str, content: bytes, *, by: str, now: datetime) -> list[str]:
    """Read one family file; return what was new or changed (a changed plan is a new version)."""
    family = _parsed_family(name, content)
    with writing(by, now, "setup") as writer:
        return store_family(writer, family)


def set_shop(
    name: str, currency: str, time_zone: str, site: int, *, by: str, now: datetime
) -> list[str]:
    """Give a shop its settings without a shop file; its usual window stays as it is."""
    with writing(by, now, "setup") as writer:
        return store_shop(writer, name, currency, time_zone, site)


def store_shop(writer: Writer, name: str, currency: str, time_zone: str, site: int) -> list[str]:
    """Give the shop these settings inside the caller's transaction; return what was set."""
    table = {"name": name, "currency": currency, "time_zone": time_zone, "site": site}
    fields = asdict(shop_from_toml({"shop": table}).shop)
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
    shop = {
        name: value
        for name, value in asdict(shop_file.shop).items()
        if name not in STATION_SETTINGS and name != "key"
    }
    changes = _set_fields(writer, "shop", shop_file.shop.key, shop)
    for kind, things in (
        ("source", shop_file.sources),
        ("rate", shop_file.rates),
    ):
        for thing in things:
            changes += _set(writer, kind, thing)
    for gauge in shop_file.gauges:
        changes += _set_fields(writer, "gauge", gauge.key, _gauge_fields(writer, gauge))
    return changes


def _gauge_fields(writer: Writer, gauge: Gauge) -> dict[str, Any]:
    """Return what a shop file says of a gauge, without what the pages know better by now.

    A check or a study noted there is newer than the file, which would take it back unasked.
    """
    fields = asdict(gauge)
    del fields["key"]
    known: Gauge | None = writer.find("gauge", gauge.key)
    if known is None:
        return fields
    kept = set(REGISTER_FIELDS)
    if known.checked_on or known.out_of_use:
        kept.add("due_on")
    if any(study.status == "done" for study in gauge_queries.studies_of(gauge.key)):
        kept.add("uncertainty")
    return {name: value for name, value in fields.items() if name not in kept}


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
    # Compared as faults: what a newer coretrack adds to them is no change of the criteria.
    if criteria is None or _stored_faults(criteria) != list(family.faults):
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


def _stored_faults(criteria: Criteria) -> list[Fault]:
    return [Fault(**{**fault, "value": Decimal(fault["value"])}) for fault in criteria.faults]


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


def demo_people(folder: Path) -> tuple[PersonFile, ...]:
    """Return the people of `folder`'s shop.toml whose passwords stand there for everybody."""
    people_told = shop_from_toml(_toml(folder / "shop.toml")).people
    return tuple(person for person in people_told if person.demo_password)


def shop_name(folder: Path) -> str:
    """Return the shop's name in `folder`'s shop.toml."""
    return shop_from_toml(_toml(folder / "shop.toml")).shop.name
