"""A progress bar for long work, on stderr and only where a person looks at it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_WIDTH = 30


@contextmanager
def bar(name: str) -> Iterator[Callable[[int, int], None] | None]:
    """Yield a function (done, of how many) that draws the bar, or None when nobody looks."""
    if not sys.stderr.isatty():
        yield None
        return
    last = -1

    def draw(done: int, total: int) -> None:
        nonlocal last
        filled = _WIDTH * done // max(total, 1)
        if filled != last:
            last = filled
            sys.stderr.write(f"\r{name:<12} [{'#' * filled}{' ' * (_WIDTH - filled)}]")
            sys.stderr.flush()

    try:
        yield draw
    finally:
        sys.stderr.write("\r" + " " * (_WIDTH + 16) + "\r")
        sys.stderr.flush()
