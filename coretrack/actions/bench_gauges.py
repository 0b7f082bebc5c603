"""Which gauge a person has in hand at a station, by kind, and whether its check is overdue."""

from __future__ import annotations

from dataclasses import dataclass

from coretrack.actions import drafts
from coretrack.errors import NotAllowed
from coretrack.figures.dates import shop_day
from coretrack.figures.plans import Check
from coretrack.figures.trade_objects import Gauge
from coretrack.records import queries
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class GaugeInHand:
    """The gauge that a check's readings are stamped with; `note` says what is wrong with it.

    `others` are the codes of further gauges of its kind in use; without a `code` any of them may be
    in hand, and nothing is measured before that is said.
    """

    code: str = ""
    name: str = ""
    overdue: bool = False
    note: str = ""
    others: tuple[str, ...] = ()


def gauge_named(text: str) -> Gauge | None:
    """Return the gauge that a text names by its code, capitals aside. Call with a connection.

    A code that is digits only needs the word gauge before it: by itself it is a reading.
    """
    word, _, rest = text.strip().partition(" ")
    spoken = word.casefold() == "gauge" and bool(rest.strip())
    wanted = (rest if spoken else text).strip().casefold()
    if not spoken and not any(sign.isalpha() for sign in wanted):
        return None
    return next((gauge for gauge in queries.gauges() if gauge.key.casefold() == wanted), None)


def take_gauge(writer: Writer, gauge: Gauge, family: str = "", check: Check | None = None) -> str:
    """Note that the writer's person measures with this gauge from now on at this station.

    It counts for every check that asks for its kind, and for `check` of `family` when that asks
    for none. Returns what to say; NotAllowed for a gauge that is out of use.
    """
    if gauge.out_of_use:
        raise NotAllowed(
            f"Gauge {gauge.key} is out of use{f': {gauge.note}' if gauge.note else ''}. Take "
            "another one, and put this one away."
        )
    key = _key(writer.by, writer.station)
    held = drafts.read_draft(key) or {}
    held = {**held, gauge.kind.casefold(): gauge.key}
    said = f"{gauge.name or gauge.key} is in hand."
    if check is not None and check.numeric and not check.gauge_kind:
        held[_own(family, check)] = gauge.key
    elif check is not None and check.gauge_kind.casefold() not in ("", gauge.kind.casefold()):
        said += f" {check.name} is measured by {check.gauge_kind}."
    drafts.keep_draft(writer, key, held)
    if is_overdue(writer, gauge):
        said += f" Its check was due by {gauge.due_on}; readings are stamped."
    return said


def gauge_for(writer: Writer, family: str, check: Check) -> GaugeInHand:
    """Return the gauge that this person measures a check of this family with here.

    Without a choice it is the only one in use of the kind the check asks for; with several, none
    is guessed.
    """
    if not check.numeric:
        return GaugeInHand()
    kind = check.gauge_kind.casefold()
    held = (drafts.read_draft(_key(writer.by, writer.station)) or {}).get(
        kind or _own(family, check), ""
    )
    usable = [
        gauge
        for gauge in queries.gauges()
        if not gauge.out_of_use and (gauge.kind.casefold() == kind or gauge.key == held)
    ]
    chosen = [gauge for gauge in usable if gauge.key == held] or (usable if kind else [])
    if len(chosen) != 1:
        return GaugeInHand(
            note=f"which {check.gauge_kind} is in hand?" if chosen else "",
            others=tuple(sorted(gauge.key for gauge in chosen)),
        )
    gauge = chosen[0]
    others = tuple(sorted(one.key for one in usable if kind and one.key != gauge.key))
    overdue = is_overdue(writer, gauge)
    note = f"its check was due by {gauge.due_on}; readings are stamped" if overdue else ""
    return GaugeInHand(gauge.key, gauge.name, overdue, note, others)


def is_overdue(writer: Writer, gauge: Gauge) -> bool:
    """Return whether the gauge's check was due before the shop's day of the writer."""
    if not gauge.due_on:
        return False
    zone = writer.get("shop", "shop").time_zone
    return gauge.due_on < shop_day(writer.at, zone).isoformat()


def _key(person: str, station: str) -> str:
    return f"gauges/{person}/{station}"


def _own(family: str, check: Check) -> str:
    return f"{family}/{check.code}"
