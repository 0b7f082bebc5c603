"""What the templates of the bench are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coretrack.actions.bench_home import BenchHome
from coretrack.actions.bench_views import BenchView


@dataclass(frozen=True)
class BenchHomePage:
    """bench/home.html: what is begun and what waits."""

    title: str
    home: BenchHome


@dataclass(frozen=True)
class InspectPage:
    """bench/inspect.html: one core; `typed` and `problems` are those of the owner's form."""

    title: str
    view: BenchView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
