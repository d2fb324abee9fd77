"""The documents tell the truth: every name is in them, every example runs, every path exists."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path
from typing import get_args

import pytest
import typer

from monitor.alerts.channels import check_url
from monitor.cli.main import app
from monitor.initialise import known_events
from monitor.intake.checkin import checkins_of
from monitor.intake.nights_csv import read_csv
from monitor.roster import parse_roster
from monitor.roster.shape import AlertsShape, AthleteShape, ContactShape, PageShape, RaceShape
from monitor.store.database import Store
from monitor.values import IntakeOptions
from rules.catalogue import catalogue
from rules.limits import default_limits
from tests.homes import LATER, ROSTER, fallow, make_home
from tests.monitor.cli.test_scan import KEYS as SCAN_KEYS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
BOTH = README + DEVELOPERS
COMMANDS = sorted(typer.main.get_command(app).commands)
OPTIONS = IntakeOptions("Europe/Oslo")
SKIPPED = {
    "fallow init": "asks",
    "fallow watch": "runs until it is stopped; tests/process starts it",
    "fallow demo": "tests/process runs it",
    "fallow serve": "runs until it is stopped; tests/process starts it",
}


def _fences(language: str, text: str = README) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def _lines() -> list[str]:
    """Every line of a shell example that calls fallow, without its comment."""
    lines = [line.split("  #")[0].strip() for block in _fences("sh") for line in block.splitlines()]
    return [line for line in lines if line.startswith("fallow ")]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_described_and_shows_an_example(command: str) -> None:
    assert f"`fallow {command}" in README
    assert f"Example: fallow {command}" in " ".join(fallow(command, "--help").out.split())


def test_no_command_is_described_that_does_not_exist() -> None:
    named = set(re.findall(r"`fallow ([a-z]+)", BOTH))
    assert named <= set(COMMANDS)


@pytest.mark.parametrize("rule", [rule.id for rule in catalogue()])
def test_every_rule_is_described(rule: str) -> None:
    assert f"| `{rule}` |" in README


@pytest.mark.parametrize(
    "key",
    sorted(
        {key for shape in (AlertsShape, PageShape, ContactShape, AthleteShape, RaceShape) for key in shape.model_fields}
    ),
)
def test_every_roster_key_is_described(key: str) -> None:
    named = "athlete.race" if key == "race" else "athlete.columns" if key == "columns" else key
    assert re.search(rf"\b{re.escape(named)}\b", README)
    assert re.search(rf"\b{re.escape(named)}\b", (ROOT / "config/roster.example.toml").read_text("utf-8"))


def test_every_event_is_named_with_its_days() -> None:
    days = default_limits().plan.event_days
    told = (
        README.split("**Length.**")[1].split("\n\n")[0].replace("\n", " ").replace(" and ultra_100mi", ", ultra_100mi")
    )
    told = told.replace("ultra_100k, ultra_100mi 35", "ultra_100k 35, ultra_100mi 35")
    events = [event for event in known_events() if event != "custom"]
    assert len(events) >= 10
    for event in events:
        assert re.search(rf"\b{event} {days[event]}\b", told), event


@pytest.mark.parametrize("key", sorted(SCAN_KEYS))
def test_every_key_of_scan_is_described(key: str) -> None:
    assert f"`{key}`" in DEVELOPERS


def test_rosters_in_the_documents_are_right(tmp_path: Path) -> None:
    (roster,) = [parse_roster(text, tmp_path / "roster.toml", {}) for text in _fences("toml") if "[[athlete]]" in text]
    assert roster.athletes[0].id == "runa"
    example = parse_roster((ROOT / "config/roster.example.toml").read_text("utf-8"), tmp_path / "roster.toml", {})
    assert [one.id for one in example.athletes] == ["runa", "odd"]


def test_checkins_in_the_documents_are_read() -> None:
    (document,) = _fences("json")
    (checkin,) = checkins_of(json.loads(document), OPTIONS).checkins
    assert (checkin.pain_where, checkin.symptoms) == ("left calf", ("dark urine",))
    table, _ = _fences("csv")
    (row,) = read_csv(table.encode(), OPTIONS).checkins
    assert (row.stairs_unaided, row.pain, row.note) == (False, 2, "downstairs backwards")


def test_a_form_of_other_words_is_read_by_the_mapping_beside_it(tmp_path: Path) -> None:
    whole, columns = _fences("toml")
    _, table = _fences("csv")
    mapped = parse_roster(
        whole.replace("[[athlete.race]]", columns + "\n[[athlete.race]]"), tmp_path / "roster.toml", {}
    )
    first, second = read_csv(table.encode(), mapped.athletes[0].options).checkins
    assert (first.date.isoformat(), second.date.isoformat()) == ("2026-10-06", "2026-10-07")
    assert (first.stairs_unaided, first.squat_unaided, first.soreness, first.pain) == (True, False, 6, 2)
    assert (first.pain_where, first.symptoms, first.note) == (
        "left calf", ("fever", "dark urine"), "downstairs backwards",
    )  # fmt: skip
    assert (second.squat_unaided, second.pain, second.pain_where, second.symptoms) == (True, 1.5, None, ())


@pytest.fixture(scope="module")
def read_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    roster = ROSTER.format(url="json://127.0.0.1:9/nobody") + "\n[page]\n"
    home = make_home(tmp_path_factory.mktemp("docs") / "home", roster)
    fallow("scan", "--as-of", LATER, home=home)
    return home


def test_commands_in_the_readme_run(read_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One after the other, as a reader would type them: on a home that was read, `init` on a new one."""
    home = Path(shutil.copytree(read_home, tmp_path / "home"))
    monkeypatch.chdir(ROOT)
    ran = 0
    for line in _lines():
        if line in SKIPPED:
            continue
        arguments = shlex.split(line.split(" > ")[0])[1:]
        where = tmp_path / "new" if arguments[0] == "init" else home
        done = fallow(*arguments, home=where)
        down = arguments == ["doctor", "--send"]  # the channel of this home is nowhere
        assert done.status == (1 if down else 0), f"{line}\n{done.out}{done.err}"
        ran += 1
    assert ran >= 12


