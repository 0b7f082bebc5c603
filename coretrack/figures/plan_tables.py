"""Reads the checks and operations of a family file into a plan, and the rules a plan must keep.

A plan is refused when it could surprise the bench: a band that no reading can reach, a gap in which
a worse reading would grade better, a gauge too coarse to prove anything, two names for one thing.
"""

from __future__ import annotations

from collections.abc import Sequence

from coretrack.figures.bands import gap_beside
from coretrack.figures.conformance import acceptance_limits
from coretrack.figures.plans import (
    CRACK_METHODS,
    JUDGED_WAYS,
    KINDS,
    RULES,
    Check,
    Operation,
    Plan,
    ReworkBand,
    limits_text,
)
from coretrack.figures.printed_limits import read_size, understand_printed
from coretrack.figures.tolerances import Limits, NotLimits
from coretrack.figures.toml_fields import Table
from coretrack.figures.units import UnknownUnit, canonical_unit

_UNBOUNDED = Limits(None, None)


def read_plan(file: Table, family: str, version: int) -> Plan:
    """Return the plan of `file`; whatever is wrong is noted with the table."""
    check_tables = file.tables("checks")
    operation_tables = file.tables("operations")
    if not check_tables:
        file.fault("checks", "there is none; a plan needs one check at least, written [[checks]]")
    checks = [read_check(table, place) for place, table in enumerate(check_tables, start=1)]
    operations = [read_operation(table) for table in operation_tables]
    refuse_twins(check_tables, "check", [(check.code, check.name) for check in checks])
    refuse_twins(operation_tables, "operation", [(o.code, o.name) for o in operations])
    for table, check in zip(check_tables, checks, strict=True):
        _known_operations(table, check, operations)
    for table, operation in zip(operation_tables, operations, strict=True):
        _known_checks(table, operation, checks)
        _one_allowance(table, operation, operations)
    return Plan(family, version, tuple(checks), tuple(operations))


def read_check(table: Table, place: int) -> Check:
    """Return one check; `place` is its order when the file gives none."""
    kind = table.choice("kind", KINDS)
    numeric = kind not in ("crack", "attribute", "look")
    unit = _unit(table) if numeric else ""
    readings = table.whole("readings", least=1, default=1) or 1
    resolution = table.micro("resolution", positive=True) if numeric else None
    nominal = _nominal(table, unit) if numeric else None
    check = Check(
        code=table.text("code", required=True),
        name=table.text("name", required=True),
        kind=kind,
        order=table.whole("order", least=0, default=place) or 0,
        unit=unit,
        resolution=resolution,
        readings=readings,
        judged=table.choice("judged", JUDGED_WAYS, "each") if numeric else "each",
        gauge_kind=table.text("gauge_kind"),
        rule=table.choice("rule", RULES, "simple") if numeric else "simple",
        uncertainty=(table.micro("uncertainty") or 0) if numeric else 0,
        new=_limits(table, "new", unit, nominal) if numeric else None,
        usable=_limits(table, "usable", unit, nominal) if numeric else None,
        rework=_bands(table, unit, nominal, numeric) if kind not in ("crack", "look") else (),
        plausible=_limits(table, "plausible", unit, nominal) if numeric else None,
        nominal=nominal,
        method=table.choice("method", CRACK_METHODS) if kind == "crack" else "",
        look_scraps=_grades(table) if kind == "look" else (),
        look_reworks=_look_reworks(table) if kind == "look" else (),
    )
    table.close()
    for grade, _ in check.look_reworks:
        if check.look_scraps and (grade in check.look_scraps or grade > max(check.look_scraps)):
            table.fault("look_reworks", f"grade {grade} is scrapped already by look_scraps")
    if numeric:
        _check_numbers(table, check)
    elif readings != 1:
        table.fault("readings", f"{readings}: a {kind} check has one result; leave it out")
    return check


