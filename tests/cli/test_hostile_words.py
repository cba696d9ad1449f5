"""Hostile text in every option and argument of every verb: refused or kept, and always text."""

from __future__ import annotations

import json
import os
import shutil
import sys
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any
from unicodedata import category

import click
import pytest
from argon2 import PasswordHasher

from tests.photographs import photo
from tests.plans import SMALL, small_plan
from trials import season
from trials.cli import main, tallybed
from trials.model.photo import PhotoOf
from trials.model.rows import Signed
from trials.model.trial import Role
from trials.season import people

pytestmark = pytest.mark.slow

TEXTS = Path(__file__).parents[1] / "hostile_texts.json"
FARM = {
    "sites": "site,place,bed_width_m\nHome,by the brook,1.2\n",
    "seasons": "season,site,starts_on,ends_on\n2025,Home,2025-03-01,2025-11-30\n"
    "2026,Home,2026-03-01,2026-11-30\n",
    "varieties": "variety,crop\nEmber,zinnia\nFern,zinnia\nSky,aster\nDew,aster\n",
    "seed_houses": "house,currency,shipping,free_shipping_from,minimum_order\nSeedery,EUR,4,,0\n",
    "seed_items": "house,item,variety,seeds,price,from_packs,available\n"
    "Seedery,E1,Ember,50,2,1,yes\nSeedery,F1,Fern,50,3,1,yes\n",
    "trials": "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
    "equivalence_margin,minimum_length_cm\n"
    + "".join(
        f"{code},20{code[1:]},Home,{crop},Which?,variety on plots,{check},stems_per_plant,0.05,"
        "10 %,40\n"
        for code, crop, check in (("Z25", "zinnia", "Ember"), ("Z26", "aster", "Sky"))
    ),
    "plots": "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
    "transplanted_on\n"
    + "".join(
        f"{code},{code}-{n},{(n + 1) // 2},North,{n},{kinds[n % 2]},16,1.2,1.44,"
        f"20{code[1:]}-05-20\n"
        for code, kinds in (("Z25", ("Ember", "Fern")), ("Z26", ("Sky", "Dew")))
        for n in range(1, 7)
    ),
    "stand_counts": "plot,counted_on,living\n"
    + "".join(f"Z25-{n},2025-06-10,16\nZ26-{n},2026-06-10,16\n" for n in range(1, 7)),
    "cuts": "plot,cut_on,outcome,grade_cm,stems,cull_reason\n"
    + "".join(
        f"{code}-{n},20{code[1:]}-07-20,picked,40,{30 + 9 * (n % 2) + n * n % 5},\n"
        for code in ("Z25", "Z26")
        for n in range(1, 7)
    ),
    "stem_samples": "plot,cut_on,stem,length_cm\n"
    + "".join(
        f"Z25-{n},2025-07-20,{s},{50 + n * n % 7 + s}\n" for n in range(1, 7) for s in (1, 2)
    ),
}
PLAN = small_plan(
    trial="P27",
    question="Which of two?",
    season=2027,
    crop="aster",
    transplant_on=date(2027, 5, 15),
    factors=[{"name": "variety", "levels": ["Sky", "Dew"]}],
    calendar={name: day.replace(year=2027) for name, day in SMALL["calendar"].items()},
)
TABLE = "yield,kind,block,other,third,row,plot,count,extra,year,place\n" + "".join(
    f"{10 + 3 * (n % 2) + n * n % 5},{'ab'[n % 2]},{n // 2},{'xy'[n // 2 % 2]},{'uv'[n % 2]},{n},"
    f"p{n},4,{n * n % 7},2026,home\n"
    for n in range(8)
)


@dataclass(frozen=True)
class Farm:
    """Everything the verbs are given: in ``given``, with the working folder ``here`` beside it."""

    root: Path

    @property
    def given(self) -> Path:
        return self.root / "a" / "b" / "given"

    @property
    def here(self) -> Path:
        return self.root / "a" / "b" / "here"

    @property
    def store(self) -> Path:
        return self.given / "farm.tallybed"

    def files(self) -> dict[str, int]:
        return {
            str(path.relative_to(self.root)): path.stat().st_size
            for path in self.root.rglob("*")
            if path.is_file()
        }


