"""Reads the values of a TOML table one by one and collects everything that is wrong with it.

A figure is written in quotes ("0.70") so that no digit is lost; whole numbers may go without.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation

from coretrack.errors import InvalidInput
from coretrack.figures import money
from coretrack.figures.tolerances import MICRO


@dataclass
class Faults:
    """The list of what is wrong in one file, in the order it was found."""

    found: dict[str, str] = field(default_factory=dict)

    def add(self, place: str, message: str) -> None:
        """Note that `place` (a key with its table) is wrong."""
        earlier = self.found.get(place)
        self.found[place] = f"{earlier}; {message}" if earlier else message

    def stop_if_any(self, what: str) -> None:
        """Raise one InvalidInput that lists everything wrong in `what`."""
        if not self.found:
            return
        lines = [f"{place}: {message}" for place, message in self.found.items()]
        count = "1 thing is" if len(lines) == 1 else f"{len(lines)} things are"
        raise InvalidInput(f"In {what}, {count} wrong:\n" + "\n".join(lines), self.found)


class Table:
    """One table of the file; every read notes faults instead of raising."""

    def __init__(self, data: Mapping[str, object], place: str, faults: Faults) -> None:
        self.data = data
        self.place = place
        self.faults = faults
        self._read: set[str] = set()

    def fault(self, key: str, message: str) -> None:
        """Note that `key` of this table is wrong."""
        self.faults.add(f"{self.place}, {key}" if self.place else key, message)

    def has(self, key: str) -> bool:
        """Return whether the table gives `key` at all."""
        return key in self.data

    def text(self, key: str, *, required: bool = False, most: int = 80) -> str:
        """Return a text without spaces around it; empty when it is absent or wrong."""
        value = self._get(key)
        if value is None:
            if required:
                self.fault(key, "is missing; give a short text")
            return ""
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            self.fault(key, f"{_shown(value)} is not a text; write it in quotes")
            return ""
        cleaned = value.strip()
        if not cleaned and required:
            self.fault(key, "is empty; give a short text")
        if len(cleaned) > most:
            self.fault(key, f"is {len(cleaned)} characters long; {most} are the most")
        if any(not character.isprintable() for character in cleaned):
            self.fault(key, f"{_shown(value)} holds a line break or control character")
        return cleaned

    def choice(self, key: str, choices: Collection[str], default: str = "") -> str:
        """Return one of `choices`; `default` when absent, and missing is a fault without one."""
        if not self.has(key) and default:
            return default
        value = self.text(key, required=True)
        if value and value not in choices:
            self.fault(key, f'"{value}" is not one of: {", ".join(choices)}')
            return default or next(iter(choices))
        return value or default or next(iter(choices))

    def number(
        self, key: str, *, least: Decimal | None = None, most: Decimal | None = None
    ) -> Decimal | None:
        """Return a decimal number; `None` when it is absent or wrong."""
        value = self._get(key)
        if value is None:
            return None
        found = self._decimal(key, value)
        if found is None:
            return None
        if (least is not None and found < least) or (most is not None and found > most):
            upto = f" to {most}" if most is not None else " or more"
            low = least if least is not None else "anything"
            self.fault(key, f"{found} is out of range; it must be {low}{upto}")
            return None
        return found

    def amount(self, key: str) -> money.Money | None:
        """Return money of zero or more; `None` when it is absent or wrong."""
        found = self.number(key, least=Decimal(0))
        if found is None:
            return None
        try:
            return money.from_decimal(found)
        except ValueError as error:
            self.fault(key, f"{error}; give four decimals at most")
            return None

    def micro(self, key: str, *, positive: bool = False) -> int | None:
        """Return a size as a count of millionths; `None` when it is absent or wrong."""
        found = self.number(key)
        if found is None:
            return None
        scaled = found * MICRO
        if scaled != scaled.to_integral_value():
            self.fault(key, f"{found} is finer than a millionth; give six decimals at most")
            return None
        if positive and scaled <= 0:
            self.fault(key, f"{found} must be more than 0")
            return None
        return int(scaled)

    def whole(self, key: str, *, least: int, default: int | None = None) -> int | None:
        """Return a whole number of `least` or more; `default` when absent, `None` when wrong."""
        if not self.has(key):
            return default
        found = self.number(key)
        if found is None:
            return None
        if found != found.to_integral_value() or found < least:
            self.fault(key, f"{found} must be a whole number, {least} or more")
            return None
        return int(found)

    def flag(self, key: str) -> bool:
        """Return true or false; false when it is absent."""
        value = self._get(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        self.fault(key, f"{_shown(value)} must be true or false, without quotes")
        return False

    def day(self, key: str) -> dt.date | None:
        """Return a date written 2026-05-04, with or without quotes; `None` when absent or wrong."""
        value = self._get(key)
        if value is None:
            return None
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value
        if isinstance(value, str):
            with contextlib.suppress(ValueError):
                return dt.date.fromisoformat(value)
        self.fault(key, f"{_shown(value)} is not a date; write it like 2026-05-04")
        return None

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; empty when absent."""
        value = self._get(key)
        if value is None:
            return ()
        if not isinstance(value, list) or any(not isinstance(item, str) for item in value):
            self.fault(key, f'{_shown(value)} must be a list of texts, like ["A", "B"]')
            return ()
        return tuple(item.strip() for item in value)

    def tables(self, key: str, label: str = "code") -> list[Table]:
        """Return the tables under `key`, each named by its `label` or its position."""
        value = self._get(key)
        if value is None:
            return []
        if not isinstance(value, list) or any(not isinstance(item, Mapping) for item in value):
            self.fault(key, f"must be a list of tables, written [[{key}]]")
            return []
        found = []
        for position, item in enumerate(value, start=1):
            name = item.get(label)
            title = f"{key} {name}" if isinstance(name, str) and name else f"{key} no. {position}"
            place = f"{self.place}, {title}" if self.place else title
            found.append(Table(item, place, self.faults))
        return found

    def table(self, key: str) -> Table:
        """Return the one table under `key`; an empty one when it is absent."""
        value = self._get(key)
        if value is not None and not isinstance(value, Mapping):
            self.fault(key, f"must be a table, written [{key}]")
        return Table(value if isinstance(value, Mapping) else {}, key, self.faults)

    def raw(self, key: str) -> object:
        """Return the value under `key` as it stands."""
        return self._get(key)

    def close(self) -> None:
        """Note every key that nobody read: it is misspelt or does not belong here."""
        for key in self.data:
            if key not in self._read:
                known = ", ".join(sorted(self._read))
                self.fault(key, f"is not known here; known are: {known}")

    def _get(self, key: str) -> object:
        self._read.add(key)
        return self.data.get(key)

    def _decimal(self, key: str, value: object) -> Decimal | None:
        if isinstance(value, float):
            self.fault(key, f'{value} must be in quotes, like "{value}", so that no digit is lost')
            return None
        if isinstance(value, bool) or not isinstance(value, int | str | Decimal):
            self.fault(key, f'{_shown(value)} is not a number; write it like "12.50"')
            return None
        try:
            found = Decimal(value.strip() if isinstance(value, str) else value)
        except InvalidOperation:
            self.fault(key, f'{_shown(value)} is not a number; write it like "12.50"')
            return None
        if not found.is_finite() or abs(found.adjusted()) > 15 or len(found.as_tuple().digits) > 24:
            self.fault(key, f'{_shown(value)} is not a usable number; write it like "12.50"')
            return None
        return found


def _shown(value: object) -> str:
    text = str(value)
    return f'"{text[:40]}…"' if len(text) > 40 else f'"{text}"'
