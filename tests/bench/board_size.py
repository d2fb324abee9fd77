"""How long the board of 200 and of 1,000 athletes takes and how large it gets.

Run by hand: python -m tests.bench.board_size [N ...]; all processes count, and one athlete of all is drawn again.

The invented athlete of the sample exports is read once and then copied inside the store: her season is put before
itself twice, so that each copy has some twenty weeks of training, a race, and three weeks after it.
"""

from __future__ import annotations

import cProfile
import pstats
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from monitor.board import write
from monitor.board.session_view import ViewCache
from monitor.demo import CHAPTERS, staged
from monitor.home import Home
from monitor.roster import Roster, read_roster
from monitor.store.connections import kept
from monitor.store.database import Store
from rules.limits import default_limits
from tests.bench import machine

ATHLETE = """
[[athlete]]
id = "a{n}"
name = "Athlete Number {n}"
folder = "exports/a{n}"
timezone = "Europe/Oslo"
born = 1991
sex = "female"
hr_max = 188
hr_rest = 47
threshold_hr = 171
threshold_pace = "4:20"
contacts = ["ida"]

[[athlete.race]]
event = "ultra_50k"
finish = 2026-10-04T12:32:39
result = "5:32:39"
conditions = ["hills"]
"""
CONTACT = '[[contact]]\nid = "ida"\nname = "Coach Ida"\nurls = ["json://127.0.0.1:9/nobody"]\n'
EARLIER = """
INSERT INTO session SELECT s.* REPLACE (key || '-' || back AS key, started - to_days(70 * back) AS started,
    ended - to_days(70 * back) AS ended)
    FROM session s, (SELECT unnest([1, 2])::INTEGER AS back) WHERE s.started < TIMESTAMP '2026-10-03';
"""
COPIES = """
CREATE TEMP TABLE copies AS SELECT unnest(range(1, {n}))::INTEGER AS n;
INSERT INTO recording SELECT r.* REPLACE (number + n * 1000 AS number, 'a' || n AS athlete) FROM recording r, copies;
INSERT INTO session SELECT s.* REPLACE ('a' || n AS athlete,
    to_json(list_transform(parts::JSON::INTEGER[], lambda x: x + n * 1000))::VARCHAR AS parts) FROM session s, copies;
INSERT INTO night SELECT s.* REPLACE ('a' || n AS athlete) FROM night s, copies;
INSERT INTO morning SELECT s.* REPLACE ('a' || n AS athlete) FROM morning s, copies;
INSERT INTO checkin SELECT s.* REPLACE ('a' || n AS athlete) FROM checkin s, copies;
INSERT INTO hold SELECT s.* REPLACE ('a' || n AS athlete) FROM hold s, copies;
INSERT INTO intake SELECT s.* REPLACE ('a' || n AS athlete) FROM intake s, copies;
INSERT INTO trace SELECT t.* REPLACE ('a' || n AS athlete) FROM trace t, copies;
INSERT INTO finding SELECT f.* REPLACE (substr(md5(id || n), 1, 10) AS id, 'a' || n AS athlete,
    replace(replace(fact, '"a0"', '"a' || n || '"'), id, substr(md5(id || n), 1, 10)) AS fact) FROM finding f, copies;
"""


SAMPLES = "INSERT INTO sample SELECT * REPLACE (recording + {n} * 1000 AS recording) FROM sample WHERE recording < 1000"
"""A copy at a time: the rows of a recording stand in the order of time."""


def season(home: Home, athletes: int) -> Roster:
    """A home with so many athletes of one and the same season."""
    with staged(home) as demo:
        for _ in demo.chapters():
            pass
    home.roster.write_text(CONTACT + "".join(ATHLETE.format(n=n) for n in range(athletes)), "utf-8")
    with Store(home.store).writing() as con:
        for table in ("recording", "session", "night", "morning", "checkin", "hold", "finding", "trace", "intake"):
            con.execute(f"UPDATE {table} SET athlete = 'a0'")
        con.execute("""UPDATE finding SET fact = replace(fact, '"runa"', '"a0"')""")
        con.execute(EARLIER)
        con.execute(COPIES.format(n=athletes))
        for n in range(1, athletes):
            con.execute(SAMPLES.format(n=n))
    return read_roster(home.roster)


def main(athletes: int) -> None:
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        home = Home(Path(folder) / "home")
        roster = season(home, athletes)
        stack.enter_context(kept(home.store))  # as the daemon keeps it
        store, limits, now = Store(home.store), default_limits(), CHAPTERS[-1].until
        with store.reading() as con:
            told = con.execute("SELECT (SELECT count(*) FROM session), (SELECT count(*) FROM finding)").fetchone()
        print(f"{athletes} athletes, {told} sessions and findings, store {home.store.stat().st_size / 1e6:.0f} MB")
        view_cache, beside = ViewCache(store, limits), home.path / "board"
        for name in ("cold", "nothing changed", "one changed", "one changed"):
            if name == "one changed":
                del view_cache.lines["a0"]
                (beside / "a0.html").unlink()
            before, spent, own = time.time(), machine.own_cpu_seconds(), time.process_time()
            path = write(home, roster, store, now, limits, view_cache)
            took, used = time.time() - before, machine.own_cpu_seconds() - spent
            own = time.process_time() - own
            size = sum(each.stat().st_size for each in beside.glob("*.html"))
            print(
                f"{name}: {took:.2f} s ({used:.2f} s of processor, {own:.2f} of it here),"
                f" to be seen after {path.stat().st_mtime - before:.2f} s,"
                f" {path.stat().st_size / 1e6:.2f} MB and {size / 1e6:.1f} MB beside it"
            )
        del view_cache.lines["a0"]
        (beside / "a0.html").unlink()
        profile = cProfile.Profile()
        profile.runcall(write, home, roster, store, now, limits, view_cache)
        pstats.Stats(profile).sort_stats("cumulative").print_stats(40)


if __name__ == "__main__":
    for number in sys.argv[1:] or ("200", "1000"):
        main(int(number))