GROUP = typer.main.get_command(app)
OPTIONS_OF_ALL = {name for parameter in GROUP.params for name in parameter.opts}


def _options(command: str) -> set[str]:
    params = GROUP.commands[command].params
    return OPTIONS_OF_ALL | {"--help"} | {name for one in params for name in (*one.opts, *one.secondary_opts)}


def _told() -> list[tuple[str, str]]:
    """Every command with an option, wherever it is shown: in text, in tables, in comments of the configuration."""
    texts = [BOTH, *(path.read_text("utf-8") for path in sorted((ROOT / "config").iterdir()))]
    shown = [line for text in texts for line in re.findall(r"\bfallow [a-z]+(?: [^`\n|]*)?", text)]
    shown += [row for row in README.splitlines() if row.startswith("| `fallow ")]
    found = []
    for line in shown:
        commands = [name for name in re.findall(r"fallow ([a-z]+)", line) if name in COMMANDS]
        found += [(command, option) for command in commands[:1] for option in re.findall(r"(?<![\w-])--[a-z-]+", line)]
    return sorted(set(found))


@pytest.mark.parametrize(("command", "option"), _told())
def test_every_option_that_is_shown_with_a_command_is_one_of_it(command: str, option: str) -> None:
    assert option in _options(command)


def test_addresses_of_alerts_in_the_readme_can_be_sent_to() -> None:
    shown = re.findall(r"^\| .* \| `(\w+://[^`]+)`", README, re.MULTILINE)
    assert len(shown) >= 3
    assert [check_url(address) for address in shown] == [None] * len(shown)


def test_the_commands_that_install_a_service_are_those_of_its_file() -> None:
    for name in ("fallow.service", "fallow.plist"):
        (command,) = [code for code in re.findall(r"^\| \w+ \| `([^`]+)`", README, re.MULTILINE) if name in code]
        assert command in (ROOT / "config" / name).read_text("utf-8")


@pytest.mark.parametrize("key", ["conditions", "effort"])
def test_every_word_that_a_race_takes_is_in_the_readme(key: str) -> None:
    (line,) = re.findall(rf"^{key} = .*# (.*)$", README, re.MULTILINE)
    kind = RaceShape.model_fields[key].annotation
    words = get_args(get_args(kind)[0]) if key == "conditions" else get_args(kind)
    assert set(words) <= set(re.findall(r"\w+", line))


def test_files_named_in_the_documents_exist() -> None:
    for name in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README):
        assert (ROOT / name).is_file(), name
    for name in re.findall(r"(?<![.\w])config/[\w.-]+\w", BOTH):
        assert (ROOT / name).exists(), name
    for name in re.findall(r"`((?:config|sample_exports|tests|rules|monitor|\.ci)/[\w./-]*)`", BOTH):
        assert (ROOT / name).exists(), name
    assert "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/fallow demo" in README
    assert "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/pytest" in README


def test_the_alert_in_the_readme_is_the_one_that_is_sent(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = re.search(r"<!-- alert: (\S+) (\w+) (\w+) -->\n```text\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert found
    as_of, contact, rule, shown = found.groups()
    monkeypatch.setenv("DEMO_PORT", "9")
    shutil.copytree(ROOT / "sample_exports/exports", tmp_path / "exports")
    shutil.copy(ROOT / "sample_exports/roster.toml", tmp_path / "roster.toml")
    assert fallow("scan", "--as-of", as_of, home=tmp_path).status == 0
    (finding,) = fallow("findings", "--rule", rule, "--json", home=tmp_path).json()
    with Store(tmp_path / "fallow.duckdb").reading() as con:
        rows = con.execute("SELECT title, body, findings FROM outbox WHERE contact = ?", [contact]).fetchall()
    (sent,) = [f"{title}\n\n{body}" for title, body, ids in rows if finding["id"] in ids]
    assert shown.split() == sent.split(), f"the README should show:\n{sent}"
