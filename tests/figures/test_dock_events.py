"""What is done and undone at the dock: of a core or credit taken back nothing is left."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coretrack.errors import NotAllowed
from coretrack.figures.costing import CostParts
from coretrack.figures.lifecycle import COST_PARTS, GONE, CoreFacts, apply
from coretrack.figures.tags import show_tag
from coretrack.figures.tallies import RETURNS, TallyKey, change, contribution
from coretrack.figures.trade_objects import Line, Lot, apply_line, apply_lot

Step = tuple[str, dict[str, Any]]

RECEIVED: dict[str, Any] = {
    "tag": "T-1",
    "stream": "return",
    "lot": "ANSL-2026-09-01",
    "source": "ANSL",
    "family": "PMP",
    "number": "PB-2410",
    "received_on": "2026-09-01",
    "costs": {"receive": 12_000},
}
NEIGHBOUR: list[Step] = [
    ("received", {**RECEIVED, "tag": "T-2"}),
    ("accepted", {"outcome": "accept", "costs": {"credit": 200_000}}),
    ("put", {"place": "BIN:1"}),
    (
        "inspected",
        {
            "grade": "keep",
            "plan_version": 1,
            "inspector": "Una Pryor",
            "costs": {"wash": 22_000, "inspect": 24_000},
        },
    ),
]
"""The life of another core, which goes on meanwhile."""

SEEN = {"line": "A7/1", "faults": ["cover"]}
_amounts = st.integers(0, 500_000)
_judged: st.SearchStrategy[Step] = st.one_of(
    st.builds(
        lambda outcome, credit: ("accepted", {**SEEN, "outcome": outcome, "costs": credit}),
        st.sampled_from(("accept", "part credit")),
        st.fixed_dictionaries({"credit": _amounts}),
    ),
    st.sampled_from(("refuse", "excess", "comeback")).map(
        lambda outcome: ("accepted", {**SEEN, "outcome": outcome, "hold_until": "2026-09-11"})
    ),
)
_handled: st.SearchStrategy[Step] = st.one_of(
    _judged,
    _amounts.map(lambda price: ("bought", {"costs": {"price": price}})),
    st.sampled_from(
        (
            ("held", {"hold_until": "2026-09-11"}),
            ("unjudged", {}),
            ("put", {"place": "BIN:2"}),
            ("photographed", {"sha256": "0" * 64}),
            ("label printed", {"stock": "roll-50x25"}),
            ("source lost", {}),
        )
    ),
)
HANDLINGS = st.lists(_handled, max_size=14)


def tried(core: CoreFacts | None, step: Step) -> CoreFacts | None:
    """Return the core after a step, or as it was when its state forbids the step."""
    try:
        return apply(core, *step)
    except NotAllowed:
        return core


def after(*steps: Step) -> CoreFacts:
    core: CoreFacts | None = None
    for step in steps:
        core = apply(core, *step)
    assert core is not None
    return core


def counted(roll_ups: dict[TallyKey, Counter[str]]) -> dict[TallyKey, dict[str, int]]:
    """Return the roll-ups without what is zero."""
    found = {key: {n: v for n, v in row.items() if v} for key, row in roll_ups.items()}
    return {key: row for key, row in found.items() if row}


def move(roll_ups: dict[TallyKey, Counter[str]], before: CoreFacts | None, now: CoreFacts) -> None:
    for key, moved in change(before, now).items():
        roll_ups.setdefault(key, Counter()).update(moved)


@given(
    steps=HANDLINGS,
    stream=st.sampled_from(("return", "comeback")),
    family=st.sampled_from(("PMP", "")),
    lag=st.integers(0, 6),
)
def test_a_core_taken_back_leaves_the_roll_ups_of_a_shop_that_never_saw_it(
    steps: list[Step], stream: str, family: str, lag: int
) -> None:
    received = {**RECEIVED, "stream": stream, "family": family}
    roll_ups: dict[TallyKey, Counter[str]] = {}
    core: CoreFacts | None = None
    neighbour: CoreFacts | None = None
    todo = [("received", received), *steps, ("taken back", {})]
    for place in range(max(len(todo), len(NEIGHBOUR) + lag)):
        if place < len(todo):
            before, core = core, tried(core, todo[place])
            assert core is not None
            move(roll_ups, before, core)
        if 0 <= place - lag < len(NEIGHBOUR):
            before, neighbour = neighbour, apply(neighbour, *NEIGHBOUR[place - lag])
            move(roll_ups, before, neighbour)

    assert core is not None
    assert core.state == "taken back"
    assert [getattr(core, part) for part in COST_PARTS] == [0] * len(COST_PARTS)
    assert contribution(core) == {}
    assert counted(roll_ups) == contribution(after(*NEIGHBOUR))


@given(HANDLINGS, HANDLINGS)
def test_a_judgement_taken_back_leaves_the_core_as_it_was_counted(
    first: list[Step], second: list[Step]
) -> None:
    apart = ("photos", "labels", "place", "source_lost")
    core = start = after(("received", RECEIVED))
    for step in [*first, *second]:
        moved = tried(core, step)
        assert moved is not None
        if step[0] == "unjudged" and moved is not core:
            kept = {name: getattr(moved, name) for name in apart}
            assert moved == CoreFacts(**{**vars(start), **kept})
            assert contribution(moved) == {}
        core = moved


@given(_judged, _judged)
def test_judged_again_counts_as_judged_once(first: Step, second: Step) -> None:
    once = after(("received", RECEIVED), second)
    again = after(("received", RECEIVED), first, ("unjudged", {}), second)

    assert again == once
    assert contribution(again) == contribution(once)


@pytest.mark.parametrize("outcome", ["refuse", "excess"])
def test_what_a_core_bought_at_the_dock_cost_is_cost_of_its_months_returns(outcome: str) -> None:
    here = [("received", RECEIVED), ("accepted", {"outcome": outcome})]
    bought = after(*here, ("bought", {"costs": {"price": 95_000}}))
    batch = ("PMP", "batch", RETURNS, "2026-09")

    assert contribution(bought)[batch] == {"received": 1}
    kept = apply(bought, *NEIGHBOUR[-1])
    counts = contribution(kept)[batch]
    parts = CostParts(**{name: counts.get(name, 0) for name in COST_PARTS})
    assert counts["decided"] == counts["kept_first_pass"] == 1
    assert parts.spent == 12_000 + 95_000 + 22_000 + 24_000
    assert "refused" not in counts


def test_a_refused_core_stays_counted_as_refused_when_it_has_left() -> None:
    refused = after(("received", RECEIVED), ("accepted", {"outcome": "refuse"}))

    for way in ("sent back", "cleared out"):
        gone = apply(refused, "left", {"to": way})
        assert gone.state == way
        assert contribution(gone) == contribution(refused)
        assert contribution(gone)["PMP", "family", "PMP", "2026-09"] == {"refused": 1}


@pytest.mark.parametrize("state", sorted(GONE))
def test_a_core_that_is_gone_lies_in_no_bin(state: str) -> None:
    steps: list[Step] = [
        ("received", RECEIVED),
        ("accepted", {"outcome": "refuse"}),
        ("put", {"place": "BIN:2"}),
    ]
    last: Step = ("taken back", {}) if state == "taken back" else ("left", {"to": state})

    gone = after(*steps, last)

    assert (gone.state, gone.place) == (state, "")
    with pytest.raises(NotAllowed, match=f"no longer in the house \\({gone.state_words}\\)"):
        apply(gone, "put", {"place": "BIN:2"})


OPENED = {"key": "A7/1", "invoice": "A7", "quantity": 5, "charge": 200_000}
_line_steps: st.SearchStrategy[Step] = st.one_of(
    _amounts.map(lambda credit: ("credited", {"credit": credit})),
    st.sampled_from((("uncredited", {}), ("refused", {}), ("unrefused", {}))),
    st.tuples(
        st.sampled_from(("waived", "forfeited")),
        st.integers(-1, 6).map(lambda units: {"units": units}),
    ),
)


@given(st.lists(_line_steps, max_size=25))
def test_a_core_line_never_settles_more_units_than_were_sold(steps: list[Step]) -> None:
    line = apply_line(None, "opened", OPENED)
    credits: list[int] = []
    for event, told in steps:
        detail = {"credit": credits[-1] if credits else 7} if event == "uncredited" else told
        try:
            line = apply_line(line, event, detail)
        except NotAllowed:
            continue
        if event == "credited":
            credits.append(detail["credit"])
        if event == "uncredited":
            credits.pop()
        assert line.credited + line.waived + line.forfeited + line.owed == line.quantity
        assert min(line.owed, line.credited, line.waived, line.forfeited, line.refused) >= 0
        assert (line.credited, line.credited_money) == (len(credits), sum(credits))


@given(steps=st.lists(_line_steps, max_size=8), credit=_amounts)
def test_a_credit_or_refusal_taken_back_leaves_the_line_as_it_was(
    steps: list[Step], credit: int
) -> None:
    line = apply_line(None, "opened", OPENED)
    for event, detail in steps:
        if event in ("credited", "refused"):
            line = apply_line(line, event, detail) if line.owed else line
    assume(line.owed)

    credited = apply_line(line, "credited", {"credit": credit})
    refused = apply_line(line, "refused", {})

    assert apply_line(credited, "uncredited", {"credit": credit}) == line
    assert apply_line(refused, "unrefused", {}) == line


@pytest.mark.parametrize("event", ["waived", "forfeited"])
@pytest.mark.parametrize("units", [0, -1, 4])
def test_units_that_are_not_owed_are_neither_waived_nor_forfeited(event: str, units: int) -> None:
    line = Line("A7/1", quantity=5, credited=1, waived=1)

    with pytest.raises(NotAllowed, match=f"Line A7/1 still expects 3; {units} cannot be {event}"):
        apply_line(line, event, {"units": units})


def test_a_line_without_an_expected_core_says_what_became_of_its_units() -> None:
    line = Line("A7/1", quantity=4, credited=1, waived=1, forfeited=2)

    with pytest.raises(NotAllowed) as refused:
        apply_line(line, "credited", {"credit": 1})

    assert refused.value.message == (
        "Line A7/1: 4 sold and 1 already credited, 1 waived, 2 forfeited; one core per unit sold."
    )


@pytest.mark.parametrize(
    ("event", "why"), [("uncredited", "no credit"), ("unrefused", "no refusal")]
)
def test_nothing_is_taken_back_from_a_line_that_was_not_given(event: str, why: str) -> None:
    with pytest.raises(NotAllowed, match=f"has {why} to take back"):
        apply_line(Line("A7/1", quantity=1), event, {"credit": 0})


def test_a_lot_counts_its_photos_and_keeps_all_else() -> None:
    lot = apply_lot(None, "set", {"key": "L1", "kind": "return", "counted": 12})

    twice = apply_lot(apply_lot(lot, "photographed", {}), "photographed", {})

    assert twice == Lot("L1", kind="return", counted=12, photos=2)
    with pytest.raises(NotAllowed, match="no such lot"):
        apply_lot(None, "photographed", {})
    with pytest.raises(NotAllowed, match="'weighed' is not something that happens to a lot"):
        apply_lot(lot, "weighed", {})


@pytest.mark.parametrize("event", ["bought", "held", "picked"])
def test_a_refusal_names_the_core_by_its_grouped_tag_and_its_state_in_words(event: str) -> None:
    waiting = after(("received", RECEIVED), ("accepted", {"outcome": "part credit"}))
    with pytest.raises(NotAllowed) as refused:
        apply(waiting, event, {"into": "U 1", "hold_until": ""})
    said = refused.value.message
    assert said.startswith(f"Core {show_tag(waiting.tag)}: waiting for inspection;")
    with pytest.raises(NotAllowed, match=r"\(accepted for part of the credit\)"):
        apply(waiting, "accepted", {"outcome": "accept"})
