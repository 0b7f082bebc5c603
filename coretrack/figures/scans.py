"""One scan, one meaning: how a scan is understood and what it names in this shop.

`read_scan` understands the text alone, `resolve` looks it up. The parts live in `scan_reading` and
`scan_meaning`; `stray_codes` guards the fields for readings and amounts.
"""

from coretrack.figures.scan_meaning import Book, Meaning, NumberHit, SerialHit, resolve
from coretrack.figures.scan_reading import Scan, ScanField, read_scan
from coretrack.figures.scan_text import Candidate

__all__ = [
    "Book",
    "Candidate",
    "Meaning",
    "NumberHit",
    "Scan",
    "ScanField",
    "SerialHit",
    "read_scan",
    "resolve",
]
