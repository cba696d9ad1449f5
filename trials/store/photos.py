"""The photos of a store: which there are and what they show, how they come and go."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused, Remedy, TallybedError, UnknownName, Verb
from trials.model.photo import PhotoOf, ReducedPhoto, StoredPhoto
from trials.store import trial_list
from trials.store.copies import digests
from trials.store.file.photo_files import keep_photo, photo_content, photo_folder
from trials.store.history import corrections
from trials.store.history.changes import What, entry, entry_of
from trials.store.history.listing import one
from trials.store.history.superseding import supersede
from trials.store.history.tables import PHOTO
from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

    from trials.model.rows import Signed
    from trials.model.trial import Entry

Cursors = Callable[[], AbstractContextManager["duckdb.DuckDBPyConnection"]]
_SHORTEST_BEGINNING = 6  # of a digest that somebody types


class Album:
    """The photos of a store; made by ``Store.album``."""

    __slots__ = ("_reading", "_writing", "folder")

    def __init__(self, reading: Cursors, writing: Cursors, store: Path) -> None:
        self._reading = reading
        self._writing = writing
        self.folder = photo_folder(store)

    def add(
        self, photos: Sequence[ReducedPhoto], of: PhotoOf, signed: Signed
    ) -> tuple[StoredPhoto, ...]:
        """Store photos of a variety or plot in one change; those that are new come back.

        A photo that is stored with the same subject is passed over, and of a submission whose
        token was recorded nothing is stored again.

        Raises
        ------
        UnknownName
            There is no such variety or plot.
        FileRefused
            A photo is stored already and shows something else, or the folder cannot be written to.
        """
        with self._reading() as cursor:  # nothing is written for a name that does not exist
            _refuse_unknown(cursor, of)
        for photo in photos:
            keep_photo(self.folder, photo.sha256, photo.content)
        with self._writing() as cursor:
            added = add(cursor, {photo.sha256: of for photo in photos}, signed)
            return tuple(each for each in stored(cursor) if each.sha256 in added)

    def stored(
        self, variety: str | None = None, trial: str | None = None
    ) -> tuple[StoredPhoto, ...]:
        """The photos of a variety, a trial's plots, or all; the newest day first.

        Raises
        ------
        UnknownName
            There is no such variety or trial.
        """
        with self._reading() as cursor:
            if variety is not None:
                _refuse_unknown_variety(cursor, variety)
            if trial is not None:
                trial_list.trial(cursor, trial)
            return stored(cursor, variety, trial)

    def content(self, sha256: str) -> bytes:
        """The file of a stored photo.

        Raises
        ------
        UnknownName
            There is no such photo.
        FileRefused
            Its file is missing or was altered.
        """
        with self._reading() as cursor:
            named = _named(cursor, sha256)
        return photo_content(self.folder, named)

    def withdraw(self, sha256: str, signed: Signed) -> Entry:
        """Remove a photo that should not be there; the history keeps it and it can be undone.

        ``sha256`` may be the beginning of the digest.

        Raises
        ------
        UnknownName
            There is no such photo.
        """
        with self._writing() as cursor:
            return withdraw(cursor, sha256, signed)


def add(
    cursor: duckdb.DuckDBPyConnection, photos: Mapping[str, PhotoOf], signed: Signed
) -> frozenset[str]:
    """Store the rows of photos by their digests, in one change; answers those that are new."""
    if entry_of(cursor, signed) is not None:
        return frozenset()
    for of in frozenset(photos.values()):
        _refuse_unknown(cursor, of)
    held = {photo.sha256: photo for photo in stored(cursor)}
    fresh = {}
    for sha256, of in photos.items():
        there = held.get(sha256)
        if there is None:
            fresh[sha256] = of
        elif (there.variety if there.plot is None else None, there.plot) != (of.variety, of.plot):
            raise _shows_another(there)
    with entry(cursor, What.PHOTO, signed) as draft:
        for sha256, of in fresh.items():
            values = {
                "sha256": sha256,
                "variety": of.variety,
                "plot": of.plot,
                "taken_on": of.taken_on,
                "caption": of.caption or None,
                "entry": draft.number,
            }
            cursor.execute(question("add_photo"), values)
        draft.happened = bool(fresh)
    return frozenset(fresh)


def stored(
    cursor: duckdb.DuckDBPyConnection, variety: str | None = None, trial: str | None = None
) -> tuple[StoredPhoto, ...]:
    """The photos of a variety, a trial's plots, or all; the newest day first."""
    return tuple(
        StoredPhoto(*found) for found in rows(cursor, "photos", variety=variety, trial=trial)
    )


def withdraw(cursor: duckdb.DuckDBPyConnection, sha256: str, signed: Signed) -> Entry:
    """Move a photo's row to those that were."""
    import pandas as pd

    known = corrections.recorded(cursor, signed)
    if known is not None:
        return known
    if not (signed.why or "").strip():
        raise TallybedError("Give a reason in a few words, such as: blurred.")
    named = _named(cursor, sha256)
    with entry(cursor, What.WITHDRAWAL, signed) as draft:
        cursor.register("named", pd.DataFrame({"sha256": [named]}))
        supersede(cursor, PHOTO, draft, "rows_named_together")
        cursor.unregister("named")
        draft.happened = True
    return one(cursor, draft.number)


def ever_stored(cursor: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """The digests of all photos, withdrawn ones too; none in a store of an older program."""
    if PHOTO.table not in digests.tables(cursor):
        return ()
    return tuple(sha256 for (sha256,) in rows(cursor, "photos_ever"))


def _named(cursor: duckdb.DuckDBPyConnection, sha256: str) -> str:
    """The digest that somebody named, whole or by its beginning."""
    held = [photo.sha256 for photo in stored(cursor)]
    if sha256 in held:
        return sha256
    begins = [each for each in held if each.startswith(sha256)]
    if len(sha256) >= _SHORTEST_BEGINNING and len(begins) == 1:
        return begins[0]
    raise UnknownName("photo", sha256, [each[:12] for each in held[:_MOST_NAMED]])


_MOST_NAMED = 10


def _refuse_unknown(cursor: duckdb.DuckDBPyConnection, of: PhotoOf) -> None:
    if of.plot is not None:
        plots = [str(plot) for (plot,) in rows(cursor, "every_plot")]
        if of.plot not in plots:
            raise UnknownName("plot", of.plot, plots)
    else:
        _refuse_unknown_variety(cursor, of.variety or "")


def _refuse_unknown_variety(cursor: duckdb.DuckDBPyConnection, variety: str) -> None:
    names = [str(name) for name, *_ in rows(cursor, "varieties", crop=None)]
    if variety not in names:
        raise UnknownName("variety", variety, names)


def _shows_another(there: StoredPhoto) -> FileRefused:
    shows = f"plot {there.plot}" if there.plot else f"variety {there.variety}"
    return FileRefused(
        f"This photo is stored already and shows {shows}. Nothing was stored. If that is wrong, "
        "withdraw it first.",
        Remedy("Withdraw it", Verb.PHOTO, f"withdraw {there.sha256[:12]}"),
    )
