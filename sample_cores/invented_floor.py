"""What the invented shop did at bench, wash and shelf: lamp checks, scans, a gauge study.

A scan row is one scan or typed text: `basket 2`, `bin 1`, `metal tag 31` and `order done` stand for
the codes on their cards, an empty one is Enter. `core` and `check` say what a reading is of.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

from invented_terms import SEED, written

Row = tuple[object, ...]

PROCESS_HEADING: Row = (
    "time",
    "check",
    "place",
    "UV-A (W/m²)",
    "ambient light (lx)",
    "white light (lx)",
    "distance (mm)",
    "concentration (%)",
    "panel",
    "by",
    "note",
)
SCAN_HEADING: Row = ("time", "person", "station", "page", "core", "check", "scan")
STUDY_HEADING: Row = ("inspector", "piece", "round", "reading")

FIRST_DAY, LAST_DAY = date(2026, 5, 4), date(2026, 10, 30)
UNCHECKED = date(2026, 10, 21)
"""Nobody checked lamp and bath that Wednesday."""
WEAK_LAMP = date(2026, 9, 10)
"""The lamp was too weak that morning; with a new bulb it was good."""

TEODOR, MIRELLE = "Teodor Lanzik", "Mirelle Oxgate"

# lamps and baths ---------------------------------------------------------------------------


def process_checks() -> Iterator[Row]:
    """Yield the checks of every working day: lamp and bath of the booth, light of the line."""
    chance = random.Random(f"{SEED}:lamps")
    day = FIRST_DAY
    while day <= LAST_DAY:
        if day.weekday() < 5 and day != UNCHECKED:
            yield from _of_a_day(day, chance)
        day += timedelta(days=1)


def _of_a_day(day: date, chance: random.Random) -> Iterator[Row]:
    person = (TEODOR, MIRELLE)[day.toordinal() % 2]
    lamp = f"{day} 07:05", "uv lamp", "Booth 1"
    ambient = chance.randrange(4, 13)
    if day == WEAK_LAMP:
        yield (*lamp, "8.8", ambient, "", 380, "", "", person, "bulb is old")
        lamp = f"{day} 07:26", "uv lamp", "Booth 1"
    strength = written(chance.randrange(118, 164), 1)
    note = "new bulb" if day == WEAK_LAMP else ""
    yield (*lamp, strength, ambient, "", 380, "", "", person, note)
    settled = written(chance.randrange(14, 22), 2)
    yield (f"{day} 07:12", "bath", "Booth 1", "", "", "", "", settled, "found", person, "")
    light = chance.randrange(118, 152) * 10
    yield (
        f"{day} 07:15",
        "white light",
        "Penetrant line",
        "",
        "",
        light,
        400,
        "",
        "",
        person,
        "",
    )


# scans -------------------------------------------------------------------------------------


class _Person:
    """Somebody at a page of a station; every scan comes some seconds after the one before."""

    def __init__(self, name: str, station: str, page: str, start: str) -> None:
        self.name, self.station, self.page = name, station, page
        self.at = datetime.fromisoformat(start)

    def scan(self, *texts: str, core: str = "", check: str = "") -> Iterator[Row]:
        for text in texts:
            time = self.at.isoformat(sep=" ", timespec="seconds")
            yield (time, self.name, self.station, self.page, core, check, text)
            self.at += timedelta(seconds=11)

    def measure(self, core: str, checks: Sequence[tuple[str, str]]) -> Iterator[Row]:
        """Open a body, type its readings in the plan's order, and say yes to the verdict."""
        yield from self.scan(core)
        for check, answers in checks:
            for answer in answers.split("/"):
                yield from self.scan(answer, core=core, check=check)
        yield from self.scan("")


def basket_7(serials: Sequence[str]) -> Iterator[Row]:
    """Yield how the bodies went into the basket that tipped an hour later."""
    teodor = _Person(TEODOR, "wash", "wash", "2026-07-16 10:12:00")
    yield from teodor.scan("basket 7", *serials, "order done", str(len(serials)))


def injector(**found: str) -> list[tuple[str, str]]:
    """Return a good injector body's readings, but for what is `found` at a check."""
    good = {
        "thread": "go",
        "guide_bore": "6.0043/6.0047/6.0045",
        "seal_face": "0.7",
        "seat_runout": "4",
        "hardness": "59.4/59.8",
        "crack": "none",
        "look": "A",
    }
    return list((good | found).items())


