"""What the templates of cores are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coretrack.actions.core_life import CoreView, Found
from coretrack.actions.crack_entries import CrackShown


@dataclass(frozen=True)
class CoresPage:
    """cores/home.html: the search and what it found."""

    title: str
    found: Found


@dataclass(frozen=True)
class CorePage:
    """cores/core.html: one core; `back` is where the search was."""

    title: str
    core: CoreView
    cracks: tuple[CrackShown, ...] = ()
    message: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)