def planted_farm(root: Path) -> Farm:
    farm = Farm(root)
    farm.here.mkdir(parents=True)
    records = farm.given / "records"
    records.mkdir(parents=True)
    for name, text in FARM.items():
        (records / f"{name}.csv").write_text(text, "utf-8")
    given = {
        "plan.toml": PLAN,
        "other.toml": PLAN.replace("P27", "Q27"),
        "table.csv": TABLE,
        "new.csv": "plot,counted_on,living\nZ26-1,2026-06-20,15\n",
        "odd.csv": "plot,counted_on,living\nZ26-1,2026-06-20,17\n",
        "wrong.csv": "plot,counted_on,living\nZ26-1,2026-06-10,14\n",
        "right.csv": "plot,counted_on,living\nZ26-1,2026-06-10,13\n",
        "wide.csv": "Plot;20.7.2026;27.7.2026\nZ26-1;12;\n",
        "reading.toml": 'sheet = "stand_counts"\n',
    }
    for name, text in given.items():
        (farm.given / name).write_text(text, "utf-8")
    season.load(farm.store, [records])
    season.close(farm.store, "Z25", date(2025, 10, 1), "first frost")
    (farm.given / "fern.jpg").write_bytes(photo("red"))
    ember = PhotoOf("Ember", None, date(2025, 7, 20))
    season.add_photos(farm.store, [("ember.jpg", photo("orange"))], ember, Signed("Ann"))
    again = [farm.given / "wrong.csv"]
    season.correct(farm.store, again, Signed("Ann", "one had died"))
    season.plan(farm.store, farm.given / "plan.toml")
    season.package(farm.store, "Z25", farm.given / "packed", None)
    season.backup(farm.store, farm.given / "copies")
    people.add_person(farm.store, "Ada", Role.GROWER, "seven green buckets")
    return farm


# How each verb is called rightly; what is attacked takes the place of one of these words, or comes
# to them. A new verb has to come here.
RIGHT: Mapping[str, Mapping[str, Sequence[str]]] = {
    "demo": {},
    "plan": {"plan_file": ["{given}/other.toml"]},
    "sheets": {"trial": ["P27"], "into": ["{given}/paper"]},
    "calendar": {"trial": ["P27"]},
    "planted": {"trial": ["P27"], "planted_on": ["2027-05-16"]},
    "load": {"files": ["{given}/new.csv"]},
    "trials": {},
    "units": {},
    "completion": {"shell": ["fish"]},
    "help": {},
    "close": {"trial": ["Z26"], "closed_on": ["2026-10-14"]},
    "correct": {"files": ["{given}/right.csv"], "why": ["misread"]},
    "withdraw": {"files": ["{given}/wrong.csv"], "why": ["another plot"]},
    "undo": {"why": ["misread"], "who": ["Ann"]},
    "history": {},
    "compare": {"trial": ["Z25"]},
    "choose": {"crop": ["zinnia"]},
    "order": {"crops": ["zinnia"], "bed_metres": ["10"]},
    "report": {"trial": ["Z25"], "html_path": ["{given}/z25.html"]},
    "winter": {"file": ["{given}/winter.toml"]},
    "contribute": {"folder": ["{given}/shared"]},
    "pool": {"sources": ["{given}/packed"], "into": ["{given}/pooled"]},
    "dashboard": {},
    "install-shortcut": {"into": ["{given}/shortcut"]},
    "photo add": {
        "files": ["{given}/fern.jpg"],
        "variety": ["Fern"],
        "taken_on": ["2025-07-20"],
    },
    "photo list": {},
    "photo withdraw": {"name": ["{photo}"], "why": ["another variety"]},
    "people list": {},
    "people add": {"name": ["Finn"], "role": ["picker"], "email": ["finn@farm.example"]},
    "people invite": {"name": ["Finn"], "pages": ["http://farm.example"]},
    "people remove": {"name": ["Ada"]},
    "verify": {},
    "backup": {},
    "restore": {"folder": ["{copy}"], "to": ["{given}/again.tallybed"]},
    "package": {"trials": ["Z25"], "into": ["{given}/open"]},
    "unpack": {"folder": ["{given}/packed"], "store": ["{given}/from-package.tallybed"]},
}
OF_A_TABLE = {"table": ["{given}/table.csv"], "measure": ["yield"], "treatment": ["kind"]}
ONLY_OF_TABLES = {
    *("table", "treatment", "block", "row", "column", "incomplete_block", "whole_plot"),
    *("whole_plot_unit", "split_plot", "strip", "plot", "plants", "covariate", "season_column"),
    *("site", "of", "rows_are", "ignore"),
}


