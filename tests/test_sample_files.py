"""The demo shop's committed files: made again they say the same, and they hold what is planted."""

from __future__ import annotations

import csv
import subprocess
import sys
from collections import Counter, defaultdict
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from PIL import Image

HERE = Path(__file__).resolve().parent
SAMPLES = HERE.parent / "sample_cores"
sys.path.insert(0, str(HERE))

from sample_figures import Shop, work_out  # noqa: E402
from sample_rules import limits, money, size, split  # noqa: E402

GENERATED = (
    "sales_*.xlsx",
    "returns_*.csv",
    "lots/*",
    "readings_*.csv",
    "rework_*.csv",
    "events/*",
    "bench/*",
    "bodies/*",
    "process_checks_*.csv",
)


@pytest.fixture(scope="module")
def shop() -> Shop:
    return work_out(SAMPLES)


@pytest.fixture(scope="module")
def made_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("samples")
    command = [sys.executable, "-B", str(SAMPLES / "make_samples.py"), "--out", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder


def files(folder: Path) -> list[Path]:
    return sorted(p.relative_to(folder) for pattern in GENERATED for p in folder.glob(pattern))


def contents(path: Path) -> list[list[Any]]:
    if path.suffix == ".csv":
        return list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
    if path.suffix == ".png":
        with Image.open(path) as drawn:
            return [[drawn.convert("RGB").tobytes()]]
    sheet = load_workbook(path).active
    assert sheet is not None
    return [[(cell.value, cell.number_format) for cell in row] for row in sheet.iter_rows()]


def rows(pattern: str) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    for path in sorted(SAMPLES.glob(pattern)):
        text = path.read_text(encoding="utf-8")
        separator = ";" if ";" in text.split("\n", 1)[0] else ","
        found += csv.DictReader(text.splitlines(), delimiter=separator)
    return found


def test_the_generator_makes_the_committed_files_again(made_again: Path) -> None:
    assert files(made_again) == files(SAMPLES)
    for name in files(SAMPLES):
        assert contents(made_again / name) == contents(SAMPLES / name), name


def test_the_files_stay_small() -> None:
    assert sum(p.stat().st_size for p in SAMPLES.rglob("*") if p.is_file()) < 3_000_000


def test_cores_sales_and_lots_are_as_many_as_a_small_shop_has(shop: Shop) -> None:
    assert len(shop.lines) == 600
    assert 1_400 <= len(shop.cores) <= 1_600
    bought = Counter(core.lot for core in shop.cores.values() if core.lot)
    assert len(bought) >= 6
    assert bought["P25-09"] == 300


def test_exactly_two_rows_of_all_files_are_rejects(shop: Shop) -> None:
    double, inch = shop.rejects
    assert double[0] == "returns_2026-10.csv"
    assert "received before" in double[2]
    assert inch[0] == "readings_bench1_2026-09.csv"
    assert "0.2364" in inch[2]
    assert shop.cores[inch[1]].state == "open"


def test_each_serial_is_received_once_but_for_the_double_claim() -> None:
    serials = Counter(row["serial"] for row in rows("returns_*.csv"))
    assert [count for count in serials.values() if count > 1] == [2]


def test_yields_lie_in_the_ranges_of_the_trade(shop: Shop) -> None:
    family = shop.by_family()
    ranges = {"INJ": ("0.55", "0.85"), "TBH": ("0.65", "0.90"), "CAL": ("0.75", "0.95")}
    for code, (low, high) in ranges.items():
        found = family[code].body_yield
        assert found is not None
        assert Fraction(low) <= found <= Fraction(high), code
    assert Fraction(family["CAL"].decided, family["CAL"].received) < Fraction(9, 10)


def test_refusals_and_part_credits_are_as_common_as_in_the_trade(shop: Shop) -> None:
    outcomes = Counter(core.outcome for core in shop.cores.values())
    judged = outcomes["accept"] + outcomes["part credit"] + outcomes["refuse"]
    assert Fraction(3, 100) <= Fraction(outcomes["refuse"], judged) <= Fraction(10, 100)
    assert Fraction(5, 100) <= Fraction(outcomes["part credit"], judged) <= Fraction(12, 100)


def test_half_of_the_cores_are_back_within_about_16_days_and_some_after_60(shop: Shop) -> None:
    sold = {line.invoice: line.sold for line in shop.lines}
    lags = sorted(
        (date.fromisoformat(row["received"]) - sold[row["invoice"]]).days
        for row in rows("returns_*.csv")
        if row["invoice"]
    )
    assert 14 <= lags[len(lags) // 2] <= 18
    assert lags[-1] > 60


def test_the_bad_lot_comes_to_far_less_than_its_bid(shop: Shop) -> None:
    found = shop.by_lot()["P26-02"].body_yield
    assert found is not None
    assert found < Fraction("0.64") - Fraction("0.25")


def test_turbo_returns_get_worse_after_the_charge_increase(shop: Shop) -> None:
    def share(first: date, last: date) -> Fraction:
        kept = [
            core.state == "keep"
            for core in shop.cores.values()
            if core.family == "TBH"
            and core.decided
            and not core.lot
            and first <= core.received < last
        ]
        return Fraction(sum(kept), len(kept))

    rise = date(2026, 7, 13)
    assert share(rise, date(2026, 11, 1)) < share(date(2026, 5, 1), rise) - Fraction("0.15")


def test_one_inspector_is_stricter_by_about_8_points(shop: Shop) -> None:
    kept: dict[str, list[bool]] = defaultdict(list)
    for core in shop.cores.values():
        if core.counted and core.decided:
            kept[core.inspector].append(core.state == "keep")
    share = {name: Fraction(sum(each), len(each)) for name, each in kept.items()}
    gap = share["Teodor Lanzik"] - share["Mirelle Oxgate"]
    assert Fraction("0.06") <= gap <= Fraction("0.10")


def test_the_overdue_gauge_is_used_after_its_date() -> None:
    last = max(row["time"] for row in rows("readings_bench2_*.csv") if row["gauge"] == "DB1")
    assert last > "2026-10-01"


def test_the_tipped_basket_costs_twelve_cores_their_source_and_not_their_family(
    shop: Shop,
) -> None:
    lost = [core for core in shop.cores.values() if core.source_lost]
    assert len(lost) == 12
    assert {core.family for core in lost} == {"INJ"}
    assert all(core.counted and core.looks for core in lost)
    assert min(look[0] for core in lost for look in core.looks).date() > date(2026, 7, 16)
    by_source = sum(found.received for found in shop.by_source().values())
    assert shop.totals().received - by_source == 12
    assert shop.by_family()["INJ"].source_lost == 12


def test_the_set_of_six_has_five_cores_back(shop: Shop) -> None:
    line = next(line for line in shop.lines if line.invoice == "26-9001")
    assert (line.quantity, line.accepted) == (6, 5)
    sixth = [r for r in rows("returns_2026-06.csv") if r["invoice"] == "26-9001"][-6:]
    outcomes = Counter(shop.cores[row["serial"]].outcome for row in sixth)
    assert outcomes == {"accept": 5, "excess": 1}


@pytest.mark.parametrize(
    ("invoice", "credit"), [("26-9002", "22.00"), ("26-9003", "21.78"), ("26-9004", "22.00")]
)
def test_the_last_day_of_the_window_is_in_and_the_next_is_late(
    shop: Shop, invoice: str, credit: str
) -> None:
    row = next(row for row in rows("returns_2026-08.csv") if row["invoice"] == invoice)
    assert shop.cores[row["serial"]].money["credit"] == money(credit)


def test_files_read_month_by_month_never_need_a_later_file(shop: Shop) -> None:
    place = {"bench": 0, "rework": 1, "recheck": 2}
    for core in shop.cores.values():
        steps = [(when, "rework") for when, *_ in core.work]
        steps += [(w, "recheck" if "recheck" in name else "bench") for w, _, _, name in core.looks]
        in_time = [kind for _, kind in sorted(steps)]
        by_file = [kind for _, kind in sorted(steps, key=lambda s: (s[0].month, place[s[1]], s[0]))]
        assert in_time == by_file, core.serial


def test_no_reading_stands_closer_than_its_guard_to_a_limit_of_rework(shop: Shop) -> None:
    """Only readings near the usable limits may be undecided, so that no reader's rule differs."""
    check = next(c for c in shop.families["INJ"]["checks"] if c["code"] == "guide_bore")
    guard = Fraction(check["uncertainty"])
    edges = {edge for row in check["rework"] for edge in limits(row["limits"])}
    edges -= set(limits(check["usable"]))
    sizes = [
        size(text)
        for core in shop.cores.values()
        for _, code, text, _ in core.looks
        if core.family == "INJ" and code == "guide_bore"
    ]
    assert len(sizes) > 1_000
    assert not [value for value in sizes for edge in edges if abs(value - edge) <= guard]


def test_every_reading_of_a_core_is_of_one_day_per_inspection(shop: Shop) -> None:
    for core in shop.cores.values():
        days = {(name, when.date()) for when, _, _, name in core.looks}
        assert len(days) <= 1 + len(core.work), core.serial


def test_times_of_readings_differ_so_that_no_two_rows_are_the_same() -> None:
    lines = [
        line
        for path in SAMPLES.glob("readings_*.csv")
        for line in path.read_text(encoding="utf-8").splitlines()[1:]
    ]
    assert len(lines) == len(set(lines))
    assert datetime.fromisoformat(lines[0].replace(";", ",").split(",")[0])


def test_costs_of_lots_add_up_to_price_and_freight(shop: Shop) -> None:
    terms = {row["lot"]: row for row in rows("lots/terms.csv")}
    for lot, row in terms.items():
        mine = [core for core in shop.cores.values() if core.lot == lot]
        assert sum(core.money["freight"] for core in mine) == money(row["freight"])
        if row["basis"] == "lump":
            assert sum(core.money["price"] for core in mine) == money(row["price"])


def test_counts_of_families_add_up(shop: Shop) -> None:
    totals = shop.totals()
    families = shop.by_family()
    for name in ("received", "decided", "kept_first_pass", "kept_after_rework", "scrapped"):
        assert sum(getattr(f, name) for f in families.values()) == getattr(totals, name)
    assert totals.decided == totals.good + totals.scrapped
    outside = totals.refused + totals.excess + shop.unknown + shop.comebacks
    assert totals.received + outside == len(shop.cores)


def test_a_split_by_largest_remainder_keeps_the_total() -> None:
    assert split(10_000, [Fraction(1)] * 3) == [3_400, 3_300, 3_300]
    assert split(10_001, [Fraction(1)] * 3) == [3_334, 3_334, 3_333]


def test_the_cost_of_one_core_by_hand(shop: Shop) -> None:
    """Twenty-two dollars of credit, then one look in July or later, worked out with a pencil."""
    row = next(row for row in rows("returns_2026-08.csv") if row["invoice"] == "26-9002")
    core = shop.cores[row["serial"]]
    labour = Fraction("38.50") / 60
    assert core.money["receive"] == round(labour * Fraction("2.5") * 10_000 + 1_200)
    assert core.money["wash"] == round(labour * Fraction("3.5") * 10_000 + 5_600)
    assert core.money["inspect"] == round(labour * 5 * 10_000 + 2_000)
