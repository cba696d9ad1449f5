"""The store: one file that holds the farm's trials, opened for a unit of work at a time."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials.batch import NOBODY, Signed
from trials.errors import HistoryRefused, TallybedError, TrialState
from trials.store import (
    backup,
    closings,
    corrections,
    history,
    intake,
    migrate,
    past,
    plans,
    plot_table,
    seed,
    trial_digest,
    trial_list,
    wholeness,
)
from trials.store.backup import Backup, CopiedOut, Reason
from trials.store.connection import WAIT_S, hold_of, transaction
from trials.store.crew import Crew
from trials.store.entries import What
from trials.store.questions import frame
from trials.store.tallies import Bed

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from trials.batch import Added, Batch, Known
    from trials.model import Closing, Completeness, Entry, RecordsDigest, SeedHouse, SeedItem, Trial
    from trials.store.wholeness import Wholeness


_NOTES = logging.getLogger(__name__)


class Store:
    """The records of a farm.

    Make one with ``Store.create`` or ``Store.open``. A Store keeps no connection: each call waits
    its turn for the file (``wait_s`` seconds at most), works in one transaction and lets go; it
    may be shared by threads. While a call runs, nothing else in the process may open the file.

    Every call may refuse with a ``StoreRefused``; calls that take a trial's code refuse one that
    is not held with ``UnknownName``. In frames None (NaN among numbers) means not recorded.
    """

    __slots__ = ("_as_of", "_hold", "_wait_s")

    def __init__(self, path: Path, wait_s: float = WAIT_S, as_of: int | None = None) -> None:
        self._hold = hold_of(path)
        self._wait_s = wait_s
        self._as_of = as_of

    @classmethod
    def create(cls, path: Path, *, wait_s: float = WAIT_S) -> Store:
        """Make a new store where nothing is; folders above it are made too.

        Raises
        ------
        FileRefused
            Something is there already, or the place cannot be written to.
        """
        path = path.expanduser().absolute()
        migrate.make_new(path)
        return cls(path, wait_s)

    @classmethod
    def open(cls, path: Path, *, wait_s: float = WAIT_S) -> Store:
        """Open a store that is there; one of an older program is copied and brought forward.

        Raises
        ------
        StoreMissing, NotAStore, StoreTooNew, StoreDamaged, StoreBusy
            It cannot be used; its file is as it was.
        FileRefused
            No copy could be made of a store that is to be brought forward; it is as it was.
        """
        store = cls(path, wait_s)
        hold = store._hold
        with hold.looking(wait_s) as cursor:
            steps = migrate.pending(cursor, migrate.all_migrations(), hold.path)
        if steps:
            with hold.writing(wait_s), hold.cursor(wait_s) as cursor:
                # Asked again: another process may have been quicker.
                steps = migrate.pending(cursor, migrate.all_migrations(), hold.path)
                if steps:
                    with transaction(cursor):
                        copied = store._copy_out(cursor, None, Reason.UPGRADE)
                    kept = backup.finish(copied)
                    migrate.bring_forward(cursor, steps)
                    _NOTES.info("This store was brought up to date; as it was: %s", kept.folder)
        return store

    @property
    def path(self) -> Path:
        """Where its file is."""
        return self._hold.path

    def as_known_at(self, when: datetime | int) -> Store:
        """The same store as it was known at a time, or when the entry of a number had been made.

        It answers every question, and takes no records. Names that are written once (sites,
        varieties, seed houses, lots) are those of today.

        Raises
        ------
        HistoryRefused
            The history begins later, or there is no such entry.
        """
        with self._reading() as cursor:
            entry = past.entry_at(cursor, when)
        return Store(self.path, self._wait_s, entry)

    # ------------------------------------------------------------------------------- writing

    def add(self, batch: Batch, signed: Signed = NOBODY, what: What = What.LOAD) -> Added:
        """Store the rows of a batch that are not held yet, all or none of them.

        A batch signed with a token that was recorded before adds nothing.

        Raises
        ------
        RecordsRefused
            A row clashes with what another load stored since the batch was judged.
        TrialState
            A row belongs to a closed trial.
        """
        with self._writing() as cursor:
            return intake.add(cursor, batch, signed, what)

    def add_planned(
        self, code: str, batch: Batch, plan: plans.KeptPlan, signed: Signed = NOBODY
    ) -> Added:
        """Store a trial with its plots and the plan they were laid out from, or none of it.

        Raises
        ------
        TrialState
            There is a trial of that code.
        RecordsRefused
            A plot's code is held already, or the site or season is not.
        """
        with self._writing() as cursor:
            if any(held.code == code for held in trial_list.trials(cursor)):
                raise TrialState(
                    f"There is a trial {code} already. Give the plan another trial code."
                )
            added = intake.add(cursor, batch, signed, What.PLAN)
            plans.keep(cursor, code, plan, datetime.now(UTC).replace(tzinfo=None))
            return added

    def planned(self) -> tuple[str, ...]:
        """The trials that have a plan, the newest first."""
        with self._reading() as cursor:
            return plans.planned(cursor)

    def plan(self, code: str) -> plans.KeptPlan:
        """What a trial was laid out from; ``TrialState`` where it was loaded from files."""
        with self._reading() as cursor:
            return plans.kept(cursor, code)

    def correct(self, batch: Batch, signed: Signed, seen: int) -> Entry | None:
        """Put rows in the place of held ones; see ``corrections.correct``."""
        with self._writing() as cursor:
            return corrections.correct(cursor, batch, signed, seen)

    def withdraw(self, batch: Batch, signed: Signed, seen: int) -> Entry | None:
        """Take out rows that should never have been; see ``corrections.withdraw``."""
        with self._writing() as cursor:
            return corrections.withdraw(cursor, batch, signed, seen)

    def undo(self, number: int | None, signed: Signed) -> Entry:
        """Take an entry back, or the newest of that person; see ``corrections.undo``."""
        with self._writing() as cursor:
            return corrections.undo(cursor, number, signed)

    def submission(self, token: str) -> Entry | None:
        """The entry that a submission made; None where it made none."""
        with self._reading() as cursor:
            return corrections.recorded(cursor, Signed(None, token=token))

    def history(self, of: str | None = None, last: int | None = None) -> tuple[Entry, ...]:
        """Who changed what, when and why, oldest first; of a trial or plot, or of everything."""
        with self._reading() as cursor:
            return history.entries(cursor, of, last)

    def close(self, code: str, on: date, reason: str, signed: Signed = NOBODY) -> Closing:
        """End a trial's season: from then on it takes no records. Keeps a copy of the store.

        Raises
        ------
        TrialState
            It is closed already, or was cut after that day.
        """
        with self._writing() as cursor:
            closed = closings.close(cursor, code, on, reason, signed)
        self._keep_copy()
        return closed

    # ------------------------------------------------------------------------------- trials

    def trials(self) -> tuple[Trial, ...]:
        """Every trial, by season and code."""
        with self._reading() as cursor:
            return trial_list.trials(cursor)

    def trial(self, code: str) -> Trial:
        """The trial of that code."""
        with self._reading() as cursor:
            return trial_list.trial(cursor, code)

    def plots(self, code: str) -> pd.DataFrame:
        """One row a plot, in walking order, with its treatment, totals and every measure.

        Columns: plot, block, whole_plot, bed, position, one text column a factor, plants_set,
        living, net_length_m, net_area_m2, transplanted_on, lost_reason, missed_picks,
        unrecorded_picks (picking days without a row, between the plot's first and last),
        marketable_stems, culled_stems, first_cut, last_cut (days with marketable stems), and the
        keys of ``MEASURES``; plants_of and stake_of, the other plot of a swap, None if none was.
        Figures and treatments stand with the ground. A lost plot has no totals and no measures.
        """
        return self._frame_of(code, plot_table.plots)

    def grades(self, code: str) -> pd.DataFrame:
        """Marketable stems of the season: plot, factor columns, grade_cm, stems.

        One row a plot that was picked and not lost, and grade found in the trial.
        """
        return self._frame_of(code, plot_table.grades)

    def cuts(self, code: str) -> pd.DataFrame:
        """Stems by day: plot, cut_on, outcome, stems, culls; NaN where the pick was missed."""
        return self._frame_of(code, plot_table.cuts)

    def culls(self, code: str) -> pd.DataFrame:
        """Stems thrown out over the season: factor columns, cull_reason, stems."""
        return self._frame_of(code, plot_table.culls)

    def events(self, code: str) -> pd.DataFrame:
        """What happened: plot (None = all), other_plot (of a swap), happened_on, kind, reason."""
        return self._frame_of(code, plot_table.events)

    def completeness(self, code: str) -> Completeness:
        """What a trial's records hold and lack."""
        with self._reading() as cursor:
            return closings.completeness(cursor, code)

    def closing(self, code: str) -> Closing | None:
        """The end of a trial's season, or None while it is open."""
        with self._reading() as cursor:
            return closings.closing(cursor, code)

    def digest(self, code: str) -> RecordsDigest:
        """The digest of a trial's records, see ``trial_digest``."""
        with self._reading() as cursor:
            return trial_digest.records_digest(cursor, code)

    # ------------------------------------------------------------------------------- the farm

    def known(self) -> Known:
        """All that is held, in the columns of the sheets, to judge new rows against."""
        with self._reading() as cursor:
            return intake.known(cursor)

    def seasons(self) -> pd.DataFrame:
        """One row a season and site: season, site, starts_on, ends_on and the frosts."""
        with self._reading() as cursor:
            return frame(cursor, "held_seasons")

    def varieties(self, crop: str | None = None) -> pd.DataFrame:
        """One row a variety: variety, crop, colour, habit."""
        with self._reading() as cursor:
            return frame(cursor, "varieties", crop=crop)

    def seed_items(self, crop: str | None = None) -> tuple[SeedItem, ...]:
        """Every packet and price break on offer, of one crop or of all."""
        with self._reading() as cursor:
            return seed.seed_items(cursor, crop)

    def seed_houses(self) -> tuple[SeedHouse, ...]:
        """Every seller of seed."""
        with self._reading() as cursor:
            return seed.seed_houses(cursor)

    def germination(self) -> pd.Series[float]:
        """Germination (0 to 1) by variety: its newest lot, the poorest of several."""
        with self._reading() as cursor:
            return seed.germination(cursor)

    @property
    def bed(self) -> Bed:
        """What the crew sees at the bed."""
        return Bed(self._reading, self._writing)

    @property
    def crew(self) -> Crew:
        """Who may sign in to the pages."""
        return Crew(self._reading, self._writing)

    def check(self) -> Wholeness:
        """Hold the store's history against this program's and read it in every way there is.

        Raises
        ------
        StoreDamaged
            The history was altered, or the file is so broken that reading came to an end.
        """
        steps = migrate.all_migrations()
        with self._hold.writing(self._wait_s), self._hold.cursor(self._wait_s) as cursor:
            migrate.require_current(cursor, steps, self.path)
            return wholeness.read_everything(cursor, self.path)

    # ------------------------------------------------------------------------------- safety

    def backup(self, into: Path | None = None) -> Backup:
        """Make a verified copy in a new folder, by default within one beside the store.

        Raises
        ------
        FileRefused
            The place cannot be written to, or did not give back what was written.
        """
        return self._back_up(into, Reason.ASKED)

    def _back_up(self, into: Path | None, reason: Reason) -> Backup:
        with self._reading() as cursor:
            copied = self._copy_out(cursor, into, reason)
        return backup.finish(copied)

    def _copy_out(
        self, cursor: duckdb.DuckDBPyConnection, into: Path | None, reason: Reason
    ) -> CopiedOut:
        place = into or backup.folder_beside(self.path)
        return backup.copy_out(cursor, self.path, place, reason, datetime.now().astimezone())

    def _keep_copy(self) -> None:
        """A copy without being asked; what was done before stands even if none can be made."""
        try:
            kept = self._back_up(None, Reason.CLOSING)
        except TallybedError as refusal:
            _NOTES.warning("The trial is closed, but no copy of the store was kept. %s", refusal)
        else:
            _NOTES.info("A copy of the store was kept: %s", kept.folder)

    # ------------------------------------------------------------------------------- turns

    def _frame_of(
        self, code: str, ask: Callable[[duckdb.DuckDBPyConnection, str], pd.DataFrame]
    ) -> pd.DataFrame:
        with self._reading() as cursor:
            trial_list.trial(cursor, code)
            return ask(cursor, code)

    @contextmanager
    def _reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """One unit of work on one state of the records."""
        with self._hold.cursor(self._wait_s) as cursor, transaction(cursor):
            migrate.require_current(cursor, migrate.all_migrations(), self.path)
            if self._as_of is not None:
                past.look_back(cursor, self._as_of)
            yield cursor

    @contextmanager
    def _writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """One unit of work that no other thread or process writes during."""
        if self._as_of is not None:
            raise HistoryRefused(
                "The records as they were known take no more. Open the store itself."
            )
        with self._hold.writing(self._wait_s), self._reading() as cursor:
            yield cursor
