"""Whatever comes in and in which order: money, counts and roll-ups agree with the cores."""

from __future__ import annotations

from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest
from core_yard import Yard
from databases import copied
from hypothesis import given, settings
from hypothesis import strategies as st

from coretrack.figures import tallies
from coretrack.figures.lifecycle import COST_PARTS
from coretrack.records import database, queries
from coretrack.records.database import connection
from coretrack.records.kinds import KINDS
from coretrack.records.tables import CoreRow, LineRow, LotRow

SERIALS = [f"N{n}" for n in range(6)]
NUMBERS = ["GP-1040", "GP-2080", "CB-77", "ZZ-9"]
DAYS = [f"2026-0{month}-{day:02d}" for month in (5, 6, 7, 8) for day in (3, 11, 24)]
BORES = [("24.010",) * 3, ("23.950",) * 3, ("24.039",) * 3, ("24.100",) * 3, ("24.010",)]

serials = st.lists(st.sampled_from(SERIALS), min_size=1, max_size=4)
days = st.sampled_from(DAYS)
numbers = st.sampled_from(NUMBERS)
steps = st.one_of(
    st.tuples(st.just("sell"), days, numbers, st.integers(1, 4)),
    st.tuples(st.just("return"), days, numbers, serials,
              st.sampled_from(["", "port", "plug", "cracked", "older; box"])),
    st.tuples(st.just("comeback"), days, numbers, serials),
    st.tuples(st.just("buy"), days, numbers, serials,
              st.sampled_from(["piece", "weight", "lump"]), st.integers(0, 9999)),
    st.tuples(st.just("measure"), days, st.sampled_from(SERIALS), st.sampled_from(BORES),
              st.sampled_from(["3", "9", "30"]), st.sampled_from(["none", "none", "indication"])),
    st.tuples(st.just("finish"), days, st.sampled_from(SERIALS),
              st.sampled_from(["hone", "lap"])),
    st.tuples(st.just("tip"), serials),
    st.tuples(st.just("overrule"), st.sampled_from(SERIALS),
              st.sampled_from(["keep", "scrap", "rework"])),
)  # fmt: skip


def act(yard: Yard, place: int, step: tuple[object, ...]) -> None:
    """Do one step; what the shop's rules forbid is turned away and changes nothing."""
    from coretrack.errors import CoretrackError

    kind, *rest = step
    match kind:
        case "sell":
            day, number, quantity = rest
            charge = "15.55" if number == "CB-77" else ""
            yard.sell(f"S{place}", quantity, day=str(day), number=str(number), charge=charge)
        case "return":
            day, number, cores, faults = rest
            told = {"day": str(day), "number": str(number), "faults": str(faults)}
            yard.bring_back(*cores, **told)  # type: ignore[misc]
        case "comeback":
            day, number, cores = rest
            yard.bring_back(*cores, day=str(day), number=str(number), comeback="x")  # type: ignore[misc]
        case "buy":
            day, number, cores, basis, cents = rest
            price = f"{int(str(cents)) / 100:.2f}"
            yard.buy(*cores, lot=f"L{place}", day=str(day), number=str(number),  # type: ignore[misc]
                     basis=str(basis), price=price, freight="7.77")  # fmt: skip
        case "measure":
            day, serial, bore, face, crack = rest
            at = f"{day} 09:{place:02d}"
            yard.measure(str(serial), at, bore=bore, face=str(face), crack=str(crack))  # type: ignore[arg-type]
        case "finish":
            day, serial, operation = rest
            yard.finish(str(serial), str(operation), f"{day} 12:{place:02d}")
        case "tip":
            yard.tip(*rest[0])  # type: ignore[misc]
        case "overrule":
            serial, to = rest
            with suppress(CoretrackError, IndexError):
                yard.overrule(str(serial), str(to))


def check(yard: Yard) -> None:
    """Compare every sum with the cores themselves."""
    with connection():
        cores = [KINDS["core"].from_row(row) for row in CoreRow.select()]
        lots, lines = list(LotRow.select()), list(LineRow.select())
        stored = {
            (grouping, family, value, month): {n: v for n, v in numbers.items() if v}
            for grouping in tallies.GROUPINGS
            for family, value, month, numbers in queries.tallies(grouping)
        }
    bought = [lot for lot in lots if lot.kind == "purchase"]
    assert sum(core.price for core in cores) == sum(lot.price_total for lot in bought)
    assert sum(core.freight for core in cores) == sum(lot.freight for lot in bought)
    assert sum(core.credit for core in cores) == sum(line.credited_money for line in lines)
    assert len(cores) == sum(lot.pieces for lot in lots)
    for line in lines:
        mine = [core for core in cores if core.line == line.key]
        assert line.credited == sum(core.acceptance != "refuse" for core in mine) <= line.quantity
        assert line.refused == sum(core.acceptance == "refuse" for core in mine)
        assert line.credited_money == sum(core.credit for core in mine)
        assert all(core.credit <= line.charge for core in mine)
    assert all(core.credit == 0 for core in cores if core.stream != "return")
    expected: dict[tuple[str, str, str, str], Counter[str]] = {}
    for core in cores:
        for (family, grouping, value, month), numbers in tallies.contribution(core).items():
            expected.setdefault((grouping, family, value, month), Counter()).update(numbers)
    counted = {key: {n: v for n, v in row.items() if v} for key, row in expected.items()}
    assert {k: v for k, v in stored.items() if v} == {k: v for k, v in counted.items() if v}
    for row in counted.values():
        kept = row.get("kept_first_pass", 0) + row.get("kept_after_rework", 0)
        assert row.get("decided", 0) == kept + row.get("scrapped", 0) <= row.get("received", 0)
    decided = [core for core in cores if core.decided and core.in_stream]
    for part in COST_PARTS:
        total = sum(row.get(part, 0) for key, row in counted.items() if key[0] == "family")
        assert total == sum(getattr(core, part) for core in decided)
    assert yard.is_sound()


@pytest.fixture(scope="module")
def opened_yard(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the shop set up and no cores, to be copied by each example."""
    folder = tmp_path_factory.mktemp("yard")
    database.open_database(copied(migrated_file, folder).url)
    Yard().set_up()
    database.close_database()
    return folder / "coretrack.db"


@settings(max_examples=40, deadline=None)
@given(done=st.lists(steps, min_size=1, max_size=14))
def test_any_sequence_of_imports_keeps_money_counts_and_roll_ups_true(
    opened_yard: Path, tmp_path_factory: pytest.TempPathFactory, done: list[tuple[object, ...]]
) -> None:
    fresh = copied(opened_yard, tmp_path_factory.mktemp("run"))
    database.open_database(fresh.url)
    try:
        yard = Yard()
        for place, step in enumerate(done):
            act(yard, place, step)
        check(yard)
    finally:
        database.close_database()
