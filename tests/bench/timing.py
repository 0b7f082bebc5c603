"""Seconds of whole processes, measured in turns so that a busy moment hits both sides."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent.parent


def seconds(job: Callable[[], object]) -> float:
    """Return how long one run of `job` takes."""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def python(*words: str) -> None:
    """Run a Python process to its end; CalledProcessError when it fails."""
    subprocess.run(
        [sys.executable, *words],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        check=True,
    )


def in_turns(jobs: Mapping[str, Callable[[], object]], runs: int) -> dict[str, float]:
    """Return the median seconds of each job; every round runs each of them once."""
    times: dict[str, list[float]] = {name: [] for name in jobs}
    for _ in range(runs):
        for name, job in jobs.items():
            times[name].append(seconds(job))
    return {name: median(taken) for name, taken in times.items()}
