"""Do two inspectors decide alike? Two signs, put as a question, never as a judgement of a person.

Case mix: over like cores (family, source, number: the caller's strata) the one scraps more than the
other, see `stratified`. Blind second looks: of the bodies that both graded, those that only one of
them scrapped; by chance they fall evenly (Q. McNemar, Psychometrika 12 (1947) 153, exact). The
paired difference has the interval of D. G. Bonett and R. M. Price, J. Educ. Behav. Stat. 37 (2012)
479 (from memory). Who is right neither sign can tell: the stricter one may be the one who sees.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from coretrack.figures.dispersion import SIGNIFICANT
from coretrack.figures.intervals import Interval, check_level, normal_quantile
from coretrack.figures.plain_words import counted
from coretrack.figures.rate_tests import exact_p_value
from coretrack.figures.stratified import Stratified, Stratum, compare_strata
from coretrack.figures.two_rates import points

PAIRED = "paired, Bonett-Price"

NEVER_BOTH = "no body has been graded by both yet"

CAUTION = (
    "Unlike cores, light, gauges or a line that can be read two ways do this too: look at some"
    " bodies together before drawing any conclusion"
)


@dataclass(frozen=True)
class JudgedCore:
    """A core's first verdict: by whom, of which group of like cores, and whether it was scrap."""

    inspector: str
    stratum: str
    scrapped: bool


@dataclass(frozen=True)
class SecondLook:
    """A body graded twice, the second time blind: by whom, and whether each said scrap."""

    first_by: str
    first_scrapped: bool
    second_by: str
    second_scrapped: bool


@dataclass(frozen=True)
class PairedLooks:
    """Bodies that both graded: how many only the one scrapped, only the other, both, neither.

    `difference` is the one's scrap share less the other's on the same bodies, -1..1. `p_value` is
    exact; 1 where they never differed. `None` with `why` where no body was seen by both.
    """

    bodies: int
    only_one: int
    only_other: int
    difference: float | None
    interval: Interval
    p_value: float | None
    why: str | None = None


@dataclass(frozen=True)
class StrictnessQuestion:
    """Both signs for two inspectors, and the question they raise, if any.

    `asked` is true when a sign is more than chance explains, with `pairs` inspectors' pairs looked
    at together allowed for (p times pairs under 0.05). `agree` says whether the two signs point the
    same way, `None` where one is missing. `sentence` is the question, or that there is none.
    """

    one: str
    other: str
    case_mix: Stratified
    looks: PairedLooks
    asked: bool
    agree: bool | None
    sentence: str
    pairs: int = 1


def paired_looks(
    looks: Iterable[SecondLook], one: str, other: str, level: float = 0.95
) -> PairedLooks:
    """Return what the second looks say of two inspectors, whoever of them came first."""
    check_level(level)
    only_one = only_other = bodies = 0
    for look in looks:
        verdicts = {look.first_by: look.first_scrapped, look.second_by: look.second_scrapped}
        if len(verdicts) < 2 or set(verdicts) != {one, other}:
            continue
        bodies += 1
        only_one += verdicts[one] and not verdicts[other]
        only_other += verdicts[other] and not verdicts[one]
    if bodies == 0:
        nothing = Interval(None, None, PAIRED, level, NEVER_BOTH)
        return PairedLooks(0, 0, 0, None, nothing, None, NEVER_BOTH)
    differing = only_one + only_other
    p_value = exact_p_value(only_one, differing, 0.5) if differing else 1.0
    difference = (only_one - only_other) / bodies
    return PairedLooks(
        bodies,
        only_one,
        only_other,
        difference,
        _paired_interval(bodies, only_one, only_other, difference, level),
        p_value,
    )


