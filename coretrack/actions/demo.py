"""The demo: the whole job on the invented shop's files, through the same actions as everyone."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from coretrack.actions import demo_bench, grading, overview, receiving, sales, setting_up, upkeep
from coretrack.actions.baskets import import_source_lost
from coretrack.actions.imports import FileRequest, ImportAnswer, Progress, rejects_of
from coretrack.actions.process_files import import_process_checks
from coretrack.errors import NotAllowed
from coretrack.figures.summary import ShopSummary
from coretrack.records import queries
from coretrack.records.database import connection
from coretrack.resources import data_dir

Bar = Callable[[str], AbstractContextManager[Progress | None]]
"""Opens a progress bar under a name."""

FILES_END = datetime(2026, 11, 1, tzinfo=UTC)
"""The sample files end before this; a clock that is behind is taken to stand here."""

CLERK, INSPECTOR = "Oda Brennick", "Teodor Lanzik"
"""Two invented people of the demo shop, in whose name its files come in."""


@dataclass(frozen=True)
class DemoResult:
    """What the demo did: the answer of every import, and the shop's figures afterwards.

    `rejects` are the rejects files (name and content) of imports that left rows out.
    """

    answers: tuple[ImportAnswer, ...]
    summary: ShopSummary
    rejects: tuple[tuple[str, bytes], ...] = ()

    @property
    def changed(self) -> bool:
        """Whether anything was new (a demo run again changes nothing)."""
        return any(answer.stored for answer in self.answers)


def run_demo(now: datetime, bar: Bar, folder: Path | None = None) -> DemoResult:
    """Do the main job on `folder` (sample_cores/ unless told otherwise) in the open database.

    NotAllowed when the database holds another shop: the demo never touches a real one.
    """
    now = max(now, FILES_END)
    files = folder or data_dir("sample_cores")
    _refuse_another_shop(files)
    setting_up.set_up_from_folder(files / "shop", by="demo", now=now, demo=True)
    demo_bench.body_pictures(files / "bodies", now)
    answers: list[ImportAnswer] = []
    for path in sorted(files.glob("sales_*.xlsx")):
        with bar("sales") as progress:
            answers.append(sales.import_sales(_request(path), by=CLERK, now=now, progress=progress))
    with bar("lots") as progress:
        answers += _lots(files / "lots", now)
    paths = sorted(files.glob("returns_*.csv"))
    with bar("returns") as progress:
        for place, path in enumerate(paths):
            answers.append(
                receiving.import_manifest(
                    _request(path), receiving.manifest_terms(None), by=CLERK, now=now
                )
            )
            if progress:
                progress(place + 1, len(paths))
    with bar("wash and lamps"):
        answers += _before_grading(files, now)
    with bar("grading") as progress:
        bench = [
            _request(path)
            for pattern in ("readings_*.csv", "readings_*.xlsx", "rework_*.csv")
            for path in sorted(files.glob(pattern))
        ]
        answers += grading.grade_files(bench, by=INSPECTOR, now=now, progress=progress)
    with bar("bench"):
        demo_bench.last_friday(files / "bench", now)
    upkeep.seal_if_due(now)
    return DemoResult(tuple(answers), overview.shop_summary(now), _rejects(files, answers))


def _before_grading(files: Path, now: datetime) -> Iterator[ImportAnswer]:
    """Read what came before the bench measured: checks of lamps and baths, a tipped basket."""
    for path in sorted(files.glob("process_checks_*.csv")):
        yield import_process_checks(_request(path), by=INSPECTOR, now=now)
    demo_bench.load_basket(files / "bench", now)
    for path in sorted((files / "events").glob("tipped_*.csv")):
        yield import_source_lost(_request(path), by=CLERK, now=now)
    demo_bench.note_tipped(now)


def _rejects(files: Path, answers: Iterable[ImportAnswer]) -> tuple[tuple[str, bytes], ...]:
    found = []
    for answer in answers:
        if answer.rejected:
            path = next(files.rglob(answer.file))
            rejects = rejects_of(_request(path), answer)
            found.append((f"{path.stem}.rejects{rejects.ending}", rejects.content))
    return tuple(found)


def _refuse_another_shop(files: Path) -> None:
    with connection():
        shop = queries.shop()
    name = setting_up.shop_name(files / "shop")
    if shop is not None and shop.name != name:
        raise NotAllowed(
            f"This database holds the shop '{shop.name}'; the demo needs a folder of its own "
            "(--folder)."
        )


def _lots(folder: Path, now: datetime) -> Iterator[ImportAnswer]:
    with (folder / "terms.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            terms = receiving.manifest_terms(
                row["source"],
                lot=row["lot"],
                received=row["received"],
                basis=row["basis"],
                price=row["price"],
                freight=row["freight"],
                bid_yield=row["bid_yield"],
            )
            request = _request(folder / row["file"])
            yield receiving.import_manifest(request, terms, by=CLERK, now=now)


def _request(path: Path) -> FileRequest:
    return FileRequest(path.name, path.read_bytes())
