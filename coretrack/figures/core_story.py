"""A core's life in sentences: its state in words, and what each event of its history says."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from coretrack.figures.core_facts import OUTCOMES
from coretrack.figures.lifecycle import GONE, CoreFacts
from coretrack.figures.money import shown
from coretrack.figures.tags import show_tag

Detail = Mapping[str, Any]


@dataclass(frozen=True)
class StateShown:
    """A state in words, and the shape it is shown with: good, wait, ask or stop."""

    words: str
    chip: str


_SHAPES = {
    "counted": "wait",
    "unknown": "ask",
    "waiting": "wait",
    "hold": "stop",
    "excess": "ask",
    "comeback": "ask",
    "sent back": "stop",
    "cleared out": "stop",
    "taken back": "stop",
    "open": "wait",
    "undecided": "ask",
    "rework": "wait",
    "reinspect": "wait",
    "good": "good",
    "built": "good",
    "scrapped": "stop",
}
"""The shape beside a state's words."""


def outcome_of(core: CoreFacts) -> str:
    """Return what the dock decided; an excess core that was refused has its last day."""
    return "refuse" if core.acceptance == "excess" and core.hold_until else core.acceptance


def notes_told(came: Detail, judged: Detail) -> str:
    """Return what was noted when a core came in, and when it was judged later on."""
    told = (str(came.get("note") or ""), str(judged.get("note") or ""))
    return "; ".join(dict.fromkeys(note for note in told if note))


def why_no_serial(came: Detail) -> str:
    """Return why a core came in without a serial though one was told; empty when it did not."""
    if not came.get("no_serial"):
        return ""
    told = f"; {came['serial_told']} was told" if came.get("serial_told") else ""
    warning = f" {came['serial_warning']}" if came.get("serial_warning") else ""
    return f"Its serial cannot be read or is disputed{told}.{warning}"


STREAMS = {"return": "return", "purchase": "purchased lot", "comeback": "comeback"}


def state_shown(core: CoreFacts) -> StateShown:
    """Return a core's state in words and the shape beside it."""
    return StateShown(core.state_words, _SHAPES.get(core.state, "wait"))


def where_now(core: CoreFacts, names: Mapping[str, str], rack: str = "") -> str:
    """Return where a core is now in one sentence; `names` are those of places by their codes.

    `rack` says in which rack of a crack check it is, or was last, when nothing was noted since.
    """
    state = state_shown(core).words
    if core.state in GONE:
        return f"Not in the house: {state}."
    if core.state == "built":
        return f"Not on the shelf: picked for {core.built_into}."
    tag = f", with metal tag {core.metal_tag} wired to it" if core.metal_tag else ""
    if core.basket:
        return f"In {names.get(core.basket, core.basket)}, slot {core.slot}{tag}."
    if rack:
        return f"{rack}{tag}."
    if core.place:
        return f"In {names.get(core.place, core.place)}{tag}."
    if core.state == "scrapped":
        return f"With the scrap; no bin is noted{tag}."
    return f"In the house; no bin or basket is noted{tag}."


def event_sentence(event: str, detail: Detail, names: Mapping[str, str] | None = None) -> str:
    """Return what an event of a core says, without who and when, and without the shop's costs.

    `names` are the names of places and faults by their codes; a code without one stands as it is.
    """
    teller = _TELLERS.get(event)
    return teller(detail, names or {}) if teller else f"{event[:1].upper()}{event[1:]}."