def read_operation(table: Table) -> Operation:
    """Return one rework operation."""
    minutes = table.whole("minutes", least=0)
    if not table.has("minutes"):
        table.fault("minutes", "is missing; give whole minutes for one pass")
    operation = Operation(
        code=table.text("code", required=True),
        name=table.text("name", required=True),
        minutes=minutes or 0,
        consumables=table.amount("consumables") or 0,
        most_passes=table.whole("most_passes", least=1) or 1,
        check=table.text("check"),
        removes=table.micro("removes", positive=True),
        allowance=table.micro("allowance", positive=True),
        disturbs=table.texts("disturbs"),
    )
    if not table.has("most_passes"):
        table.fault("most_passes", "is missing; say how often one body may go through it")
    table.close()
    _check_stock(table, operation)
    return operation


def refuse_twins(tables: Sequence[Table], what: str, names: Sequence[tuple[str, str]]) -> None:
    """Note every code or name that another entry already answers to, whatever its capitals."""
    taken: dict[str, str] = {}
    for table, (code, name) in zip(tables, names, strict=True):
        for key, word in (("code", code), ("name", name)):
            if word and taken.setdefault(word.casefold(), code) != code:
                table.fault(key, f'"{word}" is already another {what}; give each its own')
        if code and sum(code.casefold() == other.casefold() for other, _ in names) > 1:
            table.fault("code", f'"{code}" stands at more than one {what}; give each its own')


def _unit(table: Table) -> str:
    text = table.text("unit", required=True)
    if not text:
        return ""
    try:
        return canonical_unit(text)
    except UnknownUnit as error:
        table.fault("unit", str(error))
        return ""


def _nominal(table: Table, unit: str) -> int | None:
    """Return the nominal size; a text may name a unit, and the same in another one in brackets."""
    text = table.raw("nominal")
    if not unit or not isinstance(text, str) or not text.strip():
        return table.micro("nominal")
    try:
        return read_size(text, unit)
    except ValueError as error:
        table.fault("nominal", str(error))
        return None


def _limits(table: Table, key: str, unit: str, nominal: int | None) -> Limits | None:
    text = table.text(key)
    if not text or not unit:
        return None
    try:
        return understand_printed(text, unit, nominal).limits
    except NotLimits as error:
        table.fault(key, str(error))
    except ValueError as error:
        table.fault(key, f'"{text}": {error}')
    return None


def _bands(table: Table, unit: str, nominal: int | None, numeric: bool) -> tuple[ReworkBand, ...]:
    bands = []
    for entry in table.tables("rework", "operation"):
        operation = entry.text("operation", required=True)
        limits = _limits(entry, "limits", unit, nominal) if numeric else _UNBOUNDED
        if numeric and not entry.has("limits"):
            entry.fault("limits", "is missing; say which readings the operation can save")
        entry.close()
        if limits is not None:
            bands.append(ReworkBand(operation, limits))
    return tuple(bands)


def _grades(table: Table) -> tuple[str, ...]:
    grades = tuple(grade.upper() for grade in table.texts("look_scraps"))
    for grade in grades:
        _one_letter(table, "look_scraps", grade)
    return grades


def _look_reworks(table: Table) -> tuple[tuple[str, str], ...]:
    value = table.raw("look_reworks")
    if value is None:
        return ()
    pairs = value if isinstance(value, list) else [value]
    found = []
    for pair in pairs:
        if not isinstance(pair, list) or [type(part) for part in pair] != [str, str]:
            table.fault("look_reworks", 'must be pairs of grade and operation: [["B", "clean"]]')
            continue
        grade = pair[0].strip().upper()
        _one_letter(table, "look_reworks", grade)
        found.append((grade, pair[1].strip()))
    return tuple(found)


def _one_letter(table: Table, key: str, grade: str) -> None:
    if len(grade) != 1 or not "A" <= grade <= "Z":
        table.fault(key, f'"{grade}" is not a grade; grades are single letters from A (best)')


