"""The bench of the full shop: bodies begun, outside their limits, washed, on the shelf, counted."""

from __future__ import annotations

from bench_desk import Inspector
from bench_floor import Floor, basket, bin_code
from core_yard import Yard

from coretrack.actions import cards, gauge_studies, metal_tags, stock_takes
from coretrack.actions.study_cells import StudyTold
from coretrack.figures.tags import make_shop_code
from coretrack.records.writer import writing

GOOD_BODY = ("24.010", "24,012", "24.011 mm", "3.0", "go", "none", "A", "")
HONED = ("23.970", "23.971", "23.972", "3.0", "go", "none", "A", "")
TOO_CLOSE = ("24.0395", "24.010", "24.011", "3.0", "go", "none", "A", "")
CRACKED = ("24.010", "24.012", "24.011", "3.0", "go", "indication linear 4 mm at the seat", "")
OUTSIDE = ("24.010", "24.055")

SERIALS = tuple(f"BB {number}" for number in range(1, 15))


def furnished_bench(yard: Yard) -> dict[str, str]:
    """Let the inspector work some hours at the shop; return keys of what there is to see."""
    day = yard.now.date().isoformat()
    yard.buy(*SERIALS, lot="CB 12-3", day=day, price="9.50")
    with writing(yard.by, yard.now) as writer:
        writer.event("gauge", "BG1", "set", {"due_on": "2026-09-30"})
    cards.make_places("basket", 1, 3, "Basket", by=yard.by, station="", now=yard.now, key="baskets")
    made = _inspected(yard)
    made["look"] = _looked_at(yard)
    made["rack"] = _racked(yard)
    made["wash"] = _washed(yard)
    made["take"] = _shelved(yard, made)
    made["study"] = gauge_studies.begin_study(
        StudyTold("BG1", "GPB/bore", inspectors="Bela Quirke, Una Pryor", pieces="5"),
        **Floor(yard, "study").told(),
    )
    return made


def bench_places(made: dict[str, str]) -> tuple[tuple[str, str, str, dict[str, str]], ...]:
    """Return the pages to look at: each its name, who opens it, its path and its query."""
    inspector, owner = "inspector", "owner"
    first_bin = f"bin:{make_shop_code('bin', 1)}"
    gauge, family, version = {"code": "BG1"}, {"code": "GPB"}, {"code": "GPB", "number": "1"}
    return (
        ("bench", inspector, "/bench/", {}),
        ("bench, waiting", inspector, "/bench/waiting", {"state": "waiting", "family": "GPB"}),
        ("bench, outside", inspector, "/bench/core", {"tag": made["outside"]}),
        ("bench, scrap", inspector, "/bench/core", {"tag": made["scrap"]}),
        ("bench, overrule", owner, "/bench/core", {"tag": made["rework"]}),
        ("core, scrapped", owner, "/cores/core", {"tag": made["scrap"]}),
        ("racks", inspector, "/bench/racks/", {}),
        ("rack", inspector, "/bench/racks/rack", {"code": made["rack"]}),
        ("lamp and bath", owner, "/bench/process/", {}),
        ("pictures of bodies", owner, "/plans/pictures/", {}),
        ("rework", inspector, "/bench/rework/", {}),
        ("rework, body", owner, "/bench/rework/", {"tag": made["rework"]}),
        ("second looks", owner, "/bench/second/", {}),
        ("second look", inspector, "/bench/second/look", {"tag": made["look"]}),
        ("second looks, agreement", owner, "/bench/second/agreement", {}),
        ("washes", inspector, "/bench/washes/", {}),
        ("wash", inspector, "/bench/washes/wash", {"code": made["wash"]}),
        ("metal tags", inspector, "/bench/washes/tags", {}),
        ("shelf", inspector, "/shelf/", {}),
        ("shelf, bin", inspector, "/shelf/", {"at": first_bin}),
        ("shelf, build", inspector, "/shelf/", {"at": "pick:unit 88"}),
        ("stock-take", inspector, "/shelf/take", {"code": made["take"]}),
        ("plans", owner, "/plans/", {}),
        ("plan", owner, "/plans/plan", family),
        ("plan, version", owner, "/plans/version", version),
        ("plan, order", owner, "/plans/order", family),
        ("plan, file", owner, "/plans/file", {}),
        ("gauges", inspector, "/gauges/", {}),
        ("gauge", owner, "/gauges/gauge", gauge),
        ("gauge, recall", inspector, "/gauges/recall", gauge),
        ("gauge, study", inspector, "/gauges/study", {"code": made["study"]}),
    )


def _tag(yard: Yard, number: int) -> str:
    return str(yard.core(SERIALS[number]).tag)


def _inspected(yard: Yard) -> dict[str, str]:
    bela = Inspector(station="bench 2", start=yard.now)
    made = {}
    for place, (name, texts) in enumerate(
        (
            ("keep", GOOD_BODY),
            ("rework", HONED),
            ("undecided", TOO_CLOSE),
            ("scrap", CRACKED),
            ("outside", OUTSIDE),
            ("keep 2", GOOD_BODY),
        )
    ):
        made[name] = _tag(yard, place)
        bela.at(made[name]).type(*texts)
    return made


def _looked_at(yard: Yard) -> str:
    """Have another inspector's verdict drawn for a blind second look."""
    for share in ("100", "5"):
        with writing(yard.by, yard.now) as writer:
            writer.event("shop", "shop", "set", {"second_look_percent": share})
        if share == "100":
            Inspector("Una Pryor", "bench 3", start=yard.now).at(_tag(yard, 7)).type(*GOOD_BODY)
    return _tag(yard, 7)


def _racked(yard: Yard) -> str:
    floor = Floor(yard, "rack")
    floor.core(SERIALS[12], SERIALS[13], SERIALS[6])
    floor.scan("done", "3", _tag(yard, 13))
    return floor.code


def _washed(yard: Yard) -> str:
    floor = Floor(yard)
    floor.scan(basket(2), *(_tag(yard, number) for number in range(8, 12)))
    metal_tags.bind_typed(_tag(yard, 8), "17", **floor.told())
    return floor.code


def _shelved(yard: Yard, made: dict[str, str]) -> str:
    Floor(yard, "shelf").scan(bin_code(1), made["keep"])
    Floor(yard, "shelf").scan(bin_code(2), made["keep 2"])
    take = stock_takes.begin_take("", "", **Floor(yard, "take").told())
    Floor(yard, "take", take).scan(bin_code(1), made["keep 2"])
    return take
