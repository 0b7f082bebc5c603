"""How sure a reading is: probability that the true size is inside, and guard bands.

Sources: JCGM 106:2012, section 7 (probability of conformity for a normally distributed
measurement) and section 8 (guard bands); ILAC-G8:09/2019 (guard band w = r U with U = 2u).
All sizes share one unit, normally millionths of the check's unit. U is the expanded uncertainty
(k = 2), u the standard uncertainty, so u = U / 2.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.tolerances import Limits

COVERAGE_FACTOR = 2
"""U = 2u: the expanded uncertainty a gauge's certificate states (about 95 %)."""

Size = int | Fraction
"""A size; a mean of readings is a fraction, so that nothing is rounded before it is judged."""


def conformance_probability(reading: Size, limits: Limits, standard_uncertainty: float) -> float:
    """Return P(true size inside `limits` | `reading`), 0..1, with no earlier knowledge.

    Formula: Phi((upper - y)/u) - Phi((lower - y)/u), JCGM 106:2012, 7.3 and 7.4. With u = 0 the
    reading is taken as the true size. ValueError when `standard_uncertainty` is negative.
    """
    if standard_uncertainty < 0:
        raise ValueError("the standard uncertainty must be zero or more")
    if standard_uncertainty == 0:
        return 1.0 if inside(reading, limits) else 0.0
    from scipy.special import ndtr

    low = -math.inf if limits.lower is None else float(limits.lower - reading)
    high = math.inf if limits.upper is None else float(limits.upper - reading)
    low, high = low / standard_uncertainty, high / standard_uncertainty
    if low > 0:
        # Both tails lie above the reading; mirrored, the small probabilities keep their digits.
        low, high = -high, -low
    return float(ndtr(high) - ndtr(low))


def nonconformance_probability(reading: Size, limits: Limits, standard_uncertainty: float) -> float:
    """Return P(true size outside `limits` | `reading`), accurate also when it is tiny."""
    if standard_uncertainty == 0:
        return 0.0 if inside(reading, limits) else 1.0
    below = above = 0.0
    if limits.lower is not None:
        below = conformance_probability(reading, Limits(None, limits.lower), standard_uncertainty)
    if limits.upper is not None:
        above = conformance_probability(reading, Limits(limits.upper, None), standard_uncertainty)
    return below + above


def guard_factor(probability: float) -> float:
    """Return r in w = r U so that a reading at the one-sided acceptance limit conforms with
    `probability`: r = z / 2 (0.95 gives 0.8224). ValueError unless 0.5 <= probability < 1.
    """
    if not 0.5 <= probability < 1:
        raise ValueError("the wanted probability of conformance must be from 0.5 to below 1")
    from scipy.special import ndtri

    return float(ndtri(probability)) / COVERAGE_FACTOR


def acceptance_limits(
    limits: Limits, uncertainty: int, factor: Decimal | Fraction | float = 1
) -> Limits | None:
    """Return `limits` shrunk by `factor` x `uncertainty` (expanded U) at each closed end.

    The ends are rounded inward to whole counts, so that rounding never accepts more. `None` when
    nothing is left: the gauge is too coarse to prove any reading inside.
    """
    guard = _guard(uncertainty, factor)
    lower = None if limits.lower is None else math.ceil(limits.lower + guard)
    upper = None if limits.upper is None else math.floor(limits.upper - guard)
    if lower is not None and upper is not None and lower > upper:
        return None
    return Limits(lower, upper)


def rejection_limits(
    limits: Limits, uncertainty: int, factor: Decimal | Fraction | float = 1
) -> Limits:
    """Return `limits` widened by `factor` x `uncertainty`; a reading outside is proven outside.

    The ends are rounded outward, so that rounding never condemns more.
    """
    guard = _guard(uncertainty, factor)
    return Limits(
        None if limits.lower is None else math.floor(limits.lower - guard),
        None if limits.upper is None else math.ceil(limits.upper + guard),
    )


def inside(value: Size, limits: Limits | None) -> bool:
    """Return whether `value` is inside `limits` (limits are inclusive; `None` holds nothing)."""
    if limits is None:
        return False
    return (limits.lower is None or value >= limits.lower) and (
        limits.upper is None or value <= limits.upper
    )


def _guard(uncertainty: int, factor: Decimal | Fraction | float) -> Fraction:
    guard = Fraction(factor) * uncertainty
    if guard < 0:
        raise ValueError("the uncertainty and its factor must be zero or more")
    return guard
