"""Making a picture that somebody sent into one that may be kept: read by what it holds, upright, small, and without what the camera wrote into it."""

import struct
from dataclasses import dataclass
from io import BytesIO
from types import MappingProxyType

from PIL import Image

# A telephone's camera writes up to ten or so; a tablet's page makes its pictures much smaller before it sends them.
LARGEST_BYTES = 12_000_000
# The sensors of telephones, 48 million and somewhat more, with every one of their pixels.
MOST_PIXELS = 50_000_000
# A progressive JPEG has ten or so. Each costs a walk over the whole picture, however few bytes it has (ITU-T T.81, annex G).
MOST_SCANS = 100
_SCAN = b"\xff\xda"
# Fills a tablet's screen, and the room for a defect to be seen.
LONGEST_SIDE_PX = 1600
JPEG_QUALITY = 85

# Where a camera's first row and first column lie, and what turns them to the top and to the left: TIFF 6.0, tag 274.
ORIENTATION_TAG = 274
_TURNS = MappingProxyType(
    {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
)

_HEIF_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif", b"avis"})
_TAKEN = "A JPEG, PNG or WebP picture is taken."


@dataclass(frozen=True)
class Picture:
    """A JPEG without any metadata, upright, at most LONGEST_SIDE_PX on its longer side."""

    jpeg: bytes
    width_px: int
    height_px: int


@dataclass(frozen=True)
class NoPicture:
    """`reason` is a sentence to who sent it."""

    reason: str


def _kind(content: bytes) -> str:
    """What its first bytes say it is, in the words of the library that reads it; empty where it is nothing that is taken."""
    if content.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "WEBP"
    return ""


def _webp_pixels(content: bytes) -> int:
    """What a WebP picture says of its size (RFC 9649, section 2). Its reader takes the memory for it before it can be asked."""
    kind, data = content[12:16], content[20:30]
    if kind == b"VP8X":
        return (1 + int.from_bytes(data[4:7], "little")) * (1 + int.from_bytes(data[7:10], "little"))
    if kind == b"VP8L":
        bits = int.from_bytes(data[1:5], "little")
        return (1 + (bits & 0x3FFF)) * (1 + (bits >> 14 & 0x3FFF))
    width, height = (int.from_bytes(data[at : at + 2], "little") & 0x3FFF for at in (6, 8))
    return width * height


def _orientation(image: Image.Image) -> int:
    """The camera's mark; what can't be read stands upright."""
    try:
        mark = image.getexif().get(ORIENTATION_TAG, 1)
    except (OSError, SyntaxError, ValueError, TypeError, KeyError, struct.error):
        return 1
    return mark if isinstance(mark, int) else 1


def _shrunk(image: Image.Image) -> Image.Image:
    """In three colours, and at a whole part of its size where it is much larger than it is to be; no large copy is made on the way."""
    part = max(image.size) // LONGEST_SIDE_PX
    if part < 2:  # noqa: PLR2004 - a half is the largest part
        return image.convert("RGB")
    if image.mode == "RGBA":
        return Image.merge("RGB", [image.getchannel(colour).reduce(part) for colour in "RGB"])
    if image.mode in {"RGB", "L", "CMYK"}:
        return image.reduce(part).convert("RGB")
    return image.convert("RGB").reduce(part)


def _drawn_anew(content: bytes, kind: str) -> Picture | NoPicture:
    with Image.open(BytesIO(content), formats=(kind,)) as image:
        if image.width * image.height > MOST_PIXELS:
            return _TOO_MANY_PIXELS
        orientation = _orientation(image)
        # A JPEG is read at a half, a quarter or an eighth of its size where that is enough.
        image.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
        small = _shrunk(image)
    small.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
    if orientation in _TURNS:
        small = small.transpose(_TURNS[orientation])
    # Pixels alone go over: whatever else came along, a place, a comment, a name, stays behind.
    clean = Image.new("RGB", small.size)
    clean.paste(small)
    written = BytesIO()
    clean.save(written, "JPEG", quality=JPEG_QUALITY)
    return Picture(written.getvalue(), clean.width, clean.height)


_TOO_MANY_PIXELS = NoPicture(
    f"This picture has more than {MOST_PIXELS // 1_000_000} million pixels. Take it with a smaller size in the camera's settings."
)
_BROKEN = NoPicture("This picture is broken or not whole. Take it once more.")


def picture_from(content: bytes) -> Picture | NoPicture:
    """The picture in `content`, made ready to be kept.

    Its type is read from its bytes, never from its name. JPEG, PNG and WebP are taken, up to LARGEST_BYTES and MOST_PIXELS;
    the first of several frames counts.
    """
    if not content:
        return NoPicture("Please choose or take a picture.")
    if len(content) > LARGEST_BYTES:
        return NoPicture(
            f"This picture is larger than {LARGEST_BYTES // 1_000_000} MB. Take it with a smaller size in the camera's settings."
        )
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        return NoPicture(
            f"This is a picture of a kind that not every device can show (HEIC or AVIF). {_TAKEN} "
            "Set the camera to the most compatible format, or take the picture with this page."
        )
    kind = _kind(content)
    if not kind:
        return NoPicture(f"This is no picture that can be read. {_TAKEN}")
    if kind == "WEBP" and _webp_pixels(content) > MOST_PIXELS:
        return _TOO_MANY_PIXELS
    if kind == "JPEG" and content.count(_SCAN) > MOST_SCANS:
        return NoPicture("This picture is written in more passes than any camera needs. Take it once more.")
    try:
        return _drawn_anew(content, kind)
    except Image.DecompressionBombError:
        return _TOO_MANY_PIXELS
    except (
        OSError,
        SyntaxError,
        ValueError,
        TypeError,
        IndexError,
        KeyError,
        OverflowError,
        EOFError,
        struct.error,
    ):
        return _BROKEN
