"""What wash, bench and rework did with a core, told for its page; its costs only when asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from coretrack.actions.bench_hand import BenchHand, hand_of
from coretrack.actions.rack_runs import rack_with
from coretrack.figures.core_facts import INSPECTABLE, CoreFacts
from coretrack.figures.core_ledger import (
    CostLine,
    PassesTold,
    ReworkTold,
    Stay,
    StockTold,
    cost_of,
    costs_told,
    passes_told,
    reworks_told,
    stays_told,
    stock_told,
)
from coretrack.figures.core_story import event_sentence, where_now
from coretrack.figures.core_verdicts import Moment, VerdictTold, operation_names, verdicts_told
from coretrack.figures.lifecycle import apply
from coretrack.figures.money import Money
from coretrack.figures.plain_words import counted
from coretrack.figures.plans import Plan, plan_from_dict
from coretrack.records import queries
from coretrack.records.happenings import Happened
from coretrack.records.plan_queries import plan_versions


@dataclass(frozen=True)
class CorePast:
    """A core's past by question. `where` says where it is now, in sentences.

    `verdicts` are the newest first; `costs` are empty and `cost` is None for who is not told of
    money. `seen` says who touched it last, and when; `waiting` names the rework it waits for.
    """

    where: tuple[str, ...]
    seen: str
    verdicts: tuple[VerdictTold, ...]
    waiting: tuple[str, ...]
    reworks: tuple[ReworkTold, ...]
    stock: tuple[StockTold, ...]
    passes: tuple[PassesTold, ...]
    stays: tuple[Stay, ...]
    costs: tuple[CostLine, ...] = ()
    cost: Money | None = None


def core_past(
    core: CoreFacts,
    happened: Sequence[Happened],
    names: Mapping[str, str],
    clock: Callable[[str], str],
    *,
    costs: bool,
) -> CorePast:
    """Return what is told of a core's past. Call with a connection.

    `names` are those of places by their codes, `clock` turns a stored moment into the shop's day
    and time; `costs` asks for the money posted on it.
    """
    moments = _moments(happened, clock)
    plans = _plans(core.family)
    # A body that was here before has stock off it already, long before this life's first verdict.
    plan = plans.get(core.plan_version or max(plans, default=0))
    gauges = {gauge.key: gauge.name for gauge in queries.gauges()}
    return CorePast(
        where=(
            where_now(core, names, _rack(core, moments, names)),
            *_in_hand(core, hand_of(core.tag), plan, moments, clock),
        ),
        seen=_seen(moments),
        verdicts=tuple(reversed(verdicts_told(moments, plans, gauges, clock))),
        waiting=operation_names(plan, core.operations),
        reworks=reworks_told(moments, plan),
        stock=stock_told(core, plan),
        passes=passes_told(core, plan),
        stays=stays_told(moments, names),
        costs=costs_told(moments, _what_cost) if costs else (),
        cost=cost_of(core) if costs else None,
    )


def _moments(happened: Sequence[Happened], clock: Callable[[str], str]) -> list[Moment]:
    moments = []
    core: CoreFacts | None = None
    for each in happened:
        after = apply(core, each.event, each.detail)
        moments.append(
            Moment(
                each.event,
                clock(each.at),
                each.by,
                each.station,
                each.why,
                each.detail,
                core or CoreFacts(after.tag),
                after,
            )
        )
        core = after
    return moments


def _plans(family: str) -> dict[int, Plan]:
    return {
        stored.number: plan_from_dict({**stored.definition, "version": stored.number})
        for stored in (plan_versions(family) if family else ())
    }


def _in_hand(
    core: CoreFacts,
    hand: BenchHand,
    plan: Plan | None,
    moments: Sequence[Moment],
    clock: Callable[[str], str],
) -> tuple[str, ...]:
    """Return who has it before them now: at the bench with entries not stored, or at rework."""
    said = []
    if hand.begun and hand.entries:
        last = hand.entries[-1]
        where = f" at {last.station}" if last.station else ""
        entries = counted(len(hand.entries), "entry")
        said.append(
            f"At the bench: {entries} kept with it, the last by {last.by}{where}, "
            f"{clock(last.at)}; the verdict is not stored yet."
        )
    if core.rework_begun:
        begun = next(moment for moment in reversed(moments) if moment.event == "rework begun")
        who = begun.detail.get("person") or begun.by
        (name,) = operation_names(plan, (core.rework_begun,))
        said.append(f"{who} is at rework {name} since {begun.when}.")
    return tuple(said)


_MOVES = ("put", "basketed", "unbasketed", "picked", "left", "rework begun", "reworked")
"""Events after which a core is no longer where its rack of a crack check stood."""


def _rack(core: CoreFacts, moments: Sequence[Moment], names: Mapping[str, str]) -> str:
    """Return the rack that a core is in, or was in last when nobody noted it elsewhere since."""
    inside = rack_with(core.tag)
    if inside is not None:
        stands = (
            f", which stands in {names.get(inside.place, inside.place)}" if inside.place else ""
        )
        return f"In rack {inside.code}{stands}, at its crack check; nothing of it is stored yet"
    last = next(
        (each for each in reversed(moments) if each.event in ("crack checked", *_MOVES)), None
    )
    if last is None or last.event in _MOVES or core.state not in INSPECTABLE:
        return ""
    stood = last.detail.get("place", "")
    stands = f", which stood in {names.get(stood, stood)}" if stood else ""
    return (
        f"Last in rack {last.detail['rack']}{stands}, stored {last.when}; no other place is noted "
        "since"
    )


def _seen(moments: Sequence[Moment]) -> str:
    """Return who had it last, and when; empty for a core that only came in."""
    if not moments:
        return ""
    last = moments[-1]
    where = f" at {last.station}" if last.station else ""
    return f"{last.when} by {last.by}{where}"


_WHAT_COST = {
    "received": "Taken in",
    "accepted": "Judged at the dock",
    "bought": "Bought",
    "unjudged": "Judgement taken back",
    "taken back": "Taken out of the books",
    "inspected": "Inspection",
    "overridden": "Overruled by the owner",
    "reopened": "Opened again for inspection",
    "reworked": "Rework",
}


def _what_cost(moment: Moment) -> str:
    if moment.event == "reworked":
        return f"Rework {moment.detail['operation']}"
    return _WHAT_COST.get(moment.event) or event_sentence(moment.event, moment.detail).rstrip(".")
