"""Times how long `coretrack --help` takes to answer against Python doing nothing at all.

Run it as a program; `--runs N` takes another count. Prints seconds and their ratio.
"""

from __future__ import annotations

import argparse
from functools import partial

from timing import in_turns, python


def main() -> None:
    """Time both and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=9)
    runs = parser.parse_args().runs
    commands = {
        "python -c pass": ("-c", "pass"),
        "python -c 'import click'": ("-c", "import click"),
        "coretrack --help": ("-m", "coretrack", "--help"),
        "coretrack cost --help": ("-m", "coretrack", "cost", "--help"),
    }
    jobs = {name: partial(python, *words) for name, words in commands.items()}
    for job in jobs.values():
        job()
    times = in_turns(jobs, runs)
    nothing = times["python -c pass"]
    for name, taken in times.items():
        print(f"{name:<26} {taken:.3f} s   {taken / nothing:.1f} x python -c pass")


if __name__ == "__main__":
    main()
