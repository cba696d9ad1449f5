"""A photo is stored upright, small and without a word of metadata; anything else is refused."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from tests.photographs import half_and_half, opened, photo, photo_with_place
from trials.errors import RecordsRefused
from trials.model.photo import MOST_AT_ONCE
from trials.records.files import photo as photos
from trials.records.files.photo import LONGEST_SIDE_PX, is_reduced, reduced_photos


def reduced(content: bytes) -> bytes:
    (found,) = reduced_photos([("photo.jpg", content)])
    assert found.sha256 == hashlib.sha256(found.content).hexdigest()
    assert opened(found.content).size == (found.width, found.height)
    return found.content


def refusal(content: bytes, name: str = "photo.jpg") -> str:
    with pytest.raises(RecordsRefused) as refused:
        reduced_photos([(name, content)])
    (fault,) = refused.value.faults
    assert fault.problem
    assert fault.remedy
    return str(fault)


def test_no_metadata_is_left() -> None:
    content = photo_with_place()
    assert b"Ada Brook" in content
    found = reduced(content)
    for word in (b"Ada Brook", b"Fennelbrook", b"Exif", b"GPS", b"http"):
        assert word not in found
    image = opened(found)
    assert dict(image.getexif()) == {}
    assert "comment" not in image.info
    assert "xmp" not in image.info
    assert is_reduced(found)
    assert not is_reduced(content)


def test_it_is_turned_before_its_orientation_is_dropped() -> None:
    # Orientation 6: the camera was held upright; the left of the file is the top (EXIF 2.3).
    image = opened(reduced(half_and_half(6)))
    assert image.size == (40, 80)
    top, bottom = image.getpixel((20, 10)), image.getpixel((20, 70))
    assert isinstance(top, tuple)
    assert isinstance(bottom, tuple)
    assert top[0] > 200 > bottom[0], "red is on top"
    assert opened(reduced(half_and_half(1))).size == (80, 40)


@pytest.mark.parametrize(
    ("size", "stored"),
    [((4000, 3000), (1600, 1200)), ((600, 3200), (300, 1600)), ((1600, 900), (1600, 900))],
)
def test_the_longest_side_is_limited(size: tuple[int, int], stored: tuple[int, int]) -> None:
    assert opened(reduced(photo(size=size))).size == stored


@pytest.mark.parametrize(
    ("kind", "mode"),
    [
        ("PNG", "RGB"), ("PNG", "RGBA"), ("PNG", "P"), ("PNG", "L"), ("PNG", "1"), ("PNG", "I;16"),
        ("WEBP", "RGB"), ("JPEG", "L"), ("JPEG", "CMYK"),
    ],
)  # fmt: skip
def test_other_kinds_of_picture_become_jpegs(kind: str, mode: str) -> None:
    start = photo("white", kind=kind, mode="L") if mode == "I;16" else ""
    if start:
        out = io.BytesIO()
        Image.new("I;16", (80, 60), 65535).save(out, kind)
        content = out.getvalue()
    else:
        content = photo("white", kind=kind, mode=mode)
    image = opened(reduced(content))
    assert (image.format, image.mode) == ("JPEG", "RGB")
    assert image.getpixel((40, 30)) == (255, 255, 255)


def test_what_is_clear_becomes_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (255, 0, 0, 0)).save(out, "PNG")
    assert opened(reduced(out.getvalue())).getpixel((10, 10)) == (255, 255, 255)


def test_a_colour_profile_is_applied_and_dropped() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    found = reduced(photo("hotpink", icc_profile=profile))
    assert "icc_profile" not in opened(found).info
    broken = reduced(photo("hotpink", icc_profile=b"no profile"))
    assert opened(broken).size == (80, 60)


def test_forty_megapixels_are_read_at_a_part_of_their_size(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    decoded: list[int] = []
    load = photos._as_stored

    def noted(image: Image.Image) -> object:
        kept = load(image)
        decoded.append(image.width * image.height)
        return kept

    monkeypatch.setattr(photos, "_as_stored", noted)
    content = photo(size=(7300, 5480))
    assert opened(reduced(content)).size == (1600, 1201)
    assert decoded[0] < 5_000_000, "a quarter of each side is decoded"


def test_a_photo_of_too_many_pixels_is_refused_before_it_is_decoded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(photos, "_as_stored", lambda _: pytest.fail("it was decoded"))
    said = "The photo has more than 64 megapixels. Save it smaller"
    for width, height in ((8001, 8001), (10_000, 10_000), (60_000, 60_000)):
        assert said in refusal(png_that_says(width, height)), "a few bytes that unfold to gigabytes"


def png_that_says(width: int, height: int) -> bytes:
    """The beginning of a PNG of that size, with little in it (PNG, 2nd edition, section 11.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    body = chunk(b"IDAT", zlib.compress(b"\0" * 10_000))
    return b"\x89PNG\r\n\x1a\n" + head + body + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "content",
    [
        b"plot,cut_on\nZ1,2026-07-01\n",
        b"\x00" * 2000,
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<html><script>alert(1)</script></html>",
        b"%PDF-1.7 ",
        b"GIF89a" + b"\x00" * 200,
        b"\xff\xd8\xff",
    ],
)
def test_a_file_that_is_no_photo_is_refused(content: bytes) -> None:
    assert "This is no photo. Choose a JPEG, PNG or WebP file." in refusal(content)


