"""demo: the main job on the invented shop's files, its result on one screen, then the pages."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from coretrack.cli.context import Station, pass_station, print_table
from coretrack.cli.figures import money_cell, print_notes, rate_cell, rates_cell
from coretrack.cli.progress import bar
from coretrack.errors import InvalidInput

if TYPE_CHECKING:
    from coretrack.figures.summary import ShopSummary


def register(group: click.Group) -> None:
    """Add this module's commands."""
    group.add_command(demo)


@click.command()
@click.option(
    "--folder", type=click.Path(file_okay=False, path_type=Path), metavar="DIR",
    help="Where the demo's data and papers go.  [default: that of --data, else demo_shop]",
)  # fmt: skip
@click.option("--port", type=click.IntRange(1, 65535), help="Port for the pages.")
@click.option("--no-serve", is_flag=True, help="Stop before the pages are served.")
@pass_station
def demo(station: Station, folder: Path | None, port: int | None, no_serve: bool) -> None:
    """Run the whole job on an invented shop: from a pile of cores to a core charge."""
    folder = folder_of(folder, station.data)
    station.data = str(folder)
    settings = station.open(create=True)
    from coretrack import clock
    from coretrack.actions import papers
    from coretrack.actions.demo import run_demo

    result = run_demo(clock.now(), bar)
    written = papers.write_papers(result.summary, folder / "papers", result.rejects)
    _screen(result.summary)
    rejected = [(a.file, r) for a in result.answers for r in a.rejected]
    if rejected:
        click.echo("\nRows that were not stored, and why")
        for file, row in rejected[:6]:
            click.echo(f"  {file} row {row.row}: {row.why}")
        if len(rejected) > 6:
            click.echo(f"  … and {len(rejected) - 6} more")
    click.echo("\nPapers")
    for path in written:
        click.echo(f"  {path}")
    if not result.changed:
        click.echo("\nAll of this was imported before: nothing was changed.")
    if not no_serve:
        from coretrack.cli.serving import serve_pages

        serve_pages(station.settings(port=port) if port else settings, demo=True)


def folder_of(asked: Path | None, data: str | None) -> Path:
    """Return where the demo goes: --folder and --data say the same thing.

    The shop of CORETRACK_DATA is a real one and is left alone.
    """
    if asked and data and asked.resolve() != Path(data).resolve():
        raise InvalidInput(
            f"--data says {data} and --folder says {asked}; the demo goes into one folder: give "
            "one of them."
        )
    return asked or Path(data or "demo_shop")


def _screen(summary: ShopSummary) -> None:
    from coretrack.figures.money import shown
    from coretrack.figures.wording import open_deposits

    click.echo(f"{summary.shop_name}  (all names and numbers are invented)\n")
    became = ", ".join(f"{name} {count:,}" for name, count in summary.whereabouts)
    click.echo(f"Cores in {summary.received:,}: {became}")
    click.echo(f"Credits paid {shown(summary.credits_paid)} {summary.currency}.")
    click.echo(open_deposits(summary.open_lines, summary.open_line_money, summary.currency))
    click.echo()
    _families(summary)
    if summary.attention:
        click.echo("\nNeeds attention")
        width = max(len(item.counted) for item in summary.attention)
        for item in summary.attention:
            click.echo(f"  {item.counted:>{width}}  {item.headline}: {item.advice}")
    click.echo(
        "\nA keep verdict is no approval for service: follow the standard, local codes and "
        "qualified people."
    )


def _families(summary: ShopSummary) -> None:
    """Print one line a family and, under the lines, what to take care of in each."""
    from coretrack.figures.money import shown
    from coretrack.figures.wording import charge_range, other_warnings

    charges = {advice.family: advice for advice in summary.charges}
    rows, notes = [], []
    for cost in summary.costs:
        advice = charges[cost.group]
        rows.append(
            {
                "family": f"{cost.group}  {advice.family_name}",
                "decided": f"{cost.yields.counts.good:,} of {cost.yields.counts.decided:,}",
                "yield": rate_cell(cost.yields.body_yield),
                "yield_range": rates_cell(cost.yields.interval),
                "cost": shown(cost.cost_per_good_body),
                "cost_range": money_cell(cost),
                "charge": charge_range(advice),
                "today": shown(advice.charge_today),
            }
        )
        notes.append((cost.group, other_warnings(advice, cost)))
    print_table(
        rows,
        [
            ("family", "Family", "left"),
            ("decided", "good", "right"),
            ("yield", "yield", "right"),
            ("yield_range", "95 % range", "right"),
            ("cost", "per good body", "right"),
            ("cost_range", "95 % range", "right"),
            ("charge", "charge that makes whole", "right"),
            ("today", "today", "right"),
        ],
    )
    print_notes(notes)
