"""A fingerprint names exactly the code and the limits that a digest or a verdict hangs on."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from monitor import fingerprints
from monitor.intake.sessions import make_digest
from monitor.values import Recording
from rules.limits import SECTIONS, Limit, Limits, default_limits
from tests.homes import FINISH
from tests.scenarios.odd_devices import recorded
from tests.scenarios.outings import run

ROOT = Path(__file__).parents[2]


class Asked:
    """Limits that remember which of them were asked for."""

    def __init__(self, names: set[str], at: str = "") -> None:
        self.names, self.at = names, at

    def __getattr__(self, key: str) -> Any:
        if not self.at:
            return Asked(self.names, key) if key in SECTIONS else getattr(default_limits(), key)
        self.names.add(f"{self.at}.{key}")
        return getattr(getattr(default_limits(), self.at), key)

    def source(self, name: str) -> str:
        self.names.add(name)
        return default_limits().source(name)

    def limit(self, name: str) -> Limit:
        self.names.add(name)
        return default_limits().limit(name)


def with_value(name: str, value: float) -> Limits:
    section, key = name.split(".")
    return default_limits().overridden({section: {key: value}})


@pytest.mark.parametrize("sport", ["running", "walking", "cycling", "generic"])
def test_no_limit_acts_on_a_digest_but_those_that_its_fingerprint_counts(sport: str) -> None:
    names: set[str] = set()
    columns = {name: np.asarray(column, dtype=np.float64) for name, column in recorded(run(30, 150)).items()}
    length = float(columns["t_s"][-1])
    make_digest(
        Recording(FINISH, FINISH, sport, "generic", length, length, 5000.0, columns),
        columns,
        cast("Limits", Asked(names)),
    )
    assert names
    assert names <= fingerprints.names_of(fingerprints.DIGEST, default_limits())


@pytest.mark.parametrize(
    "module", [fingerprints.DIGEST, fingerprints.VERDICT, fingerprints.TRACES, fingerprints.JUDGEMENT]
)
def test_the_code_is_all_that_a_module_imports_of_the_rules(module: str) -> None:
    """Held against the parser of the language itself."""
    found: set[str] = set()
    waiting = [module]
    while waiting:
        name = waiting.pop()
        file = ROOT.joinpath(*name.split(".")).with_suffix(".py")
        file = file if file.is_file() else ROOT.joinpath(*name.split("."), "__init__.py")
        if name in found or not file.is_file() or "limits_schema" in name:
            continue
        found.add(name)
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and str(node.module).split(".")[0] == "rules" and name != "rules.words":
                waiting += [str(node.module), *(f"{node.module}.{alias.name}" for alias in node.names)]
            if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "words":
                waiting.append(f"rules.words.en.{node.attr}")
    assert set(fingerprints._sources(module)) == found


def test_the_tables_by_which_rules_read_are_those_that_ask_for_judging_again() -> None:
    outside = [path for path in (ROOT / "rules").rglob("*.py") if not {"words", "catalogue.py"} & set(path.parts)]
    read = {name for path in outside for name in re.findall(r'\btexts\(["\'](\w+)', path.read_text("utf-8"))}
    assert read == set(fingerprints.READ_BY)


def test_limits_are_called_limits_in_the_rules_so_that_their_names_are_found() -> None:
    """A parameter of that kind, and a name that is given the limits of something else."""
    nodes = [
        (f"{file}:{node.lineno}", node)
        for file in (ROOT / "rules").rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.arg | ast.Assign)
    ]
    taken = [(place, node.arg) for place, node in nodes if isinstance(node, ast.arg) and _annotated_as_limits(node)]
    given = [
        (place, ast.unparse(node.targets[0]))
        for place, node in nodes
        if isinstance(node, ast.Assign) and ast.unparse(node.value).endswith(("limits", "limits()"))
    ]
    assert taken
    assert [place for place, name in taken if name != "limits"] == []
    assert [place for place, name in given if not name.endswith("limits")] == []


def _annotated_as_limits(node: ast.arg) -> bool:
    return node.annotation is not None and ast.unparse(node.annotation) == "Limits"


def test_another_value_of_a_limit_that_acts_on_it_makes_another_fingerprint_and_of_no_other() -> None:
    before = fingerprints.of_digests(default_limits())
    acting = min(name for name in _names() if isinstance(default_limits().limit(name).value, int | float))
    assert fingerprints.of_digests(with_value(acting, default_limits().limit(acting).value + 1)) != before
    assert fingerprints.of_digests(with_value("rest_hours.stop_hours", 50)) == before


def test_a_new_limit_changes_no_fingerprint_by_its_line_in_the_schema() -> None:
    """Though every module of the rules imports it."""
    assert not [name for name in fingerprints._sources(fingerprints.JUDGEMENT) if "schema" in name]


def _names() -> frozenset[str]:
    return fingerprints.names_of(fingerprints.DIGEST, default_limits())


def test_other_code_makes_another_fingerprint(monkeypatch: pytest.MonkeyPatch) -> None:
    before = fingerprints.made_by(fingerprints.DIGEST, default_limits())
    sources = dict(fingerprints._sources(fingerprints.DIGEST))
    sources["rules.session.gait"] += "\nMORE = 1\n"
    fingerprints.code_of.cache_clear()
    monkeypatch.setattr(fingerprints, "_sources", lambda module: sources)
    try:
        assert fingerprints.made_by(fingerprints.DIGEST, default_limits()) != before
    finally:
        fingerprints.code_of.cache_clear()
