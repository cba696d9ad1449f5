"""What strangers cause in the terminal is a line each, and the same one once a minute."""

from __future__ import annotations

import logging

import pytest

from dashboard.access.log_lines import (
    AGAIN_AFTER_S,
    LONGEST_LINE,
    SERVICE_LOG,
    WEB_SERVER_LOG,
    OneLine,
    Seldom,
    quiet_logs,
)


def record(words: str, *args: object, fault: Exception | None = None) -> logging.LogRecord:
    exc_info = None if fault is None else (type(fault), fault, None)
    return logging.LogRecord("x", logging.WARNING, "x", 1, words, args, exc_info)


def test_a_fault_is_one_line_without_others_words() -> None:
    told = record("It failed: %s", "\x1b[2J\n" + "x" * 1_000, fault=ValueError("a secret"))
    assert OneLine().filter(told)
    line = logging.Formatter().format(told)
    assert line.isprintable()
    assert len(line) == LONGEST_LINE
    short = record("It failed", fault=ValueError("a secret"))
    OneLine().filter(short)
    assert logging.Formatter().format(short) == "It failed (ValueError )"


def test_the_same_words_are_shown_once_a_minute() -> None:
    now = 0.0
    seldom = Seldom(lambda: now)
    assert seldom.filter(record("Refused %s", "a"))
    assert not seldom.filter(record("Refused %s", "b"))
    assert seldom.filter(record("Another"))
    assert all(seldom.filter(record("Refused", fault=ValueError())) for _ in range(2))
    now = AGAIN_AFTER_S
    assert seldom.filter(record("Refused %s", "c"))


def test_both_logs_are_looked_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in (WEB_SERVER_LOG, SERVICE_LOG):
        monkeypatch.setattr(logging.getLogger(name), "filters", [])
    quiet_logs()
    quiet_logs()
    kinds = {
        name: [type(each) for each in logging.getLogger(name).filters]
        for name in (WEB_SERVER_LOG, SERVICE_LOG)
    }
    assert kinds == {WEB_SERVER_LOG: [Seldom], SERVICE_LOG: [Seldom, OneLine]}
