"""The owner's ways to end a core line without a core: what is owed is waived or forfeited."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.desk_day import DeskDay, desk_day, expect_seen
from coretrack.actions.open_lines import ENDINGS, owed_line
from coretrack.actions.typed_fields import typed_reason
from coretrack.errors import Forbidden, InvalidInput, NotAllowed
from coretrack.figures.money import shown
from coretrack.figures.plain_words import counted
from coretrack.figures.trade_objects import Line
from coretrack.records.writer import Writer

WHY_WAIVE = "Say why the cores are given up: the customer and the books will ask."


def end_line(
    line_key: str,
    what: str,
    units: str,
    reason: str,
    *,
    role: str,
    seen: int,
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> str:
    """Let the owner waive or forfeit units of a line; return what was done, in a sentence.

    `what` is waived or forfeited, `units` as typed, `seen` the version of the line on the page.
    Only units past due are forfeited; waiving needs a reason. InvalidInput names the field.
    """
    if role != "owner":
        raise Forbidden("Only the owner waives or forfeits what a customer owes.")
    if what not in ENDINGS:
        raise InvalidInput(f"'{what}' does not end a line; choose {' or '.join(ENDINGS)}.")

    def act(writer: Writer) -> dict[str, Any]:
        line: Line = writer.get("line", line_key)
        expect_seen(writer, "line", line_key, seen)
        number = _units(units, line)
        why = typed_reason(reason, WHY_WAIVE if what == "waived" else "")
        if what == "forfeited":
            _refuse_before_due(line, desk_day(now))
        return {"said": _end(writer, line, what, number, why)}

    answer = act_once("end line", key, act, by=by, station=station, now=now)
    return str(answer["said"])


def _end(writer: Writer, line: Line, what: str, units: int, why: str) -> str:
    money = units * line.charge
    after: Line = writer.event("line", line.key, what, {"units": units, "money": money}, why=why)
    currency = writer.get("shop", "shop").currency
    amount = f"{shown(money)} {currency}".strip()
    became = {
        "waived": f"a core charge of {amount} is no longer claimed",
        "forfeited": f"a core charge of {amount} is forfeited{_mode_words(line)}",
    }[what]
    left = f"{counted(after.owed, 'core')} still owed" if after.owed else "nothing is owed any more"
    return f"{counted(units, 'unit')} of line {line.key} {what}: {became}; {left}."


def _mode_words(line: Line) -> str:
    """Return what a forfeited charge means for the money, by how it was charged."""
    words = {
        "up front": " and stays with the shop",
        "billed later": " and is to be billed",
        "core first": "; nothing was charged beforehand",
    }
    return words.get(line.mode, "")


def _units(text: str, line: Line) -> int:
    bare = text.strip()
    number = int(bare) if bare.isascii() and bare.isdigit() and len(bare) < 10 else 0
    if not 1 <= number <= line.owed:
        raise InvalidInput(
            f"Line {line.key} still expects {counted(line.owed, 'core')}; "
            f"'{text}' units cannot be ended.",
            {"units": f"a whole number from 1 to {line.owed}" if line.owed else "nothing is owed"},
        )
    return number


def _refuse_before_due(line: Line, desk: DeskDay) -> None:
    shown_line = owed_line(line, desk)
    if not shown_line.standing.past:
        until = f"until {shown_line.due_on}" if shown_line.due_on else "without an end"
        raise NotAllowed(
            f"Line {line.key} is not past due: a core counts {until}. Waive it instead, with the "
            "reason.",
            {"what": "only what is past due can be forfeited"},
        )
