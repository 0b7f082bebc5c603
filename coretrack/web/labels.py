"""Labels, cards and badges: printed by the browser, by command or as a file."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from coretrack.actions import label_command, station_labels, station_settings
from coretrack.actions.station_labels import LabelRun
from coretrack.actions.station_settings import StationSettings
from coretrack.errors import CoretrackError, InvalidInput
from coretrack.figures.plain_words import counted
from coretrack.web import cards
from coretrack.web.access import own_address
from coretrack.web.files import file_answer
from coretrack.web.forms import sender
from coretrack.web.here import only, person
from coretrack.web.label_pages import (
    FIELDS,
    LabelsPage,
    PrintPage,
    SentPage,
    SettingsPage,
    settings_typed,
    sheet_pictures,
)

pages = Blueprint("labels", __name__)
cards.add_to(pages)

CSS, SVG = "text/css", "image/svg+xml"


@pages.get("/")
@only("clerk", "inspector")
def home() -> str:
    """What to print: a delivery or lot, tags, a text of one's own."""
    typed = {name: request.args.get(name, "") for name in ("lot", "text", "stock", "first", "wash")}
    typed["tags"] = "\n".join(request.args.getlist("tags"))
    typed["back"] = request.args.get("back", "")
    return _home(typed)


@pages.post("/print")
@only("clerk", "inspector")
def send() -> ResponseReturnValue:
    """Note labels as sent and go to their print page, their PDF, or the printer's command."""
    form = request.form
    try:
        tags, texts = _asked(form)
        how = form.get("how", "browser")
        act = label_command.print_by_command if how == "command" else station_labels.note_printed
        run = act(
            tags,
            form.get("stock", ""),
            first=_first(form),
            texts=texts,
            wash=form.get("wash", ""),
            **sender(),
        )
        _refuse_nothing(run)
    except CoretrackError as error:
        return _home(form, error), error.status
    back = own_address(form.get("back", "")) or None
    if how == "command":
        return redirect(url_for("labels.sent", job=form.get("key", ""), back=back), 303)
    if how == "pdf":
        return redirect(url_for("labels.pdf", job=form.get("key", "")), 303)
    return redirect(url_for("labels.print_view", job=form.get("key", ""), back=back), 303)


@pages.get("/print")
@only("clerk", "inspector")
def print_view() -> str:
    """The labels as pages of the stock's own size; looking at them notes nothing."""
    args = request.args
    if args.get("job"):
        run = station_labels.sent_run(args["job"])
        labels = station_labels.sent_page(run)
    else:
        labels = station_labels.labels_page(
            _tags(args.getlist("tags")),
            args.get("stock", ""),
            _first(args),
            args.getlist("text"),
            args.get("wash", ""),
        )
    # The drawing escapes every text it writes, so it may stand on the page as it is.
    drawn = tuple(Markup(page) for page in labels.pages)
    back = own_address(args.get("back", ""))
    page = PrintPage(f"{labels.title} on {labels.stock}", labels, drawn, back)
    return render_template("labels/print.html", page=page)


@pages.get("/print.css")
@only("clerk", "inspector")
def print_style() -> Response:
    """The style sheet that gives a print page its stock's size."""
    return Response(station_labels.labels_style(request.args.get("stock", "")), mimetype=CSS)


@pages.get("/labels.pdf")
@only("clerk", "inspector")
def pdf() -> Response:
    """The labels that were sent under a key, as PDF."""
    run = station_labels.sent_run(request.args.get("job", ""))
    return file_answer(station_labels.labels_file(run, "labels").files[0])


@pages.get("/sent")
@only("clerk", "inspector")
def sent() -> str:
    """What the print command was given."""
    run = station_labels.sent_run(request.args.get("job", ""))
    count = len(run.tags) + len(run.texts)
    title = f"{counted(count, 'label')} sent to the printer"
    page = SentPage(title, run, count, own_address(request.args.get("back", "")))
    return render_template("labels/sent.html", page=page)


@pages.get("/text.pdf")
@only("clerk", "inspector")
def text_pdf() -> Response:
    """A label of any text, such as a maker's serial, under a safe file name."""
    args = request.args
    made = station_labels.text_file(args.get("text", ""), args.get("stock", ""))
    return file_answer(made.files[0])


