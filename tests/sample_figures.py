"""The invented shop worked out again from its raw files, in plain Python.

Nothing here imports coretrack: this is the second opinion its figures are compared with. Money is
an integer count of 1/10 000 of the currency unit, sizes are exact fractions.

Rules (from the shop's file formats):

* A return is matched to a core line of its customer and core group: one of its invoice, else one
  whose window is not over on the day it arrived, else one that sold this very number, else the
  oldest. One core per unit sold; one more is an excess core and is not bought.
* Credit = charge - percentages of the charge - fixed amounts - lateness, never below zero. Lateness
  is slide_percent for each full slide_days after the last day (sale + window); the day of the
  carrier counts where there is one, in the shop's own time zone.
* A serial seen before is turned away. Comebacks earn nothing and stay out until inspected.
* A core is scrapped by any discard, else open while a check is missing, else undecided when unsure
  or in the grey zone, else sent to rework, else kept.
"""

from __future__ import annotations

import csv
import re
import tomllib
from collections import defaultdict
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from openpyxl import load_workbook
from sample_counts import Core, Figures, Line
from sample_rules import BY_NUMBER, inside, limits, money, plain_number, size, split, verdict


class Shop:
    """The whole invented shop; `cores` by serial, `rejects` as (file, core, why)."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        settings = tomllib.loads((folder / "shop/shop.toml").read_text(encoding="utf-8"))
        self.zone = ZoneInfo(settings["shop"]["time_zone"])
        self.window = settings["charges"]
        self.rates = settings["rates"]
        self.families: dict[str, dict[str, Any]] = {}
        self.group_of: dict[str, tuple[str, str, str]] = {}
        self.lines: list[Line] = []
        self.cores: dict[str, Core] = {}
        self.rejects: list[tuple[str, str, str]] = []
        self.unknown = 0
        self.comebacks = 0
        self._read_families()
        self._read_sales()
        self._read_returns()
        self._read_lots()
        for row in self._csv("events/tipped_basket.csv"):
            self.cores[row["core"]].source_lost = True
        self._read_bench()
        for core in self.cores.values():
            if core.looks:
                self._grade(core)

    # files ---------------------------------------------------------------------------------

    def _csv(self, name: str) -> list[dict[str, str]]:
        text = (self.folder / name).read_text(encoding="utf-8")
        first = text.split("\n", 1)[0]
        separator = ";" if first.count(";") > first.count(",") else ","
        return list(csv.DictReader(text.splitlines(), delimiter=separator))

    def _sheet(self, name: str) -> list[dict[str, Any]]:
        sheet = load_workbook(self.folder / name, read_only=False).active
        assert sheet is not None
        rows = list(sheet.iter_rows(values_only=True))
        heads = [re.sub(r"\(.*\)", "", str(head)).strip().lower() for head in rows[0]]
        return [dict(zip(heads, row, strict=True)) for row in rows[1:]]

    def _read_families(self) -> None:
        for path in sorted((self.folder / "shop/families").glob("*.toml")):
            family = tomllib.loads(path.read_text(encoding="utf-8"))
            self.families[family["code"]] = family
            for group in family["groups"]:
                for row in group["numbers"]:
                    self.group_of[plain_number(row["number"])] = (
                        family["code"],
                        group["code"],
                        row["number"],
                    )

    def _read_sales(self) -> None:
        for row in self._sheet("sales_2026.xlsx"):
            group = self.group_of[plain_number(row["number"])][1]
            window = row["window days"]
            self.lines.append(
                Line(
                    row["date"].date(),
                    row["invoice"],
                    row["customer"],
                    group,
                    plain_number(row["number"]),
                    row["quantity"],
                    Fraction(str(row["core charge"])),
                    self.window["window_days"] if window is None else window,
                )
            )
        self.lines.sort(key=lambda line: line.sold)  # stable: the file's order within a day

    def rate(self, item: str, day: date) -> Fraction:
        """Return the rate of `item` on `day` in its own unit."""
        in_force = [row for row in self.rates if row["item"] == item and row["from"] <= day]
        return Fraction(max(in_force, key=lambda row: row["from"])["amount"])

    def step(self, step: str, day: date) -> int:
        """Return labour and consumables of a step on a core."""
        minutes = self.rate(f"{step}_minutes", day)
        labour = self.rate("labour", day)
        return money(labour / 60 * minutes) + money(self.rate(f"{step}_consumables", day))

    # the dock ------------------------------------------------------------------------------

    def _read_returns(self) -> None:
        rows = [
            (path.name, row)
            for path in sorted(self.folder.glob("returns_*.csv"))
            for row in self._csv(path.name)
        ]
        for name, row in sorted(rows, key=lambda pair: pair[1]["received"]):
            if row["serial"] in self.cores:
                self.rejects.append((name, row["serial"], "this serial was received before"))
                continue
            core = Core(
                row["serial"], row["number"], row["customer"], date.fromisoformat(row["received"])
            )
            core.money["receive"] = self.step("receive", core.received)
            self.cores[core.serial] = core
            known = self.group_of.get(plain_number(row["number"]))
            if known is None:
                core.outcome = core.state = "unknown"
                self.unknown += 1
                continue
            core.family, _, core.number = known
            if row["comeback"]:
                core.outcome = core.state = "comeback"
                self.comebacks += 1
                continue
            self._accept(core, row, known[1])

    def _accept(self, core: Core, row: dict[str, str], group: str) -> None:
        faults = {f["code"]: f for f in self.families[core.family]["faults"]}
        ticked = [faults[code] for code in row["faults"].split(";") if code]
        mine = [
            line
            for line in self.lines
            if line.customer == core.source
            and line.group == group
            and line.accepted < line.quantity
            and line.sold <= core.received
        ]
        arrived = self._arrived(core, row["carrier_date"])
        days = {id(line): (arrived - line.sold).days for line in mine}
        best = [line for line in mine if line.invoice == row["invoice"]] or mine
        best = [line for line in best if days[id(line)] <= line.window] or best
        best = [line for line in best if line.number == plain_number(row["number"])] or best
        line = next(iter(best), None)
        if line is None:
            core.outcome = core.state = "excess"
            return
        if any(fault["effect"] == "refuse" for fault in ticked):
            core.outcome = core.state = "refuse"
            return
        percent = sum(
            (Fraction(f["value"]) for f in ticked if f["effect"] == "percent"), Fraction(0)
        )
        fixed = sum((Fraction(f["value"]) for f in ticked if f["effect"] == "money"), Fraction(0))
        late = days[id(line)] - line.window
        if late > 0:
            assert self.window["after"] == "slide"
            percent += late // self.window["slide_days"] * Fraction(self.window["slide_percent"])
        credit = max(Fraction(0), line.charge - line.charge * percent / 100 - fixed)
        assert credit > 0, "no core of the invented shop comes so late that nothing is left"
        line.accepted += 1
        core.outcome = "accept" if credit == line.charge else "part credit"
        core.money["credit"] = money(credit)

    def _arrived(self, core: Core, carrier: str) -> date:
        if not carrier:
            return core.received
        if len(carrier) == 10:
            return date.fromisoformat(carrier)
        return datetime.fromisoformat(carrier).astimezone(self.zone).date()

    # purchased lots ------------------------------------------------------------------------

    def _read_lots(self) -> None:
        for terms in self._csv("lots/terms.csv"):
            name = f"lots/{terms['file']}"
            rows = self._sheet(name) if name.endswith(".xlsx") else self._csv(name)
            prices = self._prices(terms, rows)
            freight = split(money(terms["freight"]), [Fraction(1)] * len(rows))
            for row, price, share in zip(rows, prices, freight, strict=True):
                received = date.fromisoformat(terms["received"])
                core = Core(row["serial"], row["number"], terms["source"], received, terms["lot"])
                assert core.serial not in self.cores
                known = self.group_of.get(plain_number(row["number"]))
                core.outcome = "bought" if known else "unknown"
                if known:
                    core.family, _, core.number = known
                else:
                    core.state = "unknown"
                    self.unknown += 1
                core.money["price"], core.money["freight"] = price, share
                core.money["receive"] = self.step("receive", received)
                self.cores[core.serial] = core

    def _prices(self, terms: dict[str, str], rows: list[dict[str, Any]]) -> list[int]:
        price = Fraction(terms["price"])
        if terms["basis"] == "piece":
            return [money(Fraction(str(row["price"])) if row["price"] else price) for row in rows]
        if terms["basis"] == "lump":
            return split(money(price), [Fraction(1)] * len(rows))
        masses = [
            Fraction(str(row["mass_kg"]))
            if row["mass_kg"]
            else Fraction(
                self.families[self.group_of[plain_number(row["number"])][0]]["mass_g"], 1000
            )
            for row in rows
        ]
        return split(money(price * sum(masses)), masses)

    # the bench -----------------------------------------------------------------------------

    def _moment(self, text: str) -> datetime:
        """Return a time in the shop's zone; without an offset it is the shop's own."""
        moment = datetime.fromisoformat(text)
        return (
            moment.replace(tzinfo=self.zone)
            if moment.tzinfo is None
            else (moment.astimezone(self.zone))
        )

    def _read_bench(self) -> None:
        for path in sorted(self.folder.glob("readings_*.csv")):
            for row in self._csv(path.name):
                core = self.cores[row["core"]]
                moment = self._moment(row["time"])
                core.inspector = core.inspector or row["inspector"]
                if "reading" in row:
                    found = [(row["check"], row["reading"])]
                else:
                    found = self._across(core.family, row)
                for check, text in found:
                    self._keep_reading(path.name, core, moment, check, text)
        for row in self._csv("bench/last_friday.csv"):
            # Typed at the bench; what a second look finds changes no verdict.
            if row["page"] == "bench" and row["check"]:
                core = self.cores[row["core"]]
                core.inspector = core.inspector or row["person"]
                moment = self._moment(row["time"])
                self._keep_reading("last_friday.csv", core, moment, row["check"], row["scan"])
        for path in sorted(self.folder.glob("rework_*.csv")):
            for row in self._csv(path.name):
                self.cores[row["core"]].work.append(
                    (self._moment(row["time"]), row["operation"], row["minutes"])
                )

    def _across(self, family: str, row: dict[str, str]) -> list[tuple[str, str]]:
        """Return the (check, reading) pairs of a row that has one column a check."""
        by_name = {check["name"]: check["code"] for check in self.families[family]["checks"]}
        pairs = []
        for heading, cell in row.items():
            name = re.sub(r"( \d+)?( \(.*\))?$", "", heading)
            if name in by_name and cell:
                pairs += [(by_name[name], text) for text in cell.split("/")]
        return pairs

    def _keep_reading(self, name: str, core: Core, moment: datetime, check: str, text: str) -> None:
        plan = next(c for c in self.families[core.family]["checks"] if c["code"] == check)
        if plan["kind"] in BY_NUMBER and not inside(size(text), limits(plan["plausible"])):
            self.rejects.append((name, core.serial, f"{check} cannot be {text} {plan['unit']}"))
            return
        core.looks.append((moment, check, text, name))

    def _grade(self, core: Core) -> None:
        """Walk a core through its looks and reworks in time order, posting what each costs."""
        plan = self.families[core.family]
        looks = sorted(core.looks, key=lambda look: look[0])
        work = sorted(core.work)
        first_day = looks[0][0].date()
        core.money["wash"] = self.step("wash", first_day)
        core.money["inspect"] = self.step("inspect", first_day)
        current: dict[str, list[str]] = defaultdict(list)
        self._take(looks, None, work[0][0] if work else None, current)
        self._judge(core, plan, current, self._last(looks, work[0][0] if work else None))
        while work:
            nxt = next((m for m, *_ in looks if m > work[0][0]), None)
            batch = [row for row in work if nxt is None or row[0] < nxt]
            work = work[len(batch) :]
            assert core.state == "rework", f"{core.serial} was reworked though it is {core.state}"
            for moment, code, minutes in batch:
                self._rework(core, plan, current, code, minutes, moment.date())
            core.reworked = True
            if nxt is None:
                return
            core.money["reinspect"] += self.step("reinspect", nxt.date())
            until = work[0][0] if work else None
            self._take(looks, batch[-1][0], until, current)
            self._judge(core, plan, current, self._last(looks, until))

    @staticmethod
    def _last(looks: list[tuple[datetime, str, str, str]], until: datetime | None) -> date:
        return max(m for m, *_ in looks if until is None or m < until).date()

    @staticmethod
    def _take(
        looks: list[tuple[datetime, str, str, str]],
        after: datetime | None,
        until: datetime | None,
        current: dict[str, list[str]],
    ) -> None:
        for moment, check, text, _ in looks:
            if (after is None or moment > after) and (until is None or moment < until):
                current[check].append(text)

    def _rework(
        self,
        core: Core,
        plan: dict[str, Any],
        current: dict[str, list[str]],
        code: str,
        minutes: str,
        day: date,
    ) -> None:
        operation = next(o for o in plan["operations"] if o["code"] == code)
        for check in (operation["check"], *operation.get("disturbs", ())):
            current[check] = []
        spent = Fraction(minutes) if minutes else Fraction(operation["minutes"])
        core.money["rework"] += money(self.rate("labour", day) / 60 * spent) + money(
            operation["consumables"]
        )

    def _judge(
        self, core: Core, plan: dict[str, Any], current: dict[str, list[str]], day: date
    ) -> None:
        found = {c["code"]: verdict(c, current.get(c["code"], [])) for c in plan["checks"]}
        verdicts = set(found.values())
        core.state = next(
            (state for state in ("scrap", "open", "undecided", "rework") if state in verdicts),
            "keep",
        )
        if core.state == "scrap":
            core.reasons = tuple(code for code, what in found.items() if what == "scrap")
            mass = Fraction(plan["mass_g"], 1000)
            core.money["recovery"] = money(mass * self.rate(f"scrap_metal:{plan['metal']}", day))
            core.money["disposal"] = money(mass * self.rate("disposal", day))

    # figures -------------------------------------------------------------------------------

    def totals(self) -> Figures:
        """Return the figures of all families together."""
        return self._by(lambda core: "all")["all"]

    def by_family(self) -> dict[str, Figures]:
        return self._by(lambda core: core.family)

    def by_source(self) -> dict[str, Figures]:
        """Return figures per source; cores whose source was lost are in none."""
        return self._by(lambda core: "" if core.source_lost else core.source)

    def by_lot(self) -> dict[str, Figures]:
        """Return figures per purchased lot."""
        return self._by(lambda core: "" if core.source_lost else core.lot)

    def by_month(self) -> dict[str, Figures]:
        """Return figures per family and month received, as FAMILY 2026-05."""
        return self._by(lambda core: f"{core.family} {core.received:%Y-%m}" if core.family else "")

    def by_number(self) -> dict[str, Figures]:
        return self._by(lambda core: core.number if core.family else "")

    def _by(self, name_of: Any) -> dict[str, Figures]:
        groups: dict[str, Figures] = {}
        for core in self.cores.values():
            name = name_of(core)
            if name:
                groups.setdefault(name, Figures()).add(core)
        return dict(sorted(groups.items()))


def work_out(folder: Path) -> Shop:
    """Read every file below `folder` and return the shop worked out."""
    return Shop(folder)
