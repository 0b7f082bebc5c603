"""Hands at wash and shelf of the made-up shop, for tests: one call a scan."""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count
from typing import Any

from core_yard import Yard

from coretrack.actions import cards, station_scans
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.figures.tags import make_shop_code
from coretrack.paper.guarded_text import unguarded

keys = (f"floor-{number}" for number in count())


@dataclass
class Floor:
    """One person at one page; each act comes five seconds after the one before."""

    yard: Yard
    page: str = "wash"
    code: str = ""
    by: str = "Bela Quirke"
    at: datetime = field(init=False)

    def __post_init__(self) -> None:
        self.at = self.yard.now

    def told(self, key: str = "") -> dict[str, Any]:
        self.at += timedelta(seconds=5)
        return {"by": self.by, "station": "floor", "now": self.at, "key": key or next(keys)}

    def scan(self, *texts: str, key: str = "") -> ScanReply:
        """Scan texts here and return the last answer; a page that it opens is gone to."""
        for text in texts:
            reply = station_scans.scan(text, Spot(self.page, self.code), **self.told(key))
            if reply.target == self.page:
                self.code = reply.code
        return reply

    def core(self, *serials: str) -> ScanReply:
        """Scan the tags of the cores with these serials."""
        return self.scan(*(self.yard.core(serial).tag for serial in serials))

    def choose(self, reply: ScanReply, words: str) -> ScanReply:
        """Choose the only offer whose text holds these words."""
        (found,) = [offer for offer in reply.offers if words in offer.text]
        return self.scan(found.scan)

    def order(self, name: str) -> ScanReply:
        return self.scan(order(name))


def file_rows(content: bytes) -> list[list[str]]:
    """Return a CSV file's rows as a spreadsheet program would show them."""
    text = content.decode("utf-8-sig")
    return [[unguarded(cell) for cell in row] for row in csv.reader(text.splitlines())]


def order(name: str) -> str:
    """Return the code of an order, as printed on the bench sheet."""
    return make_shop_code("order", name)


def basket(number: int) -> str:
    """Return the code on a basket's card."""
    return make_shop_code("basket", number)


def bin_code(number: int) -> str:
    """Return the code on a bin's card."""
    return make_shop_code("bin", number)


def metal_tag(number: int) -> str:
    """Return the code of a metal tag."""
    return make_shop_code("metal tag", number)


def furnish(yard: Yard) -> None:
    """Make three baskets and three bins."""
    for kind, name in (("basket", "Basket"), ("bin", "Shelf")):
        cards.make_places(kind, 1, 3, name, by="Oda Fenn", station="", now=yard.now, key=kind)
