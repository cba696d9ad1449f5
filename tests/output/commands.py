"""What commands print of the trials, their records and a plan."""

from __future__ import annotations

import re
import shutil
import tempfile
from pathlib import Path

from tests.output.registry import ROOT, output, said
from trials import season

SHORT = ("stem_length_cm", "marketable_share", "days_to_first_cut", "net_per_metre")


@output
def trials_and_history(store: Path) -> str:
    words = (
        ("trials",), ("history",), ("history", "cosmos-2026"), ("history", "--json", "--last", "2"),
        ("units",), ("photo", "list"),
    )  # fmt: skip
    return "\n".join(said(store, *each) for each in words)


@output
def keys_and_columns(store: Path) -> str:
    words = (("plan", "--keys"), ("load", "--columns"))
    return "\n".join(said(store, *each) for each in words)


@output
def comparisons(store: Path) -> str:
    codes = [trial.code for trial in season.trials(store)]
    return "\n".join(
        [
            *(said(store, "compare", code) for code in codes),
            *(said(store, "compare", "cosmos-2026", "--measure", each) for each in SHORT),
            said(store, "compare", "cosmos-2024", "--units", "us", "--measure", SHORT[0]),
            said(store, "compare", "cosmos-2026", "--check", "Wrenlatch"),
        ]
    )


@output
def comparison_documents(store: Path) -> str:
    codes = ("cosmos-2024", "cosmos-bed-2026")
    return "\n".join(said(store, "compare", code, "--json") for code in codes)


@output
def plans(store: Path) -> str:
    here = (str(ROOT / "data" / name) for name in ("plan-example.toml", "plan-packets.toml"))
    return "\n".join(
        said(store, "plan", path, *how)
        for path in here
        for how in (("--propose",), ("--propose", "--units", "us"), ("--dry-run",))
    )


@output
def plan_in_money(store: Path) -> str:
    """A crop with prices and costs, some of whose varieties were grown before."""
    text = (ROOT / "data" / "plan-example.toml").read_text("utf-8").replace("aster", "cosmos")
    for new, known in (("Our usual", "Wrenlatch"), ("Early white", "Quernshaw")):
        text = text.replace(new, known)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        path.write_text(text.replace("cosmos-2026", "cosmos-more-2026"), "utf-8")
        return said(store, "plan", str(path), "--propose").replace(folder, "")


@output
def plan_document(store: Path) -> str:
    path = str(ROOT / "data" / "plan-example.toml")
    return said(store, "plan", path, "--propose", "--json")


# Digests, secret codes, and how the database parts its file.
_OF_THIS_FARM = re.compile(
    r"\b[0-9a-f]{12,}\b|(?<=as farm )\w+|\bt[0-9a-f]{8}\b|\d+(?= file blocks)"
)


@output
def copies_and_packages(store: Path) -> str:
    """A store that is looked through, copied, packed, pooled and shared under codes."""
    with tempfile.TemporaryDirectory() as folder:
        own, into = Path(shutil.copy(store, folder)), Path(folder)
        trial = ("cosmos-bed-2026",)
        parts = [
            said(own, "verify"),
            said(own, "backup", "--to", str(into / "copies")),
            said(own, "package", *trial, "--to", str(into / "packed")),
            said(into / "other.tallybed", "unpack", str(into / "packed")),
            said(into / "other.tallybed", "unpack", str(into / "packed")),
            said(own, "contribute", str(into / "shared"), "--trial", "cosmos-2024"),
            said(own, "contribute", str(into / "shared"), "--withdraw"),
            said(own, "people", "add", "Ida", "--role", "picker", "--email", "ida@example.org"),
            said(own, "people", "list"),
            said(own, "people", "remove", "Ida"),
            said(own, "people", "remove", "Ida"),
        ]
    return _OF_THIS_FARM.sub("OWN", "\n".join(parts).replace(folder, ""))


UNCLEAR = {
    "harvest.csv": "Plot no.;Day;Stems;Remarks\nC4222;1.8.2024;12;windy\nC4223;13.8.2024;9,5;\n",
    "prices.csv": "house,item,variety,seeds,price\nPennyquern Seed Barn,PQ 1,Wrenlatch,,4\n",
}


@output
def files_to_agree_on(store: Path) -> str:
    """Columns that are not ours: what they are taken for, and what is asked."""
    with tempfile.TemporaryDirectory() as folder:
        own, parts = Path(shutil.copy(store, folder)), []
        for name, text in UNCLEAR.items():
            path = Path(folder) / name
            path.write_text(text, "utf-8")
            parts += [said(own, "load", str(path)), said(own, "load", str(path), "--agree")]
    return "\n".join(parts).replace(folder, "")
