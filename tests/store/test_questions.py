from __future__ import annotations

import re

import duckdb
import pytest

from trials.store import Store
from trials.store.questions import QUERIES, question

NAMES = sorted(file.stem for file in QUERIES.glob("*.sql"))


@pytest.mark.parametrize("name", NAMES)
def test_a_question_says_what_it_answers_one_row_per_what_and_its_parameters(name: str) -> None:
    text = question(name)
    comment = [line for line in text.splitlines() if line.startswith("--")]
    assert re.match(r"-- (Answers|Does): .", comment[0])
    assert any(line.startswith("-- One row") for line in comment)
    (said,) = [line for line in comment if line.startswith("-- Parameters: ")]
    used = set(re.findall(r"\$(\w+)", re.sub(r"--.*", "", text)))
    assert used == set(re.findall(r"\$(\w+)", said))


def test_every_question_is_asked() -> None:
    program = "".join(file.read_text(encoding="utf-8") for file in QUERIES.parent.rglob("*.py"))
    within = "".join(file.read_text(encoding="utf-8") for file in QUERIES.glob("*.sql"))
    by_sheet = {name for name in NAMES if name.startswith(("held_", "add_"))}

    def asked(name: str) -> bool:
        return f'"{name}"' in program or f"(/* {name} */)" in within

    assert [name for name in NAMES if name not in by_sheet and not asked(name)] == []


def test_every_table_and_column_is_explained_in_the_store(empty_store: Store) -> None:
    connection = duckdb.connect(empty_store.path, read_only=True)
    silent = connection.execute(
        """
        SELECT table_name, NULL FROM duckdb_tables() WHERE comment IS NULL
        UNION ALL
        SELECT table_name, column_name FROM duckdb_columns()
        WHERE NOT internal AND comment IS NULL
        """
    ).fetchall()
    connection.close()
    assert silent == []
