"""A history in which much goes wrong: no text column of the store holds a sentence of the room of words."""

from __future__ import annotations

import gzip
import json
import pkgutil
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any

import duckdb

from monitor import words
from monitor.alerts.responses import SendResult
from monitor.intake.workers import Workers
from monitor.reasons import code_of
from monitor.words import en
from rules.words.en.findings import STATEMENTS
from tests.homes import run_on
from tests.scenarios.home import ROSTER, Scene

CODES = Path(__file__).parents[1] / "monitor" / "reason_codes.txt"
NOON = datetime.fromisoformat("2026-10-08T12:00:00+02:00")
KEPT_AS_SENT = {("outbox", "title"), ("outbox", "body")}
"""What went out, word for word."""
WITH_STATEMENTS = {("finding", "fact"), ("outbox", "items"), ("verdict", "breaches"),
    ("recording", "digest"), ("session", "digest"),
}  # fmt: skip
"""JSON in which rules say something: in the place of each sentence a key with values."""
WITH_REASON = {("intake", "reason"), ("outbox", "reason"), ("outbox", "last_error"), ("decision", "reason")}


def _texts(con: duckdb.DuckDBPyConnection) -> list[tuple[str, str, str]]:
    """(table, column, value) of all text in the store."""
    columns = con.execute(
        "SELECT table_name, column_name FROM information_schema.columns WHERE data_type = 'VARCHAR'"
        " AND table_catalog = current_database()"
    ).fetchall()
    return [
        (table, column, value)
        for table, column in columns
        for (value,) in con.execute(f"SELECT DISTINCT {column} FROM {table} WHERE {column} <> ''").fetchall()
    ]


def _sentences() -> re.Pattern[str]:
    """Any sentence of three words and more of the rooms, with anything for its values."""
    modules = [import_module(f"{en.__name__}.{each.name}") for each in pkgutil.iter_modules(en.__path__)]
    texts = [*STATEMENTS.values(), *(text for module in modules for text in vars(module).values())]
    said = {text for text in texts if isinstance(text, str) and text.count(" ") > 1}
    patterns = (re.sub(r"\\\{.*?\\\}", ".*", re.escape(text)) for text in sorted(said) if not text.startswith("{"))
    return re.compile("|".join(patterns))


def _strings(value: Any) -> Iterator[str]:
    """Every text within JSON."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _strings(one)


def _spoilt(scene: Scene) -> None:
    walk = run_on(2, 12, 30, sport="walking", speed=1.3, bpm=95)
    for name, data in {
        "walk.fit": walk, "copy.fit": walk, "walk.fit.gz": gzip.compress(walk), "cut.fit": walk[: len(walk) // 2],
        "short.fit": run_on(2, 12, 20, sport="walking", speed=1.3, bpm=95), "empty.fit": b"", "page.gpx": b"<html>",
        "odd.fit": b"no recording", "broken.json": b"{", "nights.csv": b"date,resting_hr\n2026-10-06,900\nx,50\n",
        "notes.docx": b"x", "a.zip": b"PK\x03\x04", "beats.rr": b"800\n810\n",
        "ahead.csv": b"date,resting_hr\n2062-10-06,50\n",
        "2026-10-07.checkin.json": json.dumps({"date": "2026-10-07", "pain": 99, "soreness": 3, "hue": 1}).encode(),
        "2026-10-08.checkin.json": json.dumps({"date": "2026-10-08", "symptoms": ["dark urine"]}).encode(),
    }.items():  # fmt: skip
        scene.drop(name, data)
    (scene.exports / "link.fit").symlink_to(scene.exports / "walk.fit")


def test_no_column_of_the_store_holds_a_sentence_of_the_room(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers, ROSTER.replace('quiet_hours = ""', 'quiet_hours = "21:30-06:30"'))
    busy = words.sending.ANSWERED.format(status=503, phrase="service unavailable")
    scene.sent = lambda *_, **__: SendResult(False, busy)
    _spoilt(scene)
    scene.scan(NOON)
    scene.drop("more.fit", b"not one either")
    scene.scan(NOON + timedelta(hours=10))
    (scene.exports / "2026-10-08.checkin.json").unlink()
    scene.drop("2026-10-08.checkin.json", json.dumps({"date": "2026-10-08", "pain": 0}))
    scene.scan(NOON + timedelta(hours=20))
    with scene.scanner(NOON).store.reading() as con:
        held = _texts(con)
    codes = set(CODES.read_text("utf-8").split())
    said = _sentences()
    for table, column, value in held:
        if (table, column) in WITH_REASON:
            assert {code_of(line) for line in value.split("\n")} <= codes, (table, column, value)
        elif (table, column) in WITH_STATEMENTS:
            for text in _strings(json.loads(value)):
                assert not said.fullmatch(text), (table, column, text)
        elif (table, column) not in KEPT_AS_SENT:
            assert not said.fullmatch(value), (table, column, value)
    assert {table for table, column, _ in held if (table, column) in WITH_REASON} == {"intake", "outbox", "decision"}
    reasons = {code_of(value) for table, _, value in held if table == "intake"}
    assert len(reasons) > len("0123456789")
