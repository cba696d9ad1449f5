"""A small farm whose files are right, to be spoiled one cell at a time."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path

import pytest

from trials.errors import Fault, RecordsRefused
from trials.model.rows import Batch, Known, Sheet
from trials.records import read

FILES: Mapping[str, str] = {
    "sites.csv": """\
site,place,bed_width_m,note
Low Field,by the brook,1.2,
""",
    "seasons.csv": """\
season,site,starts_on,ends_on,last_spring_frost,first_autumn_frost
2026,Low Field,2026-03-25,2026-10-31,2026-05-12,
""",
    "varieties.csv": """\
variety,crop,colour,habit
Ember,zinnia,red,tall cutting
Frost Fern,zinnia,white,
Tallow,zinnia,cream,bedding
""",
    "crops.csv": """\
crop,figure,value,source
zinnia,days_to_bloom,66,own records
zinnia,germination_c,21.5,seed packet
""",
    "currencies.csv": """\
currency,own,rate
EUR,yes,1
GBP,no,1.25
""",
    "prices.csv": """\
year,market,crop,grade_cm,from_week,to_week,stem_price
2026,florists,zinnia,40,20,30,0.5
2026,florists,zinnia,50,20,30,0.8
""",
    "costs.csv": """\
year,crop,cost,amount
2026,every crop,bed,8
2026,zinnia,picking,0.05
""",
    "seed_houses.csv": """\
house,currency,shipping,free_shipping_from,minimum_order
Barn Seeds,EUR,4.50,60,10
""",
    "seed_items.csv": """\
house,item,variety,seeds,price,from_packs,available
Barn Seeds,E50,Ember,50,3.40,1,yes
Barn Seeds,E50,Ember,50,3.05,4,yes
Barn Seeds,F50,Frost Fern,50,3.90,1,no
""",
    "seed_lots.csv": """\
lot,house,item,packed_for,germination
L1,Barn Seeds,E50,2026,0.92
L2,Barn Seeds,F50,2026,0.8
""",
    "seed_stock.csv": """\
lot,counted_on,seeds
L1,2026-11-02,40
""",
    "germination_tests.csv": """\
lot,tested_on,replicate,seeds,germinated
L1,2026-11-20,1,50,44
L1,2026-11-20,2,50,42
""",
    "trials.csv": """\
trial,season,site,crop,question,factors,check,primary_measure,alpha,equivalence_margin,minimum_length_cm
Z26,2026,Low Field,zinnia,Which zinnia?,variety on plots,Ember,stems_per_plant,0.05,10 %,40
P26,2026,Low Field,zinnia,Does pinching pay?,\
pinch on whole plots; variety on plots,,stems_per_metre,0.1,3,40
""",
    "plots.csv": """\
trial,plot,block,whole_plot,bed,position,variety,pinch,lot,plants_set,net_length_m,net_area_m2,\
transplanted_on
Z26,A1,1,,North,1,Ember,,L1,16,1.2,1.44,2026-05-20
Z26,A2,1,,North,2,Frost Fern,,L2,16,1.2,1.44,2026-05-20
P26,B1,1,w1,South,1,Ember,pinched,L1,16,1.2,1.44,2026-05-21
P26,B2,1,w1,South,2,Frost Fern,pinched,,16,1.2,1.44,2026-05-21
P26,B3,1,w2,South,3,Ember,not pinched,L1,16,1.2,1.44,2026-05-21
P26,B4,1,w2,South,4,Frost Fern,not pinched,,16,1.2,1.44,2026-05-21
""",
    "stand_counts.csv": """\
plot,counted_on,living
A1,2026-06-10,16
A2,2026-06-10,14
""",
    "cuts.csv": """\
plot,cut_on,outcome,grade_cm,stems,cull_reason
A1,2026-07-20,picked,40,12,
A1,2026-07-20,picked,30,3,
A1,2026-07-20,picked,,2,short
A2,2026-07-20,picked,,0,
A1,2026-07-27,missed,,,
A2,2026-07-27,picked,40,9,
""",
    "stem_samples.csv": """\
plot,cut_on,stem,length_cm
A1,2026-07-20,1,46
A1,2026-07-20,2,51.5
""",
    "events.csv": """\
trial,plot,happened_on,kind,reason
P26,B1,2026-06-10,pinched,
P26,B4,2026-06-12,lost,deer ate it
Z26,,2026-10-14,frost,first hard frost
""",
    "scores.csv": """\
plot,scored_on,trait,value
A1,2026-08-01,vase_life_days,8.3
""",
}

NOTHING = Known({}, frozenset())


class Farm:
    """The files of the small farm in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name, text in FILES.items():
            self.write(name, text)

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.folder / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    def text(self, name: str) -> str:
        return (self.folder / name).read_text("utf-8")

    def rows(self, name: str) -> list[list[str]]:
        return list(csv.reader(io.StringIO(self.text(name))))

    def rewrite(self, name: str, rows: list[list[str]]) -> None:
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows(rows)
        self.write(name, out.getvalue())

    def spoil(self, name: str, row: int, column: str, cell: str) -> None:
        """Put other text into one cell; rows count as a spreadsheet counts."""
        rows = self.rows(name)
        rows[row - 1][rows[0].index(column)] = cell
        self.rewrite(name, rows)

    def add(self, name: str, line: str) -> None:
        self.write(name, f"{self.text(name)}{line}\n")

    def drop_row(self, name: str, row: int) -> None:
        rows = self.rows(name)
        del rows[row - 1]
        self.rewrite(name, rows)

    def only(self, *names: str) -> None:
        """Take all other files away."""
        for path in self.folder.glob("*.csv"):
            if path.name not in names:
                path.unlink()

    def read(self, known: Known = NOTHING) -> Batch:
        return read([self.folder], known)

    def faults(self, known: Known = NOTHING) -> tuple[Fault, ...]:
        with pytest.raises(RecordsRefused) as refused:
            self.read(known)
        for fault in refused.value.faults:
            assert fault.problem.endswith((".", "!")), fault
            assert fault.remedy.endswith((".", "?")), fault
        return tuple(refused.value.faults)

    def stored(self, batch: Batch, *sheets: Sheet, closed: frozenset[str] = frozenset()) -> Known:
        """What a store would know after it stored these sheets of a batch; all if none is named."""
        return Known({sheet: batch.frames[sheet] for sheet in sheets or batch.frames}, closed)

    def fault(self, known: Known = NOTHING) -> Fault:
        """The one fault that is found."""
        faults = self.faults(known)
        assert len(faults) == 1, faults
        return faults[0]


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    folder = tmp_path / "farm"
    folder.mkdir()
    return Farm(folder)


@pytest.fixture(scope="session")
def known(tmp_path_factory: pytest.TempPathFactory) -> Known:
    """The small farm as a store would know it."""
    farm = Farm(tmp_path_factory.mktemp("stored"))
    return farm.stored(farm.read())
