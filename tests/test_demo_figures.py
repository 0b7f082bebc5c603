"""The demo's figures against a recomputation from the raw files that never imports coretrack."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sample_figures import work_out

from coretrack.actions import upkeep
from coretrack.actions.demo import DemoResult, run_demo
from coretrack.actions.rollups import Question, costs
from coretrack.figures.costing import CostRow
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.figures.money import to_cents
from coretrack.records import database, schema

SAMPLES = Path(__file__).resolve().parent.parent / "sample_cores"
NOW = datetime(2026, 11, 2, 12, tzinfo=UTC)


@contextmanager
def no_bar(name: str) -> Iterator[None]:
    del name
    yield None


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DemoResult]:
    folder = tmp_path_factory.mktemp("demo")
    database.open_database(f"sqlite:///{folder / 'coretrack.db'}")
    schema.upgrade()
    yield run_demo(NOW, no_bar, SAMPLES)
    database.release()


@pytest.fixture(scope="module")
def recomputed():
    return work_out(SAMPLES)


def figures(row: CostRow) -> tuple[object, ...]:
    counts = row.yields.counts
    return (
        counts.received,
        counts.decided,
        counts.kept_first_pass,
        counts.kept_after_rework,
        counts.scrapped,
        row.parts.net,
        row.cost_per_good_body,
        *(getattr(row.parts, part) for part in COST_PARTS),
    )


def expected(theirs) -> tuple[object, ...]:
    return (
        theirs.received,
        theirs.decided,
        theirs.kept_first_pass,
        theirs.kept_after_rework,
        theirs.scrapped,
        theirs.net_cost,
        theirs.cost_per_good_body,
        *(theirs.costs.get(part, 0) for part in COST_PARTS),
    )


@pytest.mark.parametrize(
    ("by", "method"), [("family", "by_family"), ("source", "by_source"), ("number", "by_number")]
)
def test_counts_and_money_of_every_group_equal_the_recomputation(demo, recomputed, by, method):
    theirs = getattr(recomputed, method)()
    ours = {row.group: row for row in costs(Question(by=by)) if row.yields.counts.received}
    assert set(ours) == {group for group, found in theirs.items() if found.received}
    for group, row in ours.items():
        assert figures(row) == expected(theirs[group]), group


def test_every_purchased_lot_equals_the_recomputation(demo, recomputed):
    theirs = recomputed.by_lot()
    ours = {row.group: row for row in costs(Question(by="lot"))}
    assert len(theirs) >= 6
    for group, found in theirs.items():
        assert figures(ours[group]) == expected(found), group


def test_every_month_of_a_family_equals_the_recomputation(demo, recomputed):
    compared = 0
    for key, found in recomputed.by_month().items():
        family, month = key.rsplit(" ", 1)
        rows = costs(Question(by="month", family=family, first_month=month, last_month=month))
        if found.received:
            assert figures(rows[0]) == expected(found), key
            compared += 1
    assert compared > 12


def test_cores_that_count_nowhere_are_counted_apart(demo, recomputed):
    assert demo.summary.unknown == recomputed.unknown > 0
    families = recomputed.by_family().values()
    assert demo.summary.refused == sum(found.refused for found in families) > 0
    assert demo.summary.scrapped == sum(found.scrapped for found in families) > 0
    good = sum(found.kept_first_pass + found.kept_after_rework for found in families)
    assert demo.summary.kept == good > 0


def test_every_core_that_came_in_is_counted_once(demo):
    summary = demo.summary
    assert sum(count for _, count in summary.whereabouts) == summary.received
    assert (summary.excess, summary.comebacks) == (2, 5)


def test_every_familys_shown_steps_add_up_to_its_shown_cost(demo):
    for row in demo.summary.costs:
        shown_steps = sum(to_cents(step.amount) for step in row.waterfall)
        assert shown_steps == to_cents(row.cost_per_good_body), row.group


def test_exactly_the_planted_rows_are_rejected(demo, recomputed):
    rejected = [(answer.file, row.row) for answer in demo.answers for row in answer.rejected]
    assert len(rejected) == 2 == len(recomputed.rejects)
    reasons = " ".join(row.why for answer in demo.answers for row in answer.rejected)
    assert "came in before" in reasons
    assert "Did you mean 6.0046 mm (0.2364 in)?" in reasons


@pytest.mark.parametrize(
    "story",
    [
        "CAL: waiting ungraded",
        "lot P26-02 gave 25.8 % good bodies, bought for 64.0 %",
        "TBH: yield of returns fell from 75.8 % to 48.4 %",
        "after its check fell due",
        "lost their source",
        "not identified",
        "not stored at import",
    ],
)
def test_the_planted_stories_are_pointed_out(demo, story):
    assert any(story in item.headline for item in demo.summary.attention), story


def test_the_history_bears_everything_out(demo):
    events, differences = upkeep.verify()
    assert events > 5000
    assert differences == []


def test_run_again_the_demo_changes_nothing_and_says_so(demo):
    before, _ = upkeep.verify()
    again = run_demo(NOW, no_bar, SAMPLES)
    assert not again.changed
    assert all(
        answer.stored == 0 and (answer.already or answer.rejected) for answer in again.answers
    )
    assert upkeep.verify() == (before, [])
    assert again.summary == demo.summary
