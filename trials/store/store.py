"""The store: one file that holds the farm's trials, opened for a unit of work at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from trials.model.re_entry import Spray
from trials.model.rows import NOBODY, Signed
from trials.model.units import UnitSystem
from trials.store import closings, intake, migrate, plans, plot_table, seed, trial_list
from trials.store.copies import checking
from trials.store.copies import integrity as wholeness
from trials.store.copies import occasions as copies
from trials.store.drafts import Desk
from trials.store.early_cuts import cuts_before_re_entry
from trials.store.file.connection import WAIT_S, hold_of
from trials.store.file.turns import Turns
from trials.store.history import corrections, trial_digest
from trials.store.history import listing as history
from trials.store.history.changes import What
from trials.store.photos import Album
from trials.store.questions import frame, question, rows
from trials.store.remembered import Remembered, answered
from trials.store.tallies import Bed
from trials.store.users import Crew

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from trials.model.money import Cost, Currency, MarketPrice
    from trials.model.rows import Added, Batch, Known
    from trials.model.seed_lot import SeedLot
    from trials.model.trial import (
        Closing,
        Completeness,
        Entry,
        RecordsDigest,
        SeedHouse,
        SeedItem,
        Trial,
    )
    from trials.store.copies.backup import Backup
    from trials.store.copies.integrity import Wholeness

T = TypeVar("T")


class Store:
    """The records of a farm.

    Make one with ``Store.create`` or ``Store.open``. A Store keeps no connection: each call waits
    its turn for the file (``wait_s`` seconds at most), works in one transaction and lets go; it
    may be shared by threads. While a call runs, nothing else in the process may open the file.

    Every call may refuse with a ``StoreRefused``; calls that take a trial's code refuse one that
    is not held with ``UnknownName``. In frames None (NaN among numbers) means not recorded.
    """

    __slots__ = ("_held", "turns")

    def __init__(self, turns: Turns, held: Remembered | None = None) -> None:
        self.turns = turns
        self._held = held

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
        return cls(Turns(hold_of(path), wait_s))

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
        store = cls(Turns(hold_of(path), wait_s))
        copies.bring_forward(store.turns)
        return store

    @property
    def path(self) -> Path:
        """Where its file is."""
        return self.turns.path

    def as_known_at(self, when: datetime | int) -> Store:
        """The same store as it was known at a time, or when the entry of a number had been made.

        It answers every question, and takes no records. Names that are written once (sites,
        varieties, seed houses, lots) are those of today.

        Raises
        ------
        HistoryRefused
            The history begins later, or there is no such entry.
        """
        return Store(self.turns.looking_back(when))

    @contextmanager
    def at_once(self) -> Iterator[Store]:
        """The same store for questions in one turn, on one state of its records; it only reads.

        Calculate afterwards: other processes wait meanwhile.
        """
        with self.turns.at_once() as turns:
            yield Store(turns)

    def remembering(self) -> Store:
        """The same store for one calculation that only reads: it asks the file nothing twice."""
        return Store(self.turns, {})

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
        with self.turns.writing() as cursor:
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
        with self.turns.writing() as cursor:
            return plans.add(cursor, code, batch, plan, signed)

    def planned(self) -> tuple[str, ...]:
        """The trials that have a plan, the newest first."""
        return self._ask(plans.planned)

    def plan(self, code: str) -> plans.KeptPlan:
        """What a trial was laid out from; ``TrialState`` where it was loaded from files."""
        return self._ask(partial(plans.kept, code=code))

    def correct(self, batch: Batch, signed: Signed, seen: int) -> Entry | None:
        """Put rows in the place of held ones; see ``corrections.correct``."""
        with self.turns.writing() as cursor:
            return corrections.correct(cursor, batch, signed, seen)

    def withdraw(self, batch: Batch, signed: Signed, seen: int) -> Entry | None:
        """Take out rows that should never have been; see ``corrections.withdraw``."""
        with self.turns.writing() as cursor:
            return corrections.withdraw(cursor, batch, signed, seen)

    def undo(self, number: int | None, signed: Signed) -> Entry:
        """Take an entry back, or the newest of that person; see ``corrections.undo``."""
        with self.turns.writing() as cursor:
            return corrections.undo(cursor, number, signed)

    def submission(self, token: str) -> Entry | None:
        """The entry that a submission made; None where it made none."""
        return self._ask(partial(corrections.recorded, signed=Signed(None, token=token)))

    def records_mark(self) -> tuple[int, datetime] | None:
        """What changes whenever a record does; None where nothing is recorded."""
        return self._ask(history.records_mark)

    def history(self, of: str | None = None, last: int | None = None) -> tuple[Entry, ...]:
        """Who changed what, when and why, oldest first; of a trial or plot, or of everything."""
        return self._ask(partial(history.entries, of=of, last=last))

    def close(self, code: str, on: date, reason: str, signed: Signed = NOBODY) -> Closing:
        """End a trial's season: from then on it takes no records. Keeps a copy of the store.

        Raises
        ------
        TrialState
            It is closed already, or was cut after that day.
        """
        with self.turns.writing() as cursor:
            closed = closings.close(cursor, code, on, reason, signed)
        return copies.keep_after_closing(self.turns, closed)

    def units(self) -> UnitSystem | None:
        """The units in which the farm reads its figures; None where nobody chose."""
        with self.turns.reading() as cursor:
            return next((UnitSystem(name) for (name,) in rows(cursor, "units")), None)

    def set_units(self, units: UnitSystem) -> None:
        """Read figures in these units from now on; what is stored stays metric."""
        with self.turns.writing() as cursor:
            cursor.execute(question("set_units"), {"units": units.value})

    def trials(self) -> tuple[Trial, ...]:
        """Every trial, by season and code."""
        return self._ask(trial_list.trials)

    def trial(self, code: str) -> Trial:
        """The trial of that code."""
        return self._ask(partial(trial_list.trial, code=code))

    def plots(self, code: str, shortest_cm: float | None = None) -> pd.DataFrame:
        """One row a plot, in walking order, with its treatment, totals and every measure.

        Columns: plot, block, whole_plot, bed, position, one text column a factor, plants_set,
        living, net_length_m, net_area_m2, transplanted_on, lost_reason, missed_picks,
        unrecorded_picks (picking days without a row, between the plot's first and last),
        marketable_stems, short_stems (graded, but below the shortest saleable length),
        culled_stems, first_cut, last_cut (days with marketable stems), and the keys of
        ``MEASURES``; plants_of and stake_of, the other plot of a swap, None if none was.
        Figures and treatments stand with the ground. A lost plot has no totals and no measures.
        ``shortest_cm`` takes another shortest saleable length than the trial's own.
        """
        return self._of_trial(code, partial(plot_table.plots, shortest_cm=shortest_cm))

    def yields(self, code: str, shortest_cm: float | None = None) -> pd.DataFrame:
        """The same plots without the measures in money."""
        return self._of_trial(code, partial(plot_table.yields, shortest_cm=shortest_cm))

    def grades(self, code: str) -> pd.DataFrame:
        """Graded stems, short ones too, of plots picked: plot, factor columns, grade_cm, stems."""
        return self._of_trial(code, plot_table.grades)

    def cuts(self, code: str) -> pd.DataFrame:
        """Graded stems by day: plot, cut_on, outcome, stems, culls; NaN where it was missed."""
        return self._of_trial(code, plot_table.cuts)

    def stems_by_week(self, code: str, shortest_cm: float | None = None) -> pd.DataFrame:
        """Marketable stems: plot, week since its first cut (0 = the first), grade_cm, stems."""
        return self._of_trial(code, partial(plot_table.stems_by_week, shortest_cm=shortest_cm))

    def stems_by_day(self, code: str) -> pd.DataFrame:
        """Marketable stems by day, of plots that were picked and not lost: plot, cut_on, stems."""
        return self._of_trial(code, plot_table.stems_by_day)

    def vase_life(self, code: str) -> pd.DataFrame:
        """Mean days in the vase of the plots tested: plot, variety, days."""
        return self._of_trial(code, plot_table.vase_life)

    def culls(self, code: str) -> pd.DataFrame:
        """Stems thrown out over the season: factor columns, cull_reason, stems."""
        return self._of_trial(code, plot_table.culls)

    def length_samples(self, code: str) -> pd.DataFrame:
        """What stem lengths rest on, see ``plot_table.length_samples``."""
        return self._of_trial(code, plot_table.length_samples)

    def events(self, code: str) -> pd.DataFrame:
        """What happened: plot (None = all), other_plot (of a swap), happened_on, kind, reason."""
        return self._of_trial(code, plot_table.events)

    def cuts_before_re_entry(self, code: str) -> tuple[tuple[str, date, Spray], ...]:
        """The cuts of a trial made while a spray kept people out: plot, day and spray."""
        return self._of_trial(code, cuts_before_re_entry)

    def completeness(self, code: str) -> Completeness:
        """What a trial's records hold and lack."""
        return self._ask(partial(closings.completeness, code=code))

    def closing(self, code: str) -> Closing | None:
        """The end of a trial's season, or None while it is open."""
        return self._ask(partial(closings.closing, code=code))

    def digest(self, code: str) -> RecordsDigest:
        """The digest of a trial's records, see ``trial_digest``."""
        return self._ask(partial(trial_digest.records_digest, code=code))

    def known(self) -> Known:
        """All that is held, in the columns of the sheets, to judge new rows against."""
        return self._ask(intake.known)

    def seasons(self) -> pd.DataFrame:
        """One row a season and site: season, site, starts_on, ends_on and the frosts."""
        return self._ask(lambda cursor: frame(cursor, "held_seasons"))

    def varieties(self, crop: str | None = None) -> pd.DataFrame:
        """One row a variety: variety, crop, colour, habit."""
        return self._ask(lambda cursor: frame(cursor, "varieties", crop=crop))

    def variety_figures(self) -> tuple[tuple[str, str, int, float | None, float | None], ...]:
        """What trials measured of varieties: variety, trial, season, height (cm), vase life (d)."""
        return self._ask(seed.variety_figures)

    def crops(self) -> pd.DataFrame:
        """The farm's own figures of its crops: crop, figure, value, source."""
        return self._ask(lambda cursor: frame(cursor, "held_crops"))

    def currencies(self) -> tuple[Currency, ...]:
        """The currencies of the farm and its seed houses."""
        return self._ask(seed.currencies)

    def prices(self, crop: str | None = None) -> tuple[MarketPrice, ...]:
        """What each market pays for stems by its newest list of the crop; of one crop or of all."""
        return self._ask(partial(seed.prices, crop=crop))

    def costs(self, crop: str) -> tuple[Cost, ...]:
        """What growing a crop costs: of each kind its own newest, else the newest of every crop."""
        return self._ask(partial(seed.costs, crop=crop))

    def packet_prices(self) -> dict[str, float]:
        """By variety the cheapest packet on offer, in the farm's own currency."""
        return self._ask(seed.packet_prices)

    def seed_items(
        self, crop: str | None = None, prices: int | None = None
    ) -> tuple[SeedItem, ...]:
        """Packets and price breaks on offer, by each house's newest list up to ``prices``."""
        return self._ask(partial(seed.seed_items, crop=crop, prices=prices))

    def price_lists(self) -> tuple[tuple[int, str], ...]:
        """The years of price lists, each with a currency that it has."""
        return self._ask(seed.price_lists)

    def seed_houses(self) -> tuple[SeedHouse, ...]:
        """Every seller of seed."""
        return self._ask(seed.seed_houses)

    def seed_lots(self) -> tuple[SeedLot, ...]:
        """Every lot with the newest count of what is left of it, and its newest test."""
        return self._ask(seed.seed_lots)

    def germination_tests(self) -> tuple[tuple[str, date, int, int], ...]:
        """Every germination test by lot and day: the seeds laid out, and those that germinated."""
        return self._ask(seed.germination_tests)

    def germination(self) -> pd.Series[float]:
        """Germination (0 to 1) by variety: its newest lot, the poorest of several."""
        return self._ask(seed.germination)

    @property
    def bed(self) -> Bed:
        """What the crew sees at the bed."""
        return Bed(self.turns.reading, self.turns.writing)

    @property
    def album(self) -> Album:
        """The photos of varieties and plots."""
        return Album(self.turns.reading, self.turns.writing, self.path)

    @property
    def desk(self) -> Desk:
        """What is typed at the beds and not recorded yet."""
        return Desk(self.turns.reading, self.turns.writing)

    @property
    def crew(self) -> Crew:
        """Who may sign in to the pages."""
        return Crew(self.turns.reading, self.turns.writing)

    def check(self, told: wholeness.Told | None = None) -> Wholeness:
        """Compare the store's history with this program's and read all; ``told`` hears how far.

        Raises
        ------
        StoreDamaged
            The history was altered, or the file is so broken that reading came to an end.
        """
        return checking.check(self.turns, told)

    def backup(self, into: Path | None = None) -> Backup:
        """Make a verified copy in a new folder, by default within one beside the store.

        Raises
        ------
        FileRefused
            The place cannot be written to, or did not give back what was written.
        """
        return copies.make(self.turns, into)

    def _ask(self, ask: Callable[[duckdb.DuckDBPyConnection], T]) -> T:
        return answered(self._held, ask, self.turns.reading)

    def _of_trial(self, code: str, ask: Callable[[duckdb.DuckDBPyConnection, str], T]) -> T:
        return self._ask(partial(trial_list.of_trial, code=code, ask=ask))
