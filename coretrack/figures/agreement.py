"""Do inspectors agree, and how often is a good body rejected or a bad one let through?

Kappa is the share of agreement beyond chance: (po - pe)/(1 - pe), 1 for full agreement, 0 for what
chance alone gives, below 0 for less. Weighted kappa counts keep against rework as a smaller
difference than keep against scrap. Sources: J. Cohen, Educ. Psychol. Meas. 20 (1960) 37 and
Psychol. Bull. 70 (1968) 213; standard errors J. L. Fleiss, J. Cohen, B. S. Everitt, Psychol. Bull.
72 (1969) 323; several inspectors J. L. Fleiss, Psychol. Bull. 76 (1971) 378 and J. L. Fleiss,
J. C. M. Nee, J. R. Landis, Psychol. Bull. 86 (1979) 974.

Kappas are worked out exactly; only the shown figures are floats.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from coretrack.figures.intervals import WILSON, Interval, check_level, normal_quantile, wilson
from coretrack.figures.plain_words import counted, have

GRADES = ("keep", "rework", "scrap")
"""The grades in their order, which weighted kappa needs."""

PLAIN, LINEAR, SQUARED = "plain", "linear", "squared"
"""How differences count: all alike, by their distance, or by its square."""

KAPPA = "normal"
"""The method of kappa's interval: kappa ± z times its standard error, not beyond -1 and 1."""

NO_SECOND_LOOK = "no core has been graded twice yet"
NO_GOOD_CORE = "no good core has been graded twice yet"
NO_BAD_CORE = "no bad core has been graded twice yet"
NO_WIDTH = (
    "the usual interval needs some agreement and some difference; the share of agreement has one"
)


@dataclass(frozen=True)
class Kappa:
    """Agreement beyond chance of `cores` graded more than once.

    `agreed` is the plain share that agrees (weighted: the mean closeness), `by_chance` what chance
    gives. `standard_error` is kappa's own and makes the interval; `null_error` is the one if only
    chance were at work, and z = kappa / null_error. `None` where `why` or `interval.why` says so.
    """

    value: float | None
    agreed: float | None
    by_chance: float | None
    cores: int
    interval: Interval
    standard_error: float | None = None
    null_error: float | None = None
    z: float | None = None
    why: str | None = None


@dataclass(frozen=True)
class Share:
    """`count` of `total` with its Wilson interval; `share` is `None`, with `why`, without any."""

    count: int
    total: int
    share: float | None
    interval: Interval
    why: str | None = None


@dataclass(frozen=True)
class InspectionErrors:
    """Against a second look taken as the truth: good bodies rejected, bad ones let through.

    `undecided` pairs have a grade on either side that is neither good nor bad and count nowhere.
    """

    false_reject: Share
    miss: Share
    undecided: int = 0


def grade_table(
    pairs: Iterable[tuple[str, str]], grades: Sequence[str] = GRADES
) -> tuple[tuple[int, ...], ...]:
    """Return how often each pair of grades was given: a row for each first grade.

    ValueError when a grade is not one of `grades`.
    """
    place = {grade: index for index, grade in enumerate(grades)}
    counts = [[0] * len(grades) for _ in grades]
    for first, second in pairs:
        for grade in (first, second):
            if grade not in place:
                raise ValueError(f"'{grade}' is not a grade here; they are {', '.join(grades)}")
        counts[place[first]][place[second]] += 1
    return tuple(tuple(row) for row in counts)


