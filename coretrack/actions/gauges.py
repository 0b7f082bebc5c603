"""The register of gauges: entered, changed, checked, taken out of use; what is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from coretrack.actions.acting import act_once
from coretrack.actions.typed_fields import plain_words
from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.bench_objects import GaugeStudy
from coretrack.figures.dates import shop_day
from coretrack.figures.gauge_register import (
    LONGEST_INTERVAL,
    GaugeStanding,
    gauge_standing,
    next_due,
)
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.part_numbers import BadNumber, clean_number
from coretrack.figures.trade_objects import Gauge
from coretrack.figures.units import UnknownUnit, canonical_unit
from coretrack.records import gauge_queries, happenings, queries
from coretrack.records.database import connection
from coretrack.records.times import from_text
from coretrack.records.writer import Writer

LONGEST_CODE = 40
_WORDS = {
    "name": "name",
    "kind": "kind",
    "unit": "unit",
    "resolution": "step",
    "uncertainty": "U",
    "due_on": "due",
    "checked_on": "last good check",
    "interval_days": "days between checks",
    "out_of_use": "out of use",
    "note": "note",
}


@dataclass(frozen=True)
class GaugeTold:
    """A gauge as typed; sizes in its own unit, the due day as 2026-05-01 or empty."""

    code: str = ""
    name: str = ""
    kind: str = ""
    unit: str = ""
    resolution: str = ""
    uncertainty: str = ""
    interval_days: str = ""
    due_on: str = ""
    note: str = ""


@dataclass(frozen=True)
class GaugeLine:
    """One gauge in the register; `stamped` counts cores it measured while overdue."""

    gauge: Gauge
    standing: GaugeStanding
    stamped: int


@dataclass(frozen=True)
class Register:
    """All gauges, worst standing first; `unknown` are names in readings that no gauge has."""

    lines: tuple[GaugeLine, ...]
    unknown: tuple[str, ...]
    studies: tuple[GaugeStudy, ...]


@dataclass(frozen=True)
class GaugeEvent:
    """Something that was done to a gauge: when (the shop's clock), by whom, what and why."""

    at: datetime
    by: str
    what: str
    why: str


@dataclass(frozen=True)
class GaugeView:
    """One gauge with its history (newest first) and studies."""

    line: GaugeLine
    today: str
    history: tuple[GaugeEvent, ...]
    studies: tuple[GaugeStudy, ...]


def register(now: datetime) -> Register:
    """Return all gauges with what is due."""
    with connection():
        today = _today(now)
        stamped = _by_fold(queries.overdue_gauge_cores())
        gauges = queries.gauges()
        known = {gauge.key.casefold() for gauge in gauges}
        named = gauge_queries.names_read_with()
        studies = tuple(gauge_queries.open_studies())
    lines = [_line(gauge, today, stamped) for gauge in gauges]
    lines.sort(key=lambda line: (line.standing.rank, line.gauge.due_on or "9", line.gauge.key))
    return Register(
        tuple(lines), tuple(name for name in named if name.casefold() not in known), studies
    )


def gauge_view(code: str, now: datetime) -> GaugeView:
    """Return one gauge; NotFound when there is none."""
    with connection():
        gauge = known_gauge(code)
        today = _today(now)
        stamped = _by_fold(queries.overdue_gauge_cores())
        happened = happenings.history("gauge", gauge.key)
        studies = gauge_queries.studies_of(gauge.key)
        zone = _zone()
    history = tuple(
        GaugeEvent(from_text(one.at).astimezone(zone), one.by, _what(one.detail), one.why)
        for one in reversed(happened)
    )
    return GaugeView(_line(gauge, today, stamped), today.isoformat(), history, tuple(studies))


def known_gauge(code: str) -> Gauge:
    """Return a gauge by its code; NotFound when there is none. Call with a connection."""
    gauge = gauge_queries.gauge(code)
    if gauge is None:
        raise NotFound(f"There is no gauge '{code}' in the register.")
    return gauge


def add_gauge(told: GaugeTold, *, by: str, station: str, now: datetime, key: str) -> str:
    """Enter a gauge into the register and return its code; InvalidInput names every wrong field."""

    def act(writer: Writer) -> dict[str, Any]:
        wrong: dict[str, str] = {}
        code = _code(told.code, wrong)
        if any(gauge.key.casefold() == code.casefold() for gauge in queries.gauges()):
            wrong["code"] = f"gauge {code} is in the register already; give this one its own code"
        fields = _fields(told, wrong)
        _stop(wrong)
        writer.event("gauge", code, "set", {"key": code, **fields}, why="entered")
        return {"code": code}

    return str(act_once("gauge", key, act, by=by, station=station, now=now)["code"])


def change_gauge(
    code: str, told: GaugeTold, *, by: str, station: str, now: datetime, key: str
) -> str:
    """Change what the register says of a gauge; return in words what was changed."""

    def act(writer: Writer) -> dict[str, Any]:
        gauge: Gauge = writer.get("gauge", code)
        wrong: dict[str, str] = {}
        fields = _fields(told, wrong)
        _stop(wrong)
        changed = {name: value for name, value in fields.items() if getattr(gauge, name) != value}
        if changed:
            writer.event("gauge", code, "set", changed, why="register changed")
        return {"said": _what(changed) if changed else "nothing was to be changed"}

    return str(act_once("gauge change", key, act, by=by, station=station, now=now)["said"])


def note_check(
    code: str,
    day: str,
    good: bool,
    due_on: str = "",
    note: str = "",
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> str:
    """Note that a gauge was checked on `day` ("" for today) and return what follows, in words.

    Good: it is the last good check, and the next falls due on `due_on` or after the gauge's
    interval; a gauge out of use comes back. Not good: it goes out of use, and its last good check
    stays the earlier one, from which a recall counts. InvalidInput names the field.
    """

    def act(writer: Writer) -> dict[str, Any]:
        gauge: Gauge = writer.get("gauge", code)
        wrong: dict[str, str] = {}
        checked = _check_day(day, gauge, _today(now), wrong)
        words = plain_words(note, "note")
        due = _due_after(due_on, checked, gauge, wrong) if good else None
        if not good and not words:
            wrong["note"] = "say what was found; it stays in the history"
        _stop(wrong)
        if due is None:
            detail: dict[str, Any] = {"out_of_use": True, "note": words}
            said = f"{code} is out of use. Recall what it measured since its last good check."
            why = f"check of {checked.isoformat()} not good: {words}"
        else:
            detail = {"checked_on": checked.isoformat(), "due_on": due.isoformat()}
            detail |= {"out_of_use": False, "note": words}
            said = f"{code} is good since {checked.isoformat()}; due again {due.isoformat()}."
            why = f"good check of {checked.isoformat()}" + (f": {words}" if words else "")
        writer.event("gauge", code, "set", detail, why=why)
        return {"said": said}

    return str(act_once("gauge check", key, act, by=by, station=station, now=now)["said"])


def take_out_of_use(code: str, why: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Take a gauge out of use at once, for a reason; only a good check brings it back."""

    def act(writer: Writer) -> dict[str, Any]:
        writer.get("gauge", code)
        words = plain_words(why, "reason")
        if not words:
            raise InvalidInput(
                "Say why the gauge goes out of use.", {"reason": "such as: dropped, reads 0.02 off"}
            )
        writer.event("gauge", code, "set", {"out_of_use": True, "note": words}, why=words)
        return {"said": f"{code} is out of use: {words}. A good check brings it back."}

    return str(act_once("gauge out", key, act, by=by, station=station, now=now)["said"])


def _line(gauge: Gauge, today: date, stamped: Mapping[str, int]) -> GaugeLine:
    return GaugeLine(gauge, gauge_standing(gauge, today), stamped.get(gauge.key.casefold(), 0))


def _by_fold(counts: Mapping[str, int]) -> dict[str, int]:
    folded: dict[str, int] = {}
    for name, count in counts.items():
        folded[name.casefold()] = folded.get(name.casefold(), 0) + count
    return folded


def _zone() -> ZoneInfo:
    shop = queries.shop()
    return ZoneInfo(shop.time_zone if shop else "UTC")


def _today(now: datetime) -> date:
    return shop_day(now, _zone())


def _stop(wrong: Mapping[str, str]) -> None:
    if wrong:
        raise InvalidInput("; ".join(f"{name}: {text}" for name, text in wrong.items()), wrong)


def _code(text: str, wrong: dict[str, str]) -> str:
    try:
        return clean_number(text, "code", LONGEST_CODE)
    except BadNumber as error:
        wrong["code"] = str(error)
        return ""


def _fields(told: GaugeTold, wrong: dict[str, str]) -> dict[str, Any]:
    """Return what the register keeps; notes every field that is wrong."""
    named = {"name": plain_words(told.name, "name"), "kind": plain_words(told.kind, "kind")}
    for name, value in named.items():
        if not value:
            wrong[name] = f"give the gauge's {name}, such as bore gauge"
    unit = ""
    if told.unit.strip():
        try:
            unit = canonical_unit(told.unit)
        except UnknownUnit as error:
            wrong["unit"] = str(error)
    return {
        **named,
        "unit": unit,
        "resolution": _size(told.resolution, "resolution", wrong),
        "uncertainty": _size(told.uncertainty, "uncertainty", wrong),
        "interval_days": _interval(told.interval_days, wrong),
        "due_on": _day_text(told.due_on, "due_on", wrong),
        "note": plain_words(told.note, "note"),
    }


def _size(text: str, name: str, wrong: dict[str, str]) -> str:
    if not text.strip():
        return "0"
    try:
        value: Decimal = parse_number(text, comma_is_decimal=True)
    except NotANumber as error:
        wrong[name] = str(error)
        return "0"
    if value < 0:
        wrong[name] = f"{text.strip()} is less than nothing; give 0 or more"
    return f"{value:f}"


def _interval(text: str, wrong: dict[str, str]) -> int:
    plain = text.strip() or "0"
    if not (plain.isascii() and plain.isdecimal() and int(plain[:6]) <= LONGEST_INTERVAL):
        wrong["interval_days"] = f"give whole days from 0 to {LONGEST_INTERVAL}, such as 180"
        return 0
    return int(plain)


def _day(text: str, name: str, wrong: dict[str, str]) -> date | None:
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError:
        wrong[name] = f"'{text.strip()[:20]}' is no day; write it like 2026-05-01"
        return None


def _day_text(text: str, name: str, wrong: dict[str, str]) -> str:
    day = _day(text, name, wrong)
    return day.isoformat() if day else ""


def _check_day(text: str, gauge: Gauge, today: date, wrong: dict[str, str]) -> date:
    day = _day(text, "day", wrong) or today
    if day > today:
        wrong["day"] = f"{day.isoformat()} has not come yet; today is {today.isoformat()}"
    elif gauge.checked_on and day.isoformat() < gauge.checked_on:
        wrong["day"] = f"the last good check was later already, on {gauge.checked_on}"
    return day


def _due_after(text: str, checked: date, gauge: Gauge, wrong: dict[str, str]) -> date | None:
    due = _day(text, "due_on", wrong)
    if due is None and "due_on" not in wrong:
        due = next_due(checked, gauge.interval_days)
        if due is None:
            wrong["due_on"] = "say when it is due again, or give the gauge days between checks"
    if due is not None and not checked < due <= checked + timedelta(days=LONGEST_INTERVAL):
        wrong["due_on"] = f"{due.isoformat()} is no day after the check; give a later one"
    return due


def _what(detail: Mapping[str, Any]) -> str:
    """Return what an event set, in words."""
    told = [
        f"{words} {_said(detail[name])}"
        for name, words in _WORDS.items()
        if name in detail and not (name == "note" and not detail[name])
    ]
    return ", ".join(told) or "nothing"


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if value != "" else "none"