def _received(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    stream = STREAMS.get(detail["stream"], detail["stream"])
    said = f"Taken in as {stream} on {detail['received_on']}"
    if detail.get("customer") or detail.get("source"):
        said += f" from {detail.get('customer') or detail['source']}"
    if detail.get("lot"):
        said += f", {detail['lot']}"
    parts = [said]
    if detail.get("number"):
        parts.append(f"number {detail['number']}")
    if detail.get("serial"):
        parts.append(f"serial {detail['serial']}")
    text = "; ".join(parts) + "."
    if why := why_no_serial(detail):
        text += f" {why}"
    if detail.get("earlier"):
        lives = ", ".join(show_tag(tag) for tag in detail["earlier"])
        text += f" The same body was here before as {lives}."
    return text


def _accepted(detail: Detail, names: Mapping[str, str]) -> str:
    outcome = detail["outcome"]
    said = f"Judged at the dock: {OUTCOMES.get(outcome, outcome)}"
    credit = detail.get("costs", {}).get("credit")
    if credit is not None:
        said += f", credit {shown(credit)}"
    if detail.get("line"):
        said += f", on line {detail['line']}"
    text = f"{said}."
    if detail.get("faults"):
        text += f" Faults: {', '.join(names.get(code, code) for code in detail['faults'])}."
    if detail.get("hold_until"):
        text += f" Kept until {detail['hold_until']}."
    return text


def _left(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    ways = {
        "sent back": "Sent back to the customer.",
        "cleared out": "Cleared out of the hold bin as metal.",
    }
    return ways.get(detail["to"], f"Left: {detail['to']}.")


def _put(detail: Detail, names: Mapping[str, str]) -> str:
    place = detail["place"]
    return f"Put into {names.get(place, place)}." if place else "Taken out of its bin."


def _label_printed(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    again = "printed again" if detail.get("reprint") else "printed"
    stock = detail.get("stock")
    return f"Label {again} on {stock}." if stock else f"Label {again}."


def _identified(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    number = detail.get("number")
    as_number = f", number {number}" if number else ""
    return f"Identified as family {detail['family']}{as_number}."


def _source_lost(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    basket = detail.get("basket")
    return f"Its source was lost (basket {basket})." if basket else "Its source was lost."


def _basketed(detail: Detail, names: Mapping[str, str]) -> str:
    basket = detail["basket"]
    return f"Put into {names.get(basket, basket)}, slot {detail['slot']}."


def _picked(detail: Detail, names: Mapping[str, str]) -> str:
    place = detail.get("from")
    out_of = f" out of {names.get(place, place)}" if place else ""
    return f"Picked{out_of} for {detail['into']}."


def _inspected(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    by = f" by {detail['inspector']}" if detail.get("inspector") else ""
    said = str(detail.get("sentence") or detail["grade"]).strip().rstrip(".")
    return f"Inspected{by}: {said}."


def _reworked(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    by = f" by {detail['person']}" if detail.get("person") else ""
    return f"Rework {detail['operation']} finished{by}."


def _begun(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    by = f" by {detail['person']}" if detail.get("person") else ""
    return f"Rework {detail['operation']} begun{by}."


def _seen_again(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    by = f" by {detail['inspector']}" if detail.get("inspector") else ""
    grade = f": {detail['grade']}" if detail.get("grade") else ""
    return f"Looked at a second time{by}{grade}."


def _crack_checked(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    found = {"none": "no indication"}.get(detail["result"], detail["result"])
    told = f" ({detail['detail']})" if detail.get("detail") else ""
    stamps = f" Stamped: {', '.join(detail['stamps'])}." if detail.get("stamps") else ""
    rack = f"rack {detail['rack']}, {detail['counted']} counted by hand"
    return f"Crack check by the rack ({rack}): {found}{told}.{stamps}"


def _held(detail: Detail, names: Mapping[str, str]) -> str:
    del names
    return f"Excess core refused; kept until {detail['hold_until']}."


def _plain(text: str) -> Callable[[Detail, Mapping[str, str]], str]:
    return lambda detail, names: text


_TELLERS: dict[str, Callable[[Detail, Mapping[str, str]], str]] = {
    "received": _received,
    "accepted": _accepted,
    "unjudged": _plain("The dock's judgement was taken back."),
    "taken back": _plain("Taken out of the books: it was taken in by mistake."),
    "bought": _plain("Bought by the shop."),
    "held": _held,
    "left": _left,
    "credit released": lambda detail, names: f"Credit left the house with {detail['note']}.",
    "put": _put,
    "photographed": lambda detail, names: f"Photo taken: {detail.get('what') or 'the core'}.",
    "label printed": _label_printed,
    "identified": _identified,
    "source lost": _source_lost,
    "basketed": _basketed,
    "unbasketed": _plain("Taken out of its wash basket."),
    "tag bound": lambda detail, names: f"Metal tag {detail['number']} wired to it.",
    "tag released": lambda detail, names: f"Metal tag {detail.get('number', '')} taken off.",
    "picked": _picked,
    "put back": _plain("Put back on the shelf."),
    "crack checked": _crack_checked,
    "inspected": _inspected,
    "rework begun": _begun,
    "reworked": _reworked,
    "looked at again": _seen_again,
    "reopened": lambda detail, names: (
        f"Opened again for inspection by the owner; it was {detail['was']}."
    ),
    "overridden": lambda detail, names: f"Verdict overruled by the owner: {detail['grade']}.",
}
