"""Times a 12-megapixel phone photo: made ready to be stored, and searched for codes.

Run it as a program; `--runs N` repeats. The measure is bare Pillow doing the least one could:
open, shrink to the same size, save. Prints milliseconds and ratios.
"""

from __future__ import annotations

import argparse
import sys
from io import BytesIO
from pathlib import Path

from PIL import Image
from timing import in_turns

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from label_reading import tag_label
from made_photos import Shot, bench_top, laid, phone_jpeg

from coretrack.figures.labels import RollStock
from coretrack.paper.label_files import layout_for, stock_named
from coretrack.paper.label_png import roll_png
from coretrack.paper.photo_codes import codes_in
from coretrack.paper.photos import LONGEST_SIDE, clean_photo, thumbnail


def bare_pillow(content: bytes) -> bytes:
    """Return the photo shrunk and saved again, with nothing else done."""
    picture = Image.open(BytesIO(content))
    scale = LONGEST_SIDE / max(picture.size)
    small = picture.resize((round(picture.width * scale), round(picture.height * scale)))
    buffer = BytesIO()
    small.save(buffer, "JPEG", quality=85)
    return buffer.getvalue()


def main() -> None:
    """Time all of it in turns and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    stock = stock_named("roll-50x25")
    assert isinstance(stock, RollStock)
    label = Image.open(BytesIO(roll_png(stock, layout_for(stock), tag_label(42), 203)))
    top = bench_top(3000, 4000)
    straight, slanting = (
        phone_jpeg(laid(top, label, Shot(degrees, skewed=True)), quality=85) for degrees in (7, 40)
    )
    empty = phone_jpeg(top, quality=85)
    stored = clean_photo(straight).content
    times = in_turns(
        {
            "bare Pillow: open, shrink, save": lambda: bare_pillow(straight),
            "clean_photo": lambda: clean_photo(straight),
            "thumbnail of the stored photo": lambda: thumbnail(stored),
            "codes_in, label nearly straight": lambda: codes_in(straight),
            "codes_in, label slantwise": lambda: codes_in(slanting),
            "codes_in, no code (all looks)": lambda: codes_in(empty),
            "codes_in the stored photo": lambda: codes_in(stored),
        },
        runs,
    )
    bare = times["bare Pillow: open, shrink, save"]
    print(f"photo  3000 × 4000, {len(straight) / 1000:.0f} kB in, {len(stored) / 1000:.0f} kB out")
    for name, taken in times.items():
        print(f"{name:34} {1000 * taken:7.0f} ms   ratio (this / bare) {taken / bare:.2f}")


if __name__ == "__main__":
    main()
