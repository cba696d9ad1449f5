"""Files of records that were brought to a page, as files in a folder."""

from __future__ import annotations

from pathlib import Path

from streamlit.runtime.uploaded_file_manager import UploadedFile

KINDS_OF_FILE = ["csv", "txt", "tsv", "xlsx", "parquet"]


def write_files(files: list[UploadedFile], folder: Path) -> list[Path]:
    """The files under the names they came with."""
    paths = []
    for number, file in enumerate(files):
        # Two files may bear one name; a name is never a way out of the folder.
        path = folder / str(number) / (Path(file.name).name or "records.csv")
        path.parent.mkdir()
        path.write_bytes(file.getvalue())
        paths.append(path)
    return paths
