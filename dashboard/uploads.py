"""Files of records that were brought to a page, as files in a folder."""

from __future__ import annotations

import re
from pathlib import Path

from streamlit.runtime.uploaded_file_manager import UploadedFile

KINDS_OF_FILE = ["csv", "txt", "tsv", "xlsx", "parquet"]
LONGEST_NAME_BYTES = 200
# What some system takes for more than a character of a name.
_NO_NAME = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')


def write_files(files: list[UploadedFile], folder: Path) -> list[Path]:
    """The files under the names they came with."""
    paths = []
    for number, file in enumerate(files):
        path = folder / str(number) / file_name(file.name, "records.csv")  # two may bear one name
        path.parent.mkdir()
        path.write_bytes(file.getvalue())
        paths.append(path)
    return paths


def file_name(name: str, otherwise: str) -> str:
    """The name of a file that was brought, as any system takes it, and never a way elsewhere.

    ``otherwise`` is its name where nothing is left of it.
    """
    last = re.split(r"[/\\]", name)[-1]
    plain = _NO_NAME.sub("_", last.encode("utf-8", "replace").decode()).rstrip(" .")
    kind = Path(plain).suffix
    stem = plain.removesuffix(kind) or Path(otherwise).stem
    room = LONGEST_NAME_BYTES - len(kind.encode())
    if room < 1:  # a dot that begins no kind of file
        return otherwise
    return stem.encode()[:room].decode("utf-8", "ignore") + (kind or Path(otherwise).suffix)
