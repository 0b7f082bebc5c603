"""sales, intake, identify, grade, process-checks, source-lost, standards: files that come in."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from coretrack.cli.context import Station, json_option, pass_station, print_json
from coretrack.cli.progress import bar
from coretrack.errors import CoretrackError, InvalidInput, NotFound

if TYPE_CHECKING:
    from coretrack.actions.imports import FileRequest, ImportAnswer

_FILE = click.Path(dir_okay=False, path_type=Path)


def register(group: click.Group) -> None:
    """Add this module's commands."""
    for command in (sales, intake, identify, grade, process_checks, source_lost, standards):
        group.add_command(command)


def _import_options(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        json_option,
        click.option(
            "--rejects", type=_FILE, metavar="FILE",
            help="Where to write rejected rows (beside the file unless told otherwise).",
        ),
        click.option("--sheet", metavar="NAME", help="Sheet of a workbook."),
        click.option(
            "--decimal", type=click.Choice(["point", "comma"]),
            help="The decimal mark, where the file does not tell.",
        ),
        click.option(
            "--dates", type=click.Choice(["day-first", "month-first"]),
            help="How 3/4 is meant, where the file does not tell.",
        ),
        click.option(
            "--hidden", type=click.Choice(["include", "skip"]),
            help="Whether rows hidden by a filter count.",
        ),
        click.option("--preview", is_flag=True, help="Show what would happen; store nothing."),
    ):  # fmt: skip
        function = option(function)
    return function


def request_of(
    file: Path,
    preview: bool = False,
    hidden: str | None = None,
    dates: str | None = None,
    decimal: str | None = None,
    sheet: str | None = None,
) -> FileRequest:
    """Return a file as an import wants it; NotFound or InvalidInput when it cannot be read."""
    from coretrack.actions.imports import FileRequest
    from coretrack.paper.incoming import MOST_BYTES, MOST_MEGABYTES

    try:
        if file.stat().st_size > MOST_BYTES:
            raise InvalidInput(
                f"{file.name} is larger than {MOST_MEGABYTES} MB; split it into smaller files."
            )
        content = file.read_bytes()
    except FileNotFoundError:
        raise NotFound(f"There is no file {file}.") from None
    except OSError as error:
        raise InvalidInput(f"{file} cannot be read: {error}.") from None
    return FileRequest(
        name=file.name,
        content=content,
        preview=preview,
        hidden=hidden,
        dates=dates.replace("-", " ") if dates else None,
        decimal={"point": ".", "comma": ",", None: None}[decimal],
        sheet=sheet,
    )


@click.command()
@click.argument("file", type=_FILE)
@_import_options
@pass_station
def sales(
    station: Station, /, file: Path, rejects: Path | None, as_json: bool, **reading: Any
) -> None:
    """Open core lines from a file of sales with core charges (CSV or XLSX)."""
    station.open()
    from coretrack import clock
    from coretrack.actions.sales import import_sales

    request = request_of(file, **reading)
    with bar("sales") as progress:
        answer = import_sales(request, by=station.person, now=clock.now(), progress=progress)
    _tell([(file, request, answer)], rejects, as_json)


@click.command()
@click.argument("file", type=_FILE)
@click.option("--source", metavar="CODE", help="Who the cores come from.")
@click.option("--lot", default="", metavar="CODE", help="The lot's own code.")
@click.option("--received", metavar="YYYY-MM-DD", help="Day of arrival, if the file has none.")
@click.option(
    "--basis", type=click.Choice(["piece", "weight", "lump"]), default="piece", show_default=True,
    help="How a purchased lot is priced.",
)  # fmt: skip
@click.option("--price", metavar="MONEY", help="Per piece, per kilogram, or for all.")
@click.option("--freight", metavar="MONEY", default="0", help="Freight for the lot.")
@click.option("--mass", metavar="KG", help="The weigh ticket's total.")
@click.option("--bid-yield", default="", metavar="SHARE", help="What was expected, e.g. 0.62.")
@_import_options
@pass_station
def intake(
    station: Station, /, file: Path, rejects: Path | None, as_json: bool, **given: Any
) -> None:
    """Receive cores from a manifest (CSV or XLSX).

    From a customer or dealer they are returns: matched to open core lines, judged and credited.
    From anybody else they are a purchased lot: price and freight are spread over the pieces.
    """
    station.open()
    terms = {
        name: given.pop(name)
        for name in ("source", "lot", "received", "basis", "price", "freight", "mass", "bid_yield")
    }
    request = request_of(file, **given)
    from coretrack import clock
    from coretrack.actions import receiving

    with bar("intake") as progress:
        answer = receiving.import_manifest(
            request,
            receiving.manifest_terms(**terms),
            by=station.person,
            now=clock.now(),
            progress=progress,
        )
    _tell([(file, request, answer)], rejects, as_json)


@click.command()
@click.argument("file", type=_FILE)
@_import_options
@pass_station
def identify(
    station: Station, /, file: Path, rejects: Path | None, as_json: bool, **reading: Any
) -> None:
    """Say which number unknown cores carry (columns core, number); returns are judged then."""
    station.open()
    from coretrack import clock
    from coretrack.actions.identifying import identify_cores

    request = request_of(file, **reading)
    answer = identify_cores(request, by=station.person, now=clock.now())
    _tell([(file, request, answer)], rejects, as_json)


