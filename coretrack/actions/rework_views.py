"""What the rework pages show: the queue of each operation, and one body at its rework."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from coretrack.actions.desk_day import DeskDay, days_since, desk_day
from coretrack.actions.inspecting import Bench
from coretrack.actions.look_records import wanted_of
from coretrack.actions.pricing import good_body_worth
from coretrack.actions.rework_hands import ReworkPiece, piece_of
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plans import Operation, Plan
from coretrack.figures.rework import BodyHistory, checks_again, may_rework, passes_left
from coretrack.figures.rework_finish import StockLedger, stock_ledger
from coretrack.figures.rework_hint import ReworkHint, rework_hint
from coretrack.figures.wording import SAFETY
from coretrack.records import list_queries, rework_queries
from coretrack.records.database import snapshot
from coretrack.records.happenings import Happened, last_of_each
from coretrack.records.rework_queries import JUDGED, PassesDone
from coretrack.records.writer import Writer

REWORK_CAUTION = (
    "Honing, lapping and grinding throw chips and dust: eye protection, no gloves at what turns, "
    "extraction on. Never take more off a hardened or pressure-holding face than the plan allows. "
    "Follow the machine maker's sheet, local codes and qualified people."
)
"""Common practice, no source."""

MOST_LISTED = 60
"""Bodies of one operation on the first page; the number of all is told."""


@dataclass(frozen=True)
class Waiting:
    """A body in the queue: days since it was sent to rework, who is busy with it, stock and passes.

    `passes` says how many times it may still have the operation, this one included.
    """

    tag: str
    family: str
    number: str
    days: int
    busy: str
    stock: str
    passes: int
    near: bool


@dataclass(frozen=True)
class Queue:
    """The bodies that wait for one operation, the oldest first; `count` of them all."""

    family: str
    code: str
    name: str
    minutes: int
    count: int
    rows: tuple[Waiting, ...]
    hint: ReworkHint


@dataclass(frozen=True)
class ReworkHome:
    """All queues, by family and in the plan's order, and the bodies somebody is busy with."""

    queues: tuple[Queue, ...]
    bodies: int
    busy: int


@dataclass(frozen=True)
class OperationShown:
    """One operation at a body: what waits, what it takes, whether it may be done, what it is worth.

    `chosen` is the one that a scan speaks of, `why_not` why it may not be done.
    """

    code: str
    name: str
    minutes: int
    begun: bool
    chosen: bool
    face: str
    takes: str
    ledger: StockLedger | None
    again: tuple[str, ...]
    done: int
    most: int
    why_not: str
    hint: ReworkHint


@dataclass(frozen=True)
class ReworkView:
    """One body at its rework.

    `begun_by` and `begun_at` say who is busy with it since when; `minutes` and `stock` what a
    finish would be stored with, `minutes_why` and `stock_why` where each comes from. `asked` is the
    question that is open. `again` are the checks that are measured after the rework done so far.
    """

    tag: str
    family: str
    family_name: str
    number: str
    serial: str
    state: StateShown
    waits: bool
    sentence: str
    operations: tuple[OperationShown, ...]
    chosen: OperationShown | None
    begun_by: str
    begun_at: str
    minutes: str
    minutes_why: str
    stock: str
    stock_why: str
    asked: str
    look_wanted: bool
    again: tuple[str, ...]
    seen: str
    caution: str
    safety: str


class _Hints:
    """The hint of each operation, worked out once."""

    def __init__(self, writer: Writer, bench: Bench, today: date) -> None:
        self._writer, self._bench, self._today = writer, bench, today
        self._done = rework_queries.passes_done()
        self._worth: dict[str, tuple[int | None, int]] = {}

    def of(self, family: str, operation: Operation) -> ReworkHint:
        """Return what is said of an operation of a family."""
        rates, today = self._bench.rates, self._today
        cost = None
        if rates.on("labour", today) is not None or not operation.minutes:
            cost = rates.rework(operation, None, today) + rates.step("reinspect", today)
        worth, scrap = self._of_family(family)
        done = self._done.get((family, operation.code), PassesDone())
        return rework_hint(cost, len(done.good), done.passes, worth, scrap)

    def _of_family(self, code: str) -> tuple[int | None, int]:
        if code not in self._worth:
            family = self._bench.family(code)
            good = good_body_worth(family)
            scrap = self._bench.rates.scrap(family.metal, family.mass_g, self._today)
            value = None if good is None else good.amount
            self._worth[code] = (value, scrap["recovery"] - scrap["disposal"])
        return self._worth[code]