def test_what_it_says_of_files_that_cannot_be_read() -> None:
    assert "The file is empty." in refusal(b"")
    assert "HEIC" in refusal(b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00")


def test_a_file_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MOST_BYTES", 2_000_000)
    assert "The file has 3 MB; a photo has at most 2 MB." in refusal(b"\xff" * 3_000_000)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_file_that_was_cut_off_is_refused(kind: str) -> None:
    noise = Image.effect_noise((200, 200), 90)
    out = io.BytesIO()
    noise.convert("RGB").save(out, kind)
    content = out.getvalue()
    said = refusal(content[: len(content) // 2])
    assert "The photo is broken or cut off." in said or (kind == "WEBP" and "no photo" in said)


@settings(deadline=None)
@given(st.data())
def test_a_spoilt_file_is_stored_or_refused_and_nothing_else(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(["JPEG", "PNG", "WEBP"]))
    content = bytearray(photo_with_place() if kind == "JPEG" else photo(kind=kind))
    places = st.lists(st.integers(0, len(content) - 1), min_size=1, max_size=8)
    for place in data.draw(places):
        content[place] = data.draw(st.integers(0, 255))
    try:
        found = reduced(bytes(content))
    except RecordsRefused:
        return
    assert is_reduced(found)


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "a" * 5000, "\x1b[31mred", "na\x00me.jpg", "<img src=x>.jpg", "..", ""],
)
def test_a_name_leads_nowhere(name: str) -> None:
    (kept,) = reduced_photos([(name, photo())])
    assert kept.sha256 not in name
    assert len(refusal(b"no photo", name)) < 200


def test_ten_at_once_and_no_more() -> None:
    ten = [(f"{n}.png", photo(size=(10 + n, 10), kind="PNG")) for n in range(MOST_AT_ONCE)]
    assert len(reduced_photos(ten)) == 10
    with pytest.raises(RecordsRefused, match=r"This is photo 11; at most 10 are stored at once"):
        reduced_photos([*ten, ("more.jpg", photo())])


def test_every_fault_is_listed() -> None:
    files = [("good.jpg", photo()), ("bad.jpg", b"no photo"), ("empty.jpg", b"")]
    with pytest.raises(RecordsRefused) as refused:
        reduced_photos(files)
    assert [fault.file for fault in refused.value.faults] == ["bad.jpg", "empty.jpg"]
    assert LONGEST_SIDE_PX == 1600
