"""Keeps what is said and drawn now."""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.output import KEPT, OUTPUTS, text_of
from trials.season.demo import STORE_NAME, fill


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / STORE_NAME
        fill(store, print)
        KEPT.mkdir(exist_ok=True)
        for name in OUTPUTS:
            text = text_of(name, store)
            (KEPT / f"{name}.txt").write_text(text, encoding="utf-8", newline="\n")
            print(name, len(text))


if __name__ == "__main__":
    main()
