"""Two people, two counts, unlike cores: rates compared within strata of like cores.

Where one inspector gets the better families or sources, plain rates compare the cores, not the
inspectors. So each stratum (a family from one source, say) is compared within itself and the
differences are added up: the test of W. G. Cochran (1954) and N. Mantel and W. Haenszel (1959), the
Mantel-Haenszel odds ratio with the interval of J. Robins, N. Breslow and S. Greenland, Biometrics
42 (1986) 311, and the Mantel-Haenszel difference with the variance of T. Sato, Biometrics 45 (1989)
1323. Whether strata tell the same story: N. E. Breslow and N. E. Day (1980), with R. E. Tarone's
correction (1985).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coretrack.figures.intervals import Interval, check_counts, check_level, normal_quantile

SATO = "Mantel-Haenszel, Sato"
ROBINS = "Mantel-Haenszel, Robins-Breslow-Greenland"

NOTHING_SHARED = "no group of like cores was judged by both"
NOTHING_DIFFERS = "in every group of like cores judged by both, all or none were scrapped"


@dataclass(frozen=True)
class Stratum:
    """Like cores: `first_count` of `first_n` by the one, `second_count` of `second_n` by the other.

    What is counted is up to the caller: scrapped, or scrapped for one reason.
    """

    name: str
    first_n: int
    first_count: int
    second_n: int
    second_count: int

    @property
    def usable(self) -> bool:
        """Whether both judged some of these cores."""
        return self.first_n > 0 and self.second_n > 0


@dataclass(frozen=True)
class Stratified:
    """The first's rate less the second's over like cores; `None` with `why` where unknown.

    `difference` is in shares, -1..1, with its interval. `odds_ratio` is the first's odds over the
    second's. `chi_square` has one degree of freedom, without continuity correction. `unlike_p` is
    the chance that strata differ this much in their odds ratio if all had the same. `plain` is the
    difference with the strata thrown together, for comparison: what case mix makes of it.
    """

    strata: int
    first_n: int
    second_n: int
    plain: float | None
    difference: float | None
    interval: Interval
    odds_ratio: float | None
    odds_interval: Interval
    chi_square: float | None
    p_value: float | None
    unlike_p: float | None
    why: str | None = None


def compare_strata(
    strata: Sequence[Stratum], level: float = 0.95, corrected: bool = False
) -> Stratified:
    """Return the first's rate against the second's, each stratum within itself.

    Strata that one of them never judged say nothing and are left out. `corrected` takes a half off
    the sum before squaring, as some programs do by default. ValueError for impossible counts.
    """
    check_level(level)
    for one in strata:
        check_counts(one.first_count, one.first_n)
        check_counts(one.second_count, one.second_n)
    used = [one for one in strata if one.usable]
    first_n, second_n = sum(one.first_n for one in used), sum(one.second_n for one in used)
    if not used:
        return _nothing(0, 0, 0, None, level, NOTHING_SHARED)
    plain = (
        sum(one.first_count for one in used) / first_n
        - sum(one.second_count for one in used) / second_n
    )
    chi_square = _chi_square(used, corrected)
    if chi_square is None:
        return _nothing(len(used), first_n, second_n, plain, level, NOTHING_DIFFERS)
    difference, interval = _difference(used, level)
    odds, odds_interval = _odds(used, level)
    return Stratified(
        strata=len(used),
        first_n=first_n,
        second_n=second_n,
        plain=plain,
        difference=difference,
        interval=interval,
        odds_ratio=odds,
        odds_interval=odds_interval,
        chi_square=chi_square,
        p_value=math.erfc(math.sqrt(chi_square / 2)),
        unlike_p=_unlike(used, odds),
    )


def _chi_square(strata: Sequence[Stratum], corrected: bool) -> float | None:
    """Return (Σ counted - expected)² / Σ variance, `None` where nothing can differ."""
    apart = variance = 0.0
    for one in strata:
        n, counted = one.first_n + one.second_n, one.first_count + one.second_count
        if n < 2:
            continue
        apart += one.first_count - one.first_n * counted / n
        variance += one.first_n * one.second_n * counted * (n - counted) / (n * n * (n - 1))
    if variance == 0:
        return None
    size = max(0.0, abs(apart) - 0.5) if corrected else abs(apart)
    return size * size / variance


def _difference(strata: Sequence[Stratum], level: float) -> tuple[float, Interval]:
    """Return Σ w (p1 - p2)/Σ w with w = n1 n2/n, and Sato's interval."""
    weights = top = p_part = q_part = 0.0
    for one in strata:
        n1, n2, a, c = one.first_n, one.second_n, one.first_count, one.second_count
        n = n1 + n2
        weights += n1 * n2 / n
        top += (a * n2 - c * n1) / n
        p_part += (n1 * n1 * c - n2 * n2 * a + n1 * n2 * (n2 - n1) / 2) / (n * n)
        q_part += (a * (n2 - c) + c * (n1 - a)) / (2 * n)
    difference = top / weights
    variance = max(0.0, difference * p_part + q_part) / (weights * weights)
    half = normal_quantile((1 + level) / 2) * math.sqrt(variance)
    low, high = max(-1.0, difference - half), min(1.0, difference + half)
    return difference, Interval(low, high, SATO, level)