def rework_home(now: datetime) -> ReworkHome:
    """Return what waits for rework, without a question to the books for each body."""
    with snapshot():
        day = desk_day(now)
        writer = Writer("", now)
        bench = Bench(writer)
        cores = list_queries.cores_in(["rework"])
        sent = rework_queries.sent_to_rework()
        begun = last_of_each("core", [c.tag for c in cores if c.rework_begun], ["rework begun"])
        cores.sort(key=lambda core: (sent[core.tag], core.tag))
        hints = _Hints(writer, bench, day.today)
        queues: dict[tuple[str, str], list[tuple[CoreFacts, Plan]]] = {}
        places: dict[tuple[str, str], tuple[str, int]] = {}
        for core in cores:
            plan = bench.plan_for(core)
            for code in core.operations:
                queues.setdefault((core.family, code), []).append((core, plan))
                place = [operation.code for operation in plan.operations].index(code)
                places.setdefault((core.family, code), (core.family, place))
        return ReworkHome(
            tuple(
                _queue(key, queues[key], sent, begun, day, hints)
                for key in sorted(queues, key=lambda key: (places[key], key))
            ),
            len(cores),
            len(begun),
        )


def _queue(
    key: tuple[str, str],
    waiting: Sequence[tuple[CoreFacts, Plan]],
    sent: Mapping[str, str],
    begun: Mapping[str, Happened],
    day: DeskDay,
    hints: _Hints,
) -> Queue:
    family, code = key
    newest = waiting[-1][1].operation(code)
    return Queue(
        family,
        code,
        newest.name,
        newest.minutes,
        len(waiting),
        tuple(
            _waiting(core, plan, plan.operation(code), sent, begun, day)
            for core, plan in waiting[:MOST_LISTED]
        ),
        hints.of(family, newest),
    )


def _waiting(
    core: CoreFacts,
    plan: Plan,
    operation: Operation,
    sent: Mapping[str, str],
    begun: Mapping[str, Happened],
    day: DeskDay,
) -> Waiting:
    lives = BodyHistory(core.removed, core.done)
    ledger = _ledger(plan, operation, lives)
    busy = ""
    if core.rework_begun == operation.code:
        told = begun[core.tag]
        busy = f"{told.by}, {day.moment(told.at):%H:%M}"
        if day.day_of(told.at) != day.today:
            busy = f"{told.by}, {day.moment(told.at):%Y-%m-%d}"
    days = days_since(day.day_of(sent[core.tag]).isoformat(), day.today)
    stock = f"{ledger.left} of {ledger.allowance}" if ledger else ""
    fit = passes_left(operation, lives)
    near = ledger.near if ledger else fit < 2
    return Waiting(core.tag, core.family, core.number, days, busy, stock, fit, near)


def rework_view(tag: str, person: str, station: str, now: datetime) -> ReworkView:
    """Return one body at its rework; NotFound for a tag no core has, NotAllowed without a plan."""
    with snapshot():
        day = desk_day(now)
        writer = Writer(person, now, station)
        return _view(writer, piece_of(writer, tag), day)


def _view(writer: Writer, piece: ReworkPiece, day: DeskDay) -> ReworkView:
    core, plan = piece.core, piece.plan
    hints = _Hints(writer, piece.bench, day.today)
    shown = tuple(_operation(piece, plan.operation(code), hints) for code in core.operations)
    begun = piece.begun
    told = last_of_each("core", [core.tag], JUDGED).get(core.tag)
    names = {check.code: check.name for check in plan.checks}
    finish = piece.finish
    return ReworkView(
        tag=core.tag,
        family=core.family,
        family_name=piece.bench.family(core.family).name,
        number=core.number,
        serial=core.serial,
        state=state_shown(core),
        waits=core.state == "rework",
        sentence=str(told.detail.get("sentence") or told.why) if told else "",
        operations=shown,
        chosen=next((each for each in shown if each.chosen), None),
        begun_by=begun.by if begun else "",
        begun_at=f"{day.moment(begun.at):%Y-%m-%d %H:%M}" if begun else "",
        minutes=finish.minutes if finish else "",
        minutes_why=finish.minutes_why if finish else "",
        stock=finish.stock if finish else "",
        stock_why=finish.stock_why if finish else "",
        asked=piece.hand.asked_text,
        look_wanted=_look_wanted(writer, core.tag),
        again=tuple(names[code] for code in checks_again(plan, core.done_since)),
        seen=piece.seen,
        caution=REWORK_CAUTION,
        safety=SAFETY,
    )


def _look_wanted(writer: Writer, tag: str) -> bool:
    look = wanted_of(writer, tag)
    return look is not None and look.why == "drawn"


def _operation(piece: ReworkPiece, operation: Operation, hints: _Hints) -> OperationShown:
    plan, core = piece.plan, piece.core
    names = {check.code: check.name for check in plan.checks}
    return OperationShown(
        code=operation.code,
        name=operation.name,
        minutes=operation.minutes,
        begun=core.rework_begun == operation.code,
        chosen=piece.chosen is not None and piece.chosen.code == operation.code,
        face=names.get(operation.check, ""),
        takes=piece.takes(operation),
        ledger=_ledger(plan, operation, piece.lives),
        again=tuple(names[code] for code in checks_again(plan, [operation.code])),
        done=piece.lives.passes.get(operation.code, 0),
        most=operation.most_passes,
        why_not=may_rework(operation, piece.lives) or "",
        hint=hints.of(core.family, operation),
    )


def _ledger(plan: Plan, operation: Operation, lives: BodyHistory) -> StockLedger | None:
    if not operation.check:
        return None
    return stock_ledger(plan.check(operation.check), operation, lives)
