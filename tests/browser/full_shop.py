"""The made-up shop on a busy morning, for tests of how pages look: something of each kind on each.

One delivery is at work (a core in hand with faults, cores of every outcome stored), others wait
for their count, ask for comebacks, are closed or do not agree; a lot is being sorted; credits wait.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from io import BytesIO
from itertools import count
from math import cos, pi, sin
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser.full_bench import bench_places, furnished_bench
from browser.station_desk import Server, serving
from core_yard import Yard
from databases import copied
from flask import Flask
from lot_desk import Sorting
from made_photos import bench_top
from PIL import ImageDraw
from samples import sample_summary
from sign_in_forms import shop_app
from staff import OWNER, add_staff

from coretrack import clock
from coretrack.actions import (
    cards,
    core_in_hand,
    credit_release,
    deliveries,
    photos,
    station_labels,
    station_scans,
    upload_reading,
)
from coretrack.actions.credit_release import CreditDays
from coretrack.actions.delivery_views import CoreChange, NewDelivery
from coretrack.actions.upload_box import UploadBox
from coretrack.config import Settings
from coretrack.figures.scan_replies import Spot
from coretrack.records import database
from coretrack.web.access import Access, DemoPerson
from coretrack.web.app import create_app
from coretrack.web.here import SignedIn

NOW = datetime(2026, 10, 14, 15, 20, tzinfo=UTC)
"""Twenty past ten in the shop, whose clock is Chicago's."""

PEOPLE = {
    "clerk": SignedIn("Pia Lund", "clerk", "receiving 1"),
    "inspector": SignedIn("Bela Quirke", "inspector", "bench 2"),
    "owner": SignedIn(OWNER, "owner", "office"),
}

_keys = (f"full-{number}" for number in count())


