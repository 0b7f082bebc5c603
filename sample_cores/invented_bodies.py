"""Plain drawings of the invented shop's bodies, seen from one side, for marking where cracks lie.

They show no real part: a caliper, an injector body and a bearing housing as anybody would sketch
them, dark lines on a light ground, wide enough to point at one ninth of them with a gloved finger.
"""

from __future__ import annotations

from collections.abc import Callable

from PIL import Image, ImageChops, ImageDraw

SIZE = (1200, 750)
GROUND, METAL, FACE, LINE, HOLE = "#e9ebee", "#c4c9cf", "#d9dde1", "#23282e", "#8a9199"
THICK = 6
MARGIN = 25

Draw = ImageDraw.ImageDraw


def body_pictures() -> dict[str, Image.Image]:
    """Return a drawing for each family, by its code."""
    return {code: _drawn(draw) for code, draw in _DRAWERS.items()}


def _drawn(draw_body: Callable[[Draw], None]) -> Image.Image:
    # Drawn large and made smaller: smooth edges, and the same bytes wherever Pillow is the same.
    drawn = Image.new("RGB", SIZE, GROUND)
    draw_body(ImageDraw.Draw(drawn))
    # The ground is cut off, so that the nine zones lie on the body.
    box = ImageChops.difference(drawn, Image.new("RGB", SIZE, GROUND)).getbbox()
    if box is not None:
        left, top, right, bottom = box
        drawn = drawn.crop((left - MARGIN, top - MARGIN, right + MARGIN, bottom + MARGIN))
    return drawn.quantize(32, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)


def _box(draw: Draw, left: int, top: int, right: int, bottom: int, fill: str = METAL) -> None:
    draw.rectangle((left, top, right, bottom), fill=fill, outline=LINE, width=THICK)


def _round(draw: Draw, x: int, y: int, radius: int, fill: str = METAL) -> None:
    circle = (x - radius, y - radius, x + radius, y + radius)
    draw.ellipse(circle, fill=fill, outline=LINE, width=THICK)


def _injector(draw: Draw) -> None:
    """A long body lying on its side: connector, shank, side feed, guide, nozzle end."""
    _box(draw, 70, 300, 200, 450, FACE)
    for x in range(90, 200, 24):
        draw.line((x, 306, x - 14, 444), fill=LINE, width=3)
    _box(draw, 200, 260, 330, 490)
    _box(draw, 330, 295, 760, 455)
    _box(draw, 470, 130, 590, 295, FACE)
    _round(draw, 530, 130, 60, FACE)
    _round(draw, 530, 130, 28, HOLE)
    _box(draw, 760, 325, 980, 425, FACE)
    draw.polygon(
        ((980, 340), (1070, 358), (1130, 368), (1130, 382), (1070, 392), (980, 410)),
        fill=METAL,
        outline=LINE,
        width=THICK,
    )
    # The guide bore, the seal face and the seat lie inside: drawn as hidden edges.
    for y in (355, 395):
        for x in range(345, 965, 34):
            draw.line((x, y, x + 20, y), fill=LINE, width=3)
    for y in range(332, 420, 24):
        draw.line((968, y, 968, y + 14), fill=LINE, width=3)


def _bearing_housing(draw: Draw) -> None:
    """A bearing housing from its side: two end flanges, the middle with its oil inlet and drain."""
    _box(draw, 330, 210, 870, 540)
    _box(draw, 200, 120, 330, 630, FACE)
    _box(draw, 870, 160, 980, 590, FACE)
    _box(draw, 490, 110, 710, 210, FACE)
    _round(draw, 545, 160, 20, HOLE)
    _round(draw, 655, 160, 20, HOLE)
    _box(draw, 470, 540, 730, 640, FACE)
    _round(draw, 600, 590, 30, HOLE)
    for y in (180, 300, 450, 570):
        _round(draw, 265, y, 20, HOLE)
    for y in (215, 535):
        _round(draw, 925, y, 18, HOLE)
    for y in (330, 420):
        for x in range(210, 970, 34):
            draw.line((x, y, x + 20, y), fill=LINE, width=3)
    draw.arc((390, 260, 810, 490), 200, 340, fill=LINE, width=3)


def _caliper(draw: Draw) -> None:
    """A caliper housing from its open side: bore, bridge, fingers, two ears, bleeder boss."""
    _round(draw, 130, 560, 90, FACE)
    _round(draw, 1070, 560, 90, FACE)
    _round(draw, 130, 560, 34, HOLE)
    _round(draw, 1070, 560, 34, HOLE)
    draw.rounded_rectangle((210, 150, 990, 640), radius=70, fill=METAL, outline=LINE, width=THICK)
    draw.rounded_rectangle((290, 70, 910, 170), radius=30, fill=FACE, outline=LINE, width=THICK)
    _box(draw, 380, 50, 440, 110, FACE)
    _round(draw, 410, 50, 22, HOLE)
    _round(draw, 600, 410, 190, FACE)
    _round(draw, 600, 410, 160, METAL)
    _round(draw, 600, 410, 140, HOLE)
    for x in (310, 890):
        draw.line((x, 220, x, 600), fill=LINE, width=3)


_DRAWERS = {"CAL": _caliper, "INJ": _injector, "TBH": _bearing_housing}
