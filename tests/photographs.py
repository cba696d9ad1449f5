"""Photos for tests: made here, with the metadata that cameras add and nobody's place."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image

ORIENTATION, MAKER, ARTIST, GPS = 0x0112, 0x010F, 0x013B, 0x8825


def photo(
    colour: str = "hotpink",
    size: tuple[int, int] = (80, 60),
    kind: str = "JPEG",
    mode: str = "RGB",
    **saved: Any,
) -> bytes:
    """A picture of one colour as the content of a file."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).convert(mode).save(out, kind, **saved)
    return out.getvalue()


def photo_with_place(turned: int = 1, size: tuple[int, int] = (80, 60)) -> bytes:
    """A JPEG whose EXIF has a place, a camera, a name and an orientation; and with a comment."""
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER], exif[ARTIST] = turned, "Fennelbrook Optics", "Ada Brook"
    exif.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 12.0), 3: "W", 4: (2.0, 15.0, 7.0)})
    return photo(size=size, exif=exif, comment=b"by Ada Brook", xmp=b"<x>Ada Brook</x>")


def half_and_half(turned: int) -> bytes:
    """A JPEG, red on the left and blue on the right, whose EXIF says how it is to be turned."""
    image = Image.new("RGB", (80, 40), "red")
    image.paste("blue", (40, 0, 80, 40))
    exif, out = Image.Exif(), io.BytesIO()
    exif[ORIENTATION] = turned
    image.save(out, "JPEG", exif=exif, quality=95)
    return out.getvalue()


def opened(content: bytes) -> Image.Image:
    """The picture in a file's content, decoded."""
    image = Image.open(io.BytesIO(content))
    image.load()
    return image