def casting(bolts: int, shade: int) -> bytes:
    """Return a made-up photo of a flange with so many bolt holes, as a JPEG."""
    picture = bench_top(640, 480, seed=bolts)
    draw = ImageDraw.Draw(picture)
    body, hole = (shade,) * 3, (shade // 4,) * 3
    draw.ellipse((170, 90, 470, 390), fill=body, outline=hole, width=4)
    draw.ellipse((260, 180, 380, 300), fill=hole)
    for bolt in range(bolts):
        x, y = (320 + 115 * cos(2 * pi * bolt / bolts), 240 + 115 * sin(2 * pi * bolt / bolts))
        draw.ellipse((x - 15, y - 15, x + 15, y + 15), fill=hole)
    buffer = BytesIO()
    picture.save(buffer, "JPEG", quality=80)
    return buffer.getvalue()


@dataclass
class Desk:
    """Somebody at work there; every act comes some seconds after the one before."""

    who: SignedIn
    at: datetime

    def doer(self) -> dict[str, Any]:
        self.at += timedelta(seconds=20)
        return {"by": self.who.name, "station": self.who.station, "now": self.at}

    def begin(self, customer: str, pieces: object, **told: str) -> str:
        new = NewDelivery(customer=customer, pieces=str(pieces), **told)
        return deliveries.start_delivery(new, key=next(_keys), **self.doer())

    def tell(self, delivery: str, number: str, **told: Any) -> None:
        core_in_hand.change(delivery, CoreChange(number=number, **told), **self.doer())

    def photograph(self, delivery: str, content: bytes, what: str = "fault") -> None:
        key = photos.draft_key(delivery, self.who.name)
        photos.add_photo(content, "draft", key, what, **self.doer())

    def store(self, delivery: str, *, unjudged: bool = False) -> str:
        doer = self.doer()
        seen = core_in_hand.proposal(delivery, by=doer["by"], now=doer["now"])
        assert seen is not None
        stored = core_in_hand.store(
            delivery, seen=seen.fingerprint, key=next(_keys), unjudged=unjudged, **doer
        )
        return stored.tag

    def scan(self, text: str, page: str = "home", code: str = "") -> None:
        station_scans.scan(text, Spot(page, code), key=next(_keys), **self.doer())


@dataclass(frozen=True)
class Place:
    """A page: its name in pictures, who opens it, where; `note` is its status when not 200."""

    name: str
    role: str
    address: str
    status: int = 200


@dataclass
class FullShop:
    """The shop, served: `here["role"]` is who is signed in at all its pages."""

    server: Server
    here: dict[str, str]
    places: tuple[Place, ...]

    def address(self, place: Place) -> str:
        """Return where a page is, and let its person sign in."""
        self.here["role"] = place.role
        return self.server.address + place.address

    def place(self, name: str) -> Place:
        """Return the page with this name."""
        return next(place for place in self.places if place.name == name)


def _to(path: str, **query: str) -> str:
    return f"{path}?{urlencode(query)}" if query else path


def _sold(yard: Yard) -> None:
    for invoice, units, ago, customer, number, mode in (
        ("4177", 6, 9, "ANSL", "GP-1040", ""),
        ("4163", 3, 26, "ANSL", "GP-2080", "billed later"),
        ("4098", 2, 52, "ANSL", "GP-1040", ""),
        ("4171", 4, 12, "BROD", "GP-1044", ""),
    ):
        day = (NOW - timedelta(days=ago)).date().isoformat()
        yard.sell(invoice, units, day=day, customer=customer, number=number, mode=mode)


def _delivered(desk: Desk) -> dict[str, str]:
    """Bring in deliveries of every kind; return their codes and some tags."""
    made = {"count first": desk.begin("BROD", "", reference="4171")}
    made["ask"] = desk.begin("BROD", 2, goods="mixed", reference="DN 88/2")
    desk.tell(made["ask"], "GP-1044")
    made["differs"] = desk.begin("BROD", 3, reference="4171", carrier="Halden Parcels")
    desk.tell(made["differs"], "GP-1044", serial="K 7731")
    desk.store(made["differs"])
    deliveries.close_delivery(
        made["differs"],
        difference_by="Ilse Thornby",
        note="box torn open",
        key=next(_keys),
        **desk.doer(),
    )
    made["closed"] = desk.begin("BROD", 1, reference="4171")
    desk.tell(made["closed"], "GP-1044")
    desk.store(made["closed"])
    deliveries.close_delivery(made["closed"], key=next(_keys), **desk.doer())
    made["comebacks"] = desk.begin("BROD", 1, goods="comebacks")
    desk.tell(made["comebacks"], "GP-1040", serial="R 20", note="leaks at the shaft")
    made["comeback"] = desk.store(made["comebacks"])
    for state in ("excess", "unknown"):
        made[f"{state} in hand"] = desk.begin("BROD", 2)
        desk.tell(made[f"{state} in hand"], {"excess": "CB-77", "unknown": "QX 55"}[state])
    made.update(_at_work(desk))
    return made


def _at_work(desk: Desk) -> dict[str, str]:
    """The delivery that is at work: a core of each outcome stored, and one with faults in hand."""
    code = desk.begin("ANSL", 8, reference="DN 5520", carrier="Halden Parcels")
    made = {"work": code}
    desk.tell(code, "GP-1040", serial="SN 4471")
    made["accept"] = desk.store(code)
    desk.tell(code, "GP-1044", faults=("plug",))
    desk.photograph(code, casting(4, 150))
    made["part"] = desk.store(code)
    desk.tell(code, "GP-2080", faults=("cracked",), serial="SN 4480")
    desk.photograph(code, casting(4, 120))
    desk.photograph(code, casting(5, 120), "number")
    made["hold"] = desk.store(code)
    desk.tell(code, "CB-77")
    made["excess"] = desk.store(code)
    desk.tell(code, "QX 55", mass="1.3", note="blue paint, no plate")
    made["unknown"] = desk.store(code)
    desk.scan("GP-1040", "delivery", code)
    for text in ("SN 4502/A", "2", "3", "5"):
        desk.scan(text, "delivery", code)
    return made


def _lots(yard: Yard) -> dict[str, str]:
    sorting = Sorting(yard, PEOPLE["clerk"].name)
    told = {"received": (NOW - timedelta(days=2)).date().isoformat()}
    made = {"fresh": sorting.begin(lot="DY 14-2", source="DELL", price="2.10", **told)}
    made["in"] = sorting.begin(lot="CB 13-9", source="COPP", price="9.50", **told)
    sorting.scan(made["in"], "gp-1040", "12", "CB-77", "3")
    sorting.take_in(made["in"])
    made["sorting"] = sorting.begin(
        lot="CB 14-1", source="COPP", price="8.75", freight="60", pieces="48", **told
    )
    sorting.scan(made["sorting"], "gp-1040", "17", "GP-2080", "9", "CB-77", "6")
    sorting.choose(made["sorting"], "ZZ-9", "unknown")
    sorting.scan(made["sorting"], "gp-1044")
    return made


def _furnished(folder: Path) -> tuple[Place, ...]:
    yard = Yard(now=NOW - timedelta(days=3), by=OWNER)
    yard.set_up()
    add_staff(yard.now)
    _sold(yard)
    cards.make_places("bin", 1, 3, "Hold", by=OWNER, station="", now=yard.now, key="bins")
    before = Desk(PEOPLE["clerk"], NOW - timedelta(days=1))
    early = before.begin("BROD", 1, reference="4171")
    before.tell(early, "GP-1044")
    before.store(early)
    deliveries.close_delivery(early, key=next(_keys), **before.doer())
    yard.bring_back("X 9", customer="ANSL", faults="cracked", day="2026-09-30")
    desk = Desk(PEOPLE["clerk"], NOW - timedelta(minutes=70))
    shown = {**_lots(replace(yard, now=NOW - timedelta(minutes=90))), **_delivered(desk)}
    shown["released"] = _released(before)
    shown["preview"], shown["answer"] = _files(folder, desk)
    shown["labels"] = _labels(desk, shown["work"])
    bench = bench_places(furnished_bench(replace(yard, now=NOW - timedelta(hours=5))))
    at_bench = (Place(name, role, _to(path, **query)) for name, role, path, query in bench)
    return (*_places(shown), *at_bench)


def _released(desk: Desk) -> str:
    """Release yesterday's credits; return the number of the credit note."""
    days = CreditDays(desk.at.date())
    waiting = credit_release.credits_waiting(days, desk.at)
    ticked = {one.customer: one.seen for one in waiting.customers}
    released = credit_release.release_credits(ticked, days, key=next(_keys), **desk.doer())
    return released.notes[0]


def _files(folder: Path, desk: Desk) -> tuple[str, str]:
    """Put two files into the box; one waits to be stored, one is stored with a row left out."""
    head = "invoice,date,customer,number,quantity\n"
    rows = f"{head}4180,2026-10-13,ANSL,GP-1040,2\n4181,2026-10-13,NOBODY,GP-1040,1\n"
    box = UploadBox(folder, by=desk.who.name, now=desk.at)
    told = {"kind": "sales"}
    waits = box.put_in("sales of 13 October.csv", rows.encode(), told)
    stored = box.put_in("sales of 12 October.csv", rows.replace("418", "417").encode(), told)
    upload_reading.store(box, box.find(stored), by=desk.who.name, now=desk.at)
    return waits, stored


def _labels(desk: Desk, delivery: str) -> str:
    """Send the labels of a delivery to the browser; return the key under which they were noted."""
    key = next(_keys)
    tags = station_labels.chosen_tags("", delivery)
    station_labels.note_printed(tags, "letter-30", key=key, **desk.doer())
    return key


def _places(made: dict[str, str]) -> tuple[Place, ...]:
    return (*_of_receiving(made), *_of_lists(made), *_of_others(made))


def _of_receiving(made: dict[str, str]) -> tuple[Place, ...]:
    names = ("work", "excess in hand", "unknown in hand", "ask", "count first", "differs", "closed")
    place = "/receiving/delivery"
    return (
        Place("receiving", "clerk", "/receiving/"),
        *(Place(f"delivery, {name}", "clerk", _to(place, code=made[name])) for name in names),
        Place("lots", "clerk", "/receiving/lots/"),
        *(
            Place(f"lot, {name}", "clerk", _to("/receiving/lots/lot", code=made[name]))
            for name in ("sorting", "fresh", "in")
        ),
    )


def _of_lists(made: dict[str, str]) -> tuple[Place, ...]:
    place, day = "/receiving/lists/", NOW.date().isoformat()
    note = made["released"]
    names = ("", "customers", "lines", "hold", "excess", "unknown", "comebacks", "deliveries")
    return (
        *(Place(f"lists, {name or 'all'}", "clerk", place + name) for name in names),
        Place("lists, customer", "clerk", _to(f"{place}customer", code="ANSL")),
        Place("lists, nobody", "clerk", _to(f"{place}customers", q="zzz")),
        Place("lists, credits", "clerk", _to(f"{place}credits", day=day)),
        Place("lists, released", "clerk", _to(f"{place}released", first=note, last=note)),
        Place("lists, line", "owner", _to(f"{place}line", line="4098/1")),
        *(
            Place(f"lists, core {name}", "owner", _to(f"{place}core", tag=made[name]))
            for name in ("hold", "excess", "unknown", "comeback")
        ),
    )


def _of_others(made: dict[str, str]) -> tuple[Place, ...]:
    photo = {"kind": "core", "key": made["hold"], "back": "/receiving/"}
    return (
        Place("labels", "clerk", _to("/labels/", lot=made["work"])),
        Place("labels, to print", "clerk", _to("/labels/print", job=made["labels"])),
        Place("labels, sent", "clerk", _to("/labels/sent", job=made["labels"])),
        Place("labels, cards", "owner", "/labels/cards"),
        Place("labels, settings", "owner", "/labels/settings"),
        Place("photos, new", "clerk", _to("/photos/new", **photo)),
        Place("photos, scan", "clerk", "/photos/scan"),
        Place("cores", "inspector", "/cores/"),
        Place("core", "inspector", _to("/cores/core", tag=made["hold"])),
        Place("core, credited", "clerk", _to("/cores/core", tag=made["part"])),
        Place("files", "clerk", "/receiving/files/"),
        Place("files, lot", "clerk", "/receiving/files/?kind=lot"),
        Place("files, preview", "clerk", _to("/receiving/files/preview", upload=made["preview"])),
        Place("files, answer", "clerk", _to("/receiving/files/answer", upload=made["answer"])),
        Place("files, sale", "clerk", "/receiving/files/sale"),
        Place("office", "owner", "/office/"),
        Place("people", "owner", "/people/"),
        Place("person", "owner", "/people/person?name=Ilse+Thornby"),
        Place("not here", "clerk", "/receiving/delivery?code=none", 404),
        Place("not allowed", "inspector", "/receiving/", 403),
    )


def _app(folder: Path, here: dict[str, str]) -> Flask:
    app = create_app(
        Settings(folder, ""),
        summary=sample_summary,
        secret="only for tests",
        signed_in=lambda: PEOPLE[here["role"]],
    )
    # Styles and scripts stay the same while a test looks at page after page.
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = 3600
    return app


@contextmanager
def full_shop(empty: Path, folder: Path) -> Iterator[FullShop]:
    """Serve the full shop from a copy of an empty database, its clock standing still."""
    database.open_database(copied(empty, folder).url)
    here = {"role": "clerk"}
    try:
        with pytest.MonkeyPatch.context() as patch, serving(_app(folder, here)) as server:
            patch.setattr(clock, "now", lambda: NOW)
            yield FullShop(server, here, _furnished(folder))
    finally:
        database.close_database()


@contextmanager
def door() -> Iterator[str]:
    """Serve the pages of the open shop with their own sessions, as the demo; gives the address."""
    person = DemoPerson(OWNER, "owner", "copper kettle noon")
    with serving(shop_app(Access(demo_people=(person,)))) as server:
        yield server.address
