"""The Code 128 symbol table: how wide each bar and space of a code word is, and what it means.

Widths are in modules, bar first. Source: ISO/IEC 15417 as its public descriptions give it; the
tests compare the table with those of two libraries.
"""

from __future__ import annotations

_TABLE = (
    "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 "
    "221312 231212 112232 122132 122231 113222 123122 123221 223211 221132 "
    "221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 "
    "212123 212321 232121 111323 131123 131321 112313 132113 132311 211313 "
    "231113 231311 112133 112331 132131 113123 113321 133121 313121 211331 "
    "231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 "
    "314111 221411 431111 111224 111422 121124 121421 141122 141221 112214 "
    "112412 122114 122411 142112 142211 241211 221114 413111 241112 134111 "
    "111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 "
    "214121 412121 111143 111341 131141 114113 114311 411113 411311 113141 "
    "114131 311141 411131 211412 211214 211232 "
)

WIDTHS: tuple[str, ...] = tuple(_TABLE.split())
"""The six widths of each code word from 0 to the start of set C, 105."""

STOP_WIDTHS = "2331112"
"""The stop word with its last bar of two modules."""

START_A, START_B, START_C = 103, 104, 105
SHIFT = 98
TO_SET: dict[str, dict[int, str]] = {
    "A": {99: "C", 100: "B"},
    "B": {99: "C", 101: "A"},
    "C": {100: "B", 101: "A"},
}
"""Which code word changes the set, by the set in force."""


def meaning(code_set: str, word: int) -> str | None:
    """Return the text of a code word in set A, B or C; None for a function code or a switch."""
    if code_set == "C":
        return f"{word:02d}" if word <= 99 else None
    if word > 95:
        return None
    if code_set == "A":
        return chr(word + 32) if word < 64 else chr(word - 64)
    return chr(word + 32)
