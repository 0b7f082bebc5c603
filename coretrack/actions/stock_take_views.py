"""What the pages of a stock-take show: the count so far, core by core, and its file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from coretrack.actions.desk_day import the_desk
from coretrack.actions.stock_takes import LOOSE, compared, expected_of, hand_of, in_front
from coretrack.errors import NotFound
from coretrack.figures.bench_objects import StockTake
from coretrack.figures.core_story import StateShown, state_shown
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.stock_counts import ELSEWHERE, FOUND, RESULTS, Compared, tally
from coretrack.paper.cells import to_csv
from coretrack.records import happenings, queries, shelf_queries
from coretrack.records.database import connection
from coretrack.records.unseen import unseen

TAKES_SHOWN = 20

_CHIPS = {
    "found": "good",
    "in the wrong bin": "ask",
    "missing": "stop",
    "not expected": "ask",
    "left meanwhile": "wait",
}


@dataclass(frozen=True)
class TakeShown:
    """A stock-take in a list; `counts` by result, in the order of RESULTS."""

    code: str
    scope: str
    status: StateShown
    begun: str
    by: str
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Row:
    """One core of a stock-take; the bins are names, empty where there is none."""

    tag: str
    family: str
    number: str
    result: str
    chip: str
    expected: str
    found: str
    state: str


@dataclass(frozen=True)
class TakeView:
    """One stock-take; `here` is the bin this person counts, `bins` what was counted per bin.

    `version` goes back with the form that closes it, so that nothing counted since is overlooked.
    """

    code: str
    scope: str
    status: StateShown
    open: bool
    begun: str
    by: str
    closed: str
    closed_by: str
    note: str
    counts: tuple[tuple[str, int], ...]
    expected: int
    counted: int
    rows: tuple[Row, ...]
    found: tuple[Row, ...]
    bins: tuple[tuple[str, int], ...]
    here: str
    version: int


def takes_view() -> tuple[TakeShown, ...]:
    """Return the stock-takes begun last, newest first."""
    with connection():
        names = _names()
        return tuple(_shown(take, names) for take in shelf_queries.stock_takes(TAKES_SHOWN))


def take_view(code: str, person: str) -> TakeView:
    """Return one stock-take as `person` sees it; NotFound when there is none."""
    with connection():
        take = _take(code)
        names = _names()
        shown = _shown(take, names)
        rows = _rows(_seen(take), names)
        history = happenings.history("stock take", code)
        last = history[-1]
        is_open = take.status == "open"
        closed = "" if is_open else f"{the_desk().moment(last.at):%Y-%m-%d %H:%M}"
        here = in_front(take, hand_of(code, person))
        hidden = unseen()
    per_bin: dict[str, int] = {}
    for tag, place in take.found.items():
        if tag not in hidden:
            per_bin[place] = per_bin.get(place, 0) + 1
    return TakeView(
        code=code,
        scope=shown.scope,
        status=shown.status,
        open=is_open,
        begun=shown.begun,
        by=shown.by,
        closed=closed,
        closed_by="" if is_open else last.by,
        note=take.note,
        counts=shown.counts,
        expected=sum(
            each.how != ELSEWHERE and each.tag not in hidden for each in expected_of(take)
        ),
        counted=sum(tag not in hidden for tag in take.found),
        rows=tuple(row for row in rows if row.result != FOUND),
        found=tuple(row for row in rows if row.result == FOUND),
        bins=tuple((names.get(place, place), number) for place, number in sorted(per_bin.items())),
        here=names.get(here, here),
        version=len(history),
    )


def take_csv(code: str) -> bytes:
    """Return a stock-take as a CSV file, what has to be looked at first."""
    headings = (
        "stock-take", "tag", "family", "number", "result", "bin by the books", "counted in", "now",
    )  # fmt: skip
    with connection():
        rows = _rows(_seen(_take(code)), _names())
    return to_csv(
        headings,
        (
            (code, row.tag, row.family, row.number, row.result, row.expected, row.found, row.state)
            for row in rows
        ),
    )


def _take(code: str) -> StockTake:
    take = shelf_queries.stock_take(code)
    if take is None:
        raise NotFound(f"There is no stock-take '{code}'; choose one of the list.")
    return take


def _seen(take: StockTake) -> tuple[Compared, ...]:
    """Return what a count says of the cores whose verdict is not hidden from whoever looks."""
    hidden = unseen()
    return tuple(line for line in compared(take) if line.tag not in hidden)


def _names() -> dict[str, str]:
    """Return the names of places by code; no bin is called so, wherever it is meant."""
    kinds = ("bin", "basket", "rack")
    named = {place.key: place.name for kind in kinds for place in shelf_queries.places_of(kind)}
    return named | {LOOSE: "no bin"}


def _shown(take: StockTake, names: Mapping[str, str]) -> TakeShown:
    begun = happenings.history("stock take", take.key)[0]
    family, place = take.scope.get("family", ""), take.scope.get("bin", "")
    scope = ", ".join(filter(None, (family, names.get(place, place)))) or "the whole shelf"
    counts = tally(_seen(take))
    is_open = take.status == "open"
    return TakeShown(
        take.key,
        scope,
        StateShown("being counted" if is_open else "closed", "wait" if is_open else "good"),
        f"{the_desk().moment(begun.at):%Y-%m-%d %H:%M}",
        begun.by,
        tuple((result, counts[result]) for result in RESULTS),
    )


def _rows(lines: tuple[Compared, ...], names: Mapping[str, str]) -> list[Row]:
    cores = queries.cores_tagged(line.tag for line in lines)
    return [_row(line, cores[line.tag], names) for line in lines]


def _row(line: Compared, core: CoreFacts, names: Mapping[str, str]) -> Row:
    seen = line.result not in ("missing", "left meanwhile")
    asked = line.result != "not expected"
    return Row(
        line.tag,
        core.family,
        core.number,
        line.result,
        _CHIPS[line.result],
        (names.get(line.expected, line.expected) or "no bin") if asked else "",
        (names.get(line.found, line.found) or "no bin") if seen else "",
        state_shown(core).words,
    )
