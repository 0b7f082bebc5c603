"""How many pieces a lot holds, from its weight and a weighed sample of it.

The n sampled pieces are counted; only the rest is estimated. Its mass R is that of K pieces like
those sampled, so R - K m has mean 0 and variance K s^2 + K^2 s^2 / n, with m and s the mean and the
spread of one piece. All K with |R - K m| <= t s sqrt(K + K^2 / n) are believable: a quadratic in K,
the construction of E. C. Fieller's theorem (Suppl. J. R. Stat. Soc. 7 (1940) 1) with a total on top
instead of a mean, derived here. t is Student's with n - 1 degrees of freedom, as in the confidence
limits for a mean (NIST/SEMATECH e-Handbook 1.3.5.2), or normal where the spread is known. For a
large lot the limits become R over the limits of the mean.

The interval holds for pieces taken at random. A scale that is out, a wrong tare or a sample from
the top of the crate are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.errors import InvalidInput
from coretrack.figures.finite_lots import bad_in_lot
from coretrack.figures.intervals import check_level, normal_quantile
from coretrack.figures.money import allocate
from coretrack.figures.ratios import t_quantile

EACH_WEIGHED = "weighed one by one, Student's t"
KNOWN_SPREAD = "known spread of the family"
NO_SPREAD = "mean mass only"
ALL_COUNTED = "all pieces counted"
MOST_PIECES = 1_000_000
"""More pieces than this are a slip in a weight."""


@dataclass(frozen=True)
class Sample:
    """Pieces of the lot that were counted and weighed, without their box; grams.

    `spread_g` is the standard deviation of one piece where it is known: estimated from these
    pieces (`degrees` = n - 1) or from earlier ones (`degrees` = `None`).
    """

    count: int
    total_g: int
    spread_g: float | None = None
    degrees: int | None = None


@dataclass(frozen=True)
class PieceEstimate:
    """The number of pieces of a lot and its limits; a limit is `None` where `why` says so."""

    pieces: int
    low: int | None
    high: int | None
    method: str
    level: float = 0.95
    why: str | None = None


def one_by_one(masses_g: Sequence[int], spread_g: float | None = None) -> Sample:
    """Return the sample of pieces weighed one by one, in whole grams.

    A single piece shows no spread; `spread_g` of the family then stands in. A spread below what
    rounding to the gram leaves (1 / sqrt 12) is not believed.
    """
    for place, mass in enumerate(masses_g, start=1):
        if mass < 1:
            raise InvalidInput(
                f"Sampled piece {place} weighs {mass} g; a piece weighs 1 g or more.",
                {"sample": "1 g or more"},
            )
    count, total = len(masses_g), sum(masses_g)
    if count < 2:
        return together(count, total, spread_g)
    squares = sum((mass - Fraction(total, count)) ** 2 for mass in masses_g) / (count - 1)
    return Sample(count, total, math.sqrt(max(squares, Fraction(1, 12))), count - 1)


def together(count: int, total_g: int, spread_g: float | None = None) -> Sample:
    """Return the sample of `count` pieces weighed in one go; `spread_g` is the family's, if known.

    InvalidInput for no piece, no mass, or a spread below zero.
    """
    if count < 1:
        raise InvalidInput(
            "A sample needs one piece at least; weigh some pieces of the lot and give their count.",
            {"sample": "one piece at least"},
        )
    if total_g < count:
        raise InvalidInput(
            f"The sample of {count} weighs {total_g} g; give the grams of all its pieces together.",
            {"sample": "1 g a piece or more"},
        )
    if spread_g is not None and not 0 < spread_g < math.inf:
        raise InvalidInput(
            f"A spread of {spread_g} g a piece makes no sense; give more than 0 or leave it out.",
            {"spread": "more than 0 g"},
        )
    return Sample(count, total_g, spread_g)


def estimate_pieces(
    gross_g: int, tare_g: int, sample: Sample, level: float = 0.95
) -> PieceEstimate:
    """Return the pieces of a lot that weighs `gross_g` on pallets and in boxes of `tare_g`.

    The sampled pieces belong to the lot and are weighed with it. InvalidInput when the weights
    contradict each other.
    """
    check_level(level)
    rest = _rest(gross_g, tare_g, sample)
    mean = Fraction(sample.total_g, sample.count)
    pieces = sample.count + int(rest / mean + Fraction(1, 2))
    if pieces > MOST_PIECES:
        raise InvalidInput(
            f"That would be {pieces:,} pieces of {float(mean):,.1f} g; check the weights and their"
            " unit (grams).",
            {"gross": "in grams"},
        )
    if rest == 0:
        return PieceEstimate(pieces, pieces, pieces, ALL_COUNTED, level)
    if sample.spread_g is None:
        why = "the sample was weighed in one go, so how much pieces differ is not known"
        if sample.count == 1:
            why = "one piece does not show how much pieces differ"
        return PieceEstimate(pieces, None, None, NO_SPREAD, level, why)
    low, high = _limits(rest, sample, level)
    method = KNOWN_SPREAD if sample.degrees is None else EACH_WEIGHED
    # Only whole pieces can be there; where no whole number lies between the limits, it is the
    # nearest one.
    fewest = min(pieces, sample.count + math.ceil(low))
    if high is None:
        why = "the sampled pieces differ too much for an upper limit; weigh more of them"
        return PieceEstimate(pieces, fewest, None, method, level, why)
    most = max(pieces, sample.count + math.floor(high))
    return PieceEstimate(pieces, fewest, most, method, level)


def estimate_families(
    gross_g: int,
    tare_g: int,
    sample: Sample,
    counts: Mapping[str, int],
    level: float = 0.95,
) -> dict[str, PieceEstimate]:
    """Return the pieces of each family of a mixed lot; `counts` says how the sample was sorted.

    The estimates are the sampled shares of all pieces and add up to them. Half the error goes to
    the number of all pieces, half to the shares (exact limits for a finite lot, see `finite_lots`),
    so each family's interval covers `level` at least (Bonferroni), alone, not all at once.
    InvalidInput when the counts do not make up the sample.
    """
    if any(count < 0 for count in counts.values()) or sum(counts.values()) != sample.count:
        raise InvalidInput(
            f"The sample has {sample.count} pieces and {sum(counts.values())} were sorted; the"
            " families must make up the sample.",
            {"families": "must make up the sample"},
        )
    wider = (1 + level) / 2
    whole = estimate_pieces(gross_g, tare_g, sample, wider)
    parts = allocate(whole.pieces, list(counts.values()))
    found = {}
    for (family, count), pieces in zip(counts.items(), parts, strict=True):
        low = high = None
        if whole.low is not None:
            low = bad_in_lot(count, sample.count, whole.low, wider).fewest
        if whole.high is not None:
            high = bad_in_lot(count, sample.count, whole.high, wider).most
        found[family] = PieceEstimate(
            pieces,
            None if low is None else min(low, pieces),
            None if high is None else max(high, pieces),
            whole.method,
            level,
            whole.why,
        )
    return found


def _rest(gross_g: int, tare_g: int, sample: Sample) -> int:
    """Return the mass of the pieces that were not sampled."""
    if gross_g < 1:
        raise InvalidInput(
            f"The lot weighs {gross_g} g; give what the scale shows with boxes and pallets.",
            {"gross": "more than 0 g"},
        )
    if tare_g < 0:
        raise InvalidInput(f"The boxes weigh {tare_g} g; give 0 or more.", {"tare": "0 g or more"})
    if tare_g >= gross_g:
        raise InvalidInput(
            f"The boxes alone ({tare_g} g) weigh as much as the lot with them ({gross_g} g); check"
            " whether the two were swapped.",
            {"tare": "less than the gross weight"},
        )
    net = gross_g - tare_g
    if sample.total_g > net:
        raise InvalidInput(
            f"The sample ({sample.total_g} g) is heavier than the whole lot without its boxes"
            f" ({net} g); weigh the lot with the sample in it.",
            {"sample": "part of the lot"},
        )
    return net - sample.total_g


def _limits(rest: int, sample: Sample, level: float) -> tuple[float, float | None]:
    """Return the least and the greatest believable K; no greatest where the mean could be 0."""
    probability = (1 + level) / 2
    if sample.degrees is None:
        quantile = normal_quantile(probability)
    else:
        quantile = t_quantile(sample.degrees, probability)
    spread = quantile * float(sample.spread_g or 0)
    mean = sample.total_g / sample.count
    square, linear = mean * mean - spread * spread / sample.count, 2 * rest * mean + spread * spread
    root = math.sqrt(linear * linear - 4 * square * rest * rest)
    # The smaller root in the form that neither cancels nor divides by nothing.
    low = 2 * rest * rest / (linear + root)
    return low, (linear + root) / (2 * square) if square > 0 else None
