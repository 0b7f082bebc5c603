"""One scan, one meaning: how a scan is understood and what it names in this shop.

`read_scan` understands the text alone, `resolve` looks it up, `looks_like_code` guards fields for
readings and prices. The parts live in `scan_reading` and `scan_meaning`.
"""

from coretrack.figures.scan_meaning import Book, Meaning, NumberHit, SerialHit, resolve
from coretrack.figures.scan_reading import Scan, ScanField, looks_like_code, read_scan
from coretrack.figures.scan_text import Candidate

__all__ = [
    "Book",
    "Candidate",
    "Meaning",
    "NumberHit",
    "Scan",
    "ScanField",
    "SerialHit",
    "looks_like_code",
    "read_scan",
    "resolve",
]
