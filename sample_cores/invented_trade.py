"""Six invented months of sales, returned cores and purchased lots.

Only whole numbers are drawn, so that the same seed gives the same files on every platform.
"""

from __future__ import annotations

import itertools
import random
from datetime import date, timedelta
from typing import Any

from invented_terms import (
    CUSTOMERS,
    FAMILY_WEIGHTS,
    FIRST_DAY,
    HARMLESS,
    LAGS,
    LAST_DAY,
    LETTER,
    LONG_WINDOW,
    LOTS,
    QUANTITIES,
    REFUSING,
    SALES_LINES,
    SEED,
    TAKING_OFF,
    TURBO_CHARGE_RISE,
    UNKNOWN_NUMBERS,
    Core,
    LotTerms,
    Sale,
    Trade,
    at_work,
    charge_on,
    pick,
    written,
)


class _Desk:
    """Draws the trade; one source of chance per topic so that one change does not stir the rest."""

    def __init__(self, families: dict[str, dict[str, Any]]) -> None:
        self.families = families
        self.groups = {
            code: [(g["code"], [n["number"] for n in g["numbers"]]) for g in family["groups"]]
            for code, family in families.items()
        }
        self.used: set[str] = set()
        self.serials = random.Random(f"{SEED}:serials")
        self.trade = Trade()
        self.batch: dict[tuple[str, str, str], int] = {}

    def serial(self, family: str) -> str:
        """Return a maker's serial that no other core has."""
        while True:
            text = f"{LETTER[family]}{self.serials.randrange(100_000, 1_000_000)}"
            if text not in self.used:
                self.used.add(text)
                return text

    def sold_number(self, chance: random.Random, family: str, group: str) -> str:
        """Return a number to sell: one that no later number supersedes."""
        rows = next(g for g in self.families[family]["groups"] if g["code"] == group)["numbers"]
        live = [r["number"] for r in rows if "superseded_by" not in r and r["kind"] != "casting"]
        return chance.choice(live)

    def numbers_of(self, family: str, group: str) -> list[str]:
        return next(numbers for code, numbers in self.groups[family] if code == group)

    # sales ---------------------------------------------------------------------------------

    def sell(self) -> None:
        chance = random.Random(f"{SEED}:sales")
        days = [FIRST_DAY + timedelta(days=n) for n in range((LAST_DAY - FIRST_DAY).days + 1)]
        days = [day for day in days if day.weekday() < 5]
        invoice = 4100
        planted = self._planted_sales()
        wanted = SALES_LINES - len(planted)
        for position, day in enumerate(days):
            due = wanted * (position + 1) // len(days) - wanted * position // len(days)
            while due > 0:
                invoice += chance.randrange(1, 4)
                due -= self._invoice(chance, f"26-{invoice}", day, due)
        self.trade.sales = sorted(
            self.trade.sales + planted, key=lambda s: (s.sold, s.invoice, s.line)
        )

    def _invoice(self, chance: random.Random, invoice: str, day: date, most: int) -> int:
        customer = pick(chance, [(code, row[0]) for code, row in CUSTOMERS.items()])
        mode, allowed = CUSTOMERS[customer][3:]
        taken: set[str] = set()
        lines = min(most, pick(chance, ((1, 72), (2, 28))))
        for line in range(1, lines + 1):
            family = pick(chance, [(f, w) for f, w in FAMILY_WEIGHTS.items() if f in allowed])
            group = chance.choice([code for code, _ in self.groups[family]])
            if group in taken:
                return line - 1
            taken.add(group)
            self.trade.sales.append(
                self._sale(
                    chance,
                    invoice,
                    line,
                    day,
                    customer,
                    family,
                    group,
                    pick(chance, QUANTITIES[family]),
                    mode,
                )
            )
        return lines

    def _sale(
        self,
        chance: random.Random,
        invoice: str,
        line: int,
        day: date,
        customer: str,
        family: str,
        group: str,
        quantity: int,
        mode: str,
    ) -> Sale:
        return Sale(
            invoice,
            line,
            day,
            customer,
            self.sold_number(chance, family, group),
            family,
            group,
            quantity,
            charge_on(self.families[family], day),
            mode,
            LONG_WINDOW.get(customer),
        )

    def _planted_sales(self) -> list[Sale]:
        chance = random.Random(f"{SEED}:planted sales")
        rows = [
            ("26-9001", date(2026, 6, 3), "ALDW", "INJ", "INJ-B", 6),  # the set of six
            ("26-9002", date(2026, 6, 12), "GARR", "INJ", "INJ-C", 1),  # window: last day
            ("26-9003", date(2026, 6, 12), "GARR", "INJ", "INJ-A", 1),  # window: one day late
            ("26-9004", date(2026, 6, 12), "GARR", "INJ", "INJ-B", 1),  # window: by the clock
            ("26-9005", date(2026, 8, 4), "DUNM", "CAL", "CAL-B", 2),  # two sold, three sent
            ("26-9006", date(2026, 9, 1), "ALDW", "INJ", "INJ-A", 1),  # claimed first
            ("26-9007", date(2026, 9, 15), "ALDW", "INJ", "INJ-A", 1),  # claimed again
        ]
        return [
            self._sale(
                chance, invoice, 1, day, customer, family, group, quantity, CUSTOMERS[customer][3]
            )
            for invoice, day, customer, family, group, quantity in rows
        ]

    # returns -------------------------------------------------------------------------------

    def quality(self, source: str, family: str, day: date) -> int:
        """Return the chance, per mille, that a core returned now gives a good body."""
        base = {"INJ": 730, "TBH": 880, "CAL": 855}[family]
        value = base + CUSTOMERS[source][2]
        key = (source, family, f"{day:%Y-%m}")
        if key not in self.batch:
            self.batch[key] = random.Random(f"{SEED}:batch:{key}").randrange(-80, 81)
        value += self.batch[key]
        if family == "TBH" and day > TURBO_CHARGE_RISE:
            # The dearer charge draws worse cores in, week by week.
            value -= min(420, 110 + 30 * ((day - TURBO_CHARGE_RISE).days // 7))
        return max(250, min(950, value))

    def take_back(self) -> None:
        chance = random.Random(f"{SEED}:returns")
        for sale in self.trade.sales:
            if sale.invoice.startswith("26-900"):
                continue
            if chance.randrange(1000) >= CUSTOMERS[sale.customer][1]:
                continue
            together = self._lag(chance, sale)
            for _ in range(sale.quantity):
                if chance.randrange(100) < 6:
                    continue
                lag = self._lag(chance, sale) if chance.randrange(100) < 12 else together
                day = at_work(sale.sold + timedelta(days=lag))
                if day <= LAST_DAY:
                    self.trade.returns.append(self._returned(chance, sale, day))
        self._plant_returns()
        self._comebacks()
        self.trade.returns.sort(key=lambda c: (c.received, c.source, c.invoice, c.serial))
        self._deliveries()
        self._lose_papers()

    def _lag(self, chance: random.Random, sale: Sale) -> int:
        if sale.mode == "core first":
            return chance.randrange(0, 3)
        share = chance.randrange(10_000)
        for (low, days), (high, more) in itertools.pairwise(LAGS):
            if share < high * 100:
                return days + (more - days) * (share - low * 100) // ((high - low) * 100)
        raise AssertionError("the lag table ends at 100 per cent")

    def _returned(self, chance: random.Random, sale: Sale, day: date) -> Core:
        number = chance.choice(self.numbers_of(sale.family, sale.group))
        core = Core(
            day,
            sale.customer,
            self._as_typed(chance, number),
            sale.family,
            sale.group,
            self.serial(sale.family),
            self.quality(sale.customer, sale.family, day),
            sale,
            sale.invoice,
        )
        draw = chance.randrange(1000)
        if draw < 52:
            core.faults = (chance.choice(REFUSING[sale.family]),)
        elif draw < 130:
            core.faults = (chance.choice(TAKING_OFF[sale.family]),)
        elif draw < 140:
            core.faults = TAKING_OFF[sale.family]
        elif draw < 210:
            core.faults = (chance.choice(HARMLESS[sale.family]),)
        elif draw < 222:
            core.number, core.family, core.group = chance.choice(UNKNOWN_NUMBERS), "", ""
            core.note = "sticker gone, number read off the casting"
        if chance.randrange(100) < 3 and day.weekday() > 1:
            core.carrier = (day - timedelta(days=1)).isoformat()
        return core

    @staticmethod
    def _as_typed(chance: random.Random, number: str) -> str:
        """Return the number as a clerk might type it: spaces, dashes and case do not matter."""
        if chance.randrange(100) >= 6:
            return number
        return chance.choice((number.lower(), number.replace("-", " "), number.replace(" ", "")))

    def _plant_returns(self) -> None:
        sales = {sale.invoice: sale for sale in self.trade.sales}

        def back(invoice: str, day: date, number: str, **more: Any) -> Core:
            sale = sales[invoice]
            core = Core(
                day,
                sale.customer,
                number,
                sale.family,
                sale.group,
                self.serial(sale.family),
                730,
                sale,
                invoice,
            )
            for name, value in more.items():
                setattr(core, name, value)
            self.trade.returns.append(core)
            return core

        for _ in range(5):
            back("26-9001", date(2026, 6, 19), "QV3144-A")
        back(
            "26-9001",
            date(2026, 6, 19),
            "HB-2318",
            family="CAL",
            group="CAL-B",
            sale=None,
            note="sixth of the set is a caliper",
        )
        back("26-9002", date(2026, 8, 11), "WD90.512", note="arrived on the last day")
        back("26-9003", date(2026, 8, 12), "ZC 7731", note="arrived one day after the window")
        back(
            "26-9004",
            date(2026, 8, 13),
            "QV3144-C",
            carrier="2026-08-12T04:50:00+00:00",
            note="carrier scan ten minutes before midnight here",
        )
        for _ in range(2):
            back("26-9005", date(2026, 8, 5), "HB-2318")
        back("26-9005", date(2026, 8, 18), "HB-2318", sale=None, note="third core for two sold")
        first = back("26-9006", date(2026, 9, 9), "PC-61001")
        back(
            "26-9007",
            date(2026, 10, 6),
            "PC-61001",
            serial=first.serial,
            sale=None,
            note="same serial as on 9 September",
        )

    def _comebacks(self) -> None:
        rows = (
            ("CORV", date(2026, 6, 30), "INJ", "INJ-A"),
            ("BRAM", date(2026, 7, 28), "TBH", "TBH-A"),
            ("OWN", date(2026, 8, 20), "INJ", "INJ-B"),
            ("FENL", date(2026, 9, 17), "CAL", "CAL-A"),
            ("OWN", date(2026, 10, 8), "TBH", "TBH-B"),
        )
        for source, day, family, group in rows:
            self.trade.returns.append(
                Core(
                    day,
                    source,
                    self.numbers_of(family, group)[0],
                    family,
                    group,
                    self.serial(family),
                    0,
                    comeback=True,
                    note="our own unit, under claim",
                    inspected=False,
                )
            )

    def _deliveries(self) -> None:
        order: dict[tuple[date, str], str] = {}
        for core in self.trade.returns:
            key = (core.received, core.source)
            if key not in order:
                today = sum(1 for day, _ in order if day == core.received) + 1
                order[key] = f"D{core.received:%m%d}-{today}"
            core.delivery = order[key]

    def _lose_papers(self) -> None:
        """Drop the invoice from some rows whose line is the customer's oldest open one."""
        chance = random.Random(f"{SEED}:papers")
        for core in self.trade.returns:
            if core.comeback:
                continue
            open_lines = [
                sale
                for sale in self.trade.sales
                if sale.customer == core.source
                and sale.group == core.group
                and sale.sold <= core.received
                and sale.accepted < sale.quantity
            ]
            refused = any(f in REFUSING.get(core.family, ()) for f in core.faults)
            oldest = [s for s in open_lines if s.sold == open_lines[0].sold]
            sole = len(oldest) == 1 and oldest[0] is core.sale
            if core.invoice.startswith("26-900"):
                if core.sale is None and core.family == "CAL" and open_lines:
                    raise AssertionError("a planted core without a line would find one")
            elif (sole or not core.family) and chance.randrange(100) < 45:
                core.invoice = ""
            if core.sale is not None and core.family and not refused:
                core.sale.accepted += 1

    # purchased lots ------------------------------------------------------------------------

    def buy(self) -> None:
        for terms in LOTS:
            chance = random.Random(f"{SEED}:{terms.code}")
            families = [f for f, pieces in terms.pieces.items() for _ in range(pieces)]
            chance.shuffle(families)
            cores = [self._bought(chance, terms, family) for family in families]
            self.trade.lots.append((terms, cores))

    def _bought(self, chance: random.Random, terms: LotTerms, family: str) -> Core:
        group, numbers = "", list(UNKNOWN_NUMBERS)
        if family:
            group, numbers = chance.choice(self.groups[family])
        core = Core(
            terms.received,
            terms.source,
            chance.choice(numbers),
            family,
            group,
            self.serial(family),
            terms.good_per_mille.get(family, 0),
            lot=terms.code,
            note=terms.note,
            inspected=terms.inspected and bool(family),
        )
        if terms.basis == "weight":
            # The scale shows hundredths of a kilogram: three places could be read as thousands.
            hundredths = self.families[family]["mass_g"] * chance.randrange(94, 113) // 1000
            core.mass = "" if chance.randrange(100) < 8 else written(hundredths, 2)
        if terms.code == "P26-02":
            # Two grades, as the broker sorted them; a row without a price takes the terms' price.
            core.price, core.note = chance.choice((("11.25", "grade 2"), ("", "grade 1")))
        return core


def make_trade(families: dict[str, dict[str, Any]]) -> Trade:
    """Return the whole invented trade, always the same."""
    desk = _Desk(families)
    desk.sell()
    desk.take_back()
    desk.buy()
    return desk.trade
