"""A mistake of somebody who edits the roster by hand is answered in words of the file, with what would be right."""

from __future__ import annotations

import os
from datetime import time
from pathlib import Path

import pytest

from monitor.errors import RosterError
from monitor.roster import parse_roster
from tests.homes import ROSTER

GOOD = ROSTER.format(url="json://127.0.0.1:9/x")
MISTAKES = [
    ('contacts = ["coach"]', 'contacts = "coach"', 'must be a list, as in contacts = ["coach"]'),
    ('contacts = ["coach"]', 'contacts = ["coahc"]', "did you mean coach?"),
    ("[[athlete.race]]", "[athlete.race]", "write [[athlete.race]], with two brackets"),
    ("[[contact]]", "[contact]", "write [[contact]], with two brackets"),
    ("finish = 2026-10-04T13:47:00", "finish = 4.10.2026", "a date and time as 2026-10-04T13:47:00"),
    ("hr_max = 188", "hr_max = 188.5", "hr_max = 188.5: must be a whole number"),
    ("hr_max = 188", "hr_max = 300", "must be 240 or less"),
    ("born = 1991", 'born = "1991"', "must be a whole number without quotes"),
    ("Europe/Oslo", "Oslo", 'did you mean "Europe/Oslo"?'),
    ("21:30-06:30", "22-6", 'must be two local times like "21:30-06:30"'),
    ('"marathon"', '"Marathon"', "did you mean marathon?"),
    ('"marathon"', '"half marathon"', "did you mean half?"),
    ('urls = ["json://127.0.0.1:9/x"]', "urls = []", "urls = (hidden): must not be empty"),
    ('"exports/runa"', '"C:\\exports\\runa"', "in single quotes"),
    ('id = "runa"', 'id = "rüna"', 'id = "rüna": must be 1 to 64 letters'),
    ("born = 1991", 'sex = "woman"', "must be female or male"),
    ("hr_max = 188", "max_hr = 188", "did you mean `hr_max`?"),
    ("hr_max = 188", "hrmax = 188", "did you mean `hr_max`?"),
    ("born = 1991", "birth_year = 1991", "did you mean `born`?"),
    ('folder = "exports/runa"', 'directory = "exports/runa"', "did you mean `folder`?"),
    ('"marathon"', "“marathon”", 'write straight quotes, "...", in place of curly ones'),
    ('"exports/runa"', '"C:\\users\\runa"', "in single quotes"),
    ("born = 1991", "born = 2030", "must be a year from"),
    ("2026-10-04T13:47:00", "2066-10-04T13:47:00", "is the year right?"),
    ("2026-10-04T13:47:00", '2026-10-04T13:47:00\nresult = "0:25:10"', "42.195 km take from 1:40:27 to"),
    ("hr_max = 188", "hr_max = 88", "must be 120 to 230 bpm"),
]
if os.name != "nt":
    MISTAKES += [
        ('"exports/runa"', "'C:\\exports\\runa'", "is a folder of Windows"),
        ('"exports/runa"', '"C:\\temp"', "with strokes, C:/exports"),
    ]
SECRET = "xq7tok3nXYZ"


@pytest.mark.parametrize(("right", "wrong", "told"), MISTAKES, ids=[wrong for _, wrong, _ in MISTAKES])
def test_a_mistake_says_what_would_be_right(tmp_path: Path, right: str, wrong: str, told: str) -> None:
    assert right in GOOD
    with pytest.raises(RosterError) as raised:
        parse_roster(GOOD.replace(right, wrong, 1), tmp_path / "roster.toml", {})
    said = str(raised.value)
    assert told in said
    assert said.startswith(str(tmp_path / "roster.toml"))
    assert len(said.splitlines()) == 1


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("born = 1991", f'password = "{SECRET}"'),
        ("[alerts]\n", f'[alerts]\ntoken = "{SECRET}"\n'),
        ('name = "Coach Ida"', f'name = "Coach Ida"\nsmtp_password = "{SECRET}"'),
        ("[[contact]]", f'secret = "{SECRET}"\n\n[[contact]]'),
    ],
)
def test_the_value_of_an_unknown_key_is_repeated_nowhere(tmp_path: Path, right: str, wrong: str) -> None:
    with pytest.raises(RosterError) as raised:
        parse_roster(GOOD.replace(right, wrong, 1), tmp_path / "roster.toml", {})
    assert "unknown" in str(raised.value)
    assert SECRET not in str(raised.value) + raised.value.elsewhere


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("born = 1991", f'born = "{SECRET}"'),
        ('id = "runa"', f'id = "{SECRET} {SECRET}"'),
        ('name = "Coach Ida"', f'name = "{SECRET * 20}"'),
        ('contacts = ["coach"]', f'contacts = ["{SECRET}"]'),
        ('urls = ["json://127.0.0.1:9/x"]', f'urls = ["{SECRET}"]'),
        ("hr_max = 188", f"hr_max = {SECRET}"),
        ("Europe/Oslo", SECRET),
        ("[[athlete.race]]", f'[athlete.columns]\ndate_order = "{SECRET}"\n\n[[athlete.race]]'),
    ],
)
def test_no_value_leaves_the_terminal_of_whoever_edits_the_roster(tmp_path: Path, right: str, wrong: str) -> None:
    assert right in GOOD
    with pytest.raises(RosterError) as raised:
        parse_roster(GOOD.replace(right, wrong, 1), tmp_path / "roster.toml", {})
    assert raised.value.elsewhere
    assert SECRET not in raised.value.elsewhere


def test_without_a_word_of_quiet_hours_the_usual_ones_hold(tmp_path: Path) -> None:
    without = GOOD.replace('quiet_hours = "21:30-06:30"\n', "", 1)
    for text in (without, without.replace("[alerts]\n", "", 1)):
        assert parse_roster(text, tmp_path / "roster.toml", {}).alerts.quiet_hours == (time(21, 30), time(6, 30))
    none = GOOD.replace("21:30-06:30", "", 1)
    assert parse_roster(none, tmp_path / "roster.toml", {}).alerts.quiet_hours is None
