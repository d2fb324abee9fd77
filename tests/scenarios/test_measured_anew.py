"""After an upgrade all digests are of one code and one set of limits, and are those that a new home makes."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from monitor.clock import FixedClock
from monitor.errors import WorkFailed
from monitor.intake import sessions as redigesting
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.single_pass import single_pass
from monitor.store import findings
from monitor.views.replay import replay_view
from rules.limits import Limits, default_limits
from rules.session.labels import quality
from tests.scenarios.home import Scene
from tests.scenarios.odd_devices import fit, gpx, now_and_then, recorded
from tests.scenarios.outings import outing, ride, run, walk
from tests.scenarios.test_contract_cases import HILLS, JOG_IN_WALK, at

NIGHT = at(9, 22)
NONSENSE = '{"sport": "rowing", "running_s": 0}'


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, workers: Workers) -> Scene:
    """Sessions of several kinds: hills, a hidden run, one in two files, one told twice, one without samples."""
    scene = Scene(tmp_path_factory.mktemp("filled"), workers)
    scene.drop("hills.fit", fit(at(2), recorded(HILLS, position_noise_m=2)))
    scene.drop("jog.fit", outing(at(4), "walking", JOG_IN_WALK))
    whole = recorded(run(30, 150), position_noise_m=2)
    scene.drop("phone.gpx", gpx(at(5), now_and_then(whole), "walking"))
    scene.drop("watch.fit", fit(at(5), whole))
    scene.drop("first.fit", outing(at(6, 9), "cycling", ride(20, 130)))
    scene.drop("second.fit", outing(at(6, 9, 21), "cycling", ride(20, 128), noise=2))
    scene.drop("walk.fit", outing(at(7), "walking", walk(40)))
    scene.scan(NIGHT)
    return scene


def made(scene: Scene) -> tuple[list[object], list[object]]:
    with scene.scanner(NIGHT).store.reading() as con:
        recordings = con.execute("SELECT sha256, part, quality, digest, digest_by FROM recording ORDER BY ALL")
        told = recordings.fetchall()
        sessions = con.execute("SELECT key, version, digest, digest_by, source FROM session ORDER BY ALL").fetchall()
    return told, sessions


def as_of_old_code(scene: Scene, *, none: bool = False) -> None:
    """As a release before this one left it: other numbers in every digest, and what was judged by them."""
    with scene.scanner(NIGHT).store.writing() as con:
        for table in ("recording", "session"):
            con.execute(f"UPDATE {table} SET digest = ?, digest_by = ?", [NONSENSE, None if none else "older"])
        con.execute("UPDATE recording SET quality = 0")
        con.execute("UPDATE judged SET fingerprint = 'older/older'")
        con.execute("UPDATE finding SET withdrawn_at = found_at")
        con.execute("DELETE FROM verdict")


def ledger(scene: Scene) -> dict[str, tuple[str, int, str]]:
    with scene.scanner(NIGHT).store.reading() as con:
        rows = con.execute("SELECT path, state, sessions, reason FROM intake WHERE current").fetchall()
    return {path: (state, count, reason) for path, state, count, reason in rows}


def test_what_is_told_better_elsewhere_is_counted_anew_with_the_digests(
    filled: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = ledger(filled)
    assert (before["watch.fit"][:2], before["phone.gpx"][:2]) == (("read", 1), ("duplicate", 0))
    assert "watch.fit" in before["phone.gpx"][2]
    as_of_old_code(filled)
    with monkeypatch.context() as other:
        other.setattr(redigesting, "quality", lambda *given: 1e6 - quality(*given))
        single_pass(filled.scanner(NIGHT))
        upside_down = ledger(filled)
    assert (upside_down["watch.fit"][:2], upside_down["phone.gpx"][:2]) == (("duplicate", 0), ("read", 1))
    assert "phone.gpx" in upside_down["watch.fit"][2]
    as_of_old_code(filled)
    single_pass(filled.scanner(NIGHT))
    assert ledger(filled) == before


@pytest.mark.parametrize("none", [False, True])
def test_digests_of_older_code_are_made_anew_and_are_those_of_a_new_home(filled: Scene, none: bool) -> None:
    before, found = made(filled), filled.findings()
    assert len(found) >= 3
    as_of_old_code(filled, none=none)
    scanner = filled.scanner(NIGHT)
    assert scanner.digests_waiting() == len(before[0])
    single_pass(scanner)
    assert made(filled) == before
    assert sorted(filled.findings(), key=lambda one: one.id) == sorted(found, key=lambda one: one.id)
    assert scanner.digests_waiting() == 0
    assert not scanner.redigest()


def test_the_daemon_makes_them_anew_a_part_at_a_time_and_judges_then(
    filled: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, found = made(filled), {one.id for one in filled.findings()}
    as_of_old_code(filled)
    monkeypatch.setattr("monitor.scanning.DIGESTED_AT_ONCE", 3)
    scanner = filled.scanner(NIGHT)
    parts = 0
    while (done := scanner.timers()).more:
        parts += 1
        assert not done.judged, "half of a history of other numbers is not judged"
    assert parts == -(-len(before[0]) // 3)
    assert {one.id for one in filled.findings()} == found
    assert made(filled) == before


def test_a_new_file_is_judged_at_once_while_digests_are_made_anew(
    filled: Scene, tmp_path: Path, workers: Workers
) -> None:
    found = {one.id for one in filled.findings()}
    as_of_old_code(filled)
    scanner = filled.scanner(at(9, 23))
    assert scanner.redigest(1) == 1
    filled.drop("long.fit", outing(at(8), "cycling", ride(100, 118)))
    filled.scan(at(9, 23))
    rules = {one.rule for one in filled.findings()}
    assert "duration_cap" in rules
    assert scanner.digests_waiting() > 0
    while scanner.redigest():
        pass
    scanner.judge_due()
    assert found < {one.id for one in filled.findings()}


def test_what_was_made_before_a_stop_is_not_made_again(filled: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    as_of_old_code(filled)
    scanner = filled.scanner(NIGHT)
    waiting = scanner.digests_waiting()
    assert scanner.redigest(2) == 2
    assert filled.scanner(NIGHT).digests_waiting() == waiting - 2
    while scanner.redigest():
        pass
    scanner.judge_due()


def test_samples_that_the_rules_break_down_on_keep_their_digest_and_hold_nothing_up(
    filled: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = made(filled)
    as_of_old_code(filled)

    def breaks(*_: object) -> None:
        raise WorkFailed("on purpose")

    with monkeypatch.context() as patched:
        patched.setattr(redigesting, "make_digest", breaks)
        scanner = filled.scanner(NIGHT)
        while scanner.redigest():
            pass
    assert scanner.digests_waiting() == 0
    as_of_old_code(filled)
    single_pass(filled.scanner(NIGHT))
    assert made(filled) == before


def other(**sections: dict[str, float]) -> Limits:
    return default_limits().overridden(sections)


@pytest.mark.parametrize(
    "limits",
    [
        other(cleaning={"hr_highest": 120.0}),
        other(gait={"least_running_s": 500.0, "least_running_by_cadence_s": 500.0, "least_running_by_speed_s": 500.0}),
        other(one_truth={"join_gap_seconds": 0.0}),
        other(rest_hours={"caution_hours": 200.0}),
    ],
)  # fmt: skip
def test_replay_under_other_limits_finds_what_a_new_home_under_them_finds(
    limits: Limits, filled: Scene, tmp_path: Path, workers: Workers
) -> None:
    roster = read_roster(filled.home.roster)
    with filled.scanner(NIGHT).store.reading() as con:
        shown = replay_view(con, roster, roster.athletes, NIGHT, limits)
        before = {one.id: str(one.severity) for one in findings.standing(con, "runa")}
    for row in shown["changes"]:
        if row["after"] is None:
            del before[row["id"]]
        else:
            before[row["id"]] = row["after"]
    fresh = Scene(tmp_path, workers)
    for path in filled.exports.iterdir():
        fresh.drop(path.name, path.read_bytes())
    scanner = Scanner(
        fresh.home, read_roster(fresh.home.roster), FixedClock(NIGHT), workers=workers, send=fresh.sent, limits=limits
    )
    fresh.scan(NIGHT)
    while scanner.redigest():
        pass
    scanner.judge_due()
    assert {one.id: str(one.severity) for one in fresh.findings()} == before


def test_a_whole_season_is_judged_again_after_the_last_of_them(filled: Scene) -> None:
    as_of_old_code(filled)
    scanner = filled.scanner(NIGHT)
    while scanner.redigest():
        pass
    with scanner.store.reading() as con:
        since = dict(con.execute("SELECT athlete, since FROM unjudged").fetchall())
    assert since == {"runa": date(2026, 10, 6)}
    scanner.judge_due()