def verbs(command: click.Command = tallybed, path: str = "") -> Iterator[tuple[str, click.Command]]:
    if isinstance(command, click.Group):
        for name, below in command.commands.items():
            yield from verbs(below, f"{path} {name}".strip())
    else:
        yield path, command


VERBS = dict(verbs())
FIELDS = [
    (verb, option.name or "")
    for verb, command in VERBS.items()
    for option in command.params
    if not getattr(option, "is_flag", False)
]


def words_of(verb: str, field: str, text: str | None, farm: Farm) -> list[str]:
    """The verb as it is typed, with the text where the field's words would be."""
    right = dict(RIGHT[verb])
    if verb == "compare" and field in ONLY_OF_TABLES:
        right = {**OF_A_TABLE}
    right.setdefault("store", ["{given}/farm.tallybed"])
    options: list[str] = []
    arguments: list[str] = []
    copy = next((farm.given / "copies").iterdir())
    stored = next((farm.given / "farm.photos").iterdir()).stem
    for option in VERBS[verb].params:
        values = [
            word.format(given=farm.given, copy=copy, photo=stored)
            for word in right.get(option.name or "", ())
        ]
        if option.name == field and text is not None:
            values = [text] * option.nargs if option.nargs > 1 else [text]
        if not values:
            continue
        if isinstance(option, click.Argument):
            arguments += values
        else:
            options += [option.opts[0], *values]
    return [*verb.split(), *options, "--", *arguments]


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Farm:
    with pytest.MonkeyPatch.context() as patch:
        cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(people, "_hasher", lambda: cheap)
        return planted_farm(tmp_path_factory.mktemp("whole"))


