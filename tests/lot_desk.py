"""One clerk's hands on purchased lots, for tests: begin, scan, count, take in."""

from __future__ import annotations

from datetime import timedelta
from itertools import count
from typing import Any

from core_yard import Yard

from coretrack.actions import lot_beginning, lot_sorting, lot_taking_in, station_scans
from coretrack.actions.lot_beginning import NewLot
from coretrack.actions.lot_sorting import RowChange
from coretrack.actions.lot_views import LotView, lot_view
from coretrack.figures.scan_replies import ScanReply, Spot

keys = (f"key-{number}" for number in count())


class Sorting:
    """One shop's lots; each call is made a few seconds after the one before."""

    def __init__(self, yard: Yard, by: str = "Ilse Thornby") -> None:
        self.yard, self.by, self.at = yard, by, yard.now

    def told(self, key: str = "") -> dict[str, Any]:
        self.at += timedelta(seconds=5)
        return {"by": self.by, "station": "dock 1", "now": self.at, "key": key or next(keys)}

    def begin(self, key: str = "", **told: str) -> str:
        fields = {"source": "COPP", "price": "10.00", "received": "2026-10-30", **told}
        return lot_beginning.begin(NewLot(**fields), **self.told(key))

    def scan(self, lot: str, *texts: str, key: str = "") -> ScanReply:
        for text in texts:
            reply = station_scans.scan(text, Spot("lot", lot), **self.told(key))
        return reply

    def choose(self, lot: str, text: str, words: str) -> ScanReply:
        """Scan a text and choose the offer that holds `words`."""
        (chosen,) = [offer for offer in self.scan(lot, text).offers if words in offer.text]
        return self.scan(lot, chosen.scan)

    def change(self, lot: str, name: str, **told: str) -> None:
        (row,) = [row for row in self.view(lot).rows if row.name == name]
        lot_sorting.change_row(lot, row.id, RowChange(**told), **self.told())

    def view(self, lot: str) -> LotView:
        return lot_view(lot, self.by, self.at)

    def counts(self, lot: str) -> dict[str, int]:
        return {row.name: row.count for row in self.view(lot).rows}

    def take_in(self, lot: str, key: str = "", version: int | None = None) -> int:
        seen = self.view(lot).version if version is None else version
        return lot_taking_in.take_in(lot, seen, True, **self.told(key))
