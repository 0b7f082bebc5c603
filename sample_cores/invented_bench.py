"""What the invented bench measured: readings, rework and the tipped basket.

Sizes are whole numbers of the gauge's last digit; nothing here is a floating-point number.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from invented_plans import (
    DISTURBS,
    OPERATION_MINUTES,
    PLANS,
    REWORK_SHARE,
    STRICT_ON,
    TWICE,
    WHY_REWORK,
    WHY_SCRAP,
    Check,
    Words,
    operation_check,
)
from invented_terms import REFUSING, SEED, Core, Trade, at_work, pick, written

LAST_BENCH_DAY = date(2026, 10, 30)
STRICT = "Mirelle Oxgate"
OTHER = "Teodor Lanzik"
STRICTER_PER_MILLE = 105
BASKET_TIPPED = datetime(2026, 7, 16, 11, 20)  # noqa: DTZ001 - the shop's local time
BASKET_SIZE = 12


ENDINGS_OF_UNDECIDED = (("grey", 60), ("unsure", 40))


@dataclass(frozen=True)
class Look:
    """One core at one station: the readings of each check, in bench order."""

    when: datetime
    station: str
    inspector: str
    core: Core
    readings: tuple[tuple[Check, tuple[str, ...]], ...]
    note: str = ""


@dataclass(frozen=True)
class Rework:
    """One finished rework; `minutes` is empty when nobody wrote them down."""

    when: datetime
    core: Core
    operation: str
    person: str
    minutes: str
    note: str = ""


@dataclass
class Bench:
    """All that happened at the bench."""

    looks: list[Look] = field(default_factory=list)
    reworks: list[Rework] = field(default_factory=list)
    tipped: list[Core] = field(default_factory=list)


class _Inspector:
    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.bench = Bench()
        self.clock: dict[tuple[str, date], datetime] = {}

    # readings ------------------------------------------------------------------------------

    def read(self, check: Check, finding: str) -> tuple[str, ...]:
        """Return the readings of `check` for a finding: good, scrap, grey, or an operation."""
        if isinstance(check, Words):
            if finding == "good":
                return (self.chance.choice(check.good),)
            if finding in ("scrap", "unsure"):
                return (self.chance.choice(check.scrap) if finding == "scrap" else check.unsure,)
            return (check.rework[finding],)
        ranges = {"good": check.good, "scrap": check.scrap, "grey": check.grey, **check.rework}
        low, high = ranges[finding] or check.good
        spread = min(check.spread, high - low)
        size = low + self.chance.randrange(high - low - spread + 1)
        return tuple(
            written(size + self.chance.randrange(spread + 1), check.places)
            for _ in range(check.count)
        )

    def slot(self, station: str, day: date) -> datetime:
        """Return the next free time at a station: its day starts at half past seven."""
        start = datetime(day.year, day.month, day.day, 7, 30)  # noqa: DTZ001 - local time
        now = self.clock.get((station, day), start)
        self.clock[station, day] = now + timedelta(seconds=self.chance.randrange(240, 420))
        return now

    # first inspection ----------------------------------------------------------------------

    def first_look(self, core: Core) -> None:
        day = at_work(core.received + timedelta(days=self.chance.randrange(1, 7)))
        if core.not_before is not None:
            day = max(day, core.not_before)
        inspector = self.chance.choice((STRICT, OTHER))
        findings, ending = self.findings(core, inspector)
        if day > LAST_BENCH_DAY:
            return
        station = {"INJ": "bench1", "TBH": "bench2", "CAL": "bench3"}[core.family]
        when = self.slot(station, day)
        stops = ending == "scrap" and self.chance.randrange(100) < 70
        readings, note = self.measured(PLANS[core.family], findings, stops)
        self.bench.looks.append(Look(when, station, inspector, core, readings, note))
        if ending in ("rework", "rework fails"):
            self.rework(
                core,
                [f for f in findings.values() if f in OPERATION_MINUTES],
                day,
                ending == "rework",
                again=True,
            )

    def measured(
        self, checks: tuple[Check, ...], findings: dict[str, str], stops: bool
    ) -> tuple[tuple[tuple[Check, tuple[str, ...]], ...], str]:
        readings = []
        for check in checks:
            finding = findings.get(check.code, "good")
            readings.append((check, self.read(check, finding)))
            if stops and finding == "scrap" and check is not checks[-1]:
                return tuple(readings), "stopped"
        return tuple(readings), ""

    def findings(self, core: Core, inspector: str) -> tuple[dict[str, str], str]:
        """Return the finding of each check that is not good, and how the look ends."""
        chance, family = self.chance, core.family
        share, passes = REWORK_SHARE[family]
        keep = core.good_per_mille - share * passes // 1000
        draw, strict_draw, rare = (
            chance.randrange(1000),
            chance.randrange(1000),
            chance.randrange(1000),
        )
        if draw < keep + share:
            if inspector == STRICT and strict_draw < STRICTER_PER_MILLE:
                return {chance.choice(STRICT_ON[family]): "scrap"}, "scrap"
            if rare < 22:
                return self.undecided(family), "undecided"
        if draw < keep:
            return {}, "keep"
        if draw < keep + share:
            operations = {pick(chance, WHY_REWORK[family])}
            if chance.randrange(100) < 12:
                operations.add(pick(chance, WHY_REWORK[family]))
            found = {operation_check(family, op).code: op for op in sorted(operations)}
            return found, "rework" if chance.randrange(1000) < passes else "rework fails"
        found = {pick(chance, WHY_SCRAP[family]): "scrap"}
        if chance.randrange(100) < 18:
            found[pick(chance, WHY_SCRAP[family])] = "scrap"
        return found, "scrap"

    def undecided(self, family: str) -> dict[str, str]:
        cracks = next(c.code for c in PLANS[family] if isinstance(c, Words) and c.unsure)
        if family == "INJ" and pick(self.chance, ENDINGS_OF_UNDECIDED) == "grey":
            return {"guide_bore": "grey"}
        return {cracks: "unsure"}

    # rework --------------------------------------------------------------------------------

    def rework(
        self, core: Core, operations: list[str], day: date, passes: bool, again: bool
    ) -> None:
        """Finish the operations, then look again; a second round falls into a later month."""
        chance = self.chance
        done = at_work(day + timedelta(days=chance.randrange(2, 9)))
        if done > LAST_BENCH_DAY:
            return
        for operation in operations:
            usual = OPERATION_MINUTES[operation]
            minutes = str(usual + chance.randrange(-1, 4)) if chance.randrange(100) < 60 else ""
            person = chance.choice((STRICT, OTHER, "Harlan Vosskamp"))
            self.bench.reworks.append(
                Rework(self.slot("rework", done), core, operation, person, minutes)
            )
        looked = at_work(done + timedelta(days=chance.randrange(1, 4)))
        if looked > LAST_BENCH_DAY:
            return
        second = (
            again
            and len(operations) == 1
            and operations[0] in TWICE
            and (chance.randrange(100) < 15)
        )
        findings = self.after_rework(core.family, operations, passes, second)
        wanted = {operation_check(core.family, op).code for op in operations}
        wanted.update(code for op in operations for code in DISTURBS.get(op, ()))
        checks = tuple(check for check in PLANS[core.family] if check.code in wanted)
        readings, note = self.measured(checks, findings, stops=not passes)
        inspector = chance.choice((STRICT, OTHER))
        when = self.slot("recheck", looked)
        self.bench.looks.append(Look(when, "recheck", inspector, core, readings, note))
        if second:
            later = date(looked.year, looked.month + 1, 1) if looked.month < 12 else looked
            self.rework(core, operations, later, passes, again=False)

    def after_rework(
        self, family: str, operations: list[str], passes: bool, second: bool
    ) -> dict[str, str]:
        if second:
            return {operation_check(family, operations[0]).code: operations[0]}
        if passes:
            return {}
        spoilt = self.chance.choice(operations)
        disturbed = DISTURBS.get(spoilt, ())
        if disturbed and self.chance.randrange(100) < 50:
            return {self.chance.choice(disturbed): "scrap"}
        return {operation_check(family, spoilt).code: "scrap"}


def _tipped(cores: list[Core]) -> list[Core]:
    """Choose the cores that lay in the basket when it tipped; they wait until it is sorted out."""
    waiting = [
        core
        for core in cores
        if core.family == "INJ" and date(2026, 7, 3) <= core.received <= date(2026, 7, 15)
    ]
    chosen = random.Random(f"{SEED}:basket").sample(waiting, BASKET_SIZE)
    for core in chosen:
        core.not_before = date(2026, 7, 17)
    return sorted(chosen, key=lambda core: core.serial)


def make_bench(trade: Trade) -> Bench:
    """Return all readings and rework for the cores that joined the stream."""
    cores = [core for _, lot in trade.lots for core in lot if core.inspected]
    for core in trade.returns:
        joined = core.sale is not None and core.family and not core.comeback
        if joined and not any(f in REFUSING[core.family] for f in core.faults):
            cores.append(core)
    cores.sort(key=lambda core: (core.received, core.serial))
    tipped = _tipped(cores)
    inspector = _Inspector(random.Random(f"{SEED}:bench"))
    for core in cores:
        inspector.first_look(core)
    inspector.bench.tipped = tipped
    _plant(inspector.bench)
    inspector.bench.looks.sort(key=lambda look: (look.when, look.station))
    inspector.bench.reworks.sort(key=lambda row: row.when)
    return inspector.bench


def _kept(bench: Bench, family: str, month: int) -> list[int]:
    """Return the positions of first looks at bodies that were kept at once, in one month."""

    def all_good(look: Look) -> bool:
        return all(
            answers[0] in check.good
            if isinstance(check, Words)
            else all(
                written(check.good[0], check.places) <= a <= written(check.good[1], check.places)
                for a in answers
            )
            for check, answers in look.readings
        )

    return [
        position
        for position, look in enumerate(bench.looks)
        if look.core.family == family
        and look.when.month == month
        and look.station != "recheck"
        and len(look.readings) == len(PLANS[family])
        and all_good(look)
    ]


def _plant(bench: Bench) -> None:
    """Change a few looks: inch mode, inches written out, broken-off sets, a night shift."""

    def change(
        position: int,
        check_code: str,
        readings: tuple[str, ...],
        note: str,
        when: datetime | None = None,
    ) -> None:
        old = bench.looks[position]
        changed = tuple(
            (check, readings if check.code == check_code and readings else answers)
            for check, answers in old.readings
        )
        bench.looks[position] = Look(
            when or old.when, old.station, old.inspector, old.core, changed, note
        )

    inch_mode = _kept(bench, "INJ", 9)[3]
    change(inch_mode, "guide_bore", ("6.0051", "0.2364", "6.0049"), "")
    for position, answer in zip(
        _kept(bench, "TBH", 7)[:3], ("2.52441 in", "2.52480 in", "2.52559 in"), strict=True
    ):
        change(position, "turbine_seat", (answer,), "height gauge set to inches, unit written")
    for position in _kept(bench, "INJ", 10)[4:6]:
        change(position, "guide_bore", ("6.0041", "6.0044"), "called away")
    night = next(p for p in _kept(bench, "INJ", 6) if bench.looks[p].when.day == 30)
    change(
        night, "", (), "late shift", bench.looks[night].when.replace(hour=21, minute=40, second=0)
    )
