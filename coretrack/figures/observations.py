"""What an inspector found at one check, as entered, before anybody judges it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Observation:
    """The finding at the check `check`.

    `values` are the readings (millionths of the check's unit) of a numeric check. `result` is
    none, indication or unsure for a crack check, go, no-go or unsure for an attribute, a letter or
    unsure for a look. An observation whose `complete` is false was broken off half-way and never
    counts as done. `detail` is free text (place and length of a crack, a note).
    """

    check: str
    values: tuple[int, ...] = ()
    result: str = ""
    complete: bool = True
    detail: str = ""
