"""Has the scrap rate drifted up, and since when? A CUSUM over cores in the order of their verdicts.

Each scrapped core adds to a sum, each good one takes off a little, and the sum never falls below
nothing; it climbs only while scrap comes faster than it used to. Chosen over single weeks on a
control chart because it adds up small shifts that no week shows by itself, and because the core at
which the climb began says since when. The steps are those of the likelihood ratio of the usual rate
against one whose odds are `odds` times higher (E. S. Page, Biometrika 41 (1954) 100; M. R. Reynolds
and Z. G. Stoumbos, J. Quality Technology 31 (1999) 87, for single good and bad units).

Steps are whole numbers, so the average run between false alarms is worked out exactly as a Markov
chain (D. Brook and D. A. Evans, Biometrika 59 (1972) 539) and the alarm level is the lowest that
keeps it. No printed table for rates like these was found: the run lengths are checked by
simulation and against the closed form for steps of one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from coretrack.figures.plain_words import counted, percent

LEAST_BASE = 50
"""Fewer decided cores than this make no usual rate to compare with (the shop's own habit)."""

USUAL_ODDS = Fraction(2)
"""The shift looked for: odds of scrap doubled, such as 30 % becoming 46 %."""

FALSE_ALARM_EVERY = 2000
"""One false alarm in so many decided cores of a steady family, on average (the shop's choice)."""

FINEST = 24
"""Largest denominator of the step taken off for a good core; finer changes nothing that shows."""


@dataclass(frozen=True)
class CusumDesign:
    """Whole-number steps: `up` for each scrapped core, `down` for each good one, alarm at `level`.

    `usual` is the rate expected, `shifted` the one looked for; `run_usual` and `run_shifted` are
    the average numbers of cores to an alarm under each, `widening` the spread factor allowed for.
    """

    usual: float
    shifted: float
    up: int
    down: int
    level: int
    run_usual: float
    run_shifted: float
    widening: float = 1.0


@dataclass(frozen=True)
class DriftPoint:
    """The sum after one core, as a share of the alarm level (1 and more is an alarm)."""

    name: str
    scrapped: bool
    height: float


@dataclass(frozen=True)
class Drift:
    """Whether the alarm was reached, at which core, and from which on the rate seems higher.

    `since` and `alarm_at` are names of cores, `None` without an alarm. `rate_since` is scrapped /
    decided from `since` to the last core, `cores_since` how many that are. `points` is the whole
    climb, for drawing. No design, so no verdict: `alarm` is `None` with `why`.
    """

    design: CusumDesign | None
    points: tuple[DriftPoint, ...]
    alarm: bool | None
    alarm_at: str | None
    since: str | None
    cores_since: int
    rate_since: float | None
    sentence: str
    why: str | None = None


def cusum_design(
    usual: float,
    odds: Fraction | float = USUAL_ODDS,
    false_alarm_every: float = FALSE_ALARM_EVERY,
    widening: float = 1.0,
) -> CusumDesign:
    """Return the steps and the lowest alarm level that keeps false alarms that rare.

    Where lots differ beyond chance the level is raised by `widening`: clumps alone lift the sum
    about that much higher. The run lengths given are those of cores one by one. ValueError unless
    0 < usual < 1, odds above 1, a run above 1 and a widening of 1 or more.
    """
    if not 0 < usual < 1 or odds <= 1 or false_alarm_every <= 1 or widening < 1:
        raise ValueError(
            f"no chart for rate {usual}, odds {odds}, run {false_alarm_every}, widening {widening}"
        )
    shifted = usual * float(odds) / (1 - usual + usual * float(odds))
    # A good core takes off this share of what good and scrapped steps differ by.
    exact = math.log((1 - usual) / (1 - shifted)) / math.log(float(odds))
    share = Fraction(exact).limit_denominator(FINEST)
    down = max(1, share.numerator)
    up = max(1, share.denominator - share.numerator)
    level = _lowest_level(usual, up, down, false_alarm_every)
    level = math.ceil(level * widening)
    return CusumDesign(
        usual,
        shifted,
        up,
        down,
        level,
        run_length(usual, up, down, level),
        run_length(shifted, up, down, level),
        widening,
    )


def drift(
    cores: Sequence[tuple[str, bool]],
    base: tuple[int, int],
    odds: Fraction | float = USUAL_ODDS,
    false_alarm_every: float = FALSE_ALARM_EVERY,
    widening: float = 1.0,
    noun: str = "scrap rate",
) -> Drift:
    """Return whether scrap has come faster than usual among `cores`, in the order of verdicts.

    A core is (name, scrapped). `base` is (scrapped, decided) of an earlier time that was in order;
    these cores must not be among `cores`. After an alarm the sum goes on, so that the climb is seen
    whole. To watch for the yield going up, hand over good in the place of scrapped. Too few cores
    in the base, or none or all of them scrapped: no verdict, and `why`.
    """
    scrapped, decided = base
    if not 0 <= scrapped <= decided:
        raise ValueError(f"{scrapped} scrapped of {decided} decided cannot be")
    why = _why_no_base(scrapped, decided)
    if why is None and not cores:
        why = f"no core decided since; the usual {noun} is {percent(scrapped / decided)}"
    if why is not None:
        return Drift(None, (), None, None, None, 0, None, why, why)
    design = cusum_design(scrapped / decided, odds, false_alarm_every, widening)
    total, start, alarm, since = 0, 0, None, 0
    points = []
    for number, (name, bad) in enumerate(cores):
        total = max(0, total + (design.up if bad else -design.down))
        if total == 0 and alarm is None:
            start = number + 1
        if alarm is None and total >= design.level:
            alarm, since = number, start
        points.append(DriftPoint(name, bad, total / design.level))
    if alarm is None:
        sentence = f"{noun}: no alarm in {counted(len(cores), 'core')}"
        return Drift(design, tuple(points), False, None, None, 0, None, sentence)
    later = [bad for _, bad in cores[since:]]
    rate = sum(later) / len(later)
    sentence = (
        f"{noun}: alarm at {cores[alarm][0]}; from about {cores[since][0]} on it is"
        f" {percent(rate)} over {counted(len(later), 'core')}, usual was {percent(design.usual)}."
        f" A steady family gives such an alarm once in about {round(design.run_usual):,} cores"
    )
    return Drift(
        design, tuple(points), True, cores[alarm][0], cores[since][0], len(later), rate, sentence
    )


@lru_cache(maxsize=512)
def run_length(rate: float, up: int, down: int, level: int) -> float:
    """Return the average number of cores until the sum, started at 0, reaches `level`.

    Exact: one linear equation for each height 0 … level - 1. ValueError unless 0 < rate <= 1 and
    whole steps and level above 0.
    """
    if not 0 < rate <= 1 or min(up, down, level) < 1:
        raise ValueError("a run needs a rate above 0 and whole steps above 0")
    from scipy import linalg  # a slow import that most commands never need

    # Row u + i - j holds the entry (i, j); only three diagonals and the first column are filled.
    above, below = min(up, level - 1), min(down, level - 1)
    bands = [[0.0] * level for _ in range(above + below + 1)]

    def add(row: int, column: int, value: float) -> None:
        bands[above + row - column][column] += value

    for height in range(level):
        add(height, height, 1.0)
        if height + up < level:
            add(height, height + up, -rate)
        add(height, max(0, height - down), rate - 1.0)
    return float(linalg.solve_banded((below, above), bands, [1.0] * level)[0])


@lru_cache(maxsize=256)
def _lowest_level(usual: float, up: int, down: int, run: float) -> int:
    """Return the lowest level with an average run of `run` or more; the run grows with it."""
    high = up
    while run_length(usual, up, down, high) < run:
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        if run_length(usual, up, down, middle) < run:
            low = middle
        else:
            high = middle
    return high


def _why_no_base(scrapped: int, decided: int) -> str | None:
    if decided < LEAST_BASE:
        return f"only {counted(decided, 'core')} decided before; a usual rate takes {LEAST_BASE}"
    if scrapped in (0, decided):
        ending = "scrapped" if scrapped else "good"
        return f"every core of the time before was {ending}: there is no usual rate to compare with"
    return None
