"""The receiving station: deliveries, the core in hand, the scan box."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

from flask import Blueprint, flash, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from coretrack.actions import core_in_hand, deliveries, receiving_lists, typed_sale
from coretrack.actions.delivery_replies import stored_reply
from coretrack.actions.delivery_views import CoreChange, NewDelivery, Stored
from coretrack.errors import CoretrackError
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import show_tag
from coretrack.web.forms import problems_of
from coretrack.web.here import doer, now, only, person
from coretrack.web.panel import say
from coretrack.web.paper_trail import labels_for
from coretrack.web.receiving_pages import DeliveryPage, HomePage, MenuItem

pages = Blueprint("receiving", __name__)

MENU = (
    ("Credits to release", "lists.credits", "credits_waiting"),
    ("Hold bin", "lists.hold", "hold"),
    ("Unknown cores", "lists.unknown", "unknown"),
    ("Excess cores", "lists.excess", "excess"),
    ("Comebacks to test", "lists.comebacks", "comebacks"),
    ("Open core lines", "lists.lines", "open_lines"),
)
"""What a clerk looks after: its name, its list, and which of the desk's counts it is."""

_DELIVERY_FIELDS = tuple(NewDelivery.__dataclass_fields__)
_NEW_CUSTOMER = ("new_code", "new_name", "new_kind")

_STATUS_WORDS = {
    "closed": "closed: counted and stored agree",
    "difference": "left with its difference, which somebody looks after",
}


@pages.get("/")
@only("clerk")
def home() -> str:
    """Deliveries to begin and to go on with."""
    args = request.args
    return _home({name: args[name] for name in (*_DELIVERY_FIELDS, *_NEW_CUSTOMER) if name in args})


def _home(typed: Mapping[str, str], problems: Mapping[str, str] | None = None) -> str:
    counts = receiving_lists.desk_counts(now())
    menu = [MenuItem(name, url_for(where), getattr(counts, count)) for name, where, count in MENU]
    begun = deliveries.deliveries("open", "difference")
    known = deliveries.known_people_and_customers()
    page = HomePage(begun, known.customers, known.people, menu, typed, problems or {})
    return render_template("receiving/home.html", page=page)


@pages.post("/deliveries")
@only("clerk")
def begin() -> ResponseReturnValue:
    """Open a delivery; or add the customer who brings it, and keep on typing."""
    form = request.form
    typed = {name: form.get(name, "") for name in _DELIVERY_FIELDS}
    new = {name: form.get(name, "") for name in _NEW_CUSTOMER}
    try:
        if form.get("do") == "customer":
            code = typed_sale.add_customer(*new.values(), by=person().name, now=now())
            say("good", "ADDED", f"{code} is a customer now.")
            kept = {name: text for name, text in {**typed, "customer": code}.items() if text}
            return redirect(url_for("receiving.home", **kept), 303)  # type: ignore[arg-type]
        code = deliveries.start_delivery(NewDelivery(**typed), key=form.get("key", ""), **doer())
    except CoretrackError as error:
        return _home({**typed, **new}, problems_of(error)), error.status
    return redirect(url_for("receiving.delivery", code=code), 303)


@pages.get("/delivery")
@only("clerk")
def delivery() -> ResponseReturnValue:
    """One delivery: the core in hand, what is stored, what is still owed."""
    return delivery_page(request.args.get("code", ""))


def delivery_page(
    code: str,
    typed: Mapping[str, str] | None = None,
    problems: Mapping[str, str] | None = None,
) -> str:
    """Return a delivery's page with what was typed and could not be stored."""
    view = deliveries.delivery_view(code, person().name, now=now())
    page = DeliveryPage(view, typed or {}, problems or {})
    return render_template("receiving/delivery.html", page=page, spot=page.spot)


def delivery_part(code: str) -> tuple[str, Spot]:
    """Return the inside of a delivery's page, and what the person sees proposed in it."""
    html, page = _inside(code, {})
    return html, page.spot


