"""Marks of a chart and the two ways to draw them: inline SVG and reportlab shapes.

Lengths are points; y runs downwards. Colours are names ("tones") that the page's style sheet and
`PAPER_TONES` give meaning to; nothing is told by colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

SIZE = 11.0


@dataclass(frozen=True)
class Box:
    """A filled rectangle; `hollow` draws its outline only."""

    x: float
    y: float
    width: float
    height: float
    tone: str
    hollow: bool = False


@dataclass(frozen=True)
class Stroke:
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    tone: str
    thickness: float = 1.0
    dashed: bool = False


@dataclass(frozen=True)
class Dot:
    """A filled circle."""

    x: float
    y: float
    radius: float
    tone: str


@dataclass(frozen=True)
class Words:
    """Text on a baseline; `anchor` is start, middle or end."""

    x: float
    y: float
    text: str
    tone: str = "ink"
    anchor: str = "start"
    bold: bool = False
    size: float = SIZE


Mark = Box | Stroke | Dot | Words


@dataclass(frozen=True)
class Chart:
    """A drawing with its size, a title and a description that says in words what it shows."""

    width: float
    height: float
    title: str
    description: str
    marks: tuple[Mark, ...] = ()


_SLIM, _BROAD = frozenset("iljtfrI.,:;'|!()[]/ -"), frozenset("mwMWÆŒ@%—–+±×=<>~")


def text_width(text: str, size: float = SIZE, bold: bool = False) -> float:
    """Return about how wide `text` is, on the generous side, in a plain sans-serif face."""
    units = 0.0
    for character in text:
        if character in _SLIM:
            units += 0.34
        elif character in _BROAD or ord(character) > 0x2E7F:
            units += 0.95
        else:
            units += 0.71 if character.isupper() else 0.58
    return units * size * (1.2 if bold else 1.0)


def fitted(text: str, width: float, size: float = SIZE) -> str:
    """Return `text`, cut with an ellipsis where it would be wider than `width`."""
    if text_width(text, size) <= width:
        return text
    while text and text_width(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def to_svg(chart: Chart, key: str, css_class: str = "") -> str:
    """Return the chart as inline SVG; `key` makes its ids unique on the page.

    Tones become classes, so the page's style sheet decides on light and dark and the text takes
    the page's own face. All text is escaped. A chart without height is an empty string.
    """
    if not chart.height:
        return ""
    name = escape(key)
    parts = [
        f'<svg class="{escape(f"chart {css_class}".strip())}" role="img"'
        f' width="{_number(chart.width + 6)}" height="{_number(chart.height + 4)}"'
        f' viewBox="-3 -2 {_number(chart.width + 6)} {_number(chart.height + 4)}"'
        f' aria-labelledby="{name}-title {name}-said">'
        f'<title id="{name}-title">{escape(chart.title)}</title>'
        f'<desc id="{name}-said">{escape(chart.description)}</desc>'
    ]
    parts += [_svg_mark(mark) for mark in chart.marks]
    return "".join([*parts, "</svg>"])


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _svg_mark(mark: Mark) -> str:
    n = _number
    if isinstance(mark, Box):
        kind = f"line-{mark.tone} hollow" if mark.hollow else f"fill-{mark.tone}"
        place = f'x="{n(mark.x)}" y="{n(mark.y)}" width="{n(mark.width)}"'
        return f'<rect class="{kind}" {place} height="{n(mark.height)}"/>'
    if isinstance(mark, Stroke):
        ends = f'x1="{n(mark.x1)}" y1="{n(mark.y1)}" x2="{n(mark.x2)}" y2="{n(mark.y2)}"'
        dash = ' stroke-dasharray="1 3"' if mark.dashed else ""
        thick = f'stroke-width="{n(mark.thickness)}"'
        return f'<line class="line-{mark.tone}" {ends} {thick}{dash}/>'
    if isinstance(mark, Dot):
        place = f'cx="{n(mark.x)}" cy="{n(mark.y)}" r="{n(mark.radius)}"'
        return f'<circle class="fill-{mark.tone}" {place}/>'
    weight = ' font-weight="700"' if mark.bold else ""
    place = f'x="{n(mark.x)}" y="{n(mark.y)}" font-size="{n(mark.size)}"'
    how = f'{place} text-anchor="{mark.anchor}"{weight}'
    return f'<text class="fill-{mark.tone}" {how}>{escape(mark.text)}</text>'


PAPER_TONES = {
    "ink": "#1b1b1b",
    "soft": "#5c5c5c",
    "rule": "#b4b4b4",
    "mid": "#8f8f8f",
    "hue": "#8a3d12",
    "band": "#f3e4da",
}


@cache
def paper_colour(tone: str) -> Any:
    """Return a tone as reportlab's colour; its text is read only once."""
    from reportlab.lib.colors import HexColor

    return HexColor(PAPER_TONES[tone])


def to_shapes(chart: Chart, scale: float = 1.0) -> Any:
    """Return the chart as a reportlab Drawing, `scale` times its size."""
    from reportlab.graphics.shapes import Drawing, Group

    drawing = Drawing(chart.width * scale, chart.height * scale)
    group = Group()
    group.transform = (scale, 0, 0, scale, 0, 0)
    for mark in chart.marks:
        group.add(_shape(mark, chart.height))
    drawing.add(group)
    return drawing


def _shape(mark: Mark, height: float) -> Any:
    from reportlab.graphics import shapes

    from coretrack.paper.letters import printable

    colour = paper_colour(mark.tone)
    if isinstance(mark, Box):
        y = height - mark.y - mark.height
        fill = None if mark.hollow else colour
        outline = (
            {"strokeColor": colour, "strokeWidth": 1} if mark.hollow else {"strokeColor": None}
        )
        return shapes.Rect(mark.x, y, mark.width, mark.height, fillColor=fill, **outline)
    if isinstance(mark, Stroke):
        ends = (mark.x1, height - mark.y1, mark.x2, height - mark.y2)
        dash = [1, 3] if mark.dashed else None
        return shapes.Line(
            *ends, strokeColor=colour, strokeWidth=mark.thickness, strokeDashArray=dash
        )
    if isinstance(mark, Dot):
        return shapes.Circle(
            mark.x, height - mark.y, mark.radius, fillColor=colour, strokeColor=None
        )
    return shapes.String(
        mark.x,
        height - mark.y,
        printable(mark.text),
        fontName="Helvetica-Bold" if mark.bold else "Helvetica",
        fontSize=mark.size,
        fillColor=colour,
        textAnchor=mark.anchor,
    )