def cohens_kappa(
    table: Sequence[Sequence[int]], weights: str = PLAIN, level: float = 0.95
) -> Kappa:
    """Return the agreement of two inspectors from a square table of counts.

    Rows are the first one's grades, columns the second one's, in the grades' order. No core, or
    both gave one and the same grade to all: `why`. With full agreement the standard error is 0 and
    would make a false certainty, so the interval has no bounds. ValueError for a table that is not
    square, a count below zero or unknown `weights`.
    """
    check_level(level)
    size = _check_square(table)
    closeness = _closeness(size, weights)
    cores = sum(map(sum, table))
    if cores == 0:
        return _no_kappa(0, level, NO_SECOND_LOOK)
    shares = [[Fraction(count, cores) for count in row] for row in table]
    first = [sum(row) for row in shares]
    second = [sum(column) for column in zip(*shares, strict=True)]
    every = [(i, j) for i in range(size) for j in range(size)]
    agreed = sum((closeness[i][j] * shares[i][j] for i, j in every), Fraction(0))
    chance = sum((closeness[i][j] * first[i] * second[j] for i, j in every), Fraction(0))
    if chance == 1:
        return _one_grade(cores, level)
    kappa = (agreed - chance) / (1 - chance)
    by_row = [sum(closeness[i][j] * second[j] for j in range(size)) for i in range(size)]
    by_column = [sum(closeness[i][j] * first[i] for i in range(size)) for j in range(size)]
    spread = (
        sum(
            shares[i][j]
            * (closeness[i][j] * (1 - chance) - (by_row[i] + by_column[j]) * (1 - agreed)) ** 2
            for i, j in every
        )
        - (agreed * chance - 2 * chance + agreed) ** 2
    )
    null_spread = (
        sum(
            first[i] * second[j] * (closeness[i][j] - by_row[i] - by_column[j]) ** 2
            for i, j in every
        )
        - chance**2
    )
    error = math.sqrt(spread / (cores * (1 - chance) ** 4))
    null_error = math.sqrt(null_spread / (cores * (1 - chance) ** 2))
    return Kappa(
        value=float(kappa),
        agreed=float(agreed),
        by_chance=float(chance),
        cores=cores,
        interval=_interval(kappa, error, level),
        standard_error=error,
        null_error=null_error or None,
        z=float(kappa) / null_error if null_error else None,
    )


def fleiss_kappa(counts: Sequence[Sequence[int]], level: float = 0.95) -> Kappa:
    """Return the agreement of several inspectors; a row counts one core's grades.

    Each core has as many grades as the others, two or more; who gave them does not matter. No
    interval: the published standard error holds only if chance alone is at work, and gives z.
    No core, an unequal number of grades, or one grade for all: `why`. ValueError for rows of
    different length or a count below zero.
    """
    check_level(level)
    if any(len(row) != len(counts[0]) for row in counts):
        raise ValueError("each core needs a count for each of the same grades")
    if any(count < 0 for row in counts for count in row):
        raise ValueError("a count of grades cannot be negative")
    cores = len(counts)
    looks = {sum(row) for row in counts}
    if cores == 0 or looks == {0} or looks == {1}:
        return _no_kappa(0, level, NO_SECOND_LOOK)
    if len(looks) > 1:
        fewest, most = counted(min(looks), "time"), counted(max(looks), "time")
        why = f"some cores were graded {fewest}, others {most}: take those graded equally often"
        return _no_kappa(cores, level, why)
    times = looks.pop()
    grades = [Fraction(sum(column), cores * times) for column in zip(*counts, strict=True)]
    alike = sum(count * (count - 1) for row in counts for count in row)
    agreed = Fraction(alike, cores * times * (times - 1))
    chance = sum(share * share for share in grades)
    if chance == 1:
        return _one_grade(cores, level)
    kappa = (agreed - chance) / (1 - chance)
    rest = 1 - chance
    skew = sum(share * (1 - share) * (1 - 2 * share) for share in grades)
    variance = 2 * (rest**2 - skew) / (cores * times * (times - 1) * rest**2)
    null_error = math.sqrt(max(Fraction(0), Fraction(variance)))
    why = "for three or more inspectors there is a test against chance, no interval"
    return Kappa(
        value=float(kappa),
        agreed=float(agreed),
        by_chance=float(chance),
        cores=cores,
        interval=Interval(None, None, KAPPA, level, why),
        null_error=null_error or None,
        z=float(kappa) / null_error if null_error else None,
    )