def _odds(strata: Sequence[Stratum], level: float) -> tuple[float | None, Interval]:
    r_sum = s_sum = pr = ps_qr = qs = 0.0
    for one in strata:
        n = one.first_n + one.second_n
        a, b = one.first_count, one.first_n - one.first_count
        c, d = one.second_count, one.second_n - one.second_count
        r, s, p, q = a * d / n, b * c / n, (a + d) / n, (b + c) / n
        r_sum, s_sum = r_sum + r, s_sum + s
        pr, ps_qr, qs = pr + p * r, ps_qr + p * s + q * r, qs + q * s
    if r_sum == 0 or s_sum == 0:
        why = "one of the two has none, or all, wherever they can be compared"
        return None, Interval(None, None, ROBINS, level, why)
    odds = r_sum / s_sum
    variance = pr / (2 * r_sum * r_sum) + ps_qr / (2 * r_sum * s_sum) + qs / (2 * s_sum * s_sum)
    spread = math.exp(normal_quantile((1 + level) / 2) * math.sqrt(variance))
    return odds, Interval(odds / spread, odds * spread, ROBINS, level)


def _unlike(strata: Sequence[Stratum], odds: float | None) -> float | None:
    """Return the p value of Breslow and Day with Tarone's correction; `None` with one stratum."""
    telling = [
        one for one in strata if 0 < one.first_count + one.second_count < one.first_n + one.second_n
    ]
    if odds is None or len(telling) < 2:
        return None
    total = apart = variance = 0.0
    for one in telling:
        expected = _expected(one, odds)
        counted = one.first_count + one.second_count
        cells = (
            expected,
            one.first_n - expected,
            counted - expected,
            one.second_n - counted + expected,
        )
        if min(cells) <= 0:
            continue
        own = 1 / sum(1 / cell for cell in cells)
        total += (one.first_count - expected) ** 2 / own
        apart += one.first_count - expected
        variance += own
    if variance == 0:
        return None
    from scipy import special  # a slow import that most commands never need

    statistic = max(0.0, total - apart * apart / variance)
    return float(special.chdtrc(len(telling) - 1, statistic))


def _expected(one: Stratum, odds: float) -> float:
    """Return the first's count that the margins and the common odds ratio would give."""
    counted = one.first_count + one.second_count
    if abs(odds - 1) < 1e-9:
        return one.first_n * counted / (one.first_n + one.second_n)
    a = 1 - odds
    b = one.second_n - counted + odds * (one.first_n + counted)
    c = -odds * one.first_n * counted
    root = math.sqrt(b * b - 4 * a * c)
    low, high = max(0, counted - one.second_n), min(one.first_n, counted)
    # The stable form of the root that lies within the margins, for odds on either side of 1.
    found = -2 * c / (b + root)
    return min(max(found, low), high)


def _nothing(
    strata: int, first_n: int, second_n: int, plain: float | None, level: float, why: str
) -> Stratified:
    none = Interval(None, None, SATO, level, why)
    no_odds = Interval(None, None, ROBINS, level, why)
    return Stratified(
        strata, first_n, second_n, plain, None, none, None, no_odds, None, None, None, why
    )
