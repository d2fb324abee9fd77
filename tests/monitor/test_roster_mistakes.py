"""A mistake of somebody who edits the roster by hand is answered in words of the file, with what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.errors import RosterError
from monitor.roster import parse_roster
from tests.homes import ROSTER

GOOD = ROSTER.format(url="json://127.0.0.1:9/x")
MISTAKES = [
    ('contacts = ["coach"]', 'contacts = "coach"', 'must be a list, as in contacts = ["..."]'),
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
]


@pytest.mark.parametrize(("right", "wrong", "told"), MISTAKES, ids=[wrong for _, wrong, _ in MISTAKES])
def test_a_mistake_says_what_would_be_right(tmp_path: Path, right: str, wrong: str, told: str) -> None:
    assert right in GOOD
    with pytest.raises(RosterError) as raised:
        parse_roster(GOOD.replace(right, wrong, 1), tmp_path / "roster.toml", {})
    said = str(raised.value)
    assert told in said
    assert said.startswith(str(tmp_path / "roster.toml"))
    assert len(said.splitlines()) == 1
