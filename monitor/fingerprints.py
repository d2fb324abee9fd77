"""Under what a stored result was made: a fingerprint of exactly the code and the limits that it depends on.

The code is a module of the rules with all that it imports of them; the limits are those that this code names. So an
upgrade that changes neither asks for nothing to be made anew, and nobody has to remember to raise a number.
"""

from __future__ import annotations

import hashlib
import re
from functools import cache, lru_cache
from importlib import resources
from importlib.resources.abc import Traversable

from rules import words
from rules.limits import Limits

DIGEST = "rules.session.digest"
ONE_TRUTH = "rules.session.labels"
VERDICT = "rules.session_rules"
TRACES = "rules.session.traces"
JUDGEMENT = "rules.judge"
DECLARED = "rules.limits_schema"
"""Modules that only say what limits there are; a new one changes no result."""
READ_BY = ("denials", "red_flags")
IMPORT = re.compile(r"^\s*from (rules[\w.]*) import (\([^)]*\)|[^\n]+)|^\s*import (rules[\w.]*)", re.MULTILINE)
TAKEN = re.compile(r"limits(?:\(\))?\s*\.\s*([a-z_]+)(?:\s*\.\s*([a-z0-9_]+))?")
QUOTED = re.compile(r"""["']([a-z_]+)\.([a-z0-9_]+)["']""")
SAID = re.compile(r"\bwords\.([a-z_]+)\.")
LENGTH = 16


@lru_cache(maxsize=8)
def of_digests(limits: Limits) -> str:
    """On what a digest, and which recording stands for a session, hang."""
    return "-".join(made_by(module, limits) for module in (DIGEST, ONE_TRUTH))


def made_by(module: str, limits: Limits) -> str:
    """Fingerprint of a module of the rules, of what it imports of them and of the limits that these name."""
    named = names_of(module, limits)
    values = [repr((limit.name, limit.value)) for limit in limits if limit.name in named]
    return _hash([code_of(module), *sorted(values)])


@cache
def code_of(*modules: str) -> str:
    """Fingerprint of the code of modules and of all that they import of the rules."""
    return _hash([f"{name}\n{text}" for module in modules for name, text in sorted(_sources(module).items())])


@cache
def words_of_rules() -> str:
    """Fingerprint of the words by which check-ins are read; in which words a finding is told changes no finding."""
    folder = resources.files("rules").joinpath("words", words.LANGUAGE)
    return _hash([folder.joinpath(f"{table}.toml").read_text("utf-8") for table in READ_BY])


def names_of(module: str, limits: Limits) -> frozenset[str]:
    """Names of the limits that a module, or what it imports of the rules, may ask for."""
    named = _named(module)
    return frozenset(limit.name for limit in limits if named & {limit.name, f"{limit.name.partition('.')[0]}."})


@cache
def _named(module: str) -> frozenset[str]:
    """Names of limits as they stand in the code, `limits.gait.border_spm`, and `gait.` of a section taken whole."""
    texts = _sources(module).values()
    found = [name for text in texts for pattern in (TAKEN, QUOTED) for name in pattern.findall(text)]
    return frozenset(f"{section}.{key}" for section, key in found)


@cache
def _sources(module: str) -> dict[str, str]:
    """Module name -> text, of a module and of all that it imports of the rules."""
    found: dict[str, str] = {}
    waiting = [module]
    while waiting:
        name = waiting.pop()
        if name in found or (read := _read(name)) is None:
            continue
        found[name], imported = read
        waiting += imported
    return found


@cache
def _read(name: str) -> tuple[str, tuple[str, ...]] | None:
    """The text of a module and the names that it imports of the rules; None for what is none, or only declares."""
    if name.startswith(DECLARED) or (file := _file(name)) is None:
        return None
    text = file.read_text("utf-8")
    if name == words.__name__:
        return text, ()  # it names every module of the room; what a module says of them is found in itself
    imported: list[str] = []
    for package, names, plain in IMPORT.findall(text):
        told = re.findall(r"\w+", names)  # words of a remark or an alias among them name no module
        imported += [plain] if plain else [package, *(f"{package}.{word}" for word in told)]
    imported += [f"{words.__name__}.{words.LANGUAGE}.{room}" for room in SAID.findall(text)]
    return text, tuple(dict.fromkeys(imported))


def _file(module: str) -> Traversable | None:
    """The text of a module of the rules; None for what is none, such as a function."""
    package, *parts = module.split(".")
    place = resources.files(package)
    for part in parts[:-1]:
        place = place.joinpath(part)
    if not parts:
        return place.joinpath("__init__.py")
    own = place.joinpath(f"{parts[-1]}.py")
    inner = place.joinpath(parts[-1], "__init__.py")
    return own if own.is_file() else inner if inner.is_file() else None


def _hash(parts: list[str]) -> str:
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:LENGTH]
