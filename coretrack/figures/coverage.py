"""How many good bodies come back for each unit sold, and what a body really costs per unit sold.

    coverage = r q y            short per unit sold = 1 - r q y
    net body cost per unit sold = -D + r phi D + r c_in + r q (c - c_in) - r (1 - q y) s
                                  + (1 - r q y) G

r return rate on matured sales, q accepted of returned, y good of accepted, phi average credit over
charge. Derived by adding up. The interval of the product is put together from those of its parts on
the log scale (G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008) 1693).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.intervals import Interval
from coretrack.figures.money import Money, whole
from coretrack.figures.plain_words import percent

METHOD = "product of the parts' intervals"


@dataclass(frozen=True)
class CoveragePart:
    """One factor: its name, value 0..1 and interval; `None` with `why` while it is not known."""

    name: str
    value: float | None
    interval: Interval
    why: str | None = None


@dataclass(frozen=True)
class Coverage:
    """Good bodies that come back per unit sold, 0..1, with the parts it is made of.

    `short` bodies are missing for the `demand` of the period; `short_low` and `short_high` follow
    from the interval, in whole bodies rounded up. Everything is `None` with `why` while a part is
    not known; the `short` figures also without a demand.
    """

    parts: tuple[CoveragePart, ...]
    coverage: float | None
    interval: Interval
    demand: int | None
    short: int | None
    short_low: int | None
    short_high: int | None
    sentence: str
    why: str | None = None

    @property
    def short_per_hundred(self) -> float | None:
        """Bodies that must come from elsewhere for every hundred sold."""
        return None if self.coverage is None else 100 * (1 - self.coverage)


def coverage(parts: Sequence[CoveragePart], demand: int | None = None) -> Coverage:
    """Return r q y of the given parts (return rate, accepted, yield), for a `demand` of units.

    ValueError for a share outside 0..1, no part at all, or a negative demand.
    """
    if not parts:
        raise ValueError("coverage needs its parts: return rate, accepted share, yield")
    if demand is not None and demand < 0:
        raise ValueError(f"a demand of {demand} cannot be")
    values = []
    for part in parts:
        if part.value is not None:
            if not 0 <= part.value <= 1:
                raise ValueError(f"{part.name} lies between 0 and 1; {part.value} does not")
            values.append(part.value)
    level = parts[0].interval.level
    if len(values) < len(parts):
        why = "; ".join(
            f"no {part.name} yet" + (f" ({part.why})" if part.why else "")
            for part in parts
            if part.value is None
        )
        nothing = Interval(None, None, METHOD, level, why)
        return Coverage(tuple(parts), None, nothing, demand, None, None, None, why, why)
    product = math.prod(values)
    interval = product_interval(parts)
    ends = (interval.high, product, interval.low)
    low, middle, high = (_short(demand, share) for share in ends)
    return Coverage(
        parts=tuple(parts),
        coverage=product,
        interval=interval,
        demand=demand,
        short=middle,
        short_low=low,
        short_high=high,
        sentence=_told(product, demand, middle, low, high),
    )


def product_interval(parts: Sequence[CoveragePart]) -> Interval:
    """Return bounds of the product of the parts' values; none where a part has no bounds.

    Derived from the parts' own bounds: each end lies as far from the product, on the log scale, as
    the root of the parts' squared distances.
    """
    level = parts[0].interval.level
    below = above = 0.0
    product = 1.0
    for part in parts:
        low, high = part.interval.low, part.interval.high
        if part.value is None or low is None or high is None:
            why = part.why or part.interval.why or f"{part.name} has no interval"
            return Interval(None, None, METHOD, level, why)
        product *= part.value
        below += _gap(part.value, low) ** 2
        above += _gap(high, part.value) ** 2
    if product == 0:
        # Nothing came through yet; the parts' high ends together bound what still may.
        top = math.prod(part.interval.high or 0.0 for part in parts)
        return Interval(0.0, top, METHOD, level)
    low_end = product * math.exp(-math.sqrt(below))
    return Interval(low_end, min(1.0, product * math.exp(math.sqrt(above))), METHOD, level)


def _gap(upper: float, lower: float) -> float:
    """Return the distance on the log scale; endless where the lower one is zero."""
    if upper == lower:
        return 0.0
    return math.inf if lower <= 0 else math.log(upper / lower)


def _short(demand: int | None, share: float | None) -> int | None:
    if demand is None or share is None:
        return None
    return math.ceil(demand * (1 - Fraction(share)) - Fraction(1, 10**9))


def _told(
    product: float, demand: int | None, middle: int | None, low: int | None, high: int | None
) -> str:
    told = f"{percent(product)} of units sold come back as good bodies"
    if middle is None:
        return told
    told += f"; for {demand:,} units {middle:,} bodies are short"
    return told if low is None or low == high else f"{told} ({low:,} to {high:,})"


def net_body_cost(
    charge: Money,
    credit_share: Fraction | float,
    return_rate: Fraction | float,
    accepted: Fraction | float,
    body_yield: Fraction | float,
    receiving: Money,
    processing: Money,
    scrap: Money,
    good_body: Money,
) -> Money:
    """Return what a body costs per unit sold, charge and credit included, in ten-thousandths.

    `credit_share` is phi, `receiving` c_in for every core that comes, `processing` c (receiving
    included) for every accepted one, `scrap` s, `good_body` G. Negative: the charge more than pays
    for it. ValueError for a share outside 0..1.
    """
    shares = [Fraction(share) for share in (credit_share, return_rate, accepted, body_yield)]
    if any(not 0 <= share <= 1 for share in shares):
        raise ValueError("credit, return, accepted share and yield lie between 0 and 1")
    phi, r, q, y = shares
    return whole(
        -charge
        + r * phi * charge
        + r * receiving
        + r * q * (processing - receiving)
        - r * (1 - q * y) * scrap
        + (1 - r * q * y) * good_body
    )
