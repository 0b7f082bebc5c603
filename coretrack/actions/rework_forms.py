"""Rework by the forms of its page: an operation begun, and finished with what was typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.inspecting import StockRemoved
from coretrack.actions.rework_bench import AtBody
from coretrack.actions.rework_hands import ReworkPiece, Told, finished, piece_of
from coretrack.actions.typed_fields import plain_words
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.part_numbers import trim
from coretrack.figures.plans import Operation
from coretrack.figures.readings import Question, Refusal
from coretrack.figures.rework_finish import read_minutes, read_stock
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.records.writer import Writer


@dataclass(frozen=True)
class FinishTyped:
    """The finish form as typed; `sure` says that stock far from the plan's is right."""

    operation: str
    minutes: str = ""
    stock: str = ""
    note: str = ""
    sure: bool = False


def begin_typed(tag: str, operation: str, *, by: str, station: str, now: datetime, key: str) -> str:
    """Begin an operation by a button; return what was done."""

    def act(writer: Writer) -> ScanReply:
        at = AtBody(piece_of(writer, tag), Spot("rework", tag), now)
        at.choose(operation)
        return at.begin()

    return _once("begin rework", key, act, by=by, station=station, now=now)


def finish_typed(
    tag: str, told: FinishTyped, *, by: str, station: str, now: datetime, key: str
) -> str:
    """Finish an operation by the form; return what was done. InvalidInput names the wrong field."""

    def act(writer: Writer) -> ScanReply:
        at = AtBody(piece_of(writer, tag), Spot("rework", tag), now)
        at.choose(told.operation)
        operation = at.one()
        if isinstance(operation, ScanReply):
            raise NotAllowed(operation.line)
        minutes, removed = _typed(at.piece, operation, told)
        at.keep(
            minutes="" if minutes is None else str(minutes),
            minutes_typed=trim(told.minutes),
            stock=None if removed is None else removed.value,
            stock_typed="" if removed is None else removed.typed,
        )
        finish = at.piece.finish
        if finish is None:
            raise NotAllowed("No operation waits here.")
        pass_told = Told(finish.actual, finish.removed, plain_words(told.note, "note"))
        core = finished(at.piece, operation, pass_told, now)
        return at.said(operation, core, ", ".join(filter(None, (finish.minutes, finish.stock))))

    return _once("finish rework", key, act, by=by, station=station, now=now)


def _typed(
    piece: ReworkPiece, operation: Operation, told: FinishTyped
) -> tuple[Decimal | None, StockRemoved | None]:
    wrong = {}
    minutes = read_minutes(told.minutes) if trim(told.minutes) else None
    if isinstance(minutes, str):
        wrong["minutes"] = minutes
    removed = None
    if trim(told.stock) and piece.takes(operation):
        found = _stock(piece, operation, told)
        if isinstance(found, str):
            wrong["stock"] = found
        else:
            removed = StockRemoved(found, trim(told.stock))
    if wrong or isinstance(minutes, str):
        raise InvalidInput(" ".join(wrong.values()), wrong)
    return minutes, removed


def _stock(piece: ReworkPiece, operation: Operation, told: FinishTyped) -> int | str:
    """Return the stock as typed (millionths), or what is wrong with it."""
    answer = read_stock(told.stock, piece.plan.check(operation.check), operation)
    if isinstance(answer, Refusal):
        return answer.text
    if isinstance(answer, Question) and not (told.sure and answer.value is not None):
        return answer.text
    return answer.value if answer.value is not None else answer.as_typed


def _once(
    what: str,
    key: str,
    act: Callable[[Writer], ScanReply],
    *,
    by: str,
    station: str,
    now: datetime,
) -> str:
    def done(writer: Writer) -> dict[str, Any]:
        reply = act(writer)
        if reply.tone == "stop" or reply.word in ("WHICH?", "LOOK FIRST"):
            raise NotAllowed(f"{reply.line} {reply.detail}".strip())
        return {"said": f"{reply.line} {reply.detail}".replace("\n", " ").strip()}

    return str(act_once(what, key, done, by=by, station=station, now=now)["said"])
