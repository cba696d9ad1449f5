"""The only one who speaks DuckDB: rows that are right go in, frames and values come out.

Tables are made by ``migrations``, asked by ``queries``; all else in the program sees ``Store``.
"""

from __future__ import annotations

from trials.store.copies.backup import Backup
from trials.store.copies.catalogue import KeptCopy, kept_copies, look_through
from trials.store.copies.integrity import Wholeness
from trials.store.copies.restore import Restored, put_back
from trials.store.drafts import DraftPlace, KeptDraft, Purpose, Typed
from trials.store.store import Store

__all__ = [
    "Backup",
    "DraftPlace",
    "KeptCopy",
    "KeptDraft",
    "Purpose",
    "Restored",
    "Store",
    "Typed",
    "Wholeness",
    "kept_copies",
    "look_through",
    "put_back",
]
