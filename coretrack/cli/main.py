"""The `coretrack` command: its groups, where the data lies, and errors as one plain line."""

from __future__ import annotations

from typing import Any

import click

from coretrack import __version__
from coretrack.cli import demo, figures, imports, labels, shop, understand, upkeep
from coretrack.cli.context import Station
from coretrack.errors import CoretrackError


class PlainErrors(click.Group):
    """Turns coretrack's own errors into one line on stderr and exit code 1."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except CoretrackError as error:
            raise click.ClickException(error.message) from error
        except KeyboardInterrupt:
            raise click.ClickException(
                "Stopped. What was under way was not stored; what was told before it is."
            ) from None


@click.group(cls=PlainErrors, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="coretrack")
@click.option("--data", metavar="DIR", help="The shop's data folder (or set CORETRACK_DATA).")
@click.option(
    "--as",
    "person",
    metavar="NAME",
    default="terminal",
    show_default=True,
    help="Who is doing this; it is written into the history.",
)
@click.pass_context
def main(context: click.Context, data: str | None, person: str) -> None:
    """Grade used cores and know what a good body costs.

    Cores come in (sales, intake), are labelled (labels), measured and graded (grade); yield, cost
    and charge then say what a good body really costs and what the core charge should be.

    The database is SQLite in the data folder, or PostgreSQL when CORETRACK_DATABASE_URL names one.
    """
    context.obj = Station(data, person)


for module in (demo, shop, imports, labels, figures, understand, upkeep):
    module.register(main)
