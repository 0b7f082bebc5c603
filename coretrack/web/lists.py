"""The clerk's lists: customers, open core lines, hold bin, unknown and excess cores, credits."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import (
    cores_here,
    credit_release,
    hold_bin,
    line_endings,
    open_lines,
    receiving_lists,
    receiving_papers,
)
from coretrack.actions.credit_release import CreditDays
from coretrack.actions.hold_bin import Decision
from coretrack.actions.open_lines import LineFilter
from coretrack.errors import CoretrackError, NotFound
from coretrack.web.files import file_answer
from coretrack.web.forms import sender, summed_up
from coretrack.web.here import now, only, person
from coretrack.web.lists_pages import (
    CorePage,
    CoresPage,
    CreditsPage,
    CustomerPage,
    CustomersPage,
    DeliveriesPage,
    LinePage,
    LinesPage,
    OverviewPage,
    ReleasedPage,
)

pages = Blueprint("lists", __name__)

_LIST_OF = {
    "hold": "lists.hold",
    "excess": "lists.excess",
    "unknown": "lists.unknown",
    "comeback": "lists.comebacks",
}
"""The list on which a core in this state stands."""


@pages.get("/")
@only("clerk")
def overview() -> str:
    """All lists, with how much waits on each."""
    page = OverviewPage(receiving_lists.desk_counts(now()))
    return render_template("lists/overview.html", page=page)


@pages.get("/customers")
@only("clerk")
def customers() -> ResponseReturnValue:
    """Find a customer by any part of the name, or by a tag, serial or paper."""
    search = receiving_lists.find_customers(request.args.get("q", ""))
    if search.only:
        return redirect(url_for("lists.customer", code=search.only), 303)
    return render_template("lists/customers.html", page=CustomersPage(search))


@pages.get("/customer")
@only("clerk")
def customer() -> str:
    """Everything the shop has of one customer."""
    account = receiving_lists.customer_account(request.args.get("code", ""), now())
    return render_template("lists/customer.html", page=CustomerPage(account))


def _filter() -> tuple[LineFilter, dict[str, str]]:
    """Return which lines are asked for, and the same as arguments of an address."""
    asked = {name: request.args.get(name, "") for name in ("customer", "family", "past")}
    wanted = LineFilter(asked["customer"], asked["family"], bool(asked["past"]))
    return wanted, {name: value for name, value in asked.items() if value}


@pages.get("/lines")
@only("clerk")
def lines() -> str:
    """The open core lines, oldest first."""
    wanted, asked = _filter()
    page = LinesPage(open_lines.open_lines(wanted, now()), asked)
    return render_template("lists/lines.html", page=page)


@pages.get("/lines.csv")
@only("clerk")
def lines_file() -> Response:
    """The open core lines as a CSV file, all that fit."""
    response = Response(open_lines.open_lines_csv(_filter()[0], now()), mimetype="text/csv")
    response.headers["Content-Disposition"] = 'attachment; filename="open-core-lines.csv"'
    return response


@pages.get("/line")
@only("clerk")
def line() -> str:
    """One core line and what became of its units."""
    return _line_page({}, {})


@pages.post("/line")
@only()
def end_line() -> ResponseReturnValue:
    """Waive or forfeit units of a line; the owner only."""
    form, here = request.form, person()
    try:
        said = line_endings.end_line(
            request.args.get("line", ""),
            form.get("what", ""),
            form.get("units", ""),
            form.get("reason", ""),
            role=here.role,
            seen=_whole(form.get("seen", "")),
            **sender(),
        )
    except NotFound:
        raise
    except CoretrackError as error:
        return _line_page(form.to_dict(), summed_up(error)), error.status
    flash(said)
    return redirect(url_for("lists.line", line=request.args.get("line", "")), 303)


def _line_page(typed: Mapping[str, str], problems: Mapping[str, str]) -> str:
    view = open_lines.line_view(request.args.get("line", ""), now())
    page = LinePage(view, person().role == "owner", typed, problems)
    return render_template("lists/line.html", page=page)


@pages.get("/hold")
@only("clerk")
def hold() -> str:
    """The hold bin: refused cores, those whose last day is over first."""
    return _cores(
        "hold",
        "Hold bin",
        "Refused cores are the customer's to the end of their last day. From the day after it they"
        " may be cleared out.",
        "No refused core lies here.",
    )


@pages.get("/excess")
@only("clerk")
def excess() -> str:
    """Cores for which nothing is owed."""
    return _cores(
        "excess",
        "Excess cores",
        "Nothing is owed for these: buy them at a stated price, refuse them, or send them back.",
        "No excess core lies here.",
    )


@pages.get("/unknown")
@only("clerk")
def unknown() -> str:
    """Cores whose number is not known."""
    return _cores(
        "unknown",
        "Unknown cores",
        "Nobody knows what these are: they cannot be judged, credited or graded until they are"
        " identified. Oldest first.",
        "No unknown core lies here.",
    )


@pages.get("/comebacks")
@only("clerk")
def comebacks() -> str:
    """Units under warranty that wait for their test."""
    return _cores(
        "comeback",
        "Comebacks to test",
        "Own units that came back under warranty. They are tested first and never earn a core"
        " credit.",
        "No comeback waits for its test.",
    )


def _cores(state: str, title: str, intro: str, none: str) -> str:
    wanted = request.args.get("customer", "")
    here = cores_here.cores_here(state, now(), wanted)
    return render_template("lists/cores.html", page=CoresPage(title, intro, none, here, wanted))


@pages.get("/core")
@only("clerk")
def core() -> str:
    """One refused, excess, unknown or comeback core, and what can be decided about it."""
    return _core_page({}, {})


@pages.post("/core")
@only("clerk")
def settle_core() -> ResponseReturnValue:
    """Do what was decided about a core."""
    form, here, tag = request.form, person(), request.args.get("tag", "")
    told = Decision(
        tag,
        form.get("what", ""),
        _whole(form.get("seen", "")),
        form.get("reason", ""),
        form.get("price", ""),
        form.get("place", ""),
    )
    try:
        said = hold_bin.settle_core(
            told,
            role=here.role,
            **sender(),
        )
    except NotFound:
        raise
    except CoretrackError as error:
        return _core_page(form.to_dict(), summed_up(error)), error.status
    flash(said)
    came_from = _LIST_OF.get(form.get("state", ""))
    if came_from is None or told.what == "put":
        return redirect(url_for("lists.core", tag=tag), 303)
    return redirect(url_for(came_from), 303)


def _core_page(typed: Mapping[str, str], problems: Mapping[str, str]) -> str:
    item = cores_here.core_to_settle(request.args.get("tag", ""), now())
    page = CorePage(item, person().role == "owner", typed, problems)
    return render_template("lists/core.html", page=page)


@pages.get("/deliveries")
@only("clerk")
def deliveries() -> str:
    """The deliveries of a day, and those that are open or have a difference."""
    typed = request.args.get("day", "")
    day, problem = _day(typed)
    found = receiving_lists.deliveries_on(day, now())
    page = DeliveriesPage(found, typed or found.day, problem)
    return render_template("lists/deliveries.html", page=page)


@pages.get("/receipt.pdf")
@only("clerk")
def receipt() -> Response:
    """The receipt of a delivery."""
    return file_answer(receiving_papers.receipt_file(request.args.get("code", "")))


@pages.get("/notice.pdf")
@only("clerk")
def notice() -> Response:
    """The notice of refusal of one core, or of the refused cores of a delivery."""
    args = request.args
    return file_answer(
        receiving_papers.notice_file(tag=args.get("tag", ""), delivery=args.get("delivery", ""))
    )


@pages.get("/credits")
@only("clerk")
def credits() -> str:
    """Which credits can leave now, by customer."""
    return _credits_page(request.args.get("day", ""), bool(request.args.get("upto")))


@pages.post("/credits")
@only("clerk")
def release() -> ResponseReturnValue:
    """Release the credits of the ticked customers, each on a credit note of its own."""
    form = request.form
    typed, upto = form.get("day", ""), bool(form.get("upto"))
    # A tick says what was seen and whose it is: the code may hold any sign, what was seen none.
    ticks = [value.partition(":") for value in form.getlist("customer")]
    ticked = {code: seen for seen, _, code in ticks}
    day, problem = _day(typed)
    if problem or day is None:
        return _credits_page(typed, upto, ticked, problem or "Say which day is meant."), 422
    try:
        done = credit_release.release_credits(
            ticked,
            CreditDays(day, upto),
            **sender(),
        )
    except CoretrackError as error:
        return _credits_page(typed, upto, ticked, error.message), error.status
    flash(done.said)
    address = url_for(
        "lists.released",
        first=done.notes[0],
        last=done.notes[-1],
        day=day.isoformat(),
        upto="1" if upto else None,
    )
    return redirect(address, 303)


def _credits_page(
    typed: str, upto: bool, ticked: Mapping[str, str] | None = None, problem: str = ""
) -> str:
    day, wrong = _day(typed)
    moment = now()
    days = CreditDays(day or receiving_lists.today(moment), upto)
    waiting = credit_release.credits_waiting(days, moment)
    refused, whose = receiving_papers.refused_on(days)
    left_out = {one.customer for one in waiting.customers if one.customer not in (ticked or {})}
    page = CreditsPage(
        waiting,
        typed or days.day.isoformat(),
        refused,
        whose,
        frozenset() if ticked is None else frozenset(left_out),
        problem or wrong,
    )
    return render_template("lists/credits.html", page=page)


@pages.get("/released")
@only("clerk")
def released() -> str:
    """The credit notes of one release, to be printed."""
    args = request.args
    notes, desk = receiving_papers.notes_between(args.get("first", ""), args.get("last", ""))
    names = {note.customer: desk.name(note.customer) for note in notes}
    papers = {name: args[name] for name in ("first", "last", "day", "upto") if name in args}
    page = ReleasedPage(notes, names, desk.shop.currency, papers)
    return render_template("lists/released.html", page=page)


@pages.get("/credit-note.pdf")
@only("clerk")
def credit_note() -> Response:
    """One credit note."""
    return file_answer(receiving_papers.credit_note_file(request.args.get("number", "")))


@pages.get("/papers.pdf")
@only("clerk")
def papers() -> Response:
    """Credit notes, and the notices of refusal of some days, in one PDF."""
    args = request.args
    day, _ = _day(args.get("day", ""))
    days = CreditDays(day, bool(args.get("upto"))) if day else None
    return file_answer(
        receiving_papers.papers_file(args.get("first", ""), args.get("last", ""), days)
    )


def _day(text: str) -> tuple[date | None, str]:
    """Return the day that was asked for, and what is wrong with it."""
    if not text.strip():
        return None, ""
    try:
        return date.fromisoformat(text.strip()), ""
    except ValueError:
        return None, f"'{text}' is no day; write it like 2026-05-04."


def _whole(text: str) -> int:
    """Return a version that a form sent back; a form without one has seen nothing."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
