"""Signs that nobody can see: left out of every number, scan and figure, wherever they came from.

Taken from Unicode's default-ignorable signs: marks of writing direction, joiners, variation
selectors, the byte-order mark and fillers. None of them means anything in a number.
"""

from __future__ import annotations


def _signs(*ranges: tuple[int, int]) -> str:
    return "".join(chr(code) for first, last in ranges for code in range(first, last + 1))


INVISIBLE = _signs(
    (0x00AD, 0x00AD),  # soft hyphen
    (0x034F, 0x034F),
    (0x061C, 0x061C),
    (0x115F, 0x1160),
    (0x17B4, 0x17B5),
    (0x180B, 0x180F),
    (0x200B, 0x200F),
    (0x202A, 0x202E),
    (0x2060, 0x206F),
    (0x3164, 0x3164),
    (0xFE00, 0xFE0F),
    (0xFEFF, 0xFEFF),  # byte-order mark
    (0xFFA0, 0xFFA0),
    (0xFFF9, 0xFFFB),
    (0xE0000, 0xE007F),
)
"""Signs that are left out."""

BLANKS = _signs(
    (0x00A0, 0x00A0),  # no-break space
    (0x1680, 0x1680),
    (0x2000, 0x200A),
    (0x2028, 0x2029),
    (0x202F, 0x202F),
    (0x205F, 0x205F),
    (0x3000, 0x3000),
)
"""Signs that look like an ordinary blank and count as one."""
