"""How sure is a rate, in plain words, and how many more cores would make it sure enough?

Half a width of h at share p takes n = z² p (1 - p)/h² cores (the textbook's normal sample size);
where lots differ, that many times their spread factor. For planning only: what is shown are
Wilson's limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.intervals import Interval, check_level, normal_quantile
from coretrack.figures.plain_words import counted, percent

CLOSE = Fraction(5, 100)
"""Plus or minus this is called close (the shop's own habit)."""

ROUGH = Fraction(15, 100)
"""Plus or minus more than this is called no more than a hint."""


@dataclass(frozen=True)
class HowSure:
    """A rate's certainty: `half_width` 0..1, `word`, `more` cores to get to ± 5 points.

    `word` is "close", "rough", "a hint" or "unknown"; `more` is 0 once it is close, `None` while
    the rate is unknown or is 0 or 1, which no formula can plan with.
    """

    half_width: float | None
    word: str
    more: int | None
    sentence: str


def cores_for(share: float, half_width: float, level: float = 0.95, spread: float = 1.0) -> int:
    """Return how many decided cores it takes for ± `half_width` at `share`.

    `spread` is how many times lots vary more than chance. ValueError unless 0 < share < 1,
    half_width > 0 and spread >= 1.
    """
    check_level(level)
    if not 0 < share < 1 or half_width <= 0 or spread < 1:
        raise ValueError(f"no sample size for share {share}, ± {half_width}, spread {spread}")
    z = normal_quantile((1 + level) / 2)
    return math.ceil(spread * z * z * share * (1 - share) / (half_width * half_width))


def how_sure(
    share: float | None, n: int, interval: Interval, spread: float = 1.0, noun: str = "core"
) -> HowSure:
    """Return in plain words how sure a share of `n` is; `spread` as in `YieldRow.spread_factor`."""
    low, high = interval.low, interval.high
    if share is None or low is None or high is None:
        return HowSure(None, "unknown", None, interval.why or "not known yet")
    half = (high - low) / 2
    word = "close" if half <= CLOSE else "rough" if half <= ROUGH else "a hint"
    more = None
    if 0 < share < 1:
        more = max(0, cores_for(share, float(CLOSE), interval.level, spread) - n)
        more = 0 if half <= CLOSE else max(1, more)
    span = f"between {percent(low)} and {percent(high)}, from {counted(n, noun)}"
    opening = {"close": "Fairly sure", "rough": "Roughly", "a hint": "Hardly more than a hint"}[
        word
    ]
    sentence = f"{opening}: {span}"
    if spread > 1:
        sentence += f"; lots differ, which makes it {math.sqrt(spread):.1f} times as wide"
    if more:
        sentence += f"; about {more:,} more would bring it to ± 5 points"
    return HowSure(half, word, more, sentence)