@click.command()
@click.argument("files", nargs=-1, required=True, type=_FILE)
@_import_options
@pass_station
def grade(
    station: Station,
    /,
    files: tuple[Path, ...],
    rejects: Path | None,
    as_json: bool,
    **reading: Any,
) -> None:
    """Take in readings and finished rework; every core gets its verdict.

    Give all files of a period together: they are worked through in the order of time.
    """
    station.open()
    from coretrack import clock
    from coretrack.actions.grading import grade_files

    requests = [request_of(file, **reading) for file in files]
    with bar("grading") as progress:
        answers = grade_files(requests, by=station.person, now=clock.now(), progress=progress)
    _tell(list(zip(files, requests, answers, strict=True)), rejects, as_json)


@click.command("process-checks")
@click.argument("file", type=_FILE)
@_import_options
@pass_station
def process_checks(
    station: Station, /, file: Path, rejects: Path | None, as_json: bool, **reading: Any
) -> None:
    """Keep the checks of lamps and baths that crack checks need, before that day's readings."""
    station.open()
    from coretrack import clock
    from coretrack.actions.process_files import import_process_checks

    request = request_of(file, **reading)
    answer = import_process_checks(request, by=station.person, now=clock.now())
    _tell([(file, request, answer)], rejects, as_json)


@click.command("source-lost")
@click.argument("file", type=_FILE)
@_import_options
@pass_station
def source_lost(
    station: Station, /, file: Path, rejects: Path | None, as_json: bool, **reading: Any
) -> None:
    """A basket tipped: its cores (column "core") keep their family and lose their source."""
    station.open()
    from coretrack import clock
    from coretrack.actions.baskets import import_source_lost

    request = request_of(file, **reading)
    answer = import_source_lost(request, by=station.person, now=clock.now())
    _tell([(file, request, answer)], rejects, as_json)


@click.command()
@click.argument("file", type=_FILE)
@_import_options
@pass_station
def standards(
    station: Station, /, file: Path, rejects: Path | None, as_json: bool, **reading: Any
) -> None:
    """Set the scrap rate each family is expected to have (columns family, scrap rate)."""
    station.open()
    from coretrack import clock
    from coretrack.actions.standards import import_standards

    request = request_of(file, **reading)
    answer = import_standards(request, by=station.person, now=clock.now())
    _tell([(file, request, answer)], rejects, as_json)


def _tell(
    done: Sequence[tuple[Path, FileRequest, ImportAnswer]], rejects: Path | None, as_json: bool
) -> None:
    outputs = []
    for file, request, answer in done:
        path = None
        if answer.rejected and not answer.preview:
            single = rejects if rejects and len(done) == 1 else None
            path = _write_rejects(single, file, request, answer)
        outputs.append({**answer.to_dict(), "rejects_file": str(path) if path else None})
        if not as_json:
            _tell_one(answer, path)
    if as_json:
        print_json(outputs[0] if len(outputs) == 1 else outputs)


def _write_rejects(
    told: Path | None, file: Path, request: FileRequest, answer: ImportAnswer
) -> Path:
    """Write the rejects where told, else beside the file; the ending is that of their kind."""
    from coretrack.actions.imports import rejects_of

    rejects = rejects_of(request, answer)
    path = told or _free_name(file, rejects.ending)
    if path.suffix.casefold() != rejects.ending:
        path = path.with_name(path.name + rejects.ending)
    try:
        path.write_bytes(rejects.content)
    except OSError as error:
        raise CoretrackError(
            f"The good rows are stored, but the rejects file {path} cannot be written: {error}. "
            "Name another place with --rejects and import again; stored rows are not stored twice."
        ) from error
    return path


def _free_name(file: Path, ending: str) -> Path:
    """Return a name beside the file that is free: earlier rejects may be under correction."""
    stem = re.sub(r"\.rejects(-\d+)?$", "", file.stem)
    names = (file.with_name(f"{stem}.rejects{n}{ending}") for n in _numbers())
    return next(path for path in names if not path.exists())


def _numbers() -> Iterator[str]:
    yield ""
    yield from (f"-{number}" for number in count(2))


def _tell_one(answer: ImportAnswer, path: Path | None) -> None:
    from coretrack.actions.import_words import outcomes

    would = "would be stored" if answer.preview else "stored"
    hidden = f", {answer.hidden_rows} of them hidden" if answer.hidden_rows else ""
    rows = "1 row" if answer.rows == 1 else f"{answer.rows} rows"
    click.echo(
        f"{answer.file}: {rows}{hidden}; {answer.stored} {would}, "
        f"{answer.already} known already, {len(answer.rejected)} rejected."
    )
    for line in outcomes(answer):
        click.echo(f"  {line}")
    for note in answer.notes:
        click.echo(f"  Note: {note}.")
    if answer.preview:
        for item in answer.items[:20]:
            click.echo(f"  {_shown(item)}")
        if len(answer.items) > 20:
            click.echo(f"  … and {len(answer.items) - 20} more (all of them with --json)")
    for reject in answer.rejected[:20]:
        place = f"row {reject.row}" + (f", {reject.column}" if reject.column else "")
        value = f" {reject.value!r}" if reject.value else ""
        click.echo(f"  Not stored: {place}{value}: {reject.why}", err=True)
    if len(answer.rejected) > 20:
        click.echo(f"  … and {len(answer.rejected) - 20} more rows not stored", err=True)
    if path:
        click.echo(f"  Rejected rows, with reasons: {path}", err=True)


def _shown(item: Mapping[str, Any]) -> str:
    """Return one understood row for a person."""
    from coretrack.actions.import_words import shown_fields

    parts = [f"{name} {text}" for name, text in shown_fields(item).items()]
    if item.get("arithmetic"):
        parts.append(f"arithmetic [{'; '.join(item['arithmetic'])}]")
    parts += [f"{s['name']} {s['value']} {s['unit']} (stated)" for s in item.get("stated", ())]
    return ", ".join(parts)
