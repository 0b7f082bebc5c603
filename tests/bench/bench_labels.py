"""Times 1,000 labels as one PDF against python-barcode's own SVG writer, in the same run.

Run it as a program; `--labels N` takes another count. Prints seconds and their ratio.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from statistics import median

from barcode import Code128
from stdnum.iso7064 import mod_97_10

from coretrack.figures.labels import Label, SheetStock
from coretrack.paper.label_files import layout_for, stock_named
from coretrack.paper.label_pdf import sheet_pdf


def tag_labels(count: int) -> list[Label]:
    """Return labels of consecutive core tags."""
    labels = []
    for serial in range(count):
        payload = f"1{serial:07d}"
        tag = payload + mod_97_10.calc_check_digits(payload)
        lines = ("INJ-17 body · 7731-120", "2025-03-04 · Kessel Yard")
        labels.append(Label(tag, f"{tag[:4]} {tag[4:8]} {tag[8:]}", lines))
    return labels


def seconds(job: Callable[[], object], runs: int = 3) -> float:
    """Return the median time of some runs."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return median(times)


def main() -> None:
    """Time both writers and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labels", type=int, default=1000)
    count = parser.parse_args().labels
    labels = tag_labels(count)
    stock = stock_named("letter-30")
    assert isinstance(stock, SheetStock)
    layout = layout_for(stock)
    pdf = sheet_pdf(stock, layout, labels)
    ours = seconds(lambda: sheet_pdf(stock, layout, labels))
    theirs = seconds(lambda: [Code128(label.code).render() for label in labels])
    print(f"labels                          {count}")
    print(f"our sheet PDF, letter-30        {ours:.3f} s, {len(pdf) / 1000:.0f} kB")
    print(f"python-barcode, one SVG each    {theirs:.3f} s")
    print(f"ratio (theirs / ours)           {theirs / ours:.2f}")


if __name__ == "__main__":
    main()
