"""The invented trade's fixed terms: who trades, how often, and the lots that were bought."""

from __future__ import annotations

import random
import tomllib
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

SEED = "plover-creek-31"
FIRST_DAY = date(2026, 5, 1)
LAST_DAY = date(2026, 10, 30)
SALES_LINES = 600
TURBO_CHARGE_RISE = date(2026, 7, 13)

CUSTOMERS = {
    # code: (weight, returned per mille, better or worse than usual, charge mode, families)
    "ALDW": (22, 900, 40, "up front", ("INJ", "TBH")),
    "BRAM": (16, 860, -40, "up front", ("INJ", "TBH", "CAL")),
    "CORV": (18, 820, 0, "up front", ("INJ", "TBH", "CAL")),
    "DUNM": (10, 930, 30, "core first", ("INJ", "TBH")),
    "ESKT": (14, 940, 60, "up front", ("TBH", "CAL")),
    "FENL": (20, 800, -70, "billed later", ("INJ", "TBH", "CAL")),
    "GARR": (14, 870, -20, "billed later", ("INJ", "CAL")),
}
FAMILY_WEIGHTS = {"INJ": 42, "TBH": 27, "CAL": 31}
LONG_WINDOW = {"ESKT": 75}
QUANTITIES = {
    "INJ": ((1, 42), (2, 22), (4, 22), (6, 12), (8, 2)),
    "TBH": ((1, 92), (2, 8)),
    "CAL": ((1, 48), (2, 48), (4, 4)),
}
LAGS = ((0, 2), (10, 6), (25, 11), (50, 18), (75, 29), (90, 47), (95, 66), (99, 95), (100, 112))
"""Share of cores that are back (per cent) against days since the sale; straight between points."""

REFUSING = {
    "INJ": ("cracked", "apart", "apart", "burnt"),
    "TBH": ("cracked", "copy"),
    "CAL": ("cracked", "welded"),
}
TAKING_OFF = {
    "INJ": ("connector", "fitting"),
    "TBH": ("shaft", "flange"),
    "CAL": ("bracket", "piston"),
}
HARMLESS = {"INJ": ("tip", "box"), "TBH": ("soot", "box"), "CAL": ("stain", "box")}
UNKNOWN_NUMBERS = ("R 400-17", "5518 GG", "M-0093", "L 62 T", "770.03")
LETTER = {"INJ": "N", "TBH": "T", "CAL": "C", "": "X"}


@dataclass
class Sale:
    """One core line as sold; `charge` is per piece."""

    invoice: str
    line: int
    sold: date
    customer: str
    number: str
    family: str
    group: str
    quantity: int
    charge: str
    mode: str
    window: int | None = None
    accepted: int = 0
    expected: int = 0


@dataclass
class Core:
    """One core that arrived, as its paper says, and how good it truly is (per mille)."""

    received: date
    source: str
    number: str
    family: str
    group: str
    serial: str
    good_per_mille: int
    sale: Sale | None = None
    invoice: str = ""
    delivery: str = ""
    faults: tuple[str, ...] = ()
    comeback: bool = False
    carrier: str = ""
    lot: str = ""
    mass: str = ""
    price: str = ""
    note: str = ""
    inspected: bool = True
    not_before: date | None = None


@dataclass(frozen=True)
class LotTerms:
    """A purchased lot: its terms, what it holds, and how it truly turns out."""

    code: str
    file: str
    source: str
    received: date
    basis: str
    price: str
    freight: str
    bid_yield: str
    pieces: dict[str, int]
    good_per_mille: dict[str, int]
    note: str = ""
    inspected: bool = True


LOTS = (
    LotTerms(
        "P25-09",
        "P25-09_closing_shop.csv",
        "LOWM",
        date(2025, 11, 18),
        "lump",
        "1260.00",
        "210.00",
        "0.80",
        {"CAL": 300},
        {"CAL": 800},
        "rows C and D, never sorted",
        False,
    ),
    LotTerms(
        "P26-01",
        "P26-01_injectors.csv",
        "HOLT",
        date(2026, 5, 6),
        "piece",
        "14.50",
        "68.00",
        "0.66",
        {"INJ": 56},
        {"INJ": 715},
    ),
    LotTerms(
        "P26-02",
        "P26-02_two_grades.csv",
        "IVER",
        date(2026, 6, 10),
        "piece",
        "15.50",
        "74.00",
        "0.64",
        {"INJ": 62},
        {"INJ": 335},
    ),
    LotTerms(
        "P26-03",
        "P26-03_turbos.csv",
        "KELD",
        date(2026, 6, 24),
        "weight",
        "13.40",
        "95.00",
        "0.74",
        {"TBH": 42},
        {"TBH": 690},
    ),
    LotTerms(
        "P26-04",
        "P26-04_mixed_bench.xlsx",
        "JESS",
        date(2026, 7, 22),
        "lump",
        "1485.00",
        "120.00",
        "0.70",
        {"INJ": 34, "TBH": 14, "CAL": 16, "": 6},
        {"INJ": 720, "TBH": 800, "CAL": 860},
    ),
    LotTerms(
        "P26-05",
        "P26-05_calipers.csv",
        "KELD",
        date(2026, 8, 12),
        "weight",
        "1.85",
        "88.00",
        "0.82",
        {"CAL": 54},
        {"CAL": 800},
    ),
    LotTerms(
        "P26-06",
        "P26-06_injectors.xlsx",
        "HOLT",
        date(2026, 9, 9),
        "piece",
        "16.00",
        "61.00",
        "0.66",
        {"INJ": 48},
        {"INJ": 690},
    ),
    LotTerms(
        "P26-07",
        "P26-07_turbos.csv",
        "JESS",
        date(2026, 10, 7),
        "lump",
        "1190.00",
        "58.00",
        "0.76",
        {"TBH": 26, "": 2},
        {"TBH": 790},
    ),
)


@dataclass
class Trade:
    """Everything that came and went before the bench."""

    sales: list[Sale] = field(default_factory=list)
    returns: list[Core] = field(default_factory=list)
    lots: list[tuple[LotTerms, list[Core]]] = field(default_factory=list)


def read_families(shop: Path) -> dict[str, dict[str, Any]]:
    """Return the hand-written family files by code."""
    files = sorted((shop / "families").glob("*.toml"))
    families = [tomllib.loads(path.read_text(encoding="utf-8")) for path in files]
    return {family["code"]: family for family in families}


def pick(chance: random.Random, weighted: Any) -> Any:
    """Return one of the (value, weight) pairs' values by weight."""
    draw = chance.randrange(sum(weight for _, weight in weighted))
    for value, weight in weighted:
        draw -= weight
        if draw < 0:
            return value
    raise AssertionError("weights ran out")


def at_work(day: date) -> date:
    """Return `day`, or the Monday after it when it is a weekend."""
    return day + timedelta(days={5: 2, 6: 1}.get(day.weekday(), 0))


def charge_on(family: dict[str, Any], day: date) -> str:
    """Return the core charge in force on `day`, as written."""
    return [row["amount"] for row in family["charges"] if row["from"] <= day][-1]


def written(size: int, places: int) -> str:
    """Return a whole number of last digits as a gauge would show it."""
    if places == 0:
        return str(size)
    whole, part = divmod(size, 10**places)
    return f"{whole}.{part:0{places}d}"
