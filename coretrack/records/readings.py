"""The readings inside an inspection event, as rows of the reading table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def reading_rows(
    tag: str, inspection: int, at: str, detail: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Return one row a reading of an "inspected" event.

    `detail["readings"]` is a list of {check, place, typed, value, result, gauge, overdue, at}.
    """
    return [
        {
            "tag": tag,
            "inspection": inspection,
            "check_code": reading["check"],
            "place": reading.get("place", 1),
            "typed": reading["typed"],
            "value": reading.get("value"),
            "result": reading.get("result", ""),
            "gauge": reading.get("gauge", ""),
            "gauge_overdue": bool(reading.get("overdue", False)),
            "read_at": reading.get("at", at),
        }
        for reading in detail.get("readings", ())
    ]
