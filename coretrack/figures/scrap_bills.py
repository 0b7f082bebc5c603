"""What scrap costs: the money that went into cores that died, and how much of it is normal.

Of n decided cores K are good. Every decided core cost the same, A' = net / n, so the n - K scrapped
ones took net (n - K) / n with them: K times the difference between the cost per good body and the
cost per core. Derived. Normal and abnormal scrap by process costing: C. T. Horngren, S. M. Datar
and M. V. Rajan, Cost Accounting, chapter on spoilage.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.costing import CostRow
from coretrack.figures.money import Money, allocate, shown, whole
from coretrack.figures.plain_words import counted, percent
from coretrack.figures.spoilage import split_scrap


@dataclass(frozen=True)
class ScrapBill:
    """Money (ten-thousandths) that went into scrapped cores; `None` with `why` while unknown.

    `total` is net of what the metal brought. `of_cost` is its share of all net money, 0..1.
    `normal_cores` may be a fraction of a core; normal and abnormal money add up to `total` and are
    `None` without a standard yield.
    """

    scrapped: int
    total: Money | None
    per_good_body: Money | None
    of_cost: float | None
    recovered: Money
    normal_cores: Fraction | None = None
    abnormal_cores: Fraction | None = None
    normal: Money | None = None
    abnormal: Money | None = None
    sentence: str = ""
    why: str | None = None


def scrap_bill(row: CostRow, standard_yield: Decimal | Fraction | None = None) -> ScrapBill:
    """Return what scrap cost the group of `row`; no decided core: nothing is known yet."""
    counts, net = row.yields.counts, row.parts.net
    recovered = row.parts.recovery - row.parts.disposal
    if counts.decided == 0:
        return ScrapBill(0, None, None, None, recovered, why=row.why)
    total = whole(Fraction(net * counts.scrapped, counts.decided))
    share = counts.scrapped / counts.decided if net else None
    each = whole(Fraction(total, counts.good)) if counts.good else None
    told = _told(counts.scrapped, total, share)
    why = None if counts.good else "no good body to carry it"
    if standard_yield is None:
        return ScrapBill(counts.scrapped, total, each, share, recovered, sentence=told, why=why)
    normal, abnormal = split_scrap(counts.good, counts.scrapped, standard_yield)
    carried, lost = allocate(total, (normal, abnormal)) if normal + abnormal else (0, 0)
    standard = percent(Fraction(standard_yield))
    told += f"; against a standard yield of {standard} {shown(lost)} of it is abnormal"
    return ScrapBill(
        counts.scrapped, total, each, share, recovered,
        normal, abnormal, carried, lost, told, why,
    )  # fmt: skip


def _told(scrapped: int, total: Money, share: float | None) -> str:
    if scrapped == 0:
        return "nothing was scrapped"
    part = "" if share is None else f", {percent(share)} of all money spent"
    return f"{counted(scrapped, 'scrapped core')} took {shown(total)}{part}"