def _inside(code: str, problems: Mapping[str, str]) -> tuple[str, DeliveryPage]:
    view = deliveries.delivery_view(code, person().name, now=now())
    page = DeliveryPage(view, {}, problems)
    return render_template("receiving/_delivery.html", page=page), page


@pages.post("/delivery/hand")
@only("clerk")
def change() -> ResponseReturnValue:
    """Change the core in hand, and do with it what the button says."""
    code, form = request.args.get("code", ""), request.form
    do, key = form.get("do", "keep"), form.get("key", "")
    try:
        if do == "drop":
            if core_in_hand.drop(code, key=key, **doer()):
                say(
                    "note",
                    "PUT BACK",
                    "Nothing of it was stored. Scan the number of the next core.",
                )
            return _back(code)
        if do == "store" and key:
            number, serial = form.get("number", ""), form.get("serial", "")
            earlier = core_in_hand.stored_earlier(key, number, serial)
            if earlier is not None:
                flash(f"This core was stored already: {show_tag(earlier.tag)}. Nothing was done.")
                return _back(code)
        core_in_hand.change(code, _told_of_core(form), **doer())
        if do == "store":
            seen = form.get("seen", "")
            proposal = core_in_hand.proposal(code, by=person().name, now=now())
            # What the ticks of this very form changed has to be seen before it is stored.
            if proposal is None or proposal.fingerprint != seen:
                flash("Something changed: look at what is proposed now, then store it.")
                return _back(code)
            currency = deliveries.delivery_view(code, person().name, now=now()).currency
            stored = core_in_hand.store(code, seen=seen, key=key, **doer())
            _say_stored(stored, currency, key)
    except CoretrackError as error:
        if _by_script():
            return _part_answer(code, problems_of(error))
        return delivery_page(code, form.to_dict(), problems_of(error)), error.status
    return _part_answer(code) if _by_script() else _back(code)


def _by_script() -> bool:
    return request.accept_mimetypes.best == "application/json"


def _part_answer(code: str, problems: Mapping[str, str] | None = None) -> ResponseReturnValue:
    """Answer the page's script, which keeps what was typed and shows at once what that changes."""
    html, page = _inside(code, problems or {})
    told = asdict(page.panel_after_keeping)
    return jsonify({"html": html, "spot": asdict(page.spot), "said": told, "kept": not problems})


def _say_stored(stored: Stored, currency: str, key: str) -> None:
    """Say in the panel what was stored, and have its label printed."""
    labels = labels_for(stored.print_tags, key)
    reply = stored_reply(stored, currency)
    say(reply.tone, reply.word, reply.line, reply.detail)
    if labels.address:
        flash(labels.words or "The label is ready.", "print:" + labels.address)
    elif labels.words:
        flash(labels.words)


def _told_of_core(form: MultiDict[str, str]) -> CoreChange:
    """Return what a form says of the core in hand; fields it does not have stay as they are."""

    def text(name: str) -> str | None:
        return form.get(name)

    whole = "number" in form
    times = {
        name.removeprefix("times-"): int(value) if value.isascii() and value.isdigit() else 0
        for name, value in form.items()
        if name.startswith("times-")
    }
    faults = [*form.getlist("fault")]
    faults += [code for code, count in times.items() for _ in range(min(count, 99))]
    comeback = form.get("comeback")
    refuse = True if form.get("do") == "refuse" else None
    if refuse is None and "refusal" in form:
        refuse = form.get("refuse") == "yes"
    return CoreChange(
        # Left alone where the page did not show it: the question has to be answered by a person.
        comeback=(comeback == "yes") if "comeback_shown" in form or comeback else None,
        number=text("number"),
        illegible=(form.get("illegible") == "yes") if whole or "illegible" in form else None,
        serial=text("serial"),
        invoice=text("invoice"),
        line=text("line"),
        no_serial=(form.get("no_serial") == "yes") if "no_serial_shown" in form else None,
        faults=tuple(faults) if whole else None,
        refuse=refuse,
        refusal=text("refusal"),
        no_photo=text("no_photo"),
        mass=text("mass"),
        place=text("place"),
        note=text("note"),
    )


