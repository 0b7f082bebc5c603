"""The AIAG gauge study again, typed reading by reading into a study at the bench.

Data and results as in test_gauge_study_aiag.py: AIAG, Measurement Systems Analysis, 4th edition,
chapter III section B. The U that is proposed is derived: twice the published 0.302373 with the
gauge's step of 0.01 below its repeatability, rounded up to two digits.
"""

from __future__ import annotations

from datetime import datetime
from itertools import count

import pytest
from databases import TestDatabase
from published.test_gauge_study_aiag import SHEET
from small_shop import SmallShop

from coretrack.actions.gauge_studies import StudyView, apply_study, begin_study, study_view
from coretrack.actions.gauges import GaugeTold, add_gauge, gauge_view
from coretrack.actions.station_scans import scan
from coretrack.actions.study_cells import StudyTold
from coretrack.figures.scan_replies import Spot
from coretrack.records.database import connection
from coretrack.records.verify import verify

BY = "Una Pryor"
keys = (f"aiag-{number}" for number in count())
clock = count(1_000_000, 2_000)


@pytest.fixture
def typed(db: TestDatabase, shop: SmallShop, now: datetime) -> StudyView:
    gauge = GaugeTold("AI1", "Comparator", "comparator", "mm", "0.01", "0.5", "180", "2027-01-01")
    add_gauge(gauge, by=BY, station="bench", now=now, key=next(keys))
    told = StudyTold("AI1", "", ", ".join(SHEET), "10", "3")
    key = begin_study(told, by=BY, station="bench", now=now, key=next(keys))
    while cell := study_view(key).next:
        text = SHEET[cell.inspector][cell.trial - 1].split()[int(cell.piece) - 1]
        spot = Spot("study", key, "", next(clock))
        reply = scan(text, spot, by=BY, station="bench", now=now, key=next(keys))
        assert reply.tone == "good", reply
    return study_view(key)


def test_the_page_shows_the_published_spreads_of_both_ways(typed: StudyView) -> None:
    assert typed.result is not None
    anova, ranges = typed.result.methods
    assert [part.sd for part in anova.parts[:4]] == ["0.200 mm", "0.227 mm", "0.302 mm", "1.04 mm"]
    assert [part.of_total for part in anova.parts[:4]] == ["18.4 %", "20.9 %", "27.9 %", "96.0 %"]
    assert [part.sd for part in ranges.parts[:4]] == ["0.202 mm", "0.230 mm", "0.306 mm", "1.10 mm"]
    assert [part.of_total for part in ranges.parts[:4]] == ["17.6 %", "20.0 %", "26.7 %", "96.4 %"]
    assert (anova.categories, ranges.categories) == ("4.9", "5.1")
    assert "p = 0.974" in typed.result.interaction


def test_the_owner_takes_the_proposed_u_over_as_a_dated_event(
    typed: StudyView, now: datetime
) -> None:
    assert typed.result is not None
    assert typed.result.uncertainty == "0.61"
    key = typed.study.key
    said = apply_study(key, role="owner", by="Edda Mallin", station="", now=now, key=next(keys))
    assert "U of AI1 is 0.61 mm now (was 0.5 mm)" in said
    last = gauge_view("AI1", now).history[0]
    assert (last.by, last.why, last.at) == ("Edda Mallin", f"gauge study {key}", now)
    assert "U 0.61" in last.what
    with connection():
        assert verify()[1] == []
