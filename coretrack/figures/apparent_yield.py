"""What inspection errors do to a yield: some good bodies are scrapped, some bad ones are kept.

apparent = y (1 - f) + (1 - y) m, f the share of good bodies rejected, m of bad ones let through.
Turned round, y = (apparent - m)/(1 - f - m): W. J. Rogan and B. Gladen, American J. Epidemiology
107 (1978) 71. f and m come from blind second looks (`agreement.inspection_errors`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coretrack.figures.agreement import InspectionErrors
from coretrack.figures.intervals import Interval, check_level, normal_quantile

ROGAN_GLADEN = "Rogan-Gladen, normal"

NO_BETTER = "inspection that errs this often tells good from bad no better than a coin"


@dataclass(frozen=True)
class TrueYield:
    """The yield behind the apparent one, 0..1, and the share of keeps that are bad.

    The interval carries how well the apparent yield and both error rates are known. `None` with
    `why` where an error rate is unknown.
    """

    apparent: float | None
    value: float | None
    interval: Interval
    bad_keeps: float | None
    why: str | None = None


def apparent_yield(true: float, false_reject: float, miss: float) -> float:
    """Return the yield that inspection with these error rates would show; all 0..1."""
    _check(true, false_reject, miss)
    return true * (1 - false_reject) + (1 - true) * miss


def bad_among_keeps(true: float, false_reject: float, miss: float) -> float | None:
    """Return the share of kept bodies that are bad; `None` where nothing would be kept."""
    shown = apparent_yield(true, false_reject, miss)
    return (1 - true) * miss / shown if shown else None


def true_yield(good: int, decided: int, errors: InspectionErrors, level: float = 0.95) -> TrueYield:
    """Return the yield behind `good` of `decided`, by the error rates of second looks.

    Held within 0..1: chance can make the corrected figure leave it. Nothing decided, or no second
    look on good or on bad bodies: no figure, and `why`.
    """
    check_level(level)
    f, m = errors.false_reject, errors.miss
    why = "no decided core yet" if decided == 0 else f.why or m.why
    if why is not None or f.share is None or m.share is None:
        shown = good / decided if decided else None
        return TrueYield(shown, None, Interval(None, None, ROGAN_GLADEN, level, why), None, why)
    shown = good / decided
    tells = 1 - f.share - m.share
    if tells <= 0:
        nothing = Interval(None, None, ROGAN_GLADEN, level, NO_BETTER)
        return TrueYield(shown, None, nothing, None, NO_BETTER)
    value = min(1.0, max(0.0, (shown - m.share) / tells))
    # A rate of none or all in the few looked at twice is not known for certain.
    shares = [_kept_off_the_ends(share.count, share.total) for share in (f, m)]
    looks = [p * (1 - p) / share.total for p, share in zip(shares, (f, m), strict=True)]
    variance = (
        shown * (1 - shown) / decided + value * value * looks[0] + (1 - value) ** 2 * looks[1]
    ) / (tells * tells)
    half = normal_quantile((1 + level) / 2) * math.sqrt(variance)
    bounds = Interval(max(0.0, value - half), min(1.0, value + half), ROGAN_GLADEN, level)
    return TrueYield(shown, value, bounds, bad_among_keeps(value, f.share, m.share))


def _kept_off_the_ends(count: int, total: int) -> float:
    return (count + 1) / (total + 2)


def _check(*shares: float) -> None:
    for share in shares:
        if not 0 <= share <= 1:
            raise ValueError(f"a share lies between 0 and 1; {share} does not")
