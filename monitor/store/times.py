"""Aware moments to and from the store, which keeps UTC without a zone."""

from __future__ import annotations

from datetime import UTC, datetime


def to_store(moment: datetime) -> datetime:
    """Naive UTC."""
    return moment.astimezone(UTC).replace(tzinfo=None)


def to_store_or_none(moment: datetime | None) -> datetime | None:
    return None if moment is None else to_store(moment)


def from_store(moment: datetime) -> datetime:
    """Aware, UTC."""
    return moment.replace(tzinfo=UTC)


def from_store_or_none(moment: datetime | None) -> datetime | None:
    return None if moment is None else from_store(moment)
