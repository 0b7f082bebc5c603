"""The day's checks of lamps and baths for crack checks, and what the shop asks of them.

A check is kept for its day, kind and place; made again the newer one counts, and the older stays
in the history. The owner states the limits, the methods they belong to, and their source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.acting import act_once
from coretrack.actions.desk_day import desk_day
from coretrack.actions.process_stamps import (
    StampedDay,
    checks_of,
    place_key,
    place_of,
    rules_now,
    stamped_days,
)
from coretrack.actions.typed_fields import LONGEST_NOTE, plain_words
from coretrack.errors import Forbidden, InvalidInput, NotFound
from coretrack.figures.bench_objects import ProcessCheck, ProcessRule
from coretrack.figures.dates import shop_day
from coretrack.figures.limits import plain_text
from coretrack.figures.plain_words import counted
from coretrack.figures.plans import CRACK_METHODS
from coretrack.figures.process_rules import (
    KINDS,
    ProcessKind,
    Quantity,
    limits_of,
    limits_words,
    measured,
    rule_of,
    shown_values,
    unit_told,
)
from coretrack.figures.readings import Reading, read_reading
from coretrack.figures.wording import SAFETY
from coretrack.records import happenings, objects
from coretrack.records.database import connection
from coretrack.records.writer import Writer

LONGEST_PLACE = 60
CAUTION = (
    "UV-A harms eyes and skin: never look into the lamp, wear the eye protection and gloves its "
    "maker names, and use no lamp with a cracked filter. Penetrant, remover and bath carriers burn "
    "and their vapour harms: air, gloves, no flame."
)
"""Common practice, no source; it stands beside the standard, local codes and qualified people."""

DEFER = (
    "A good check says only that lamp and bath were in order. The method's standard, your written "
    "procedure and qualified people decide how it is checked, how often, and what is good."
)


@dataclass(frozen=True)
class CheckToday:
    """One check of the day: `values` as typed in a line, `why` it is not good."""

    kind: str
    name: str
    place: str
    good: bool
    values: str
    note: str
    by: str
    at: str
    times: int


@dataclass(frozen=True)
class QuantityAsked:
    """One field of a process check's form: `wanted` are its limits in words.

    `unit` is what its readings were told in last, at this station's place if it has one; "" before
    anybody chose.
    """

    quantity: Quantity
    wanted: str
    least: str
    most: str
    unit: str = ""


@dataclass(frozen=True)
class KindShown:
    """One kind of process check: what is asked, its checks of the day, its rule.

    `missing` when a method in some plan needs it and the day has no good one.
    """

    kind: ProcessKind
    rule: ProcessRule
    asked: tuple[QuantityAsked, ...]
    today: tuple[CheckToday, ...]
    missing: bool
    places: tuple[str, ...]


@dataclass(frozen=True)
class ProcessView:
    """The page of the day's checks; `here` is where this station's crack checks are made.

    `stamped` are the days of late whose crack results carry a stamp, newest first.
    """

    day: str
    kinds: tuple[KindShown, ...]
    here: str
    places: tuple[str, ...]
    stamped: tuple[StampedDay, ...] = ()
    methods: tuple[str, ...] = CRACK_METHODS
    caution: str = CAUTION
    defer: str = DEFER
    safety: str = SAFETY


def process_view(station: str, now: datetime) -> ProcessView:
    """Return the day's checks and what is asked of them, as seen from a station."""
    with connection():
        day = desk_day(now)
        rules, today = rules_now(), checks_of(day.today)
        times = {check.key: happenings.history("process check", check.key) for check in today}
        used = methods_used()
        places = _places()
        here = place_of(station)
        shown = []
        for code, kind in KINDS.items():
            mine = [check for check in today if check.kind == code]
            told = tuple(
                CheckToday(
                    code,
                    kind.name,
                    check.place,
                    check.result == "good",
                    shown_values(kind, check.measured),
                    check.note,
                    check.by,
                    f"{day.moment(times[check.key][-1].at):%H:%M}",
                    len(times[check.key]),
                )
                for check in mine
            )
            needed = bool(set(rules[code].methods) & used)
            good = bool(mine) and all(check.result == "good" for check in mine)
            at = tuple(dict.fromkeys(check.place for check in places if check.kind == code))
            earlier = [check for check in places if check.kind == code]
            place = here or (at[0] if at else "")
            earlier.sort(key=lambda check: (check.place == place, check.day), reverse=True)
            asked = tuple(_asked(rules[code], quantity, earlier) for quantity in kind.quantities)
            shown.append(KindShown(kind, rules[code], asked, told, needed and not good, at))
        shown.sort(key=lambda each: not set(each.rule.methods) & used)
        every = tuple(sorted({check.place for check in places}))
        stamped = stamped_days(day.shop.time_zone)
        return ProcessView(day.today.isoformat(), tuple(shown), here, every, stamped)


