"""The people who sign in, read by name, by badge or all together."""

from __future__ import annotations

import unicodedata

from coretrack.figures.trade_objects import Person
from coretrack.records.kinds import KINDS
from coretrack.records.statements import rows_with
from coretrack.records.tables import PersonRow


def everyone() -> list[Person]:
    """Return all people by name, those who no longer work here too."""
    return [KINDS["person"].from_row(row) for row in PersonRow.select().order_by(PersonRow.key)]


def person(name: str) -> Person | None:
    """Return the person with exactly this name."""
    rows = rows_with(PersonRow, "key", name)
    return KINDS["person"].from_row(rows[0]) if rows else None


def person_called(name: str) -> Person | None:
    """Return the person with this name, whatever its case and blanks; None when nobody has it."""
    wanted = folded(name)
    found = [one for one in everyone() if folded(one.key) == wanted]
    exact = [one for one in found if one.key == name]
    return next(iter(exact or found), None)


def person_with_badge(number: int) -> Person | None:
    """Return who carries the badge with this number now; an older badge of theirs is nobody's."""
    if number < 1:
        return None
    row = PersonRow.get_or_none(PersonRow.badge == number)
    return KINDS["person"].from_row(row) if row else None


def folded(name: str) -> str:
    """Return a name as it is compared: one kind of letter, no case, single blanks."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())
