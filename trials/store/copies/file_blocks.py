"""Is every block of a store's file as it was written: by the checksum that stands before each.

Damage within an index is met by no query, only when records are added; reading each block past the
database finds it. While a process holds the file it must not read it past the database, as its
lock would vanish, so ``read_blocks_apart`` does it in a process of its own. The format is DuckDB's
of version 2: a head of three blocks of 4,096 bytes, then the blocks, each with the checksum of its
other bytes in the first eight. Where the head does not answer to that, nothing is said. The second
and third of the head are written in turn; the newer one that is whole says how many blocks the file
has at most: free ones at its end are cut off. What lies beyond was begun and never finished, as on
a full disk: the journal still has it.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

_HEAD_BYTES = 4096
_HEADS = 3
_SEED = 5381
_FACTOR = 0xBF58476D1CE4E5B9
_BLOCKS_AT_ONCE = 64
# The words of eight bytes in the second and third of the head.
_WORDS = "<8Q"
_ITERATION, _COUNT, _SIZE = 1, 4, 5


@dataclass(frozen=True, slots=True)
class BlockReading:
    """How many blocks were read, and the places of those that are not as they were written."""

    blocks: int
    damaged: tuple[int, ...]


def read_blocks(path: Path, block_bytes: int) -> BlockReading | None:
    """Read every block of a file that nobody is writing to; None where its format is another."""
    import numpy as np

    damaged: list[int] = []
    blocks = 0
    with path.open("rb") as file:
        count = _block_count(file.read(_HEAD_BYTES * _HEADS), block_bytes)
        if count is None:
            return None
        while some := file.read(block_bytes * min(_BLOCKS_AT_ONCE, count - blocks)):
            whole = len(some) // block_bytes
            wrong = _wrong(some[: whole * block_bytes], block_bytes)
            damaged.extend(int(place) + blocks for place in np.flatnonzero(wrong))
            if len(some) % block_bytes:  # the file was cut short within a block
                damaged.append(blocks + whole)
                whole += 1
            blocks += whole
    return BlockReading(blocks, tuple(damaged))


def read_blocks_apart(path: Path, block_bytes: int) -> BlockReading | None:
    """The same of a file that this process holds, and keeps from being written to meanwhile."""
    # By its path: nothing of the program is needed there, wherever that was started from.
    command = [sys.executable, "-P", __file__, str(path), str(block_bytes)]
    found = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)  # noqa: S603
    return None if found is None else BlockReading(found[0], tuple(found[1]))


def _block_count(head: bytes, block_bytes: int) -> int | None:
    """How many blocks the file has at most, by its head; None where its format is another."""
    parts = [head[place : place + _HEAD_BYTES] for place in range(0, len(head), _HEAD_BYTES)]
    if len(head) < _HEAD_BYTES * _HEADS or _wrong(parts[0], _HEAD_BYTES).any():
        return None
    told = [
        struct.unpack_from(_WORDS, part)
        for part in parts[1:]
        if not _wrong(part, _HEAD_BYTES).any()
    ]
    told = [words for words in told if words[_SIZE] == block_bytes]
    newest = max(told, key=lambda words: words[_ITERATION], default=None)
    return None if newest is None else int(newest[_COUNT])


def _wrong(content: bytes, size: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    import numpy as np

    words = np.frombuffer(content, dtype="<u8").reshape(-1, size // 8)
    mixed = words[:, 1:] * np.uint64(_FACTOR)  # wraps around at 64 bits, as it should
    found = np.bitwise_xor.reduce(mixed, axis=1) ^ np.uint64(_SEED)
    return np.asarray(found != words[:, 0])


def main() -> None:
    """Print the reading of the file and block size named: a JSON list of blocks and damage."""
    reading = read_blocks(Path(sys.argv[1]), int(sys.argv[2]))
    found = None if reading is None else [reading.blocks, reading.damaged]
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main()
