"""The words of a day, read once from `today.toml`."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any


@cache
def table() -> dict[str, Any]:
    return tomllib.loads(resources.files("rules").joinpath("today.toml").read_text("utf-8"))
