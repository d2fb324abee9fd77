"""What goes out each morning: an athlete's own day, and one message to a coach of several."""

import json
from datetime import datetime
from pathlib import Path

from monitor.intake.workers import Workers
from tests.scenarios.home import ROSTER, Scene

SEVEN = datetime.fromisoformat("2026-10-08T07:05:00+02:00")
OWN = """
[[contact]]
id = "runa"
role = "athlete"
urls = ["json://127.0.0.1:9/runa"]
receives = "caution"
daily = "07:00"
"""


def roster(count: int) -> str:
    contact, athlete = ROSTER.split("[[athlete]]")
    contact = contact.replace('receives = "note"', 'receives = "stop"\ndaily = "07:00"')
    entries = [
        "[[athlete]]" + athlete.replace('"runa"', f'"a{n}"').replace("Runa Vik", f"Runa{n} Vik")
        .replace('"exports"', f'"exports/a{n}"').replace('["coach"]', '["coach", "runa"]' if n == 0 else '["coach"]')
        for n in range(count)
    ]  # fmt: skip
    return contact + OWN + "".join(entries)


def morning(scene: Scene, now: datetime = SEVEN) -> list[tuple[str, str, str]]:
    scanner = scene.scanner(now)
    while scanner.timers().more:
        pass
    scene.sent.messages.clear()
    scanner.deliver(gather_now=True)
    return scene.sent.messages


def test_a_coach_of_several_gets_one_message_a_morning_and_each_athlete_the_own(
    tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers, roster(12))
    for n in range(12):
        (scene.exports / f"a{n}").mkdir()
    sent = morning(scene)
    to_coach = [title for url, title, _ in sent if url.endswith("hook")]
    assert to_coach == ["No word needed; nothing new from Runa0, Runa1, Runa10 and 9 more"]
    assert [title for url, title, _ in sent if url.endswith("runa")] == ["Day 4: 45 min easy, no running"]
    assert morning(scene) == []


def test_a_coach_of_one_athlete_gets_the_day_with_the_answer_in_the_title(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers, roster(1))
    (scene.exports / "a0").mkdir()
    assert "Runa0, day 4: 45 min easy, no running" in [title for _, title, _ in morning(scene)]


def test_who_told_of_a_sign_for_a_doctor_stands_first_in_the_coachs_morning(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers, roster(3))
    for n in range(3):
        (scene.exports / f"a{n}").mkdir()
    told = {"date": "2026-10-08", "stairs_unaided": True, "symptoms": ["chest pain"]}
    scene.drop("a2/2026-10-08.checkin.json", json.dumps(told))
    scanner = scene.scanner(SEVEN)
    from monitor.folders.listing import settled

    scanner.take([("a2", seen) for seen in settled(scene.exports / "a2", {}, wall=lambda: 4e9)[0]])
    (body,) = [body for url, title, body in morning(scene) if url.endswith("hook") and "need" in title]
    assert body.startswith("Phone now: Runa2, “chest pain”.")
