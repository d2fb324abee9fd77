"""Sentences for the ledger, each once; of very many the first are kept and the rest counted."""

from __future__ import annotations

MOST_REMARKS = 20


class Remarks:
    def __init__(self) -> None:
        self._told: dict[str, None] = {}
        self._more = 0

    def __bool__(self) -> bool:
        return bool(self._told)

    def add(self, sentence: str) -> None:
        if sentence in self._told:
            return
        if len(self._told) < MOST_REMARKS:
            self._told[sentence] = None
        else:
            self._more += 1

    def first(self) -> str:
        return next(iter(self._told))

    def all(self) -> tuple[str, ...]:
        return (*self._told, f"and {self._more} more like these") if self._more else tuple(self._told)