@pytest.fixture
def farm(whole: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Farm:
    """A farm of one's own to change, and to look beside."""
    shutil.copytree(whole.root, tmp_path / "root")
    farm = Farm(tmp_path / "root")
    monkeypatch.chdir(farm.here)
    monkeypatch.setenv("HOME", str(farm.here))
    for name in ("TALLYBED_STORE", "TALLYBED_WHO", "TALLYBED_UNITS", "TALLYBED_PAPER"):
        monkeypatch.delenv(name, raising=False)
    return farm


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command line in this process; the pages are not served and the demo not made."""
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(people, "_hasher", lambda: cheap)
    monkeypatch.setattr("dashboard.served_app.served_app", lambda *_: Idle())

    def command(words: Sequence[str]) -> Ran:
        monkeypatch.setattr(sys, "argv", ["tallybed", *words])
        code: Any = 0
        try:
            main()
        except SystemExit as end:
            code = end.code
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return command


class Idle:
    """Pages that are not served."""

    def run(self, config: object) -> None:
        """Nothing."""


def fits_a_shell(word: str) -> bool:
    """Whether a shell can hand it over, and it is text."""
    try:
        return b"\0" not in word.encode()
    except UnicodeEncodeError:
        return False


KINDS: Mapping[str, Sequence[str]] = json.loads(TEXTS.read_text("utf-8"))
# One of everything: a word that is refused for one part of it still shows the others.
WORST = " ".join(text for texts in KINDS.values() for text in texts[:1] if fits_a_shell(text))
NO_TEXT = os.fsdecode(b"a\xff\xfeb")
FIRST_OF = {field: verb for verb, field in reversed(FIELDS)}
QUICK = set(RIGHT) - {
    *("demo", "sheets", "plan", "unpack", "package", "restore", "verify"),
    *("winter", "contribute", "pool", "report"),
}
OUTPUTS = {
    "into",
    "to",
    "store",
    "csv_path",
    "pdf_path",
    "html_path",
    "faults",
    "publish_to",
    "folder",
}


def harmless(ran: Ran) -> bool:
    """Whether nothing that was printed drives a terminal, and all of it can be printed."""
    return not any(category(c) in {"Cc", "Cf", "Cs"} and c != "\n" for c in ran.out + ran.err)


def test_every_verb_is_attacked_and_every_word_judged() -> None:
    assert set(RIGHT) == set(VERBS)
    for verb, right in RIGHT.items():
        assert set(right) <= {option.name for option in VERBS[verb].params}
    for verb, field in FIELDS:
        (kind,) = [option.type for option in VERBS[verb].params if option.name == field]
        assert not isinstance(kind, click.Path)
        assert kind is not click.STRING


@pytest.mark.parametrize("verb", RIGHT)
def test_no_word_of_a_verb_is_more_than_text(verb: str, whole: Farm, farm: Farm, run: Run) -> None:
    if verb in QUICK:  # else what is attacked would not be done anyway
        ran = run(words_of(verb, "", None, farm))
        assert (ran.code, ran.err) == (0, "")
    before = farm.files()
    for field in [field for of, field in FIELDS if of == verb]:
        for text in (WORST, NO_TEXT) if FIRST_OF[field] == verb else (WORST,):
            words = words_of(verb, field, text, farm)
            ran = run(words)
            assert ran.code in (0, 2), (words, ran.err)
            assert harmless(ran), (words, ran)
            assert ran.code == 0 or len(ran.err) > 20
            after = farm.files()
            for place in (file for file in after if before.get(file) != after[file]):
                inside = place.startswith(("a/b/given/", "a/b/here/"))
                assert inside or field in OUTPUTS, (words, place)
            before = after


@pytest.mark.parametrize("kind", KINDS)
def test_a_text_is_refused_or_kept_as_it_is(kind: str, farm: Farm, run: Run) -> None:
    text = " ".join(KINDS[kind])
    if not fits_a_shell(text):
        text = NO_TEXT
    words = ["correct", str(farm.given / "right.csv"), f"--who={text}", f"--why={text}"]
    ran = run([*words, "--store", str(farm.store)])
    assert harmless(ran)
    if text == NO_TEXT:
        assert (ran.code, len(season.history(farm.store))) == (2, 5)
        return
    assert ran.code == 0, ran.err
    newest = season.history(farm.store)[-1]
    assert (newest.who, newest.why) == (text, text)
    shown = run(["history", "--last", "1", "--json", "--store", str(farm.store)])
    assert harmless(shown)
    (entry,) = json.loads(shown.out)
    assert (entry["who"], entry["why"]) == (text, text)


@pytest.mark.parametrize("name", ["TALLYBED_WHO", "TALLYBED_STORE", "TALLYBED_PAPER"])
def test_no_setting_is_more_than_text(
    name: str, farm: Farm, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = [word for word in words_of("plan", "", None, farm) if word != "--store"]
    words = [word for word in words if not word.endswith(".tallybed")]
    monkeypatch.setenv("TALLYBED_STORE", str(farm.store))
    for text in (WORST, NO_TEXT):
        monkeypatch.setenv(name, text)
        ran = run([*words[:1], "--dry-run", *words[1:]])
        assert ran.code in (0, 2)
        assert harmless(ran)


def test_no_question_drives_the_terminal(
    farm: Farm, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        return "seven green buckets"

    monkeypatch.setattr("click.termui.hidden_prompt_func", answer)
    ran = run(["people", "add", WORST[:40], "--role", "picker", "--store", str(farm.store)])
    assert (ran.code, len(asked)) == (0, 2)
    assert all(harmless(Ran(0, question, "")) for question in asked)


def test_no_heading_drives_the_terminal_and_the_reading_is_read_again(farm: Farm, run: Run) -> None:
    texts = ["\x1b[31m", "\u202eevil\u202c", "a\u200bb", "\U000e0041"]
    path = farm.here / "\x1b]0;x\x07.csv"
    wide = f"Plot;{';'.join(texts)};20.7.2026;27.7.2026\nZ26-1;a;b;c;d;12;3\n"
    path.write_text(wide, "utf-8")
    store = ["--store", str(farm.store)]
    asked = run(["load", str(path), *store])
    assert asked.code == 2
    assert harmless(asked)
    reading = run(["load", str(path), "--show-reading", *store])
    assert harmless(reading)
    said = tomllib.loads(reading.out)
    assert set(texts) <= set(said["columns"])