def _check_numbers(table: Table, check: Check) -> None:
    """Note where the bands of a numeric check do not make sense together."""
    if check.judged == "range" and check.readings < 2:
        table.fault("readings", "a range needs 2 readings at least; one has no spread")
    guard = check.uncertainty if check.rule == "guarded" else 0
    if check.uncertainty < 0 or (check.rule == "guarded" and not check.uncertainty):
        table.fault("uncertainty", "must be more than 0 for the guarded rule (U, k = 2)")
        return
    if check.usable is None:
        if not table.has("usable"):
            table.fault("usable", 'is missing; give the limits of use, like "6.000..6.009"')
        return
    if check.usable == _UNBOUNDED:
        table.fault("usable", "has no limit on either side, so it judges nothing")
        return
    if acceptance_limits(check.usable, guard) is None:
        table.fault(
            "usable",
            f"{_shown(check, check.usable)} is narrower than twice the uncertainty, so no reading "
            "could pass; use a finer gauge or the simple rule",
        )
    if check.new is not None and not _within(check.new, check.usable):
        table.fault(
            "new",
            f"{_shown(check, check.new)} reaches beyond usable {_shown(check, check.usable)}; a "
            "new part is usable too",
        )
    _check_bands(table, check, check.usable, guard)
    _check_plausible(table, check)


def _check_bands(table: Table, check: Check, usable: Limits, guard: int) -> None:
    for band in check.rework:
        if _within(band.limits, usable):
            table.fault(
                f"rework {band.operation}",
                f"{_shown(check, band.limits)} lies inside usable {_shown(check, usable)}, so it "
                "would never be used; it must reach beyond",
            )
        elif guard and acceptance_limits(band.limits, guard) is None:
            table.fault(
                f"rework {band.operation}",
                f"{_shown(check, band.limits)} is narrower than twice the uncertainty, so no "
                "reading could be sent there",
            )
    apart = gap_beside(usable, check.rework, check.resolution or 0)
    if apart is not None:
        table.fault(
            f"rework {apart.operation}",
            f"{_shown(check, apart.limits)} leaves a gap to usable {_shown(check, usable)}, where "
            "a smaller fault would be scrap and a larger one rework; let the bands meet",
        )


def _check_plausible(table: Table, check: Check) -> None:
    plausible = check.plausible
    if plausible is None:
        return
    for limits in (check.usable, *(band.limits for band in check.rework)):
        if limits is None:
            continue
        ends = [end for end in (limits.lower, limits.upper) if end is not None]
        if not all(plausible.contains(end) for end in ends):
            table.fault(
                "plausible",
                f"{_shown(check, plausible)} does not hold {_shown(check, limits)}; readings the "
                "plan knows would be asked back",
            )
            return


def _check_stock(table: Table, operation: Operation) -> None:
    removes, allowance = operation.removes, operation.allowance
    if not operation.check and (removes or allowance):
        table.fault("check", "is missing; say which check loses the stock it removes")
    if allowance is not None and removes is None:
        table.fault("removes", "is missing; an allowance needs the stock one pass takes off")
    if allowance is not None and removes is not None and removes > allowance:
        table.fault("removes", "is more than the allowance, so it could never be done once")


def _one_allowance(table: Table, operation: Operation, operations: Sequence[Operation]) -> None:
    """Stock comes off one face whoever removes it, so its operations share one allowance."""
    if not operation.removes:
        return
    given = {o.allowance for o in operations if o.check == operation.check and o.removes}
    if len(given) > 1:
        table.fault(
            "allowance",
            f"differs from another operation on {operation.check}; the face has one allowance",
        )


def _known_operations(table: Table, check: Check, operations: Sequence[Operation]) -> None:
    known = [operation.code for operation in operations]
    for code in check.reworked_by():
        if code and code not in known:
            have = ", ".join(known) or "none"
            table.fault("rework", f'there is no operation "{code}"; the file has: {have}')


def _known_checks(table: Table, operation: Operation, checks: Sequence[Check]) -> None:
    by_code = {check.code: check for check in checks}
    for key, code in (("check", operation.check), *(("disturbs", c) for c in operation.disturbs)):
        if code and code not in by_code:
            table.fault(key, f'there is no check "{code}"; the file has: {", ".join(by_code)}')
    worked = by_code.get(operation.check)
    if worked is not None and operation.removes and not worked.numeric:
        table.fault("removes", f"{worked.name} is not measured, so no stock can be taken off it")


def _within(inner: Limits, outer: Limits) -> bool:
    low = outer.lower is None or (inner.lower is not None and inner.lower >= outer.lower)
    high = outer.upper is None or (inner.upper is not None and inner.upper <= outer.upper)
    return low and high


def _shown(check: Check, limits: Limits) -> str:
    return limits_text(limits, check.unit)
