"""Facts and findings to and from the JSON text that the store keeps."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import TypeAdapter

Fact = TypeVar("Fact")


_adapters: dict[Any, TypeAdapter[Any]] = {}  # one for each of a handful of types


def _adapter(kind: Any) -> TypeAdapter[Any]:
    if kind not in _adapters:
        _adapters[kind] = TypeAdapter(kind)
    return _adapters[kind]


def to_text(fact: object, kind: Any = None) -> str:
    """JSON of a frozen dataclass (or of `kind`, where the type says more than the value's class)."""
    return _adapter(kind or type(fact)).dump_json(fact).decode()


def from_text(kind: type[Fact], text: str) -> Fact:
    fact: Fact = _adapter(kind).validate_json(text)
    return fact
