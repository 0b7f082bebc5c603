"""In which order a plan's checks cost least, when a body is dropped at the first one it fails.

With cost c and chance p of failing for each check, done in order, a body costs on average
c1 + (1 - p1) c2 + (1 - p1)(1 - p2) c3 + …; it is least when c / p rises along the order. This holds
while checks fail independently of one another. Source: a classic result, from memory; derived by
swapping two neighbours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class CheckRecord:
    """What the stored history says of one check: `failed` of `tried` bodies were lost there.

    `seconds` is what it takes on one body, `None` while nobody knows. `timed` says on how many
    bodies that rests, 0 where a person told it.
    """

    check: str
    name: str
    tried: int
    failed: int
    seconds: Fraction | None
    timed: int = 0

    @property
    def fails(self) -> Fraction | None:
        """Return the share of bodies lost at this check, `None` while none was tried."""
        return Fraction(self.failed, self.tried) if self.tried else None

    @property
    def ratio(self) -> Fraction | None:
        """Return seconds spent for each body caught; `None` when unknown or endless."""
        if self.seconds is None or not self.failed or not self.tried:
            return None
        return self.seconds * self.tried / self.failed


@dataclass(frozen=True)
class OrderAdvice:
    """The order that costs least, and what a body takes on average in it and in the present one.

    Both are in seconds, `None` with `why` while a time is not known. `records` are in the present
    order, `order` names checks by code. A check that never failed goes last: it catches nothing.
    """

    records: tuple[CheckRecord, ...]
    order: tuple[str, ...] = ()
    seconds_now: Fraction | None = None
    seconds_then: Fraction | None = None
    why: str = ""

    @property
    def is_present(self) -> bool:
        """Return whether the present order already is the cheapest."""
        return self.order == tuple(record.check for record in self.records)


def cheapest_order(records: Iterable[CheckRecord]) -> OrderAdvice:
    """Return the advice for checks given in their present order."""
    present = tuple(records)
    untimed = [record.name for record in present if record.seconds is None]
    if untimed:
        return OrderAdvice(present, why=f"no time is known for: {', '.join(untimed)}")
    if not any(record.failed for record in present):
        return OrderAdvice(
            present, why="no body was lost at any of these checks yet, so no order is cheaper"
        )
    caught = sorted((one for one in present if one.failed), key=lambda one: one.ratio or 0)
    never = [one for one in present if not one.failed]
    best = [*caught, *never]
    return OrderAdvice(
        present, tuple(one.check for one in best), average_seconds(present), average_seconds(best)
    )


def average_seconds(order: Sequence[CheckRecord]) -> Fraction:
    """Return the seconds a body takes on average when it is dropped at the first check it fails."""
    reached, total = Fraction(1), Fraction(0)
    for record in order:
        total += reached * (record.seconds or 0)
        reached *= 1 - (record.fails or 0)
    return total