def caliper(**found: str) -> list[tuple[str, str]]:
    """Return a good caliper's readings, but for what is `found` at a check."""
    good = {
        "bore": "54.021/54.024",
        "seal_groove": "3.28",
        "slide_pin": "10.05/10.06",
        "bleeder": "go",
        "pressure": "none",
        "look": "A",
    }
    return list((good | found).items())


def last_friday() -> Iterator[Row]:
    """Yield what was scanned and typed on the last Friday of October."""
    yield from _second_looks()
    yield from _baskets()
    yield from _rework_and_rack()
    yield from _shelf()


def _second_looks() -> Iterator[Row]:
    """Every verdict of the morning is looked at again; one of three comes out otherwise."""
    first = _Person(TEODOR, "bench 1", "bench", "2026-10-30 09:10:00")
    yield from first.measure("N736044", injector())
    yield from first.measure("N570519", injector(seal_face="2.6"))
    yield from first.measure("N497160", injector(guide_bore="6.0061/6.0063/6.0060"))
    yield from first.measure("N933838", injector(crack="indication linear 4 mm at the port"))
    yield from first.scan("gauge DB2")
    yield from first.measure("C232231", caliper())
    yield from first.measure("C777887", caliper(pressure="unsure"))
    second = _Person(MIRELLE, "bench 2", "second", "2026-10-30 10:35:00")
    yield from second.measure("N736044", injector(guide_bore="6.0044/6.0046/6.0046"))
    yield from second.measure("N497160", injector(guide_bore="6.0062/6.0061/6.0061", look="C"))
    yield from second.scan("gauge DB2")
    yield from second.measure("C232231", caliper(bore="54.022/54.023"))


def _baskets() -> Iterator[Row]:
    """One basket goes into the wash, another is still being loaded."""
    teodor = _Person(TEODOR, "wash", "wash", "2026-10-30 13:40:00")
    yield from teodor.scan("basket 2")
    for serial, tag in (("N585986", "31"), ("N410217", "32"), ("N392204", "33")):
        yield from teodor.scan(serial, f"metal tag {tag}")
    yield from teodor.scan("N433720", "N458664", "order done", "5")
    mirelle = _Person(MIRELLE, "wash", "wash", "2026-10-30 14:05:00")
    yield from mirelle.scan("basket 3", "N783206", "metal tag 34", "N569191", "N890509")


def _rework_and_rack() -> Iterator[Row]:
    """Two bodies are at their rework over the weekend, two lie on the rack of the line."""
    teodor = _Person(TEODOR, "rework", "rework", "2026-10-30 14:20:00")
    yield from teodor.scan("N963104", "")
    mirelle = _Person(MIRELLE, "rework", "rework", "2026-10-30 14:42:00")
    yield from mirelle.scan("C439672", "")
    rack = _Person(MIRELLE, "bench 2", "rack", "2026-10-30 15:02:00")
    yield from rack.scan("T136656", "T350530")


def _shelf() -> Iterator[Row]:
    """Six good bodies go into two bins."""
    oda = _Person("Oda Brennick", "store", "shelf", "2026-10-30 11:02:00")
    yield from oda.scan("bin 1", "N911580", "N593829", "N583131", "N803129")
    yield from oda.scan("bin 2", "N889639", "N746773")


def count() -> Iterator[Row]:
    """Yield the count of the first bin: one body is missing, one belongs into the other bin."""
    oda = _Person("Oda Brennick", "store", "take", "2026-10-30 16:10:00")
    yield from oda.scan("bin 1", "N911580", "N593829", "N583131", "N889639")


# the gauge study ---------------------------------------------------------------------------

PIECES = (60021, 60048, 60035, 60082, 60063)
"""Five good bodies across the band of the guide bore, in the gauge's last digit."""
ROUNDS = 3


def study_readings() -> Iterator[Row]:
    """Yield two inspectors' readings of five bodies at the air gauge, three rounds."""
    chance = random.Random(f"{SEED}:study")
    for turn in range(ROUNDS):
        for person, offset in ((TEODOR, 0), (MIRELLE, 2)):
            for piece, size in enumerate(PIECES):
                reading = size + offset + chance.randrange(-3, 4)
                yield (person, piece + 1, turn + 1, written(reading, 4))
