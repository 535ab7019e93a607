"""Pictures are told by what they hold, turned upright, made small, and keep nothing of what the camera wrote into them."""

import struct
import zlib
from io import BytesIO
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from PIL import Image

from server.core.picture import LARGEST_BYTES, LONGEST_SIDE_PX, MOST_PIXELS, NoPicture, Picture, picture_from
from tests.pictures import GPS_WORDS, corners, encoded, four_corners, oriented


def _kept(content: bytes) -> Picture:
    found = picture_from(content)
    assert isinstance(found, Picture), found
    return found


def _refused(content: bytes) -> str:
    found = picture_from(content)
    assert isinstance(found, NoPicture)
    return found.reason


def segments(jpeg: bytes) -> list[int]:
    """The markers of a JPEG up to its pixels (ITU-T T.81, annex B)."""
    assert jpeg[:2] == b"\xff\xd8"
    found, at = [], 2
    while True:
        assert jpeg[at] == 0xFF
        found.append(jpeg[at + 1])
        if jpeg[at + 1] == 0xDA:
            return found
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")


# JFIF's own head, tables, the frame and the scan; no EXIF (E1), no colour profile (E2), no comment (FE).
PLAIN = {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_it_is_turned_upright_by_the_camera_s_mark(kind: str, orientation: int) -> None:
    """What the eight marks mean: TIFF 6.0, tag 274."""
    kept = _kept(oriented(orientation, kind))

    assert (kept.width_px, kept.height_px) == (320, 240)
    assert corners(kept.jpeg) == ("red", "green", "blue", "white")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_where_it_was_taken_is_forgotten(kind: str) -> None:
    sent = encoded(four_corners(), kind, place=True)
    assert GPS_WORDS in sent
    kept = _kept(sent).jpeg

    assert set(segments(kept)) <= PLAIN
    assert GPS_WORDS not in kept
    with Image.open(BytesIO(kept)) as image:
        assert not image.getexif()
        assert set(image.info) == {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize(("width", "height"), [(4000, 3000), (3000, 4000), (1700, 20)])
def test_a_large_one_is_made_small_and_keeps_its_shape(width: int, height: int) -> None:
    kept = _kept(encoded(Image.new("RGB", (width, height), "green"), "JPEG"))

    assert max(kept.width_px, kept.height_px) == LONGEST_SIDE_PX
    assert abs(kept.width_px / kept.height_px - width / height) < width / height / 20


def test_a_small_one_is_not_blown_up() -> None:
    kept = _kept(encoded(Image.new("RGB", (3, 1), "green"), "PNG"))

    assert (kept.width_px, kept.height_px) == (3, 1)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_whatever_its_pixels_are_made_of_it_becomes_a_plain_picture(mode: str) -> None:
    with Image.open(BytesIO(_kept(encoded(Image.new(mode, (20, 10)), "PNG")).jpeg)) as image:
        assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (20, 10))


def test_four_inks_become_three_colours() -> None:
    kept = _kept(encoded(Image.new("CMYK", (20, 10), (0, 255, 255, 0)), "JPEG"))

    assert corners(kept.jpeg)[0] == "red"


@pytest.mark.parametrize(
    "content",
    [
        b"My holidays, a story.",
        b"GIF89a" + bytes(40),
        b"%PDF-1.7",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"BM" + bytes(60),
    ],
)
def test_what_is_no_picture_is_refused_whatever_its_name(content: bytes) -> None:
    assert _refused(content) == "This is no picture that can be read. A JPEG, PNG or WebP picture is taken."


def test_nothing_at_all_is_refused() -> None:
    assert "choose or take" in _refused(b"")


@pytest.mark.parametrize("brand", [b"heic", b"mif1", b"avif"])
def test_a_picture_that_not_every_device_can_show_is_refused_with_what_to_do(brand: bytes) -> None:
    assert "most compatible format" in _refused(b"\x00\x00\x00\x18ftyp" + brand + bytes(200))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_one_that_is_not_whole_is_refused(kind: str) -> None:
    whole = encoded(Image.effect_noise((300, 200), 90).convert("RGB"), kind)

    assert "not whole" in _refused(whole[: len(whole) // 2])
    assert "not whole" in _refused(whole[:40])


def _png_of(width: int, height: int) -> bytes:
    """A PNG that says it is that large, with hardly a byte of pixels (PNG specification, 11.2.1)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    pixels = zlib.compress(bytes(10_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def _webp_of(width: int, height: int) -> bytes:
    size = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    head = b"VP8X" + struct.pack("<I", 10) + bytes(4) + size
    return b"RIFF" + struct.pack("<I", len(head) + 4) + b"WEBP" + head


def _lossless_webp_of(width: int, height: int) -> bytes:
    bits = (width - 1) | (height - 1) << 14
    head = b"VP8L" + struct.pack("<I", 5) + b"\x2f" + struct.pack("<I", bits)
    return b"RIFF" + struct.pack("<I", len(head) + 4) + b"WEBP" + head


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
@pytest.mark.parametrize(
    "bomb",
    [
        _png_of(8_000, 7_000),
        _png_of(12_000, 10_000),
        _png_of(40_000, 40_000),
        _webp_of(16_000, 16_000),
        _lossless_webp_of(16_000, 16_000),
    ],
    ids=["a little too large", "large", "larger still", "WebP", "lossless WebP"],
)
def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused_unread(bomb: bytes) -> None:
    assert len(bomb) < 10_000
    assert f"{MOST_PIXELS // 1_000_000} million pixels" in _refused(bomb)


def test_a_jpeg_that_walks_over_its_pixels_again_and_again_is_refused_unread() -> None:
    """Each scan of a few bytes costs a walk over the whole picture (ITU-T T.81, annex G)."""
    usual = encoded(four_corners(), "JPEG", progressive=True)
    last = usual[usual.rindex(b"\xff\xda") : -2]
    bomb = usual[:-2] + last * 200 + usual[-2:]

    assert corners(_kept(usual).jpeg) == ("red", "green", "blue", "white")
    assert "more passes" in _refused(bomb)


@pytest.mark.parametrize("mode", ["RGBA", "RGB", "L", "P"])
def test_a_large_one_of_any_pixels_is_made_small_in_its_own_colours(mode: str) -> None:
    kept = _kept(encoded(four_corners(3300, 2100).convert(mode), "PNG"))

    assert (kept.width_px, kept.height_px) == (1600, 1018)
    assert len(set(corners(kept.jpeg))) == (2 if mode == "L" else 4)


def test_a_file_that_is_too_large_is_refused() -> None:
    assert "larger than 12 MB" in _refused(b"\xff\xd8\xff" + bytes(LARGEST_BYTES))


@st.composite
def _with_metadata(draw: st.DrawFn) -> bytes:
    kind = draw(st.sampled_from(["JPEG", "PNG", "WEBP"]))
    size = draw(st.tuples(st.integers(1, 40), st.integers(1, 40)))
    exif = Image.Exif()
    for tag in draw(st.sets(st.sampled_from([270, 271, 272, 305, 315, 33432]))):
        exif[tag] = draw(st.text(st.characters(codec="ascii"), min_size=1, max_size=30))
    exif[274] = draw(st.integers(0, 300))
    extra = draw(st.binary(min_size=1, max_size=60))
    more: dict[str, Any] = {"icc_profile": extra, "exif": exif.tobytes()}
    if kind == "JPEG":
        more |= {"comment": extra}
    return encoded(Image.new("RGB", size, "teal"), kind, **more)


@given(_with_metadata())
@settings(max_examples=60)
def test_no_metadata_is_ever_kept(content: bytes) -> None:
    assert set(segments(_kept(content).jpeg)) <= PLAIN


@pytest.mark.filterwarnings("ignore::UserWarning")  # the library's remarks on what it can't read
@given(
    st.sampled_from(["JPEG", "PNG", "WEBP"]),
    st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 255)), max_size=20),
)
@example("JPEG", [(3, 0), (4, 0), (5, 0)])
@settings(max_examples=120)
def test_bytes_changed_on_the_way_make_a_picture_or_a_sentence(
    kind: str, changes: list[tuple[int, int]]
) -> None:
    content = bytearray(oriented(6, kind))
    for at, byte in changes:
        content[at % len(content)] = byte

    found = picture_from(bytes(content))
    assert isinstance(found, NoPicture) or set(segments(found.jpeg)) <= PLAIN