@pages.get("/text.svg")
@only("clerk", "inspector")
def text_svg() -> Response:
    """The same as a drawing."""
    args = request.args
    return file_answer(station_labels.text_drawing(args.get("text", ""), args.get("stock", "")))


@pages.get("/settings")
@only()
def settings() -> str:
    """What the owner sets for the stations."""
    return _settings(settings_typed(station_settings.station_settings()))


@pages.post("/settings")
@only()
def change_settings() -> ResponseReturnValue:
    """Store the settings; what was typed stays when something is wrong with it."""
    form = request.form
    try:
        changed = station_settings.change_settings(
            _told(form),
            **sender(),
        )
    except CoretrackError as error:
        typed = {name: form.get(name, "") for name in FIELDS}
        return _settings(typed, error.message, error.fields), error.status
    said = ", ".join(name.replace("_", " ") for name in changed) or "nothing"
    flash(f"Stored: {said} changed.")
    return redirect(url_for("labels.settings"), 303)


@pages.post("/test")
@only()
def test_print() -> ResponseReturnValue:
    """Print one test label by the stored command, or open it to be printed from the browser."""
    stored = station_settings.station_settings()
    if not stored.print_command:
        text = label_command.TEST_TEXT
        return redirect(url_for("labels.print_view", text=text, stock=stored.label_stock), 303)
    try:
        stock = label_command.print_test_label()
    except CoretrackError as error:
        return _settings(settings_typed(stored), error.message), error.status
    flash(f"A test label on {stock} was handed to the command.")
    return redirect(url_for("labels.settings"), 303)


def _settings(
    typed: Mapping[str, str], message: str = "", problems: Mapping[str, str] | None = None
) -> str:
    stocks = tuple(station_labels.stock_choices())
    page = SettingsPage(
        title="Settings of the stations",
        typed=typed,
        stocks=stocks,
        sheets=tuple(stock for stock in stocks if stock.places),
        message=message,
        problems=problems or {},
    )
    return render_template("labels/settings.html", page=page)


def _told(form: Mapping[str, str]) -> StationSettings:
    return StationSettings(
        station_settings.command_from_lines(form.get("print_command", "")),
        form.get("label_stock", ""),
        form.get("sheet_stock", ""),
        form.get("paper_size", ""),
        _number(form, "hold_days", "days"),
        _number(form, "idle_minutes", "minutes"),
        form.get("second_look_percent", "0"),
    )


def _home(typed: Mapping[str, str], error: CoretrackError | None = None) -> str:
    stored = station_settings.station_settings()
    stocks = tuple(station_labels.stock_choices())
    page = LabelsPage(
        title="Labels",
        stocks=stocks,
        stock=typed.get("stock", "") or stored.label_stock,
        sheets=sheet_pictures(stocks),
        by_command=bool(stored.print_command),
        owner=person().may(),
        typed={name: typed.get(name, "") for name in ("lot", "tags", "text", "first", "wash")},
        message=error.message if error else "",
        problems=error.fields if error else {},
        back=own_address(typed.get("back", "")),
    )
    return render_template("labels/home.html", page=page)


def _asked(form: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """Return the tags and the texts of one's own that the form asks for."""
    texts = [line for line in form.get("text", "").splitlines() if line.strip()]
    tags: list[str] = []
    if form.get("tags", "").strip() or form.get("lot", "").strip() or not texts:
        tags = station_labels.chosen_tags(form.get("tags", ""), form.get("lot", ""))
    return tags, texts


def _refuse_nothing(run: LabelRun) -> None:
    if not run.tags and not run.texts:
        said = "; ".join(f"{what}: {why}" for what, why in run.refused)
        raise InvalidInput(f"None of these labels can be printed. {said}")


def _tags(told: list[str]) -> list[str]:
    return [tag for part in told for tag in part.split(",") if tag]


def _first(told: Mapping[str, str]) -> int | None:
    """Return the first free place that was told, None for the remembered one."""
    return _number(told, "first", "places") if told.get("first", "").strip() else None


def _number(told: Mapping[str, str], name: str, unit: str) -> int:
    """Return a whole number of the form; InvalidInput when it is none."""
    text = told.get(name, "").strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 7):
        raise InvalidInput(
            f"The {name.replace('_', ' ')} must be a whole number of {unit}, not '{text}'.",
            {name: f"a whole number of {unit}"},
        )
    return int(text)
