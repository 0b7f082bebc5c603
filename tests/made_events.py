"""Lives of cores drawn at random: events with every detail coretrack keeps, legal or not."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from hypothesis import strategies as st

from coretrack.errors import NotAllowed
from coretrack.records.station_tables import PhotoRow
from coretrack.records.times import to_text
from coretrack.records.writer import Writer, writing

NOW = datetime(2026, 10, 31, 12, tzinfo=UTC)
TAGS = ("T-1", "T-2", "T-3")
PHOTOS = {sha256(content).hexdigest(): content for content in (b"", b"\x00\xff", b"a crack")}
"""What photos may show, by their hash; coretrack keeps the bytes as they are."""

Step = tuple[str, str, dict[str, Any]]

_money = st.integers(-(10**13), 10**13)
_costs = st.dictionaries(
    st.sampled_from(("price", "freight", "credit", "receive", "wash", "inspect", "recovery")),
    _money,
    max_size=3,
)
_word = st.text("aB9 ß'\"\\%é漢", max_size=4)


def _detail(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(fields, optional={"costs": _costs})


_READING = st.fixed_dictionaries(
    {
        "check": st.sampled_from(("bore", "look")),
        "place": st.integers(1, 3),
        "typed": _word,
        "value": st.none() | st.integers(-(10**12), 10**12),
        "result": st.sampled_from(("", "A", "go")),
        "gauge": st.sampled_from(("", "PG1")),
        "overdue": st.booleans(),
        "at": st.just("2026-10-05T08:00:00.000000Z"),
    }
)
_GRADES = st.sampled_from(("keep", "rework", "scrap", "undecided", "open"))
_OPERATIONS = st.sampled_from(((), ("hone",), ("hone", "lap")))
_DAYS = st.sampled_from(("", "2026-11-10"))

DETAILS: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    "received": _detail(
        stream=st.sampled_from(("return", "purchase", "comeback")),
        lot=st.sampled_from(("", "L1", "L2")),
        source=st.sampled_from(("", "ANSL", "COPP")),
        family=st.sampled_from(("", "PMP", "VLV")),
        number=_word,
        serial=_word,
        received_on=st.sampled_from(("2026-08-31", "2026-09-01", "2026-10-15")),
    ),
    "accepted": _detail(
        outcome=st.sampled_from(("accept", "part credit", "refuse", "excess", "comeback")),
        line=_word,
        faults=st.lists(_word, max_size=2),
        hold_until=_DAYS,
    ),
    "unjudged": st.just({}),
    "taken back": st.just({}),
    "bought": _detail(),
    "held": st.fixed_dictionaries({"hold_until": _DAYS}),
    "left": st.fixed_dictionaries({"to": st.sampled_from(("sent back", "cleared out", "away"))}),
    "credit released": st.fixed_dictionaries({"note": st.just("CN-1")}),
    "put": st.fixed_dictionaries({"place": _word}),
    "photographed": st.fixed_dictionaries({"sha256": st.sampled_from(sorted(PHOTOS))}),
    "label printed": st.fixed_dictionaries({"stock": _word}),
    "identified": _detail(family=st.sampled_from(("PMP", "VLV")), core_group=_word, number=_word),
    "source lost": st.just({}),
    "inspected": _detail(
        grade=_GRADES,
        plan_version=st.integers(1, 2),
        inspector=st.sampled_from(("Una Pryor", "Odhran Vale")),
        operations=_OPERATIONS,
        reasons=st.lists(_word, max_size=2),
        findings=st.lists(st.fixed_dictionaries({"check": _word, "values": st.lists(_money)})),
        readings=st.lists(_READING, max_size=3),
    ),
    "reworked": _detail(
        operation=st.sampled_from(("hone", "lap")),
        check=st.sampled_from(("", "bore")),
        removed=st.integers(0, 50_000),
    ),
    "overridden": _detail(grade=_GRADES, operations=_OPERATIONS),
    "rework begun": st.fixed_dictionaries({"operation": st.sampled_from(("hone", "lap"))}),
    "rework put down": st.just({}),
    "crack checked": st.fixed_dictionaries({"check": _word, "result": _word}),
    "looked at again": st.fixed_dictionaries({"grade": _GRADES}),
    "basketed": st.fixed_dictionaries(
        {"basket": st.sampled_from(("BASKET:1", "BASKET:2")), "slot": st.integers(1, 40)}
    ),
    "unbasketed": st.just({}),
    "tag bound": st.fixed_dictionaries({"number": st.integers(1, 99)}),
    "tag released": st.just({}),
    "picked": st.fixed_dictionaries({"into": _word}),
    "put back": st.just({}),
}

_anything = st.sampled_from(sorted(DETAILS)).flatmap(
    lambda event: st.tuples(st.sampled_from(TAGS), st.just(event), DETAILS[event])
)
_arrivals = st.tuples(*(DETAILS["received"] for _ in TAGS)).map(
    lambda details: [(tag, "received", detail) for tag, detail in zip(TAGS, details, strict=True)]
)
LIVES = st.tuples(_arrivals, st.lists(_anything, max_size=35)).map(
    lambda parts: parts[0] + parts[1]
)
"""Every core arrives first; then anything may be tried on any of them."""


def live(steps: Iterable[Step], by: str = "Edda Mallin") -> int:
    """Let the steps happen, three to a transaction; return how many were allowed."""
    waiting, allowed = list(steps), 0
    while waiting:
        some, waiting = waiting[:3], waiting[3:]
        with writing(by, NOW, "bench 1") as writer:
            allowed += sum(tried(writer, *step) for step in some)
    return allowed


def tried(writer: Writer, tag: str, event: str, detail: dict[str, Any]) -> bool:
    """Let one event happen to a core unless its state forbids it."""
    told = {"tag": tag, **detail} if event == "received" else detail
    try:
        writer.event("core", tag, event, told, why="drawn")
    except NotAllowed:
        return False
    if event == "photographed":
        store_photo("core", tag, PHOTOS[detail["sha256"]])
    return True


def store_photo(kind: str, key: str, content: bytes) -> str:
    """Store a photo of a core, lot or draft inside a transaction; return its hash."""
    named = sha256(content).hexdigest()
    PhotoRow.insert(
        object_kind=kind,
        object_key=key,
        sha256=named,
        what="whole",
        at=to_text(NOW),
        by="Edda Mallin",
        width=640,
        height=480,
        content=content,
    ).execute()
    return named


def photographed(kind: str, key: str, content: bytes) -> str:
    """Photograph a stored core or lot: the photo and the event that names it; return its hash."""
    with writing("Edda Mallin", NOW, "dock") as writer:
        named = store_photo(kind, key, content)
        writer.event(kind, key, "photographed", {"sha256": named, "what": "whole"})
    return named


def one_good_core(tag: str = "T-1", **received: Any) -> None:
    """Store a bought core that was measured and kept, with two readings, and nothing else."""
    with writing("Edda Mallin", NOW, "dock") as writer:
        bought = {
            "tag": tag,
            "stream": "purchase",
            "lot": "L1",
            "source": "COPP",
            "family": "PMP",
            "number": "PB-2410",
            "serial": f"S{tag}",
            "received_on": "2026-09-01",
            "costs": {"price": 95_000, "freight": 5_000},
            **received,
        }
        writer.event("core", tag, "received", bought)
        reading = {"check": "bore", "place": 1, "typed": "24.01", "value": 24_010_000}
        look = {"check": "look", "place": 1, "typed": "A", "result": "A"}
        kept = {
            "grade": "keep",
            "plan_version": 1,
            "inspector": "Una Pryor",
            "costs": {"wash": 22_000, "inspect": 24_000},
            "findings": [{"check": "bore", "values": [24_010_000]}],
            "readings": [{**reading, "gauge": "PG1"}, look],
        }
        writer.event("core", tag, "inspected", kept)
