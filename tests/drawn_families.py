"""Family files drawn at random: every kind of check, bands, criteria, charges, numbers."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from coretrack.figures.limits import MICRO, plain_text

words = st.text(
    st.characters(blacklist_categories=("Cc", "Cs", "Cf", "Zl", "Zp", "Co", "Cn", "Zs")),
    min_size=1,
    max_size=12,
)
sizes = st.integers(-40 * MICRO, 40 * MICRO)
amounts = st.integers(0, 10**9).map(lambda money: f"{Decimal(money) / 10_000:f}")


def text(value: int) -> str:
    return plain_text(value)


@st.composite
def numeric_checks(draw: st.DrawFn, code: str, operations: list[str]) -> dict[str, Any]:
    low, high = sorted(draw(st.lists(sizes, min_size=2, max_size=2, unique=True)))
    side = draw(st.sampled_from(("both", "low", "high")))
    table: dict[str, Any] = {
        "code": code,
        "name": f"check {code}",
        "kind": draw(st.sampled_from(("dimension", "count", "time", "hardness"))),
        "unit": draw(st.sampled_from(("mm", "in", "um", "N", "kg"))),
        "usable": {
            "both": f"{text(low)}..{text(high)}",
            "low": f">= {text(low)}",
            "high": f"<= {text(high)}",
        }[side],
        "order": draw(st.integers(0, 30)),
        "gauge_kind": draw(words),
    }
    if draw(st.booleans()):
        table["resolution"] = text(draw(st.integers(1, 2 * MICRO)))
        table["nominal"] = text(draw(sizes))
    if draw(st.booleans()):
        table |= {
            "readings": draw(st.integers(2, 9)),
            "judged": draw(st.sampled_from(("mean", "max", "range"))),
        }
    if side == "both" and draw(st.booleans()):
        table["new"] = table["usable"]
        table["plausible"] = f"{text(low - 50 * MICRO)}..{text(high + 50 * MICRO)}"
        if operations:
            below = draw(st.integers(1, 40 * MICRO))
            table["rework"] = [
                {"operation": operations[0], "limits": f"{text(low - below)}..{text(low)}"}
            ]
    guard = draw(st.integers(1, 3))
    if (side != "both" or high - low > 20) and "rework" not in table:
        table |= {"rule": "guarded", "uncertainty": text(guard)}
    return table


@st.composite
def family_files(draw: st.DrawFn) -> dict[str, Any]:
    operations = [f"op{number}" for number in range(draw(st.integers(0, 2)))]
    codes = [f"c{number}" for number in range(draw(st.integers(1, 4)))]
    checks: list[dict[str, Any]] = [draw(numeric_checks(code, operations)) for code in codes]
    checks.append({"code": "thread", "name": "Thread", "kind": "attribute", "order": 2})
    checks.append({"code": "crack", "name": "Crack", "kind": "crack", "method": "pressure"})
    checks.append({"code": "look", "name": "Look", "kind": "look", "look_scraps": ["D"]})
    if operations:
        checks[-3]["rework"] = [{"operation": operations[-1]}]
        checks[-1]["look_reworks"] = [["B", operations[0]]]
    return {
        "code": draw(st.text("ABCDEFG0123456789", min_size=1, max_size=20)),
        "name": draw(words),
        "mass_g": draw(st.integers(1, 90_000)),
        "metal": "steel",
        "standard_yield": draw(st.sampled_from(("0.62", "1"))),
        "part_percent": "12.5",
        "prices": {"new_body": draw(amounts), "belief": "0.35"},
        "charges": [{"from": date(2026, 1, draw(st.integers(1, 28))), "amount": draw(amounts)}],
        "groups": [
            {
                "code": "A",
                "name": draw(words),
                "numbers": [
                    {"number": "N-1", "kind": "OE", "superseded_by": "N-2"},
                    {"number": "N-2", "kind": "own", "from": date(2026, 2, 1)},
                ],
            }
        ],
        "faults": [
            {"code": "f1", "name": draw(words), "effect": "parts", "value": 3, "each": True},
            {"code": "f2", "name": "two", "effect": "money", "value": draw(amounts)},
            {
                "code": "f3",
                "name": "three",
                "effect": "percent",
                "value": "33.25",
                "exclusive": True,
            },
            {"code": "f4", "name": "four", "effect": "refuse"},
        ],
        "checks": checks,
        "operations": [
            {
                "code": code,
                "name": f"operation {code}",
                "minutes": draw(st.integers(0, 99)),
                "most_passes": 2,
                "consumables": draw(amounts),
                "check": "c0",
                "removes": "0.02",
                "allowance": "0.06",
                "disturbs": ["crack"],
            }
            for code in operations
        ],
    }