def strictness_question(
    one: str,
    other: str,
    strata: Sequence[Stratum],
    looks: Iterable[SecondLook] = (),
    pairs: int = 1,
    level: float = 0.95,
) -> StrictnessQuestion:
    """Return the question that two inspectors' verdicts raise; `strata` count scrap, `one` first.

    ValueError when both are the same person or `pairs` is below 1.
    """
    if one == other or pairs < 1:
        raise ValueError("it takes two different inspectors, and at least one pair")
    case_mix = compare_strata(strata, level)
    paired = paired_looks(looks, one, other, level)
    clear_mix = _clear(case_mix.p_value, pairs)
    clear_looks = _clear(paired.p_value, pairs)
    agree = None
    if case_mix.difference and paired.difference:
        agree = (case_mix.difference > 0) == (paired.difference > 0)
    asked = clear_mix or clear_looks
    sentence = _sentence(one, other, case_mix, paired, asked, agree)
    return StrictnessQuestion(one, other, case_mix, paired, asked, agree, sentence, pairs)


def strictness_questions(
    cores: Iterable[JudgedCore], looks: Iterable[SecondLook] = (), level: float = 0.95
) -> tuple[StrictnessQuestion, ...]:
    """Return a question for each pair of inspectors who share a group or a body, clearest first.

    Cores should be first verdicts on bodies nobody had graded before. An inspector alone, or none:
    nothing to ask, an empty tuple.
    """
    counts: dict[str, dict[str, list[int]]] = {}
    inspectors = set()
    for core in cores:
        seen = counts.setdefault(core.stratum, {}).setdefault(core.inspector, [0, 0])
        seen[0] += 1
        seen[1] += core.scrapped
        inspectors.add(core.inspector)
    kept = tuple(looks)
    for look in kept:
        inspectors |= {look.first_by, look.second_by}
    pairs = []
    for one, other in combinations(sorted(inspectors - {""}), 2):
        strata = [
            Stratum(name, *by[one], *by[other])
            for name, by in sorted(counts.items())
            if one in by and other in by
        ]
        if strata or paired_looks(kept, one, other).bodies:
            pairs.append((one, other, strata))
    found = [
        strictness_question(one, other, strata, kept, len(pairs), level)
        for one, other, strata in pairs
    ]
    return tuple(sorted(found, key=lambda question: (_least(question), question.one)))


def _paired_interval(
    bodies: int, only_one: int, only_other: int, difference: float, level: float
) -> Interval:
    """Return the adjusted interval; it never collapses, even where they never differed."""
    p, q = (only_one + 1) / (bodies + 2), (only_other + 1) / (bodies + 2)
    error = math.sqrt((p + q - (p - q) ** 2) / (bodies + 2))
    half = normal_quantile((1 + level) / 2) * error
    low, high = max(-1.0, p - q - half), min(1.0, p - q + half)
    return Interval(min(low, difference), max(high, difference), PAIRED, level)


def _clear(p_value: float | None, pairs: int) -> bool:
    return p_value is not None and p_value * pairs < SIGNIFICANT


def _least(question: StrictnessQuestion) -> float:
    known = [p for p in (question.case_mix.p_value, question.looks.p_value) if p is not None]
    return min(known, default=2.0)


def _sentence(
    one: str, other: str, mix: Stratified, looks: PairedLooks, asked: bool, agree: bool | None
) -> str:
    told = [text for text in (_mix_words(one, other, mix), _look_words(one, other, looks)) if text]
    if not told:
        return f"{one} and {other}: no like cores and no second looks to compare by"
    facts = ". ".join(told)
    if not asked:
        return f"{one} and {other}: no difference beyond chance. {facts}"
    doubt = " The two signs point different ways." if agree is False else ""
    return f"Do {one} and {other} decide alike? {facts}.{doubt} {CAUTION}"


def _mix_words(one: str, other: str, mix: Stratified) -> str:
    low, high = mix.interval.low, mix.interval.high
    if mix.difference is None or low is None or high is None:
        return ""
    return (
        f"Over like cores ({mix.first_n:,} and {mix.second_n:,} in"
        f" {counted(mix.strata, 'group')}) scrap of {one} less that of {other} is"
        f" {points(mix.difference)} points, from {points(low)} to {points(high)}"
    )


def _look_words(one: str, other: str, looks: PairedLooks) -> str:
    if looks.bodies == 0:
        return ""
    return (
        f"Of {counted(looks.bodies, 'body')} graded by both, {looks.only_one} were scrap to {one}"
        f" alone and {looks.only_other} to {other} alone"
    )