@pages.post("/delivery/undo")
@only("clerk")
def undo() -> ResponseReturnValue:
    """Take back what this person stored last in the delivery."""
    code = request.args.get("code", "")
    return _acted(
        code,
        lambda key: core_in_hand.undo_last(code, key=key, drop_in_hand=False, **doer()).sentence,
        lambda sentence: ("UNDONE", sentence),
    )


@pages.post("/delivery/count")
@only("clerk")
def count() -> ResponseReturnValue:
    """Count the pieces, the first time or again."""
    code, form = request.args.get("code", ""), request.form
    return _acted(
        code,
        lambda key: deliveries.count_delivery(
            code,
            form.get("pieces", ""),
            second_counter=form.get("second_counter", ""),
            key=key,
            **doer(),
        ),
        lambda _: ("COUNTED", "The pieces are counted. Scan the number of the next core."),
    )


@pages.post("/delivery/close")
@only("clerk")
def close() -> ResponseReturnValue:
    """Close a delivery whose counted and stored pieces agree, or leave the difference to a name."""
    code, form = request.args.get("code", ""), request.form
    return _acted(
        code,
        lambda key: deliveries.close_delivery(
            code,
            difference_by=form.get("difference_by", ""),
            note=form.get("note", ""),
            key=key,
            **doer(),
        ),
        lambda status: (status.upper(), f"Delivery {code} is {_STATUS_WORDS.get(status, status)}."),
    )


@pages.post("/delivery/settle")
@only("clerk")
def settle() -> ResponseReturnValue:
    """Close a difference: say how it was settled."""
    code, form = request.args.get("code", ""), request.form
    return _acted(
        code,
        lambda key: deliveries.settle_difference(code, form.get("note", ""), key=key, **doer()),
        lambda _: ("SETTLED", f"The difference of delivery {code} is settled; it is closed."),
    )


@pages.post("/delivery/give-up")
@only("clerk")
def give_up() -> ResponseReturnValue:
    """Give up a delivery that was begun by mistake, of which nothing came in."""
    code, form = request.args.get("code", ""), request.form
    return _acted(
        code,
        lambda key: deliveries.give_up_delivery(code, why=form.get("why", ""), key=key, **doer()),
        lambda _: ("GIVEN UP", f"Delivery {code} was begun by mistake; nothing of it came in."),
    )


@pages.post("/delivery/reopen")
@only("clerk")
def reopen() -> ResponseReturnValue:
    """Open a closed delivery again."""
    code = request.args.get("code", "")
    return _acted(
        code,
        lambda key: deliveries.reopen(code, key=key, **doer()),
        lambda _: ("OPEN", f"Delivery {code} is open again."),
    )


@pages.post("/judge")
@only("clerk")
def judge() -> ResponseReturnValue:
    """Take a core that is in the house and not judged yet into the hand."""
    code = core_in_hand.judge_core(
        request.args.get("tag", ""), key=request.form.get("key", ""), **doer()
    )
    return _back(code)


def _acted(
    code: str, act: Callable[[str], Any], told: Callable[[Any], tuple[str, str]]
) -> ResponseReturnValue:
    """Run an action of the delivery's page and say what it did: `told` gives word and sentence.

    What was refused comes back with all that was typed.
    """
    try:
        done = act(request.form.get("key", ""))
    except CoretrackError as error:
        return delivery_page(code, request.form.to_dict(), problems_of(error)), error.status
    word, line = told(done)
    say("note" if word == "UNDONE" else "good", word, line)
    return _back(code)


def _back(code: str) -> ResponseReturnValue:
    return redirect(url_for("receiving.delivery", code=code), 303)
