"""labels: tags of cores and free texts, on a sheet (PDF) or a roll (PNG or PDF)."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from coretrack.cli.context import Station, json_option, pass_station, print_json
from coretrack.errors import CoretrackError, InvalidInput

if TYPE_CHECKING:
    from coretrack.actions.printing import PrintedLabels


def register(group: click.Group) -> None:
    """Add this module's commands."""
    group.add_command(print_labels)


@click.command("labels")
@click.option("--lot", "lots", multiple=True, metavar="N", help="All cores of a lot.")
@click.option("--tag", "tags", multiple=True, metavar="T", help="One core, by its tag.")
@click.option("--text", "texts", multiple=True, metavar="TEXT", help="A text of your own.")
@click.option("--stock", required=True, metavar="NAME", help="Label stock, e.g. letter-30.")
@click.option("--first", type=int, default=1, show_default=True, help="First free place.")
@click.option("--dpi", type=int, help="Print head of a roll printer: 203 or 300.")
@click.option(
    "--out", required=True, type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
    help="Where to write: .pdf for sheets, .png or .pdf for rolls.",
)  # fmt: skip
@json_option
@pass_station
def print_labels(
    station: Station,
    lots: tuple[str, ...],
    tags: tuple[str, ...],
    texts: tuple[str, ...],
    stock: str,
    first: int,
    dpi: int | None,
    out: Path,
    as_json: bool,
) -> None:
    """Print labels: of a lot, of single cores, or of texts of your own.

    Print sheets at actual size ("100 %", no "fit to page"); the line on the sheet's edge must
    measure 50 mm.
    """
    if out.suffix.lower() not in (".pdf", ".png"):
        raise InvalidInput(f"--out {out.name} must end in .pdf or .png.")
    from coretrack.actions import printing

    labels = []
    if lots or tags:
        station.open()
        labels += printing.labels_of_cores(lots, tags)
    labels += [printing.text_label(text) for text in texts]
    made = printing.print_labels(
        labels,
        stock,
        name=out.stem,
        first=first,
        dpi=dpi,
        as_pdf=out.suffix.lower() == ".pdf",
    )
    paths = _write(out, made)
    if as_json:
        print_json(
            {
                "files": [str(path) for path in paths],
                "printed": made.printed,
                "refused": [{"text": text, "why": why} for text, why in made.refused],
                "next_free": made.next_free,
            }
        )
    else:
        _tell(paths, made.printed, made.next_free)
    for text, why in made.refused:
        click.echo(f"Not printed: {text!r}: {why}", err=True)
    if made.refused and not made.printed:
        raise click.exceptions.Exit(1)


def _write(out: Path, made: PrintedLabels) -> list[Path]:
    paths = []
    for file in made.files:
        path = out if len(made.files) == 1 else out.with_name(file.name)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(file.content)
        except OSError as error:
            raise CoretrackError(f"{path} cannot be written: {error}.") from error
        paths.append(path)
    return paths


def _tell(paths: list[Path], printed: int, next_free: int | None) -> None:
    for path in paths:
        click.echo(f"Wrote {path}")
    click.echo(f"{printed} label{'s' if printed != 1 else ''}.")
    if next_free is not None:
        click.echo(f"First free place on the last sheet: {next_free}.")
