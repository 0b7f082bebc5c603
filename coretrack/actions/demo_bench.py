"""The demo at the bench: the invented shop's scans, its gauge study, its second looks, its count.

Every scan goes through the scan box of its page, every other step through the action of its form,
under the names and at the times of the files. A part is done whole or not at all, and once.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from coretrack.actions import cards, gauge_studies, gauges, station_scans, stock_takes, washes
from coretrack.actions.body_pictures import add_picture
from coretrack.actions.station_settings import change_settings, station_settings
from coretrack.actions.study_cells import Cell, StudyTold
from coretrack.actions.washes import Tipping
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import make_shop_code
from coretrack.records import queries, shelf_queries
from coretrack.records.database import connection, transaction
from coretrack.records.writer import Writer, writing

OWNER, INSPECTOR, SECOND, CLERK = (
    "Harlan Vosskamp",
    "Teodor Lanzik",
    "Mirelle Oxgate",
    "Oda Brennick",
)
ON_CARDS = ("basket", "bin", "metal tag", "order")
"""A text that begins so stands for the code on that card."""

TRIAL, SHARE = "100", "10"
"""Second looks in percent: on the morning they were tried out, and from then on."""

COUNTED = "Shelf 2 and the build bench were searched; the missing body was not found."


def body_pictures(folder: Path, now: datetime) -> None:
    """Take in the drawings of the bodies, on which the bench marks cracks."""
    for path in sorted(folder.glob("*.png")):
        key = f"demo body {path.stem}"
        add_picture(path.read_bytes(), path.stem, by=OWNER, station="office", now=now, key=key)


def load_basket(folder: Path, now: datetime) -> None:
    """Load the basket of July that is going to tip."""
    _once("basket loaded", now, partial(_load_basket, folder))


def note_tipped(now: datetime) -> None:
    """Note at its page that the basket of July tipped; the lost sources came in by file."""
    _once("basket tipped", now, _note_tipped)


def last_friday(folder: Path, now: datetime) -> None:
    """Let the shop work its last Friday of October at bench, wash, rework and shelf."""
    _once("last friday", now, partial(_last_friday, folder))


def _once(part: str, now: datetime, play: Callable[[_Stage], None]) -> None:
    """Play a part of the demo in one transaction, unless it was played before."""
    key = f"demo:{part}"
    with connection():
        shop = queries.shop()
        if shop is None or Writer("demo", now).answers([key]):
            return
        with transaction():
            play(_Stage(part, ZoneInfo(shop.time_zone)))
            with writing("demo", now) as writer:
                writer.remember(key, "played")


class _Stage:
    """Gives every step of a part its key, and its moment by the shop's clock."""

    def __init__(self, part: str, zone: ZoneInfo) -> None:
        self._keys = (f"demo {part} {number}" for number in count(1))
        self._zone = zone

    def told(self, by: str, at: str, station: str = "office") -> dict[str, Any]:
        """Return what every action wants to know beside its own."""
        moment = datetime.fromisoformat(at).replace(tzinfo=self._zone)
        return {"by": by, "station": station, "now": moment, "key": next(self._keys)}

    def scan(self, path: Path, codes: dict[str, str] | None = None) -> None:
        """Scan and type what a file tells; `codes` are the spots that pages begin at."""
        spots: dict[tuple[str, str], str] = {}
        for row in _rows(path):
            who = (row["person"], row["page"])
            opens = row["page"] in ("bench", "second", "rework") and _opens(row)
            code = "" if opens else spots.get(who, (codes or {}).get(row["page"], ""))
            reply = station_scans.scan(
                _text(row["scan"]),
                Spot(row["page"], code),
                **self.told(row["person"], row["time"], row["station"]),
            )
            spots[who] = reply.code if reply.target == row["page"] else code


def _opens(row: dict[str, str]) -> bool:
    """Return whether a row opens a body instead of saying something of it."""
    return bool(row["scan"]) and not row["core"]


def _rows(path: Path) -> Iterator[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def _text(told: str) -> str:
    """Return what a scanner or keyboard sends for a text of the file."""
    for kind in ON_CARDS:
        if told.startswith(f"{kind} "):
            name = told.removeprefix(f"{kind} ")
            return make_shop_code(kind, name if kind == "order" else int(name))
    return told


def _load_basket(folder: Path, stage: _Stage) -> None:
    cards.make_places("basket", 1, 8, "Basket", **stage.told(CLERK, "2026-07-13 08:00"))
    stage.scan(folder / "basket_7.csv")


def _note_tipped(stage: _Stage) -> None:
    run = shelf_queries.wash_of_basket(make_shop_code("basket", 7))
    if run is not None:
        tipped = Tipping({"INJ": str(len(run.slots))}, note="tipped at the spray cabinet")
        washes.tip_wash(run.key, tipped, **stage.told(INSPECTOR, "2026-07-16 11:25", "wash"))


def _last_friday(folder: Path, stage: _Stage) -> None:
    cards.make_places("bin", 1, 4, "Shelf", **stage.told(CLERK, "2026-10-30 08:30"))
    good = "compared with the gauge block set, no difference"
    gauges.note_check(
        "HG1", "2026-10-28", True, "2027-02-15", good, **stage.told(OWNER, "2026-10-30 08:40")
    )
    _study(folder / "study_ag1.csv", stage)
    _share(TRIAL, stage, "2026-10-30 08:55")
    stage.scan(folder / "last_friday.csv")
    _share(SHARE, stage, "2026-10-30 12:00")
    begun = stage.told(CLERK, "2026-10-30 16:05", "store")
    take = stock_takes.begin_take("", make_shop_code("bin", 1), **begun)
    stage.scan(folder / "count.csv", {"take": take})
    told = stage.told(CLERK, "2026-10-30 16:30", "store")
    seen = Writer(CLERK, told["now"]).version("stock take", take)
    stock_takes.close_take(take, COUNTED, seen, False, **told)


def _share(percent: str, stage: _Stage, at: str) -> None:
    """Let the owner set the share of verdicts that are looked at again."""
    told = replace(station_settings(), second_look_percent=percent)
    change_settings(told, **stage.told(OWNER, at))


def _study(path: Path, stage: _Stage) -> None:
    """Study the air gauge and give it the uncertainty that the study comes to."""
    told = StudyTold("AG1", "INJ/guide_bore", f"{INSPECTOR}, {SECOND}", "5", "3", "0.0004")
    study = gauge_studies.begin_study(told, **stage.told(OWNER, "2026-10-29 13:00"))
    for row in _rows(path):
        cell = Cell(row["inspector"], row["piece"], int(row["round"]))
        entered = stage.told(row["inspector"], "2026-10-29 13:10", "bench 1")
        gauge_studies.enter_reading(study, cell, row["reading"], **entered)
    applied = stage.told(OWNER, "2026-10-29 15:40")
    gauge_studies.apply_study(study, role="owner", **applied)
