"""ISO/IEC 15434 envelopes of format 06 with ANS MH10.8.2 data identifiers.

The envelope's signs stand in a public Data Matrix decoder (header and trailer of its macro 06);
P, Q, V, S, T, K, 2S, 4S, 36S and 37S in published label guides; 1P, 1T, 2P, 4L from memory.
"""

from __future__ import annotations

import pytest

from coretrack.figures.format06 import IDENTIFIERS, parse_format06
from coretrack.figures.scans import read_scan

PUBLISHED = "[)>\x1e06\x1dP12345\x1dS000123\x1dQ1\x1e\x04"


def test_the_published_envelope_gives_its_three_fields() -> None:
    label = parse_format06(PUBLISHED)
    assert [(f.identifier, f.value) for f in label.fields] == [
        ("P", "12345"),
        ("S", "000123"),
        ("Q", "1"),
    ]
    assert label.notes == ()


def test_a_scan_of_it_keeps_the_leading_zeros_of_the_serial() -> None:
    scan = read_scan("]d1" + PUBLISHED + "\r")
    assert (scan.kind, scan.sure) == ("format 06", True)
    assert (scan.numbers, scan.serial) == (("12345",), "000123")


@pytest.mark.parametrize(
    ("identifier", "meaning"),
    [
        ("P", "customer's part number"),
        ("1P", "supplier's part number"),
        ("Q", "quantity"),
        ("V", "supplier"),
        ("S", "serial"),
        ("T", "lot"),
        ("1T", "lot"),
        ("K", "order"),
        ("2S", "shipment"),
        ("4S", "package"),
        ("36S", "pallet"),
        ("37S", "unique item identifier"),
        ("2P", "revision"),
        ("4L", "country of origin"),
    ],
)
def test_each_identifier_has_its_published_meaning(identifier: str, meaning: str) -> None:
    assert IDENTIFIERS[identifier] == meaning
    label = parse_format06(f"[)>\x1e06\x1d{identifier}12345\x1e\x04")
    assert [(f.identifier, f.name) for f in label.fields] == [(identifier, meaning)]
