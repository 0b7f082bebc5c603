"""A body at its rework: the operation in hand, what is typed of its pass, what a finish would say.

What is typed is kept in one draft a body, so that another station goes on with it.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from coretrack.actions import drafts
from coretrack.actions.floor_scans import core_named
from coretrack.actions.inspecting import Bench, StockRemoved, finish_rework
from coretrack.figures.dates import shop_day
from coretrack.figures.judging import with_unit
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.plain_words import counted
from coretrack.figures.plans import Operation, Plan
from coretrack.figures.rework import BodyHistory
from coretrack.figures.rework_finish import minutes_proposed
from coretrack.records.happenings import Happened, last_of_each
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class ReworkHand:
    """What is typed of a body's pass: minutes and stock as typed, each with the exact value.

    `operation` is the one somebody chose. `asked` is stock that was asked back: its text, and what
    it may be insisted on as (millionths); `asked_text` the question. `step` counts the changes.
    """

    tag: str
    operation: str = ""
    minutes: str = ""
    minutes_typed: str = ""
    stock: int | None = None
    stock_typed: str = ""
    asked: dict[str, Any] = field(default_factory=dict)
    asked_text: str = ""
    step: int = 0

    @property
    def typed(self) -> bool:
        """Whether anything is typed that a finish would store."""
        return bool(self.minutes_typed or self.stock_typed or self.asked)


def hand_key(tag: str) -> str:
    """Return the key of a body's draft."""
    return f"rework/{tag}"


def hand_of(tag: str) -> ReworkHand:
    """Return what is typed of a body's pass. Call with a connection."""
    body = drafts.read_draft(hand_key(tag))
    return ReworkHand(tag, **body) if body else ReworkHand(tag)


@dataclass(frozen=True)
class Finish:
    """What a finish would be stored with, in words, and where each comes from.

    `actual` are the minutes that are told (None: the plan's count), `removed` the stock that is
    told (None: the plan's).
    """

    minutes: str
    minutes_why: str
    stock: str
    stock_why: str
    actual: Decimal | None
    removed: StockRemoved | None


@dataclass(frozen=True)
class ReworkPiece:
    """A body, its plan, and what is in hand of it at `now`."""

    writer: Writer
    bench: Bench
    core: CoreFacts
    plan: Plan
    hand: ReworkHand

    @property
    def lives(self) -> BodyHistory:
        """What the body has been through in all its lives."""
        return BodyHistory(self.core.removed, self.core.done)

    @property
    def waiting(self) -> tuple[Operation, ...]:
        """The operations that wait, in the plan's order; none once they are done."""
        if self.core.state != "rework":
            return ()
        return tuple(self.plan.operation(code) for code in self.core.operations)

    @property
    def chosen(self) -> Operation | None:
        """The operation a scan speaks of: the chosen one, the one begun, or the only one."""
        waiting = {operation.code: operation for operation in self.waiting}
        for code in (self.hand.operation, self.core.rework_begun):
            if code in waiting:
                return waiting[code]
        return next(iter(waiting.values())) if len(waiting) == 1 else None

    @property
    def seen(self) -> str:
        """What the page shows, in a few signs."""
        core = self.core
        return f"{core.inspections}.{core.reworks}.{core.rework_begun}.{self.hand.step}"

    @cached_property
    def begun(self) -> Happened | None:
        """When and by whom the operation under way was begun, None while none is."""
        if not self.core.rework_begun:
            return None
        return last_of_each("core", [self.core.tag], ["rework begun"]).get(self.core.tag)

    @property
    def is_begun(self) -> bool:
        """Whether the operation a scan speaks of is under way."""
        return self.chosen is not None and self.chosen.code == self.core.rework_begun

    def seconds(self, now: datetime) -> int | None:
        """Return how long the operation has been under way, None when it never was begun."""
        if not self.is_begun or self.begun is None:
            return None
        return int((now - self.begun.moment).total_seconds())

    def takes(self, operation: Operation) -> str:
        """Return the stock that a pass takes off by the plan, with its unit; "" for none."""
        if not operation.check or not operation.removes:
            return ""
        return with_unit(self.plan.check(operation.check), operation.removes)

    @property
    def finish(self) -> Finish | None:
        """What a finish now would be stored with, None while no operation is chosen."""
        operation = self.chosen
        if operation is None:
            return None
        actual, minutes, why = self._minutes(operation)
        stock, stock_why, removed = "", "", None
        if self.takes(operation):
            stock, stock_why = self.takes(operation), "by the plan"
            if self.hand.stock is not None:
                removed = StockRemoved(self.hand.stock, self.hand.stock_typed)
                stock = with_unit(self.plan.check(operation.check), self.hand.stock)
                stock_why = f"typed {self.hand.stock_typed}"
        return Finish(minutes, why, stock, stock_why, actual, removed)

    def _minutes(self, operation: Operation) -> tuple[Decimal | None, str, str]:
        if self.hand.minutes_typed:
            actual = Decimal(self.hand.minutes)
            return actual, _minutes(actual), f"typed {self.hand.minutes_typed}"
        seconds = self.seconds(self.writer.at)
        proposed = minutes_proposed(seconds, operation.minutes)
        if proposed is not None:
            return Decimal(proposed), _minutes(Decimal(proposed)), "since it was begun"
        why = "by the plan"
        if seconds is not None and seconds > operation.minutes * 60:
            why += f"; begun {counted(seconds // 60, 'minute')} ago, too long to be the work alone"
        return None, _minutes(Decimal(operation.minutes)), why


def piece_of(writer: Writer, tag: str) -> ReworkPiece:
    """Return a body at its rework; NotFound for a tag no core has, NotAllowed without a plan."""
    bench = Bench(writer)
    core = core_named(writer, tag)
    return ReworkPiece(writer, bench, core, bench.plan_for(core), hand_of(tag))


def keep_hand(writer: Writer, hand: ReworkHand) -> ReworkHand:
    """Keep a changed draft under its next number and return it."""
    kept = replace(hand, step=hand.step + 1)
    body = asdict(kept)
    del body["tag"]
    drafts.keep_draft(writer, hand_key(hand.tag), body)
    return kept


def drop_hand(writer: Writer, tag: str) -> None:
    """Remove what is typed of a body's pass."""
    drafts.drop_draft(writer, hand_key(tag))


@dataclass(frozen=True)
class Told:
    """What is told of a finished pass; None where the plan's own counts."""

    minutes: Decimal | None = None
    removed: StockRemoved | None = None
    note: str = ""


def finished(piece: ReworkPiece, operation: Operation, told: Told, now: datetime) -> CoreFacts:
    """Store a finished pass inside the caller's transaction; InvalidInput past the allowance."""
    writer, tag = piece.writer, piece.core.tag
    zone = writer.get("shop", "shop").time_zone
    core = finish_rework(
        writer,
        piece.bench,
        tag,
        operation.code,
        minutes=told.minutes,
        at=now,
        day=shop_day(now, zone),
        person=writer.by,
        note=told.note,
        removed=told.removed,
    )
    drop_hand(writer, tag)
    return core


def _minutes(number: Decimal) -> str:
    text = f"{number.normalize():f}"
    return f"{text} minute" if text == "1" else f"{text} minutes"
