"""The demo's pictures: plain drawings, marked as such, so that nobody takes them for evidence."""

import math
from collections.abc import Callable
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

SIZE = (480, 360)
PAPER, INK, STEEL, DARK, BRONZE, GLOW = "#f4f1ea", "#222222", "#b9c0c7", "#4a4f55", "#b98d4f", "#8a2f22"
MARK = "demo drawing, not a photo"


def draw_all(folder: Path) -> None:
    """Write one PNG for each drawing below into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, (title, draw) in DRAWINGS.items():
        picture = Image.new("RGB", SIZE, PAPER)
        draw(ImageDraw.Draw(picture))
        _letter(picture, title, 12)
        _letter(picture, MARK, SIZE[1] - 34)
        picture.quantize(32).save(folder / f"{name}.png", optimize=True)


def _letter(picture: Image.Image, text: str, top: int) -> None:
    """Text from the built-in bitmap font, doubled: it looks the same on every machine."""
    font = ImageFont.load_default_imagefont()
    left, upper, right, lower = font.getbbox(text)
    small = Image.new("L", (int(right - left), int(lower - upper)))
    ImageDraw.Draw(small).text((0, 0), text, fill=255, font=font)
    big = small.resize((small.width * 2, small.height * 2), Image.Resampling.NEAREST)
    picture.paste(INK, ((SIZE[0] - big.width) // 2, top), big)


def _bolt(pen: ImageDraw.ImageDraw, left: int, length: int, neck: int) -> None:
    pen.polygon(
        [(left, 90), (left + 15, 75), (left + 65, 75), (left + 80, 90), (left + 80, 115), (left, 115)], STEEL, INK
    )
    pen.rectangle([left + 25 + neck, 115, left + 55 - neck, 175], STEEL, INK)
    for top in range(175, 115 + length, 8):
        pen.polygon([(left + 22, top), (left + 58, top + 4), (left + 58, top + 8), (left + 22, top + 4)], DARK)


def _backer_bolts(pen: ImageDraw.ImageDraw) -> None:
    _bolt(pen, 110, 170, 0)
    _bolt(pen, 290, 196, 6)
    pen.line([(90, 285), (400, 285)], GLOW, 2)


def _valve_gear(pen: ImageDraw.ImageDraw) -> None:
    pen.rectangle([30, 230, 450, 280], STEEL, INK)
    for left, broken in ((70, False), (270, True)):
        pen.arc([left, 80, left + 140, 220], 180, 360, INK, 8)
        pen.ellipse([left + 20, 200, left + 120, 228], BRONZE, INK)
        if broken:
            pen.polygon(
                [(left + 60, 70), (left + 95, 70), (left + 75, 110), (left + 100, 160), (left + 55, 120)], PAPER
            )
            pen.polygon([(left + 70, 196), (left + 125, 196), (left + 125, 229), (left + 85, 229)], PAPER)
            pen.polygon([(left + 90, 292), (left + 140, 300), (left + 120, 318)], BRONZE, INK)
            pen.arc([left, 80, left + 140, 220], 180, 250, GLOW, 3)


def _spot_burn(pen: ImageDraw.ImageDraw) -> None:
    for left in range(30, 450, 35):
        pen.rectangle([left, 90, left + 18, 290], BRONZE, INK)
        pen.rectangle([left + 18, 90, left + 35, 290], STEEL, INK)
    pen.ellipse([212, 150, 268, 216], "#1b1512")
    pen.polygon([(232, 176), (252, 172), (246, 194)], STEEL, "#ffffff")


def _rotor_rub(pen: ImageDraw.ImageDraw) -> None:
    pen.ellipse([115, 60, 365, 310], BRONZE, INK, 3)
    pen.ellipse([160, 105, 320, 265], PAPER, INK, 2)
    pen.ellipse([168, 121, 312, 265], STEEL, INK, 2)
    pen.arc([160, 105, 320, 265], 50, 130, GLOW, 9)
    pen.ellipse([232, 185, 248, 201], DARK, INK)


def _crank_wear(pen: ImageDraw.ImageDraw) -> None:
    pen.rectangle([30, 170, 450, 196], DARK, INK)
    for number, left in enumerate((50, 150, 250, 350)):
        pen.rectangle([left, 130, left + 80, 236], STEEL, INK)
        for line in range(number * number * 2):
            top = 134 + (line * 37) % 98
            pen.line([(left + 4, top), (left + 76, top)], GLOW if number == 3 else DARK)
    pen.line([(60, 270), (420, 270), (408, 262), (420, 270), (408, 278)], INK, 2)


def _gasket(pen: ImageDraw.ImageDraw) -> None:
    pen.ellipse([130, 60, 350, 280], BRONZE, INK, 3)
    pen.ellipse([175, 105, 305, 235], PAPER, INK, 2)
    for degrees in range(0, 360, 60):
        x, y = 240 + 88 * math.cos(math.radians(degrees)), 170 + 88 * math.sin(math.radians(degrees))
        pen.ellipse([round(x) - 8, round(y) - 8, round(x) + 8, round(y) + 8], PAPER, INK)
    pen.rectangle([231, 70, 249, 98], PAPER, INK)
    pen.rectangle([231, 242, 249, 270], None, GLOW, 3)


def _reed(pen: ImageDraw.ImageDraw) -> None:
    pen.rounded_rectangle([60, 140, 300, 210], 30, STEEL, INK, 2)
    pen.polygon([(318, 140), (420, 140), (420, 210), (300, 210), (306, 180)], STEEL, INK)
    pen.polygon([(290, 136), (324, 136), (312, 176), (306, 214), (290, 214)], PAPER)
    for radius in (10, 18, 26):
        pen.arc([318 - radius, 140 - radius, 318 + radius, 140 + radius], 0, 100, GLOW, 2)


DRAWINGS: dict[str, tuple[str, Callable[[ImageDraw.ImageDraw], None]]] = {
    "backer-bolts": ("left bolt sound, right stretched", _backer_bolts),
    "valve-gear-bank-2": ("left cylinder 4, right cylinder 3", _valve_gear),
    "spot-burn": ("one slot burnt, steel chip in it", _spot_burn),
    "rotor-rub": ("rotor sunk on the stator", _rotor_rub),
    "crank-wear": ("journals, pump end to motor end", _crank_wear),
    "gasket-reversed": ("hole above, feed port below", _gasket),
    "reed-edge": ("break starts at the edge", _reed),
}
