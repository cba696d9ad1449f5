"""A photo as it came, made fit to store: upright, at most 1600 px long, and without metadata.

Where and with which camera a photo was taken stands in its metadata (EXIF, XMP, comments). Only
the pixels are taken over, so none of it is ever stored. Colours of another space become sRGB.
"""

from __future__ import annotations

import hashlib
import io
import struct
import threading
import warnings
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from trials.errors import Fault, RecordsRefused
from trials.model.photo import MOST_AT_ONCE, ReducedPhoto

if TYPE_CHECKING:
    from PIL import Image

LONGEST_SIDE_PX = 1600
MOST_MEGAPIXELS = 64
MOST_BYTES = 50_000_000
FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITY = 85
_HEIC_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"avif"})
_SHOWN_OF_A_NAME = 60

# What Pillow raises on a file that is broken or made up.
_BROKEN = (
    *(OSError, SyntaxError, ValueError, EOFError, struct.error, zlib.error),
    *(IndexError, KeyError, TypeError, OverflowError, ZeroDivisionError, MemoryError),
)
# Decoding takes up to 200 MB: one photo at a time, however many people send some.
_ONE_AT_A_TIME = threading.Lock()


class _Unfit(Exception):
    """A file that cannot be stored as a photo: what is wrong, and what to do."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem, self.remedy = problem, remedy
        super().__init__(problem)


def reduced_photos(files: Iterable[tuple[str, bytes]]) -> tuple[ReducedPhoto, ...]:
    """The photos of files (name, content), ready to store.

    Raises
    ------
    RecordsRefused
        A file is no photo, is broken or too large, or there are too many; every fault is listed.
    """
    found, faults = [], []
    for number, (name, content) in enumerate(files, start=1):
        if number > MOST_AT_ONCE:
            problem = f"This is photo {number}; at most {MOST_AT_ONCE} are stored at once."
            faults.append(_fault(name, _Unfit(problem, "Store the others afterwards.")))
            break
        try:
            with _alone():
                found.append(_reduced(content))
        except _Unfit as unfit:
            faults.append(_fault(name, unfit))
    if faults:
        raise RecordsRefused(faults)
    return tuple(found)


def is_reduced(content: bytes) -> bool:
    """Whether a file is a photo as this module makes them: a JPEG of that size without metadata."""
    from PIL import Image

    try:
        with _alone(), Image.open(io.BytesIO(content), formats=["JPEG"]) as image:
            told = {"exif", "comment", "xmp", "icc_profile", "photoshop", "mp"} & image.info.keys()
            small = max(image.size) <= LONGEST_SIDE_PX
            if small:
                image.load()
            return small and not told and image.format == "JPEG"
    except (*_BROKEN, Image.DecompressionBombError):
        return False


def smaller(content: bytes, longest_side_px: int) -> ReducedPhoto:
    """A stored photo with a shorter longest side, a JPEG again."""
    from PIL import Image

    out = io.BytesIO()
    with _alone(), Image.open(io.BytesIO(content), formats=["JPEG"]) as image:
        image.draft("RGB", (longest_side_px, longest_side_px))
        image.thumbnail((longest_side_px, longest_side_px), Image.Resampling.LANCZOS)
        image.save(out, "JPEG", quality=_QUALITY)
        width, height = image.size
    found = out.getvalue()
    return ReducedPhoto(hashlib.sha256(found).hexdigest(), found, width, height)


@contextmanager
def _alone() -> Iterator[None]:
    """Nobody else decodes meanwhile; what is odd about a file's metadata is passed over."""
    with _ONE_AT_A_TIME, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _fault(name: str, unfit: _Unfit) -> Fault:
    shown = name if len(name) <= _SHOWN_OF_A_NAME else f"{name[:_SHOWN_OF_A_NAME]}…"
    return Fault(shown, None, None, unfit.problem, unfit.remedy)


def _reduced(content: bytes) -> ReducedPhoto:
    from PIL import Image

    if not content:
        raise _Unfit("The file is empty.", "Choose the photo again.")
    if len(content) > MOST_BYTES:
        raise _Unfit(
            f"The file has {len(content) / 1e6:.0f} MB; a photo has at most "
            f"{MOST_BYTES / 1e6:.0f} MB.",
            "Save it as a JPEG and try again.",
        )
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC_BRANDS:
        raise _Unfit(
            "Photos in the HEIC or AVIF format cannot be read.",
            "Save it as a JPEG, or set the phone's camera to JPEG ('most compatible').",
        )
    try:
        image = Image.open(io.BytesIO(content), formats=FORMATS)
    except Image.DecompressionBombError:
        raise _too_many_pixels() from None
    except _BROKEN:
        raise _Unfit("This is no photo.", "Choose a JPEG, PNG or WebP file.") from None
    with image:
        if image.width * image.height > MOST_MEGAPIXELS * 1_000_000:  # known before it is decoded
            raise _too_many_pixels()
        try:
            return _as_stored(image)
        except _BROKEN:
            raise _Unfit(
                "The photo is broken or cut off.", "Copy it from the phone or camera again."
            ) from None


def _too_many_pixels() -> _Unfit:
    return _Unfit(
        f"The photo has more than {MOST_MEGAPIXELS} megapixels.",
        "Save it smaller, or choose a smaller size in the camera's settings.",
    )


def _as_stored(image: Image.Image) -> ReducedPhoto:
    from PIL import Image, ImageOps

    profile = image.info.get("icc_profile")
    # A large JPEG is decoded at a half, a quarter or an eighth of its size.
    share = LONGEST_SIDE_PX / max(image.size)
    image.draft("RGB", (int(image.width * share), int(image.height * share)))
    image.load()
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
    coloured = _in_srgb(_opaque(upright), profile)
    clean = Image.new("RGB", coloured.size)  # with none of the metadata that came along
    clean.paste(coloured)
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=_QUALITY, optimize=True)
    content = out.getvalue()
    return ReducedPhoto(hashlib.sha256(content).hexdigest(), content, *clean.size)


def _opaque(image: Image.Image) -> Image.Image:
    """The picture in red, green and blue; what is clear becomes white."""
    from PIL import Image

    if image.mode in {"RGB", "CMYK"}:
        return image
    if image.has_transparency_data:
        seen = image.convert("RGBA")
        ground = Image.new("RGBA", seen.size, "white")
        return Image.alpha_composite(ground, seen).convert("RGB")
    return image.convert("RGB")


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """The colours as any screen shows them; a profile that does not fit is passed over."""
    from PIL import ImageCms

    if profile is None:
        return image.convert("RGB")
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        changed: Image.Image | None = ImageCms.profileToProfile(
            image, own, ImageCms.createProfile("sRGB"), outputMode="RGB"
        )
    except (ImageCms.PyCMSError, *_BROKEN):
        return image.convert("RGB")
    return image.convert("RGB") if changed is None else changed
