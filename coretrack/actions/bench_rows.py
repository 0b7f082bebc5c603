"""One row of a readings file: which check it speaks of and what it says."""

from __future__ import annotations

import re
from dataclasses import dataclass

from coretrack.figures.columns import CellProblem, fold_heading, reading_text, split_unit
from coretrack.figures.findings import read_at, right_words, word_at
from coretrack.figures.plans import Check, Plan
from coretrack.figures.readings import Question, Reading, Refusal, split_readings
from coretrack.figures.table import Row
from coretrack.figures.table_values import RowProblem, Values


@dataclass(frozen=True)
class Found:
    """What one cell says of one check: a value (millionths) or a result, and the text as typed."""

    check: Check
    typed: str
    value: int | None = None
    result: str = ""
    detail: str = ""


class BenchRows:
    """Reads rows in the long form (a column "check") or the wide one (a column a check)."""

    def __init__(self, values: Values) -> None:
        self._values = values
        self.wide = not values.has("check")
        self._extra = values.unknown_headings()

    def read(self, row: Row, plan: Plan) -> list[Found]:
        """Return what the row says; RowProblem names the cell and what would be right."""
        if self.wide:
            return self._wide(row, plan)
        values = self._values
        named = values.text(row, "check")
        check = _check(plan, named)
        if check is None:
            known = ", ".join(c.code for c in plan.in_order())
            raise RowProblem(
                values.heading("check"), named, f"family {plan.family} has no such check; {known}"
            )
        unit = values.text(row, "unit") or values.columns.unit("reading")
        text = values.raw(row, "reading")
        return [_found(check, text, unit, values.heading("reading"))]

    def _wide(self, row: Row, plan: Plan) -> list[Found]:
        found: list[Found] = []
        for heading in self._extra:
            name, unit = split_unit(heading)
            check = _check(plan, name)
            if check is None:
                continue
            cell = self._values.cell(row, heading)
            if cell.is_empty:
                continue
            try:
                text = reading_text(cell) if check.numeric else cell.text
            except CellProblem as problem:
                raise RowProblem(heading, cell.text, str(problem)) from None
            parts = split_readings(text, unit=unit or check.unit) if check.numeric else (text,)
            found += [_found(check, part, unit, heading) for part in parts]
        if not found:
            raise RowProblem("", "", f"no column of this row is a check of family {plan.family}")
        return found


def _check(plan: Plan, name: str) -> Check | None:
    """Return the check called `name`, by code or name; a number at the end counts readings."""
    wanted = fold_heading(name)
    shorter = re.sub(r"\d+$", "", wanted)
    for candidate in (wanted, shorter):
        for check in plan.checks:
            if candidate in (fold_heading(check.code), fold_heading(check.name)):
                return check
    return None


def _found(check: Check, text: str, unit: str | None, column: str) -> Found:
    if check.numeric:
        return _number(check, text, unit, column)
    word = word_at(check, text)
    if word is None:
        raise RowProblem(column, text, f"{check.name}: {right_words(check)}")
    return Found(check, text, result=word.result, detail=word.detail)


def _number(check: Check, text: str, unit: str | None, column: str) -> Found:
    told = text if unit is None or not _bare(text) else f"{text} {unit}"
    answer = read_at(check, told)
    match answer:
        case Reading():
            return Found(check, text, value=answer.value)
        case Question() | Refusal():
            raise RowProblem(column, text, f"{check.name}: {answer.text}")


def _bare(text: str) -> bool:
    """Return whether a reading carries no unit of its own, so that its heading's unit counts."""
    return re.fullmatch(r"[\s+\-−0-9.,]*", text) is not None
