"""An example of each command, shown at the end of its help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

EXAMPLES: Mapping[str, Sequence[str]] = {
    "demo": ["tallybed demo --into my-demo"],
    "dashboard": ["tallybed dashboard", "tallybed dashboard --lan"],
    "install-shortcut": ["tallybed install-shortcut"],
    "plan": [
        "tallybed plan asters.toml --propose",
        "tallybed plan asters.toml --take 3 --sheets printed",
    ],
    "sheets": ["tallybed sheets aster-2026 --into printed --paper letter"],
    "calendar": ["tallybed calendar aster-2026"],
    "planted": ["tallybed planted aster-2026 --on 2026-05-20"],
    "load": [
        "tallybed load cuts.csv",
        "tallybed load records --dry-run",
        "tallybed load - < cuts.csv",
    ],
    "photo": ["tallybed photo add wrenlatch.jpg --variety Wrenlatch --day 2026-08-14"],
    "photo add": [
        "tallybed photo add wrenlatch.jpg --variety Wrenlatch --day 2026-08-14",
        'tallybed photo add bed.jpg --plot C4222 --day 2026-08-14 --caption "first open flower"',
    ],
    "photo list": ["tallybed photo list --variety Wrenlatch"],
    "photo withdraw": ['tallybed photo withdraw 3f2a90c1d4e7 --why "blurred"'],
    "trials": ["tallybed trials"],
    "close": ['tallybed close cosmos-2026 --on 2026-10-11 --reason "first frost"'],
    "compare": [
        "tallybed compare cosmos-2026 --all-pairs",
        "tallybed compare --table beds.csv --measure stems --treatment variety --block block",
    ],
    "report": ["tallybed report cosmos-2026 --pdf cosmos-2026.pdf --html cosmos-2026.html"],
    "choose": ["tallybed choose cosmos"],
    "order": [
        "tallybed order cosmos --bed-metres 24 --successions 3 --pdf order.pdf",
        "tallybed order cosmos zinnia --bed-metres cosmos=24 --bed-metres zinnia=12 --into orders",
    ],
    "winter": ["tallybed winter data/farm/winter.toml --into winter-2027"],
    "correct": ['tallybed correct recounted.csv --why "3 was 13 on the paper"'],
    "withdraw": ['tallybed withdraw wrong.csv --why "cut from another plot"'],
    "undo": ["tallybed undo", "tallybed undo 12"],
    "history": ["tallybed history C4222"],
    "verify": ["tallybed verify"],
    "backup": ["tallybed backup --to copies"],
    "restore": ["tallybed restore copies/farm-20261012-090000 --to farm.tallybed"],
    "package": ["tallybed package cosmos-2026 --to cosmos-2026-package --licence CC-BY-4.0"],
    "unpack": ["tallybed unpack cosmos-2026-package"],
    "contribute": ["tallybed contribute network"],
    "pool": ["tallybed pool network --into pooled --measure stems_per_plant"],
    "people": ['tallybed people invite "Finn"'],
    "people list": ["tallybed people list"],
    "people add": ['tallybed people add "Ada Brook" --role grower'],
    "people invite": ['tallybed people invite "Finn" --role picker'],
    "people remove": ['tallybed people remove "Finn"'],
    "units": ["tallybed units us"],
    "help": ["tallybed help terms", "tallybed help compare"],
    "completion": ["tallybed completion bash --install"],
}
