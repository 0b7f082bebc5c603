"""Labels sent to a printer by the command that the owner set: a list of arguments, no shell."""

from __future__ import annotations

import subprocess
import tempfile
import threading
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from coretrack.actions.printing import print_labels, text_label
from coretrack.actions.station_labels import (
    LabelRun,
    labels_file,
    note_printed,
    plan_run,
    sent_before,
)
from coretrack.actions.station_settings import FILE_MARK, station_settings
from coretrack.errors import NotAllowed, Unavailable

SECONDS = 20
"""How long a print command may take: it only hands the file over."""

_MOST_SAID = 400

_one_at_a_time = threading.Lock()


def print_by_command(
    tags: Sequence[str],
    stock: str = "",
    *,
    first: int | None = None,
    texts: Sequence[str] = (),
    wash: str = "",
    by: str,
    station: str,
    now: datetime,
    key: str,
) -> LabelRun:
    """Run the shop's print command on these labels, then note them as printed.

    Unavailable when the command fails or takes too long, with what it said: nothing is noted then.
    NotAllowed without a command. The same `key` again prints nothing and answers the same.
    """
    # One printer: two batches at once would be torn apart, and one key must print once.
    with _one_at_a_time:
        before = sent_before(key)
        if before is not None:
            return before
        planned = plan_run(tags, stock, first, texts, wash)
        if not planned.tags and not planned.texts:
            return planned
        made = labels_file(planned, "labels")
        run_command(station_settings().print_command, made.files[0].content)
        return note_printed(
            tags, planned.stock, first=planned.first, texts=texts, wash=wash, by=by,
            station=station, now=now, key=key,
        )  # fmt: skip


def print_test_label(stock: str = "") -> str:
    """Run the print command on one test label; return the stock it was made for.

    Raises like `print_by_command`. Nothing is noted: no core has this label.
    """
    settings = station_settings()
    chosen = stock or settings.label_stock
    made = print_labels([text_label(TEST_TEXT)], chosen, name="test label")
    with _one_at_a_time:
        run_command(settings.print_command, made.files[0].content)
    return chosen


TEST_TEXT = "TEST-0123"
"""What a test label says; no core's tag looks like it."""


def run_command(command: Sequence[str], content: bytes, seconds: float = SECONDS) -> None:
    """Run `command` with the path of a file that holds `content` in place of {file}.

    Unavailable when it cannot be started, fails, or takes longer than `seconds`.
    """
    if not command:
        raise NotAllowed("No print command is set; the owner sets it under Labels, Settings.")
    with tempfile.TemporaryDirectory(prefix="labels-") as folder:
        path = Path(folder) / "labels.pdf"
        path.write_bytes(content)
        words = [word.replace(FILE_MARK, str(path)) for word in command]
        try:
            done = subprocess.run(
                words,
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=seconds,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise Unavailable(
                f"The print command did not end within {seconds:g} seconds and was stopped. "
                "Look at the printer; nothing was noted as printed."
            ) from None
        except OSError as error:
            raise Unavailable(
                f"The print command '{command[0]}' cannot be run: {error.strerror or error}. "
                "Nothing was printed."
            ) from error
    if done.returncode:
        raise Unavailable(
            f"The print command ended with code {done.returncode}: {_said(done.stderr)} "
            "Nothing was noted as printed."
        )


def _said(stderr: bytes) -> str:
    """Return what a command said on its error output, in one line and not too long."""
    text = " ".join(stderr.decode("utf-8", "replace").split())
    shown = "".join(sign for sign in text if sign.isprintable())[:_MOST_SAID]
    return f"“{shown}”." if shown else "it said nothing."
