"""What the templates of the bench are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coretrack.actions.bench_home import BenchHome, WaitingList
from coretrack.actions.bench_views import BenchView
from coretrack.web.panel import Panel

NOTHING_IN_HAND = Panel("note", "READY", "Scan the tag of a body to inspect it.", rest=True)


@dataclass(frozen=True)
class Way:
    """A place the bench leads to: `count` is what waits there, None where nothing is counted."""

    name: str
    address: str
    count: int | None = None


@dataclass(frozen=True)
class BenchHomePage:
    """bench/home.html: what is begun, what waits, and where else one goes from the bench."""

    title: str
    home: BenchHome
    ways: tuple[Way, ...] = ()
    panel: Panel = NOTHING_IN_HAND


@dataclass(frozen=True)
class WaitingPage:
    """bench/waiting.html: the cores of one family in one state."""

    view: WaitingList
    panel: Panel = NOTHING_IN_HAND

    @property
    def title(self) -> str:
        """Which cores."""
        return f"{self.view.family or 'No family yet'}: {self.view.state.words}"


@dataclass(frozen=True)
class InspectPage:
    """bench/inspect.html: one core; `typed` and `problems` are those of the owner's form.

    `crack_typed` and `crack_problems` are those of the form about an indication. `second` says
    that it is a blind second look, which leads nowhere else.
    """

    title: str
    view: BenchView
    typed: Mapping[str, str] = field(default_factory=dict)
    problems: Mapping[str, str] = field(default_factory=dict)
    crack_typed: Mapping[str, str] = field(default_factory=dict)
    crack_problems: Mapping[str, str] = field(default_factory=dict)
    second: bool = False

    @property
    def panel(self) -> Panel | None:
        """What the panel says while nothing was just scanned: what the core waits for."""
        view, check = self.view, self.view.current
        if view.asked:
            return Panel("ask", "REALLY?", view.asked)
        if view.proposed and view.proposed.ready:
            word = f"{view.proposed.grade.upper()}?"
            stores = f"{view.stamped} Enter stores this verdict.".strip()
            return Panel(view.proposed.tone, word, view.proposed.sentence, stores, proposed=True)
        if check is None:
            if view.stored:
                word = "STORED" if view.stored.grade in ("keep", "rework", "scrap") else "DECIDED"
                line = f"{view.why_not} {view.stamped}".strip()
                return Panel(
                    view.stored.tone, word, line, "Scan the tag of the next body.", rest=True
                )
            return Panel("note", "DECIDED", view.why_not, rest=True) if view.why_not else None
        place = f", reading {check.taken + 1} of {check.wanted}" if check.wanted > 1 else ""
        return Panel("note", "NEXT", f"{check.name}{place}.", rest=True)