def missing_today(now: datetime) -> tuple[str, ...]:
    """Return what the day's checks lack, for the methods some plan uses. Call with a connection."""
    day = desk_day(now)
    rules, used = rules_now(), methods_used()
    results: dict[str, list[str]] = {}
    for check in checks_of(day.today):
        results.setdefault(check.kind, []).append(check.result)
    said = []
    for code, rule in rules.items():
        if not set(rule.methods) & used:
            continue
        name, found = KINDS[code].name, results.get(code, [])
        if not found:
            said.append(f"{name}: not checked today")
        elif "not good" in found:
            said.append(f"{name}: not good today")
    return tuple(said)


def methods_used() -> set[str]:
    """Return the crack methods of the families' present plans. Call with a connection."""
    used = set()
    for family in objects.every("family"):
        plan = objects.one("plan", f"{family.key}/{family.plan_version}")
        checks: Sequence[Mapping[str, Any]] = plan.definition["checks"] if plan else ()
        used |= {str(check["method"]) for check in checks if check["kind"] == "crack"}
    return used


def record_check(
    kind: str,
    told: Mapping[str, str],
    *,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> str:
    """Keep one check of the day and return what it says in a sentence.

    `told` holds each quantity as typed, the unit chosen beside it and whether it is right all the
    same (see `process_rules.measured`), "panel" (found or not found), "place" and "note".
    InvalidInput names each field that is missing, no reading, or asked back.
    """

    def act(writer: Writer) -> dict[str, Any]:
        zone = writer.get("shop", "shop").time_zone
        check = check_told(writer, kind, told, shop_day(now, zone), by)
        keep_check(writer, check)
        known = KINDS[kind]
        if check.result == "good":
            return {"said": f"{known.name} at {check.place}: good."}
        end = "What is found by it from now on is stamped; put it right, then check it again."
        why = check.note.rstrip(".")
        return {"said": f"{known.name} at {check.place} is not good: {why}. {end}"}

    return str(act_once("process check", key, act, by=by, station=station, now=now)["said"])


def check_told(
    writer: Writer, kind: str, told: Mapping[str, str], day: date, by: str
) -> ProcessCheck:
    """Return a check as told, judged by the rule in force; InvalidInput names each wrong field."""
    known = _kind(kind)
    found = measured(known, rule_of(kind, writer.find("process rule", kind)), told)
    problems = dict(found.problems)
    place = plain_words(told.get("place", ""), "place", LONGEST_PLACE)
    note = plain_words(told.get("note", ""), "note", LONGEST_NOTE)
    if not place or "/" in place:
        problems["place"] = "name the booth or the line, such as Booth 1"
    if problems:
        raise InvalidInput(f"{known.name}: {_all(problems)}", problems)
    return ProcessCheck(
        key=f"{day.isoformat()}/{kind}/{place}",
        day=day.isoformat(),
        kind=kind,
        place=place,
        measured=dict(found.typed),
        result=found.result,
        by=by,
        note="; ".join(part for part in (*found.why, note) if part),
    )


def keep_check(writer: Writer, check: ProcessCheck, at: datetime | None = None) -> None:
    """Keep a check inside the caller's transaction; `at` is when it was made, if earlier."""
    writer.event("process check", check.key, "set", asdict(check), at=at)


def set_rule(
    kind: str,
    told: Mapping[str, str],
    methods: Sequence[str],
    *,
    role: str,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> str:
    """Let the owner state what a kind of check is measured against; return it in a sentence.

    `told` holds "least-CODE" and "most-CODE" as typed for each quantity, and "source".
    """
    if role != "owner":
        raise Forbidden("Only the owner states the limits of process checks.")

    def act(writer: Writer) -> dict[str, Any]:
        known = _kind(kind)
        problems: dict[str, str] = {}
        limits: dict[str, list[int | None]] = {}
        for quantity in known.quantities:
            pair = [_end(told, f"{end}-{quantity.code}", quantity, problems) for end in _ENDS]
            if pair[0] is not None and pair[1] is not None and pair[0] > pair[1]:
                problems[f"most-{quantity.code}"] = "the most lies below the least"
            if pair != [None, None]:
                limits[quantity.code] = pair
        wrong = [method for method in methods if method not in CRACK_METHODS]
        if wrong:
            problems["methods"] = f"'{wrong[0]}' is no crack method; choose from the list"
        source = plain_words(told.get("source", ""), "source", LONGEST_NOTE)
        if limits and not source:
            problems["source"] = "say where the limits come from: the procedure and its number"
        if problems:
            raise InvalidInput(f"{known.name}: {_all(problems)}", problems)
        detail = {
            "key": kind,
            "methods": [method for method in CRACK_METHODS if method in methods],
            "limits": limits,
            "source": source,
        }
        writer.event("process rule", kind, "set", detail)
        return {"said": f"{known.name}: {counted(len(limits), 'limit')} stated."}

    return str(act_once("process rule", key, act, by=by, station=station, now=now)["said"])


def set_place(place: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Note where this station's crack checks are made, "" for anywhere; return it."""
    name = plain_words(place, "here", LONGEST_PLACE)
    if not station:
        raise InvalidInput("This browser has no station name; sign in at a station first.")

    def act(writer: Writer) -> dict[str, Any]:
        drafts.keep_draft(writer, place_key(station), {"place": name})
        return {"place": name}

    return str(act_once("crack place", key, act, by=by, station=station, now=now)["place"])


_ENDS = ("least", "most")


def _kind(kind: str) -> ProcessKind:
    if kind not in KINDS:
        raise NotFound(f"There is no process check '{kind}'; there are: {', '.join(KINDS)}.")
    return KINDS[kind]


def _end(
    told: Mapping[str, str], name: str, quantity: Quantity, problems: dict[str, str]
) -> int | None:
    text = str(told.get(name, "")).strip()
    if not text:
        return None
    answer = read_reading(text, unit=quantity.unit)
    if isinstance(answer, Reading) and answer.value >= 0:
        return answer.value
    said = "it cannot be less than nothing" if isinstance(answer, Reading) else answer.text
    problems[name] = said
    return None


def _asked(rule: ProcessRule, quantity: Quantity, earlier: Sequence[ProcessCheck]) -> QuantityAsked:
    units = (unit_told(quantity, check.measured.get(quantity.code, "")) for check in earlier)
    unit = quantity.unit if not quantity.also else next(filter(None, units), "")
    limits = limits_of(rule, quantity.code)
    ends = (limits.lower, limits.upper) if limits else (None, None)
    least, most = ("" if end is None else plain_text(end) for end in ends)
    return QuantityAsked(quantity, limits_words(rule, quantity), least, most, unit)


def _places() -> list[ProcessCheck]:
    return objects.every("process check")


def _all(problems: Mapping[str, str]) -> str:
    return "; ".join(text.rstrip(".") for text in problems.values()) + "."
