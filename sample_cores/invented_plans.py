"""What good, reworkable and scrap bodies measure, check by check, and why bodies fail."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Sizes:
    """A numeric check: ranges of last digits for good, reworkable (by operation) and scrap."""

    code: str
    gauge: str
    places: int
    count: int
    spread: int
    good: tuple[int, int]
    scrap: tuple[int, int]
    rework: dict[str, tuple[int, int]] = field(default_factory=dict)
    grey: tuple[int, int] | None = None


@dataclass(frozen=True)
class Words:
    """A check answered in words: what good, scrap and reworkable bodies get."""

    code: str
    gauge: str
    good: tuple[str, ...]
    scrap: tuple[str, ...]
    rework: dict[str, str] = field(default_factory=dict)
    unsure: str = ""


Check = Sizes | Words
CRACKS = (
    "indication linear 3 mm",
    "indication linear 4 mm",
    "indication linear 7 mm",
    "indication rounded 2 mm",
)

PLANS: dict[str, tuple[Check, ...]] = {
    "INJ": (
        Words("thread", "TP1", ("go",), ("no-go",)),
        Sizes(
            "guide_bore",
            "AG1",
            4,
            3,
            10,
            (60010, 60090),
            (60320, 60420),
            {"hone": (59920, 59985), "sleeve": (60115, 60285)},
            (60092, 60098),
        ),
        Sizes("seal_face", "OF1", 1, 1, 0, (3, 12), (65, 120), {"lap": (14, 58)}),
        Sizes("seat_runout", "DI1", 0, 1, 0, (1, 8), (22, 45), {"grind_seat": (9, 20)}),
        Sizes("hardness", "HT1", 1, 2, 8, (558, 622), (470, 542)),
        Words("crack", "UV1", ("none",), CRACKS, unsure="unsure"),
        Words("look", "", ("A",), ("C",), {"clean": "B"}),
    ),
    "TBH": (
        Sizes(
            "bearing_bore", "DB1", 3, 2, 5, (21000, 21021), (21085, 21140), {"bush": (21025, 21078)}
        ),
        Sizes("turbine_seat", "HG1", 2, 1, 0, (6410, 6416), (6418, 6432)),
        Sizes("flange_flatness", "FG1", 2, 1, 0, (1, 8), (22, 40), {"skim": (9, 20)}),
        Words("crack", "PL1", ("none",), CRACKS, unsure="unsure"),
        Words("look", "", ("A",), ("C",), {"clean": "B"}),
    ),
    "CAL": (
        Sizes("bore", "DB2", 3, 2, 8, (54002, 54050), (54056, 54130), {"hone": (53955, 53992)}),
        Sizes("seal_groove", "HG1", 2, 1, 0, (320, 335), (337, 355), {"scrape": (311, 319)}),
        Sizes("slide_pin", "DB2", 2, 2, 3, (1001, 1012), (1033, 1055), {"bush_pin": (1014, 1030)}),
        Words("bleeder", "TP1", ("go",), ("no-go",)),
        Words("pressure", "PR1", ("none",), ("indication",), unsure="unsure"),
        Words("look", "", ("A",), ("C",), {"clean": "B"}),
    ),
}
WHY_SCRAP = {
    "INJ": (
        ("guide_bore", 25),
        ("crack", 22),
        ("hardness", 12),
        ("seal_face", 13),
        ("seat_runout", 12),
        ("thread", 9),
        ("look", 7),
    ),
    "TBH": (
        ("bearing_bore", 20),
        ("turbine_seat", 26),
        ("flange_flatness", 12),
        ("crack", 36),
        ("look", 6),
    ),
    "CAL": (
        ("bore", 34),
        ("seal_groove", 14),
        ("slide_pin", 16),
        ("bleeder", 18),
        ("pressure", 10),
        ("look", 8),
    ),
}
WHY_REWORK = {
    "INJ": (("hone", 22), ("sleeve", 9), ("lap", 38), ("grind_seat", 19), ("clean", 12)),
    "TBH": (("bush", 34), ("skim", 46), ("clean", 20)),
    "CAL": (("hone", 40), ("scrape", 18), ("bush_pin", 22), ("clean", 20)),
}
STRICT_ON = {
    "INJ": ("look", "thread", "crack"),
    "TBH": ("look", "crack"),
    "CAL": ("look", "bleeder"),
}
REWORK_SHARE = {"INJ": (230, 740), "TBH": (150, 760), "CAL": (140, 800)}
"""Per mille of inspected cores sent to rework, and of those that pass afterwards."""
OPERATION_MINUTES = {
    "hone": 7,
    "sleeve": 18,
    "lap": 5,
    "grind_seat": 9,
    "clean": 5,
    "bush": 22,
    "skim": 12,
    "scrape": 4,
    "bush_pin": 14,
}
DISTURBS = {
    "sleeve": ("crack",),
    "grind_seat": ("hardness",),
    "skim": ("turbine_seat",),
    "bush_pin": ("pressure",),
}
TWICE = ("lap", "grind_seat", "skim", "scrape")


def operation_check(family: str, operation: str) -> Check:
    """Return the check that an operation is meant to put right."""
    return next(check for check in PLANS[family] if operation in check.rework)
