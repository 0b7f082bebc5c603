"""Washes, process checks with their rules, gauge studies, second looks, stock-takes as values.

As in trade_objects.py each is the present state of one kind of object, and its events replayed
are its history; all of these change by "set" alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Wash:
    """One run of a wash basket: which cores lie in it, by slot, and what became of it.

    `status`: loading, washing, done or tipped. `counted` is what was confirmed when it was closed.
    `slots` maps a slot (as text) to the tag in it.
    """

    key: str
    basket: str = ""
    status: str = ""
    slots: Mapping[str, str] = field(default_factory=dict)
    counted: int = 0
    note: str = ""


@dataclass(frozen=True)
class ProcessCheck:
    """The day's check of a lamp or a bath for crack checks; the key is `DAY/KIND/PLACE`.

    `measured` are the readings with their units as told, `result` is good or not good.
    """

    key: str
    day: str = ""
    kind: str = ""
    place: str = ""
    measured: Mapping[str, str] = field(default_factory=dict)
    result: str = ""
    by: str = ""
    note: str = ""


@dataclass(frozen=True)
class ProcessRule:
    """What the shop asks of one kind of process check; the key is the kind.

    `methods` are the crack methods it belongs to; `limits` maps a quantity to its least and most
    (millionths of its unit, None for none); `source` says where the limits come from.
    """

    key: str
    methods: tuple[str, ...] = ()
    limits: Mapping[str, Any] = field(default_factory=dict)
    source: str = ""


@dataclass(frozen=True)
class GaugeStudy:
    """A repeatability and reproducibility study at the bench; `readings` as typed and exact.

    `status`: open, done or given up. `proposed` is the expanded uncertainty it came to.
    """

    key: str
    gauge: str = ""
    family: str = ""
    check_code: str = ""
    unit: str = ""
    status: str = ""
    design: Mapping[str, Any] = field(default_factory=dict)
    readings: tuple[Mapping[str, Any], ...] = ()
    proposed: str = ""
    day: str = ""


@dataclass(frozen=True)
class SecondLook:
    """A verdict that is looked at again by somebody who does not see the first one.

    `why`: drawn (blind, by the shop's share) or undecided. `status`: wanted, done, dropped (the
    body changed before, or the owner said so), or answered (it differed and the owner said why the
    first verdict stands). The key is `TAG/INSPECTION`: one look a verdict at most.
    """

    key: str
    tag: str = ""
    family: str = ""
    why: str = ""
    status: str = ""
    first_grade: str = ""
    first_inspector: str = ""
    grade: str = ""
    inspector: str = ""
    findings: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True)
class StockTake:
    """Counting the shelf by scan: what should be there, what was found, and where."""

    key: str
    scope: Mapping[str, str] = field(default_factory=dict)
    status: str = ""
    expected: tuple[str, ...] = ()
    found: Mapping[str, str] = field(default_factory=dict)
    note: str = ""
