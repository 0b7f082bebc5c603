"""What a draft plan would have made of bodies that were graded already.

Each body is walked through its passes under the plan it was graded by and under the draft. As long
as both say the same, what really happened counts, an owner's override included. Where they part,
the draft decides: keep is good, scrap is lost, rework is an attempt whose end nobody has seen, and
what the stored readings cannot tell is not guessed: it is a good body in the upper bound and none
in the lower. Only decided bodies are counted, so that the yields before and after speak of the
same cores.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coretrack.figures.grading import Verdict, verdict
from coretrack.figures.observations import Observation
from coretrack.figures.plain_words import counted, have
from coretrack.figures.plans import Plan
from coretrack.figures.rework import NEW_BODY, BodyHistory

GOOD, LOST, ATTEMPT, UNKNOWN = "good", "scrapped", "rework", "cannot be told"


@dataclass(frozen=True)
class Pass:
    """What a body was judged by at one inspection, and what it had been through by then."""

    observations: tuple[Observation, ...]
    lives: BodyHistory = NEW_BODY


@dataclass(frozen=True)
class GradedBody:
    """A body with its passes, first inspection first, under the plan it was graded by.

    `good` is how it ended: `True` good, `False` scrapped, `None` not decided yet.
    """

    tag: str
    plan: Plan
    passes: tuple[Pass, ...]
    good: bool | None


@dataclass(frozen=True)
class Regraded:
    """Decided bodies under a draft plan.

    `good_now` of `decided` are good as it is. Under the draft `sure` are good, `attempts` go to a
    rework whose end is not known, `unknown` cannot be told from the stored readings; the rest is
    scrapped. `fewest` and `most` bound the good ones; with the pass rate of the reworks both count
    the attempts by it, rounded to whole bodies outward. `middle` is the expected number, `None`
    while readings lack or the pass rate is not known. `gained` and `lost` are the tags whose end
    surely changes. `spared` counts the inspections after rework that were made and that the draft
    makes needless. `settled` counts undecided bodies that the draft would decide; they are in none
    of the other numbers. Nothing decided: `fewest` and `most` are `None` with `why`.
    """

    decided: int
    good_now: int
    sure: int
    attempts: int
    unknown: int
    fewest: int | None
    most: int | None
    middle: Fraction | None
    gained: tuple[str, ...]
    lost: tuple[str, ...]
    to_rework: tuple[str, ...]
    untold: tuple[str, ...]
    spared: int
    settled: int
    sentence: str
    why: str | None = None

    @property
    def change(self) -> tuple[int, int] | None:
        """The least and the most that the number of good bodies changes by."""
        if self.fewest is None or self.most is None:
            return None
        return self.fewest - self.good_now, self.most - self.good_now


def regrade(
    bodies: Sequence[GradedBody],
    draft: Plan,
    pass_rate: Fraction | None = None,
    pass_bounds: tuple[float, float] | None = None,
) -> Regraded:
    """Return what `draft` would have made of `bodies`.

    `pass_rate` is the share of rework attempts that end as keep and `pass_bounds` its interval;
    without bounds an attempt may end either way. ValueError when a rate lies outside 0..1.
    """
    for rate in (*(() if pass_rate is None else (pass_rate,)), *(pass_bounds or ())):
        if not 0 <= rate <= 1:
            raise ValueError(f"a pass rate lies between 0 and 1; {rate} does not")
    walked = {body.tag: _walk(body, draft) for body in bodies}
    ends = {tag: end for tag, (end, _) in walked.items()}
    counted_bodies = [body for body in bodies if body.good is not None]
    if not counted_bodies:
        return _nothing(bodies, ends)
    tags = {
        end: tuple(body.tag for body in counted_bodies if ends[body.tag] == end)
        for end in (GOOD, LOST, ATTEMPT, UNKNOWN)
    }
    sure, attempts, unknown = len(tags[GOOD]), len(tags[ATTEMPT]), len(tags[UNKNOWN])
    low, high = pass_bounds or (0.0, 1.0)
    fewest = sure + int(attempts * Fraction(low))
    most = sure + unknown - int(-attempts * Fraction(high) // 1)
    middle = None
    if unknown == 0 and (attempts == 0 or pass_rate is not None):
        middle = sure + attempts * (pass_rate or Fraction(0))
    was_good = {body.tag for body in counted_bodies if body.good}
    found = Regraded(
        decided=len(counted_bodies),
        good_now=len(was_good),
        sure=sure,
        attempts=attempts,
        unknown=unknown,
        fewest=fewest,
        most=most,
        middle=middle,
        gained=tuple(tag for tag in tags[GOOD] if tag not in was_good),
        lost=tuple(tag for tag in tags[LOST] if tag in was_good),
        to_rework=tags[ATTEMPT],
        untold=tags[UNKNOWN],
        spared=sum(walked[body.tag][1] for body in counted_bodies),
        settled=_settled(bodies, ends),
        sentence="",
    )
    return _with_sentence(found)


def regraded_end(body: GradedBody, draft: Plan) -> str:
    """Return how `body` would end: good, scrapped, rework (its end not seen) or cannot be told."""
    return _walk(body, draft)[0]


def _walk(body: GradedBody, draft: Plan) -> tuple[str, int]:
    """Return how `body` would end, and how many of its later passes the draft makes needless."""
    for place, looked in enumerate(body.passes):
        was = _verdict(body.plan, looked, place)
        now = _verdict(draft, looked, place)
        if (was.grade, was.operations) == (now.grade, now.operations):
            continue
        ends = {"keep": GOOD, "scrap": LOST, "rework": ATTEMPT}
        return ends.get(now.grade, UNKNOWN), len(body.passes) - place - 1
    if body.good is None:
        return UNKNOWN, 0
    return (GOOD if body.good else LOST), 0


def _verdict(plan: Plan, looked: Pass, place: int) -> Verdict:
    known = {check.code for check in plan.checks}
    found = [seen for seen in looked.observations if seen.check in known]
    return verdict(plan, found, looked.lives, pass_number=place + 1)


def _settled(bodies: Sequence[GradedBody], ends: dict[str, str]) -> int:
    return sum(body.good is None and ends[body.tag] in (GOOD, LOST) for body in bodies)


def _nothing(bodies: Sequence[GradedBody], ends: dict[str, str]) -> Regraded:
    why = "no decided body with stored readings to judge again"
    return Regraded(
        0, 0, 0, 0, 0, None, None, None, (), (), (), (), 0, _settled(bodies, ends), why, why
    )


def _with_sentence(found: Regraded) -> Regraded:
    bodies = counted(found.decided, "decided core")
    if found.fewest == found.most:
        told = f"{found.most} good of {bodies} instead of {found.good_now}"
    else:
        told = (
            f"between {found.fewest} and {found.most} good of {bodies} instead of {found.good_now}"
        )
    reasons = []
    if found.unknown:
        reasons.append(f"{have(found.unknown, 'core')} no readings that settle it")
    if found.attempts:
        reasons.append(f"{counted(found.attempts, 'core')} would go to a rework")
    if reasons:
        told += f": {' and '.join(reasons)}"
    return replace(found, sentence=told)
