"""What every arriving core goes through: its number, its serial, its tag, the receiving cost.

`ArrivalDesk` takes in one core at a time, whoever brings it; `Arrivals` does the same for the rows
of a file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from coretrack.actions.imports import Work
from coretrack.actions.lookups import Catalogue
from coretrack.actions.typed_fields import HEAVIEST_KG
from coretrack.errors import NotAllowed
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money, whole
from coretrack.figures.part_numbers import loose_serial
from coretrack.figures.rates import RateBook
from coretrack.figures.table import Row
from coretrack.figures.table_values import RowProblem
from coretrack.figures.tags import make_tag, show_tag
from coretrack.figures.trade_objects import Number
from coretrack.records import queries
from coretrack.records.writer import Writer

MAY_COME_AGAIN = ("good", "built", "sent back")
"""States after which the same body may come in: kept, built and sold, or refused and sent home."""


class ArrivalDesk:
    """Receives cores inside one transaction; `note` is told what has to be said aloud.

    Without `hold` it only answers questions and may be asked outside a write transaction.
    """

    def __init__(
        self,
        writer: Writer,
        now: datetime,
        note: Callable[[str], None] | None = None,
        *,
        hold: bool = True,
    ) -> None:
        self._writer = writer
        self._note = note or (lambda _text: None)
        # Whoever receives holds the tags before looking at serials: without it two people on a
        # PostgreSQL server could take in the same body at the same moment.
        if hold:
            writer.next_number("tags", 0)
        self.catalogue = Catalogue(writer)
        self.today = now.astimezone(self.catalogue.zone).date()
        self._rates = RateBook.of(queries.rates())
        self._lives: dict[str, list[CoreFacts]] = {}
        self._asked: set[str] = set()
        self._loosely: dict[str, list[CoreFacts]] = {}
        self._asked_loosely: set[str] = set()
        self._claimed: set[str] = set()
        self._claimed_loosely: set[str] = set()

    def learn_serials(self, serials: Iterable[str]) -> None:
        """Find in one question the cores that came in with exactly these serials."""
        asked = {serial for serial in serials if serial} - self._asked
        self._asked |= asked
        for serial, lives in queries.cores_with_serials(asked).items():
            self._lives[serial] = sorted(lives, key=lambda life: (life.received_on, life.tag))

    def learn_loose_serials(self, serials: Iterable[str]) -> None:
        """Find in one question the cores whose serials agree but for blanks and dashes."""
        asked = {loose_serial(serial) for serial in serials if serial} - self._asked_loosely
        self._asked_loosely |= asked
        self._loosely |= queries.cores_with_loose_serials(asked)

    def earlier(self, serial: str) -> list[CoreFacts]:
        """Return the earlier lives of a body, oldest first; what was taken back was none."""
        self.learn_serials([serial])
        return self._lives.get(serial, [])

    def check_serial(self, serial: str, place: str = "") -> str:
        """Return the serial; NotAllowed when a core with it is in the house or was claimed.

        The same body may come back after it was kept and sold, or after it was refused and sent
        home: that is a new life of it. Makers use capitals to tell bodies apart, so another
        spelling is another body; a note, which begins with `place`, says so.
        """
        if not serial:
            return serial
        if loose_serial(serial) in self._claimed_loosely:
            raise NotAllowed(
                f"Serial {serial} stands twice in this file; one core earns one credit.",
                {"serial": "twice"},
            )
        earlier = self.earlier(serial)
        if earlier and earlier[-1].state not in MAY_COME_AGAIN:
            core = earlier[-1]
            raise NotAllowed(
                f"Serial {serial} came in before as core {show_tag(core.tag)} on "
                f"{core.received_on} ({core.outcome_words}; now: {core.state_words}); a core is "
                "taken once. Check the number on the body, or ask the owner.",
                {"serial": "seen before"},
            )
        other = self._same_but_for_dashes(serial)
        if other is not None and other.state not in MAY_COME_AGAIN:
            raise NotAllowed(
                f"Serial {serial} is {other.serial} without its blanks and dashes, which came in "
                f"as core {show_tag(other.tag)} on {other.received_on}; a core is taken once.",
                {"serial": "seen before"},
            )
        self._note_other_spelling(serial, place)
        return serial

    def _same_but_for_dashes(self, serial: str) -> CoreFacts | None:
        """Return a core in the house whose serial agrees but for blanks and dashes."""
        self.learn_loose_serials([serial])
        others = self._loosely.get(loose_serial(serial), ())
        return next((core for core in others if core.serial != serial), None)

    def _note_other_spelling(self, serial: str, place: str) -> None:
        swapped = {serial.upper(), serial.lower(), serial.swapcase()} - {serial}
        alike = sorted(self._claimed & swapped)
        alike += sorted(spelled for spelled in swapped if self.earlier(spelled))
        if alike:
            told = (
                f"serial {serial} differs only by capitals from {alike[0]}; taken as another body"
            )
            self._note(f"{place}: {told}" if place else told)

    def claim_serial(self, serial: str) -> None:
        """Note that this transaction takes a core with `serial`."""
        if serial:
            self._claimed.add(serial)
            self._claimed_loosely.add(loose_serial(serial))

    def take_tags(self, count: int) -> list[str]:
        """Return the next `count` tags."""
        first = self._writer.next_number("tags", count)
        return [make_tag(self.catalogue.shop.site, first + place) for place in range(count)]

    def receive(
        self,
        tag: str,
        *,
        stream: str,
        lot: str,
        source: str,
        number: Number | None,
        number_text: str,
        serial: str,
        day: date,
        costs: Mapping[str, Money],
        extra: Mapping[str, Any],
        at: datetime | None = None,
    ) -> CoreFacts:
        """Let a core arrive; a body seen before brings its earlier lives with it.

        `at` is the moment it happened, noon of `day` where only the day is known.
        """
        earlier = self.earlier(serial)
        detail: dict[str, Any] = {
            "tag": tag,
            "stream": stream,
            "lot": lot,
            "source": source,
            "family": number.family if number else "",
            "core_group": number.core_group if number else "",
            "number": number.shown if number else number_text,
            "serial": serial,
            "received_on": day.isoformat(),
            "costs": {"receive": self._rates.step("receive", day), **costs},
            **{name: value for name, value in extra.items() if value},
        }
        if earlier:
            detail["earlier"] = [core.tag for core in earlier]
            detail["removed"] = dict(earlier[-1].removed)
            detail["done"] = dict(earlier[-1].done)
        return self._writer.event(  # type: ignore[no-any-return]
            "core", tag, "received", detail, at=at or self.catalogue.noon(day)
        )


class Arrivals(ArrivalDesk):
    """Receives the cores of one import, row by row."""

    def __init__(self, job: Work, now: datetime) -> None:
        super().__init__(job.writer, now, job.notes.append)
        self._job = job
        rows = [row for row in job.table.rows if not row.problem]
        if job.values.has("number"):
            self.catalogue.learn_numbers(job.values.text(row, "number") for row in rows)
        serials = [job.values.text(row, "serial") for row in rows]
        self.learn_serials(serials)
        self.learn_loose_serials(serials)

    def number_text(self, row: Row) -> str:
        """Return the row's number as written, empty when none could be read."""
        return self._job.values.code(row, "number", required=False)

    def new_serial(self, row: Row) -> str:
        """Return the row's serial, checked as `check_serial` does."""
        serial = self._job.values.code(row, "serial", required=False)
        return self.check_serial(serial, f"row {row.number}")

    def day(self, row: Row, told: date | None) -> date:
        """Return the day the row's core came in: the file's, else the one told, else today."""
        written: date | None = self._job.values.day(row, "received", required=False)
        known = written or told
        if known is not None:
            return known
        note = f"no day of arrival is given: taken as today, {self.today.isoformat()} (--received)"
        if note not in self._job.notes:
            self._job.notes.append(note)
        return self.today

    def mass_g(self, row: Row) -> int | None:
        """Return the mass of one core in grams; its column is wanted in kilograms."""
        values = self._job.values
        mass = values.number(row, "mass", required=False)
        if mass is None:
            return None
        grams = whole(Fraction(mass) * 1000)
        if not 1 <= grams <= HEAVIEST_KG * 1000:
            raise RowProblem(
                values.heading("mass"),
                values.text(row, "mass"),
                f"a core's mass lies between 1 gram and {HEAVIEST_KG} kilograms",
            )
        return grams
