"""Where bodies die: what passes each stage (dock, crack, dimension, rework), rolled through.

Each core's path is followed in the order of the stages. A stage is entered only by cores that got
that far and were judged there: a core that scrapped on a crack was never measured, and is no pass
of the dimension stage. The rolled yield is the product of passed / entered. Where every core that
passes a stage enters the next one, the product is plainly passed / entered of the whole and takes
Wilson's interval; otherwise it is a product of shares, of which Greenwood's formula is the
variance (M. Greenwood, Reports on Public Health 33 (1926)). Derived.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from coretrack.figures.intervals import WILSON, Interval, check_level, wilson
from coretrack.figures.plain_words import are, counted, percent
from coretrack.figures.return_days import product_interval
from coretrack.figures.yields import Counts, rolled_yield

PASSED, FAILED = "passed", "failed"
OPEN = "open"
"""Judged at a stage, but not to an end: waits there, and counts neither way."""

STAGES = ("dock", "crack", "dimension", "rework", "other")
"""Stages of a core's way: acceptance, crack checks, all other checks, rework, and scrap that no
check asked for (an owner's decision)."""

OTHER = STAGES[-1]

NO_STAGE = "no core has been judged at any stage yet"


@dataclass(frozen=True)
class StageRow:
    """One stage: `entered` were judged there, `passed` of them; `yield_` 0..1 or `None`.

    `waiting` are judged to no end there. `not_reached` went no further than an earlier stage.
    """

    stage: str
    entered: int
    passed: int
    waiting: int
    not_reached: int
    yield_: float | None
    interval: Interval
    why: str | None = None

    @property
    def failed(self) -> int:
        """Bodies that died at this stage."""
        return self.entered - self.passed


@dataclass(frozen=True)
class StageLadder:
    """All stages of a group in order, and the rolled yield; `worst` is where most bodies die.

    `rolled` is `None`, with `why`, while a stage has seen no core.
    """

    group: str
    stages: tuple[StageRow, ...]
    rolled: float | None
    interval: Interval
    worst: str | None
    sentence: str
    why: str | None = None


@dataclass(frozen=True)
class Rate:
    """`count` of `total`, 0..1, with its Wilson interval; `None` with `why` without any."""

    count: int
    total: int
    rate: float | None
    interval: Interval
    why: str | None = None


@dataclass(frozen=True)
class PassRates:
    """First-pass yield, what rework adds, and the share of decided reworks that ended as keep.

    `added` is the yield that rework adds in all: kept after rework / decided. `rework` is ρ.
    """

    first_pass: Rate
    added: Rate
    rework: Rate


def stage_ladder(
    group: str,
    stages: Sequence[str],
    paths: Iterable[Sequence[tuple[str, str]]],
    level: float = 0.95,
) -> StageLadder:
    """Return what passes each stage.

    A path is one core's (stage, outcome) pairs in any order; outcome is "passed", "failed" or
    "open", a stage that is left out was not judged. What stands behind a failed stage is still
    counted where it was judged (a shop may measure a cracked body all the same), so that a stage
    tells of all it saw; `not_reached` holds those that stopped before. A stage that nobody ever
    entered, such as rework in a family that is never reworked, leaves the product out only when it
    has nothing waiting; with cores waiting the rolled yield is unknown. ValueError for an unknown
    stage or outcome, or one named twice.
    """
    check_level(level)
    seen: dict[str, dict[str, int]] = {stage: {PASSED: 0, FAILED: 0, OPEN: 0} for stage in stages}
    cores = 0
    for path in paths:
        cores += 1
        told = dict(path)
        if len(told) < len(path):
            raise ValueError(f"{group}: a core is judged twice at one stage")
        for stage, outcome in path:
            if stage not in seen or outcome not in seen[stage]:
                raise ValueError(f"{group}: '{outcome}' at '{stage}' is not a stage's outcome")
            seen[stage][outcome] += 1
    rows = tuple(_row(stage, seen[stage], cores, level) for stage in stages)
    return _ladder(group, rows, level)


def core_path(
    accepted: bool | None,
    first_verdict: Sequence[tuple[str, str]],
    reworked: bool,
    ended: str,
) -> tuple[tuple[str, str], ...]:
    """Return one core's (stage, outcome) pairs for `stage_ladder`.

    `accepted` is what the dock said, `None` if it was never asked. `first_verdict` are the (kind,
    outcome) of the checks at the first inspection, as in `CheckJudgement`; `ended` is "good",
    "scrapped" or empty while undecided. Once the core is decided, checks that were not finished
    were not needed any more: that stage was not judged. A check failed by a body that lives all the
    same was overruled by the owner and is passed.
    """
    lives = ended == "good" or reworked
    path = [] if accepted is None else [("dock", PASSED if accepted else FAILED)]
    for stage, is_crack in (("crack", True), ("dimension", False)):
        outcomes = {outcome for kind, outcome in first_verdict if (kind == "crack") == is_crack}
        found = _outcome(outcomes, lives, ended)
        if found:
            path.append((stage, found))
    if reworked:
        path.append(("rework", _END.get(ended, OPEN)))
    if ended in _END and all(outcome == PASSED for _, outcome in path):
        path.append((OTHER, _END[ended]))
    return tuple(path)


def ladder_of_counts(
    group: str, counts: Sequence[tuple[str, int, int]], level: float = 0.95
) -> StageLadder:
    """Return the same from (stage, entered, passed) where paths are not kept."""
    check_level(level)
    top = max((entered for _, entered, _ in counts), default=0)
    rows = []
    for stage, entered, passed in counts:
        if not 0 <= passed <= entered:
            raise ValueError(f"{group}: {passed} of {entered} cannot have passed {stage}")
        found = {PASSED: passed, FAILED: entered - passed, OPEN: 0}
        rows.append(_row(stage, found, top, level))
    return _ladder(group, tuple(rows), level)


def pass_rates(counts: Counts, rework_scrapped: int, level: float = 0.95) -> PassRates:
    """Return first-pass yield, what rework adds, and the pass rate of rework.

    `rework_scrapped` are the cores that were reworked and scrapped all the same. ValueError when
    there are more of them than scrapped cores.
    """
    if not 0 <= rework_scrapped <= counts.scrapped:
        raise ValueError(
            f"{rework_scrapped} reworked and scrapped of {counts.scrapped} scrapped cannot be"
        )
    nothing = "no core of this group has been decided yet"
    kept = counts.kept_after_rework
    reworked = kept + rework_scrapped
    return PassRates(
        first_pass=_rate(counts.kept_first_pass, counts.decided, level, nothing),
        added=_rate(kept, counts.decided, level, nothing),
        rework=_rate(kept, reworked, level, "no reworked body has been decided yet"),
    )


_END = {"good": PASSED, "scrapped": FAILED}


def _outcome(outcomes: set[str], lives: bool, ended: str) -> str:
    """Return what a stage's checks say together, nothing where they were not all made."""
    if "discard" in outcomes:
        return PASSED if lives else FAILED
    if not outcomes - {"missing"}:
        return ""
    if outcomes & {"missing", "undecided"} and not lives:
        return "" if ended else OPEN
    return PASSED


def _rate(count: int, total: int, level: float, nothing: str) -> Rate:
    if total == 0:
        return Rate(0, 0, None, Interval(None, None, WILSON, level, nothing), nothing)
    return Rate(count, total, count / total, wilson(count, total, level))


def _row(stage: str, found: dict[str, int], cores: int, level: float) -> StageRow:
    passed, failed, waiting = found[PASSED], found[FAILED], found[OPEN]
    entered = passed + failed
    missed = cores - entered - waiting
    if entered == 0:
        why = f"{are(waiting, 'core')} waiting at {stage}" if waiting else f"no core at {stage} yet"
        nothing = Interval(None, None, WILSON, level, why)
        return StageRow(stage, 0, 0, waiting, missed, None, nothing, why)
    return StageRow(
        stage, entered, passed, waiting, missed, passed / entered, wilson(passed, entered, level)
    )


def _ladder(group: str, rows: tuple[StageRow, ...], level: float) -> StageLadder:
    used = [row for row in rows if row.entered or row.waiting]
    unknown = [row.stage for row in used if row.entered == 0]
    if not used or unknown:
        why = f"no core has come through {' and '.join(unknown)} yet" if used else NO_STAGE
        nothing = Interval(None, None, WILSON, level, why)
        return StageLadder(group, rows, None, nothing, _worst(rows), why, why)
    rolled = rolled_yield([(row.passed, row.entered) for row in used])
    interval = _rolled_interval(used, rolled or 0.0, level)
    worst = _worst(rows)
    shown = [row for row in used if row.failed or row.stage != OTHER]
    text = " × ".join(f"{row.stage} {percent(row.yield_ or 0.0)}" for row in shown)
    sentence = f"{text} = {percent(rolled or 0.0)}"
    if worst is not None:
        lost = next(row.failed for row in used if row.stage == worst)
        sentence += f"; most die at {worst} ({counted(lost, 'core')})"
    return StageLadder(group, rows, rolled, interval, worst, sentence)


def _worst(rows: Sequence[StageRow]) -> str | None:
    """Return the stage at which most bodies fail, the earlier of two alike; `None` without any."""
    failing = [row for row in rows if row.failed]
    return max(failing, key=lambda row: row.failed).stage if failing else None


def _rolled_interval(rows: Sequence[StageRow], rolled: float, level: float) -> Interval:
    """Return the interval of the product.

    All passed, or none at some stage: Greenwood's formula has no width. Where all passed, the worst
    that would still show no failure sits at the stage that fewest entered; where none passed at a
    stage, the whole is at most that stage's high end. Either way that stage's limits stand for all.
    """
    nested = all(later.entered == earlier.passed for earlier, later in pairwise(rows))
    if nested:
        return wilson(rows[-1].passed, rows[0].entered, level)
    if 0 < rolled < 1:
        greenwood = math.fsum(row.failed / (row.entered * row.passed) for row in rows)
        return product_interval(rolled, greenwood, level)
    fewest = min(rows, key=lambda row: (row.passed > 0) if rolled == 0 else row.entered)
    return wilson(fewest.passed, fewest.entered, level)
