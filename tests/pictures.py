"""Pictures for tests, drawn here: four coloured corners tell which way up one is."""

from io import BytesIO
from typing import Any

from PIL import Image

COLOURS = {"red": (220, 20, 20), "green": (20, 200, 20), "blue": (20, 20, 220), "white": (240, 240, 240)}
WIDTH, HEIGHT = 320, 240
# Tag 34853: where a picture was taken (EXIF 2.3, 4.6.6).
GPS_TAG = 34853
GPS_WORDS = b"under the old mill"
# What a camera that was held that way does to the picture before it writes it: the inverse of each mark's turn.
_HELD = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def four_corners(width: int = WIDTH, height: int = HEIGHT) -> Image.Image:
    """Red above left, green above right, blue below left, white below right."""
    image = Image.new("RGB", (width, height))
    half = (width // 2, height // 2)
    for number, colour in enumerate(COLOURS.values()):
        image.paste(Image.new("RGB", half, colour), (half[0] * (number % 2), half[1] * (number // 2)))
    return image


def encoded(image: Image.Image, kind: str, *, place: bool = False, **more: Any) -> bytes:
    """The picture as a file, with the place where it was taken if wanted."""
    written = BytesIO()
    if place:
        exif = Image.Exif()
        exif[GPS_TAG] = {1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0), 28: GPS_WORDS}
        more["exif"] = exif.tobytes()
    image.save(written, kind, **more)
    return written.getvalue()


def oriented(mark: int, kind: str = "JPEG", *, place: bool = False) -> bytes:
    """The picture of four corners as a camera writes it that was held so that `mark` turns it upright."""
    exif = Image.Exif()
    exif[274] = mark
    if place:
        exif[GPS_TAG] = {1: "N", 2: (52.0, 31.0, 12.0), 28: GPS_WORDS}
    held = _HELD[mark]
    image = four_corners() if held is None else four_corners().transpose(held)
    return encoded(image, kind, exif=exif.tobytes())


def corners(content: bytes) -> tuple[str, ...]:
    """The colours of the corners: above left, above right, below left, below right."""
    with Image.open(BytesIO(content)) as image:
        rgb = image.convert("RGB")
        at = [
            (x, y)
            for y in (rgb.height // 10, rgb.height - 1 - rgb.height // 10)
            for x in (rgb.width // 10, rgb.width - 1 - rgb.width // 10)
        ]
        seen = [rgb.getpixel(place) for place in at]
    return tuple(min(COLOURS, key=lambda name: _apart(COLOURS[name], pixel)) for pixel in seen)


def _apart(one: tuple[int, ...], other: Any) -> int:
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))