def agreement_share(pairs: Collection[tuple[str, str]], level: float = 0.95) -> Share:
    """Return how many cores got the same grade twice, with the Wilson interval."""
    alike = sum(first == second for first, second in pairs)
    return _share(alike, len(pairs), level, NO_SECOND_LOOK)


def inspection_errors(
    pairs: Iterable[tuple[str, str]],
    good: Collection[str] = ("keep", "rework"),
    bad: Collection[str] = ("scrap",),
    level: float = 0.95,
) -> InspectionErrors:
    """Return how often the first grade rejected a good body and let a bad one through.

    Each pair is the first grade and the second look's, which is taken as the truth. Shares are of
    the truly good and of the truly bad ones; they speak for the bench only where the cores looked
    at twice were drawn by lot, whatever their first grade. ValueError when a grade is in both.
    """
    both = set(good) & set(bad)
    if both:
        raise ValueError(f"'{min(both)}' cannot be good and bad")
    known = {**dict.fromkeys(good, True), **dict.fromkeys(bad, False)}
    counts = {(passed, sound): 0 for passed in (True, False) for sound in (True, False)}
    undecided = 0
    for called, truth in pairs:
        if called in known and truth in known:
            counts[known[called], known[truth]] += 1
        else:
            undecided += 1
    rejected, missed = counts[False, True], counts[True, False]
    return InspectionErrors(
        _share(rejected, rejected + counts[True, True], level, NO_GOOD_CORE),
        _share(missed, missed + counts[False, False], level, NO_BAD_CORE),
        undecided,
    )


def kappa_in_words(kappa: float) -> str:
    """Return "poor" below 0.40, "good" above 0.75, else "fair".

    AIAG, Measurement Systems Analysis, 4th edition, chapter III section C (from memory).
    """
    if kappa < 0.40:
        return "poor"
    return "good" if kappa > 0.75 else "fair"


def _check_square(table: Sequence[Sequence[int]]) -> int:
    size = len(table)
    if any(len(row) != size for row in table):
        raise ValueError("a table of two inspectors' grades has as many rows as columns")
    if any(count < 0 for row in table for count in row):
        raise ValueError("a count of grades cannot be negative")
    return size


def _closeness(size: int, weights: str) -> list[list[Fraction]]:
    """Return how near each pair of grades is: 1 for the same, 0 for the farthest apart."""
    powers = {PLAIN: 0, LINEAR: 1, SQUARED: 2}
    if weights not in powers:
        raise ValueError(f"weights are {', '.join(powers)}, not '{weights}'")
    farthest = max(1, size - 1)

    def near(i: int, j: int) -> Fraction:
        return Fraction(1) if i == j else 1 - Fraction(abs(i - j), farthest) ** powers[weights]

    return [[near(i, j) for j in range(size)] for i in range(size)]


def _interval(kappa: Fraction, error: float, level: float) -> Interval:
    if error == 0:
        return Interval(None, None, KAPPA, level, NO_WIDTH)
    half = normal_quantile((1 + level) / 2) * error
    middle = float(kappa)
    return Interval(max(-1.0, middle - half), min(1.0, middle + half), KAPPA, level)


def _one_grade(cores: int, level: float) -> Kappa:
    why = f"{have(cores, 'core')} one and the same grade from all: chance alone would agree as much"
    return _no_kappa(cores, level, why)


def _no_kappa(cores: int, level: float, why: str) -> Kappa:
    return Kappa(None, None, None, cores, Interval(None, None, KAPPA, level, why), why=why)


def _share(count: int, total: int, level: float, nothing: str) -> Share:
    if total == 0:
        check_level(level)
        return Share(0, 0, None, Interval(None, None, WILSON, level, nothing), nothing)
    return Share(count, total, count / total, wilson(count, total, level))
