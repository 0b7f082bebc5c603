"""One check judged: new, usable, rework, discard, undecided or missing, and the limit that says so.

Readings come from `Observation`; see `bands` for where a number lies. Decisions kept here:

* fewer readings than the plan asks for, or an entry broken off, is missing and never passed; only
  a discard that no further reading could undo counts before the check is complete;
* with `each`, the worst reading decides; max, min, mean and range are compared exactly;
* a crack indication is a discard; an attribute's no-go is a discard unless the plan lists a rework
  for the check (its bands have no limits);
* appearance grades run from A (best); a grade after the last one that the shop scraps is scrapped
  too, a grade in no list passes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from coretrack.figures.bands import DISCARD, REWORK, USABLE, Bands, Placed, bands_of
from coretrack.figures.observations import Observation
from coretrack.figures.plans import Check
from coretrack.figures.tolerances import MICRO, Limits

NONE_REFUSED: Mapping[str, str] = {}


@dataclass(frozen=True)
class CheckJudgement:
    """What one check says about a body.

    `outcome` is new, usable, rework, discard, undecided or missing. `reading` is the reading
    judged, `limit` the limit it is held against (the one crossed when it fails) and `distance` is
    reading minus limit, signed; all millionths of the check's unit, `None` when there is none. A
    mean that is no whole count is shown rounded away from the limit; it is judged unrounded.
    `refused` names operations that would have saved the body, each with why it may not be done.
    """

    check: str
    name: str
    kind: str
    outcome: str
    sentence: str
    operations: tuple[str, ...] = ()
    reading: int | None = None
    limit: int | None = None
    limit_name: str = ""
    distance: int | None = None
    refused: tuple[tuple[str, str], ...] = ()

    @property
    def operation(self) -> str:
        """Return the first operation this check asks for, or nothing."""
        return self.operations[0] if self.operations else ""


def judge_check(
    check: Check, observation: Observation | None, refused: Mapping[str, str] = NONE_REFUSED
) -> CheckJudgement:
    """Return the judgement of `check` from what was found there.

    `refused` maps operations this body may no longer go through to the reason. ValueError when the
    finding does not fit the kind of check; the message says what would.
    """
    if observation is not None and observation.check != check.code:
        raise ValueError(f"a finding of {observation.check} cannot be judged by {check.code}")
    if check.numeric:
        return _judge_numeric(check, observation, refused)
    if observation is not None and observation.values:
        raise ValueError(f"{check.name} takes {_wanted(check)}, not a reading")
    result = observation.result.strip() if observation is not None else ""
    if observation is None or not observation.complete or not result:
        return _plain(check, "missing", f"{check.name}: not checked")
    if result.lower() == "unsure":
        return _plain(check, "undecided", f"{check.name}: unsure, needs a second look")
    if check.kind == "crack":
        return _judge_crack(check, observation, result.lower())
    if check.kind == "attribute":
        return _judge_attribute(check, result.lower(), refused)
    return _judge_look(check, result.upper(), refused)


def _wanted(check: Check) -> str:
    return {
        "crack": "none, indication or unsure",
        "attribute": "go, no-go or unsure",
    }.get(check.kind, "one letter from A (best), or unsure")


def _plain(check: Check, outcome: str, sentence: str) -> CheckJudgement:
    return CheckJudgement(check.code, check.name, check.kind, outcome, sentence)


def _judge_crack(check: Check, observation: Observation, result: str) -> CheckJudgement:
    if result == "none":
        return _plain(check, "usable", f"{check.name}: no indication")
    if result != "indication":
        raise ValueError(f'{check.name}: "{observation.result}" is not {_wanted(check)}')
    place = f" ({observation.detail.strip()})" if observation.detail.strip() else ""
    return _plain(check, "discard", f"{check.name}: crack indication{place}")


def _judge_attribute(check: Check, result: str, refused: Mapping[str, str]) -> CheckJudgement:
    if result == "go":
        return _plain(check, "usable", f"{check.name}: go")
    if result != "no-go":
        raise ValueError(f'{check.name}: "{result}" is not {_wanted(check)}')
    return _saved_by(check, "no-go", tuple(band.operation for band in check.rework), refused)


def _judge_look(check: Check, letter: str, refused: Mapping[str, str]) -> CheckJudgement:
    if len(letter) != 1 or not "A" <= letter <= "Z":
        raise ValueError(f'{check.name}: "{letter}" is not {_wanted(check)}')
    if check.look_scraps and (letter in check.look_scraps or letter > max(check.look_scraps)):
        return _plain(check, "discard", f"{check.name}: grade {letter} is scrapped")
    listed = tuple(operation for grade, operation in check.look_reworks if grade == letter)
    if not listed:
        return _plain(check, "usable", f"{check.name}: grade {letter}")
    return _saved_by(check, f"grade {letter}", listed, refused)


def _saved_by(
    check: Check, found: str, operations: tuple[str, ...], refused: Mapping[str, str]
) -> CheckJudgement:
    allowed = [operation for operation in operations if operation not in refused]
    if allowed:
        return CheckJudgement(
            check.code, check.name, check.kind, "rework",
            f"{check.name}: {found}, rework by {allowed[0]}", operations=(allowed[0],),
        )  # fmt: skip
    barred = tuple((operation, refused[operation]) for operation in operations)
    return CheckJudgement(
        check.code, check.name, check.kind, "discard",
        f"{check.name}: {found}{_why_not(barred)}", refused=barred,
    )  # fmt: skip


def _why_not(barred: tuple[tuple[str, str], ...]) -> str:
    return "; no rework left: " + "; ".join(why for _, why in barred) if barred else ""


def _judge_numeric(
    check: Check, observation: Observation | None, refused: Mapping[str, str]
) -> CheckJudgement:
    values = observation.values if observation is not None else ()
    unsure = observation is not None and observation.result.strip().lower() == "unsure"
    if observation is not None and observation.result.strip() and not unsure:
        raise ValueError(f'{check.name} takes readings or unsure, not "{observation.result}"')
    wanted = max(check.readings, 2 if check.judged == "range" else 1)
    done = observation is not None and observation.complete and len(values) >= wanted
    statistics = _statistics(check, values)
    bands = bands_of(check, refused)
    placed = [bands.place(value) for value in statistics]
    if not done:
        last = max(placed, key=lambda p: (p.best, p.worst), default=None)
        if last is None or not _settled_early(check, bands, last):
            taken = f"{len(values)} of {wanted} readings" if values else "not measured"
            return _plain(check, "missing", f"{check.name}: {taken}")
    best = max(place.best for place in placed)
    worst = max(place.worst for place in placed)
    outcome = {USABLE: "usable", REWORK: "rework", DISCARD: "discard"}[best]
    if best != worst or (unsure and best != DISCARD):
        outcome = "undecided"
    elif best == USABLE and all(bands.proven_new(check, value) for value in statistics):
        outcome = "new"
    told = _told(check, bands, placed, outcome, refused)
    if unsure and outcome == "undecided":
        return replace(told, sentence=f"{told.sentence}; the inspector is unsure, measure again")
    return told


def _statistics(check: Check, values: tuple[int, ...]) -> list[Fraction]:
    """Return what is held against the limits: every reading, or the one figure made of them."""
    if not values or (check.judged == "range" and len(values) < 2):
        return []
    if check.judged == "each":
        return [Fraction(value) for value in values]
    figure = {
        "max": lambda: Fraction(max(values)),
        "min": lambda: Fraction(min(values)),
        "mean": lambda: Fraction(sum(values), len(values)),
        "range": lambda: Fraction(max(values) - min(values)),
    }
    if check.judged not in figure:
        raise ValueError(f'{check.name}: readings cannot be judged by "{check.judged}"')
    return [figure[check.judged]()]


def _settled_early(check: Check, bands: Bands, worst: Placed) -> bool:
    """Return whether the check is lost already, whatever its remaining readings would say."""
    if worst.best != DISCARD:
        return False
    hull = bands.hull()
    too_big = hull.upper is not None and worst.value > hull.upper
    if check.judged in ("max", "range"):
        return too_big
    if check.judged == "min":
        return not too_big
    return check.judged == "each"


def _told(
    check: Check, bands: Bands, placed: list[Placed], outcome: str, refused: Mapping[str, str]
) -> CheckJudgement:
    """Return the judgement with the reading, limit and distance that caused it."""
    edges = _edges(bands, outcome)
    shown = max(placed, key=lambda p: (p.worst, p.best, _beyond(p.value, bands.usable)))
    limit, limit_name = _nearest(edges, shown.value)
    reading, distance = _whole(shown.value, limit)
    operations: tuple[str, ...] = ()
    barred: tuple[tuple[str, str], ...] = ()
    if outcome == "rework":
        operations = bands.operations_for([p.value for p in placed if p.worst == REWORK])
    if outcome == "discard":
        barred = _barred(check, shown.value, refused)
    sentence = f"{check.name}: {_words(check, reading, limit, limit_name, distance)}"
    if operations:
        sentence += f", rework by {' and '.join(operations)}"
    if outcome == "undecided" and bands.uncertainty:
        sentence += (
            f", too close to call with an uncertainty of {with_unit(check, bands.uncertainty)}"
        )
    return CheckJudgement(
        check.code, check.name, check.kind, outcome, sentence + _why_not(barred),
        operations, reading, limit, limit_name, distance, barred,
    )  # fmt: skip


def _edges(bands: Bands, outcome: str) -> list[tuple[int, str]]:
    """Return the limits, with their names, that `outcome` can turn on."""
    hull = bands.hull()
    edges: list[tuple[int, str]] = []
    if outcome != "discard":
        edges += _named(bands.usable, "usable limit")
    if outcome in ("discard", "undecided"):
        for limit, side in _named(hull, "rework limit"):
            usable = bands.usable.lower if side.startswith("lower") else bands.usable.upper
            edges.append((limit, side.replace("rework", "usable") if limit == usable else side))
    return edges


def _named(limits: Limits, name: str) -> list[tuple[int, str]]:
    ends = [(limits.lower, f"lower {name}"), (limits.upper, f"upper {name}")]
    return [(limit, title) for limit, title in ends if limit is not None]


def _beyond(value: Fraction, limits: Limits) -> Fraction:
    """Return how far `value` lies outside `limits`; negative when it is inside."""
    beyond = []
    if limits.lower is not None:
        beyond.append(limits.lower - value)
    if limits.upper is not None:
        beyond.append(value - limits.upper)
    return max(beyond, default=Fraction(0))


def _nearest(edges: list[tuple[int, str]], value: Fraction) -> tuple[int | None, str]:
    return min(edges, key=lambda edge: abs(value - edge[0]), default=(None, ""))


def _whole(value: Fraction, limit: int | None) -> tuple[int, int | None]:
    """Return reading and distance as whole counts; a limit crossed never shows a distance of 0."""
    if limit is None:
        return round(value), None
    gap = value - limit
    distance = math.ceil(gap) if gap > 0 else math.floor(gap)
    return limit + distance, distance


def _barred(
    check: Check, value: Fraction, refused: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    """Return the refused operations whose band would have held `value`."""
    if not refused:
        return ()
    every = bands_of(check)
    if every.place(value).best == DISCARD:
        return ()
    wanted = [b.operation for b in every.rework if _beyond(value, b.limits) <= every.uncertainty]
    return tuple((code, refused[code]) for code in dict.fromkeys(wanted) if code in refused)


def _words(
    check: Check, reading: int, limit: int | None, limit_name: str, distance: int | None
) -> str:
    figure = {
        "max": "largest reading", "min": "smallest reading",
        "mean": "mean reading", "range": "spread of readings",
    }.get(check.judged, "reading")  # fmt: skip
    start = f"{figure} {with_unit(check, reading)}"
    if limit is None or distance is None:
        return start
    if distance == 0:
        return f"{start} is exactly at the {limit_name}"
    side = "above" if distance > 0 else "below"
    gap = with_unit(check, abs(distance))
    return f"{start} is {gap} {side} the {limit_name} of {with_unit(check, limit)}"


def with_unit(check: Check, value: int) -> str:
    """Return `value` (millionths) as text with the check's unit and its gauge's decimals."""
    places = 0
    if check.resolution:
        step = (Decimal(check.resolution) / MICRO).normalize()
        places = max(0, -int(step.as_tuple().exponent))
    exact = (Decimal(value) / MICRO).normalize()
    places = max(places, -int(exact.as_tuple().exponent))
    unit = "" if check.unit in ("", "count") else f" {check.unit}"
    return f"{exact:.{places}f}{unit}"
