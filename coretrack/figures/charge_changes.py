"""What each past change of a core charge did to the return rate and to the yield of the returns.

Every sale keeps the charge of its day, so a sale and the core that came back for it belong to the
charge they were made under. Two charges that follow each other are compared by `compare_rates`.
Before and after only: what else changed in between is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from coretrack.figures.dispersion import Batch, dispersion_test
from coretrack.figures.money import Money, shown
from coretrack.figures.plain_words import are
from coretrack.figures.two_rates import RateChange, compare_rates

FEW = 20
"""With fewer matured sales, or decided returns, on a side nothing is said of a change (our own)."""

CAUTION = "before and after only: season, customers and other prices may have changed too"


@dataclass(frozen=True)
class ChargePeriod:
    """The sales made under one charge, and what came back for them.

    `matured` are sold units whose window is over (or that are closed), `returned` those of them
    whose core came; `decided` and `good` are the returned cores that were graded. `batches` are the
    months of these returns.
    """

    charge: Money | None
    first_day: date
    matured: int
    returned: int
    decided: int
    good: int
    batches: tuple[Batch, ...] = ()


@dataclass(frozen=True)
class ChargeEffect:
    """One rate under the earlier and the later charge.

    `change` holds both shares, the difference and its interval. `clear` says whether the change is
    more than chance explains: `None`, with `why`, when too few stand on a side.
    """

    name: str
    change: RateChange
    clear: bool | None
    sentence: str
    why: str | None = None


@dataclass(frozen=True)
class ChargeChange:
    """What followed when a charge was changed; `amount_change` is the later less the earlier."""

    first_day: date
    before: Money | None
    after: Money | None
    amount_change: Money | None
    return_rate: ChargeEffect
    body_yield: ChargeEffect
    line: str
    caution: str = CAUTION


def charge_changes(
    periods: Sequence[ChargePeriod], level: float = 0.95
) -> tuple[ChargeChange, ...]:
    """Return one line for each change of charge, oldest first; nothing for a single period.

    `periods` may be in any order; two neighbours with the same charge are still compared, because
    the owner set it anew. ValueError when more came back than was sold.
    """
    ordered = sorted(periods, key=lambda period: period.first_day)
    return tuple(_change(earlier, later, level) for earlier, later in pairwise(ordered))


def _change(earlier: ChargePeriod, later: ChargePeriod, level: float) -> ChargeChange:
    moved = None
    if earlier.charge is not None and later.charge is not None:
        moved = later.charge - earlier.charge
    returns = _effect(
        "return rate", "matured sale", level,
        (earlier.returned, earlier.matured), (later.returned, later.matured),
    )  # fmt: skip
    # Months differ within a charge as well: that much of the difference is not the charge's.
    widening = max(dispersion_test(period.batches).widening for period in (earlier, later))
    yields = _effect(
        "yield of returns", "decided return", level,
        (earlier.good, earlier.decided), (later.good, later.decided), widening,
    )  # fmt: skip
    return ChargeChange(
        first_day=later.first_day,
        before=earlier.charge,
        after=later.charge,
        amount_change=moved,
        return_rate=returns,
        body_yield=yields,
        line=_line(earlier.charge, later.charge, later.first_day, moved),
    )


def _effect(
    name: str,
    noun: str,
    level: float,
    before: tuple[int, int],
    after: tuple[int, int],
    widening: float = 1.0,
) -> ChargeEffect:
    change = compare_rates(before, after, ("before", "since"), noun, level, widening)
    short = [
        f"only {are(n, noun)} {there}"
        for n, there in ((before[1], "there before"), (after[1], "there since"))
        if n < FEW
    ]
    if short:
        why = f"{' and '.join(short)}; it takes {FEW} on each side"
        return ChargeEffect(name, change, None, f"{name}: too early to tell, {why}", why)
    return ChargeEffect(name, change, change.clear, f"{name} {change.sentence}")


def _line(before: Money | None, after: Money | None, day: date, moved: Money | None) -> str:
    start = f"from {shown(before)} to {shown(after)} on {day.isoformat()}"
    if not moved:
        return start
    return f"{start} ({'up' if moved > 0 else 'down'} {shown(abs(moved))})"
