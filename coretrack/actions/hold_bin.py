"""What becomes of refused, excess, unknown and comeback cores, decided by somebody at the desk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from coretrack.actions.acting import act_once
from coretrack.actions.cores_here import hold_day
from coretrack.actions.desk_day import DeskDay, desk_day, expect_seen
from coretrack.actions.typed_fields import typed_reason
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.figures.amounts import parse_amount
from coretrack.figures.lifecycle import CoreFacts
from coretrack.figures.money import Money, shown
from coretrack.figures.numbers import NotANumber
from coretrack.figures.tags import show_tag
from coretrack.figures.trade_objects import Place
from coretrack.records.writer import Writer

EARLY = (
    "Clearing out a core before its last day breaks the word given to the customer: say why it may"
    " go."
)
WHY_REFUSED = "Say why the core is refused: the customer is told so."


@dataclass(frozen=True)
class Decision:
    """What somebody decides about a core, as typed.

    `what` is one of WAYS, `seen` the version of the core on the page. `reason` is why, or with
    "send back" by whom it goes; `price` belongs to "buy", `place` (a bin's code) to "put".
    """

    tag: str
    what: str
    seen: int
    reason: str = ""
    price: str = ""
    place: str = ""


@dataclass(frozen=True)
class _Desk:
    """A decision inside its transaction."""

    writer: Writer
    core: CoreFacts
    told: Decision
    day: DeskDay
    is_owner: bool

    @property
    def named(self) -> str:
        return f"Core {show_tag(self.core.tag)}"

    @property
    def currency(self) -> str:
        return self.day.shop.currency

    def event(self, event: str, detail: dict[str, Any], why: str = "") -> CoreFacts:
        facts: CoreFacts = self.writer.event("core", self.core.tag, event, detail, why=why)
        return facts


def settle_core(
    told: Decision, *, role: str, by: str, station: str, now: datetime, key: str
) -> str:
    """Do what was decided about one core; return what was done, in a sentence.

    InvalidInput names the field that is wrong, NotAllowed what forbids it, Changed (a Conflict)
    says that somebody else was quicker. The same `key` again does nothing and answers the same.
    """
    way = _WAYS.get(told.what)
    if way is None:
        raise InvalidInput(f"'{told.what}' is no way to settle a core; choose {', '.join(WAYS)}.")

    def act(writer: Writer) -> dict[str, Any]:
        core: CoreFacts = writer.get("core", told.tag)
        expect_seen(writer, "core", told.tag, told.seen)
        return {"said": way(_Desk(writer, core, told, desk_day(now), role == "owner"))}

    answer = act_once("settle core", key, act, by=by, station=station, now=now)
    return str(answer["said"])


def _send_back(desk: _Desk) -> str:
    why = typed_reason(desk.told.reason)
    desk.event("left", {"to": "sent back"}, why)
    return f"{desk.named} was sent back to {desk.day.name(_customer(desk))}."


def _clear_out(desk: _Desk) -> str:
    """Let a refused core go as metal. Nothing is posted: its metal is no recovery of the shop's.

    It was never the shop's core, so it stands in no yield and no cost.
    """
    core = desk.core
    if core.state != "hold":
        raise NotAllowed(f"{desk.named}: {core.state_words}; only refused cores are cleared out.")
    until = hold_day(core.hold_until, desk.day.today)
    why = typed_reason(desk.told.reason)
    if not until.over:
        if not desk.is_owner:
            raise NotAllowed(_kept_until(desk), {"what": "only the owner may do this earlier"})
        why = typed_reason(desk.told.reason, EARLY)
    desk.event("left", {"to": "cleared out"}, why)
    early = " before its last day" if not until.over and core.hold_until else ""
    return f"{desk.named} was cleared out as metal{early}; no money is posted for it."


def _kept_until(desk: _Desk) -> str:
    if not desk.core.hold_until:
        return (
            f"{desk.named} was refused without a last day; only the owner clears it out, with the"
            " reason."
        )
    last = date.fromisoformat(desk.core.hold_until)
    return (
        f"{desk.named} is kept for its owner until {last.isoformat()}, that day included; it may be"
        f" cleared out from {(last + timedelta(days=1)).isoformat()} on. Only the owner may do it"
        " earlier, with a reason."
    )


def _buy(desk: _Desk) -> str:
    price = _price(desk.told.price)
    desk.event("bought", {"costs": {"price": price}}, typed_reason(desk.told.reason))
    amount = f"{shown(price)} {desk.currency}".strip()
    return f"{desk.named} was bought for {amount}; it waits for inspection."


def _price(text: str) -> Money:
    """Return the price typed; nothing at all is not taken for 0, which a gift would be."""
    if not text.strip():
        raise InvalidInput(
            "Say what was paid for the core; type 0 when the customer left it for nothing.",
            {"price": "an amount, such as 12.50"},
        )
    try:
        return parse_amount(text)
    except NotANumber as error:
        raise InvalidInput(f"The price: {error}.", {"price": str(error)}) from None


def _put(desk: _Desk) -> str:
    code = "".join(desk.told.place.split())
    place: Place | None = desk.writer.find("place", code) if code else None
    if place is None or place.kind != "bin":
        raise InvalidInput(
            f"'{desk.told.place}' is no bin of the shop; choose one of the list.",
            {"place": "a bin of the list"},
        )
    if desk.core.place == place.key:
        return f"{desk.named} lies in {place.name} already."
    desk.event("put", {"place": place.key})
    return f"{desk.named} lies in {place.name} now."


def _keep_back(desk: _Desk) -> str:
    """Refuse an excess core: nothing is owed for it, and it is the customer's until its day."""
    why = typed_reason(desk.told.reason, WHY_REFUSED)
    until = (desk.day.today + timedelta(days=desk.day.shop.hold_days)).isoformat()
    desk.event("held", {"hold_until": until}, why)
    return f"{desk.named} is refused and kept in the hold bin until {until}, that day included."


def _customer(desk: _Desk) -> str:
    lot = desk.writer.find("lot", desk.core.lot) if desk.core.lot else None
    return lot.source if lot else desk.core.source


_WAYS: dict[str, Callable[[_Desk], str]] = {
    "send back": _send_back,
    "clear out": _clear_out,
    "buy": _buy,
    "put": _put,
    "refuse": _keep_back,
}
WAYS = tuple(_WAYS)
"""Sent back to the customer, cleared out as metal, bought, put into a bin, refused (excess)."""
