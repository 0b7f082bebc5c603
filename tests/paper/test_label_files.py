"""Label stocks and layouts as files: every wrong one is refused with what is wrong in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from coretrack.errors import InvalidInput, NotFound
from coretrack.figures.labels import RollStock, SheetStock
from coretrack.paper.label_files import (
    layout_for,
    layout_named,
    load_layouts,
    load_stocks,
    stock_named,
)
from coretrack.resources import data_dir

ROLL = """
kind = "roll"
title = "Test roll"
layout = "core-tag-roll"
label_width = 50
label_height = 25.5
dpi = [203]
module_least = 0.25
module_most = 0.5
"""


def folder_with(tmp_path: Path, text: str) -> Path:
    (tmp_path / "stocks").mkdir()
    (tmp_path / "stocks" / "test-roll.toml").write_text(text, encoding="utf-8")
    return tmp_path


def test_the_stocks_that_ship_are_those_of_the_shop() -> None:
    stocks = load_stocks()
    assert {"letter-30", "a4-24", "roll-50x25", "roll-38x13"} <= stocks.keys()
    letter = stocks["letter-30"]
    assert isinstance(letter, SheetStock)
    assert (letter.places, letter.label_width, letter.margin_left) == (30, 666_750, 47_625)
    a4 = stocks["a4-24"]
    assert isinstance(a4, SheetStock)
    assert a4.places == 24
    for stock in stocks.values():
        assert layout_for(stock) in load_layouts().values()
        assert isinstance(stock, SheetStock) or stock.dpi == (203, 300)


def test_a_shops_own_stock_is_read_exactly(tmp_path: Path) -> None:
    stock = stock_named("test-roll", folder_with(tmp_path, ROLL))
    assert isinstance(stock, RollStock)
    assert (stock.label_width, stock.label_height) == (500_000, 255_000)
    assert (stock.module_least, stock.module_most) == (2_500, 5_000)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (('kind = "roll"', 'kind = "reel"'), 'kind must be "sheet" or "roll"'),
        (("label_width = 50", ""), "missing label_width"),
        (("label_width = 50", "label_width = 50\nlenght = 3"), "unknown lenght"),
        (("label_width = 50", 'label_width = "50"'), "label_width must be a number"),
        (("label_width = 50", "label_width = true"), "label_width must be a number"),
        (("label_width = 50", "label_width = nan"), "label_width must be a number"),
        (("label_width = 50", "label_width = 50.00001"), "label_width: .* finer"),
        (("dpi = [203]", "dpi = 203"), "dpi must be a list"),
        (('title = "Test roll"', "title = 4"), "title must be a text"),
        (("dpi = [203]", "dpi = [203"), "not a readable TOML"),
        (("label_width = 50", "label_width = -50"), "needs a width"),
    ],
)
def test_a_wrong_stock_file_is_refused_by_its_key(
    tmp_path: Path, change: tuple[str, str], message: str
) -> None:
    folder = folder_with(tmp_path, ROLL.replace(*change))
    with pytest.raises(InvalidInput, match=message):
        load_stocks(folder)


def test_a_layout_with_broken_rows_is_refused(tmp_path: Path) -> None:
    (tmp_path / "layouts").mkdir()
    source = (data_dir("labels") / "layouts" / "core-tag.toml").read_text(encoding="utf-8")
    copy = tmp_path / "layouts" / "mine.toml"
    copy.write_text(source.replace("rows = 2", "rows = 2.5"), encoding="utf-8")
    with pytest.raises(InvalidInput, match="rows must be a whole number"):
        load_layouts(tmp_path)


def test_a_name_that_is_not_there_is_answered_with_those_that_are() -> None:
    with pytest.raises(NotFound, match=r"no label stock 'letter-31'; there are a4-24.*letter-30"):
        stock_named("letter-31")
    with pytest.raises(NotFound, match="no label layout 'x'"):
        layout_named("x")
