"""File names as text that can be stored and shown, and back: a name on disk may hold bytes that spell nothing."""

from __future__ import annotations

_PRIVATE = 0xF700  # a corner of Unicode's private area; undecodable bytes 0x80-0xFF stand there as U+F780-U+F7FF
_TO_TEXT = {0xDC00 + byte: _PRIVATE + byte for byte in range(0x80, 0x100)}  # from Python's surrogateescape
_TO_NAME = {private: escaped for escaped, private in _TO_TEXT.items()}


def as_text(name: str) -> str | None:
    """A name or path from the system as valid Unicode; None for one that would not lead back to itself."""
    text = name.translate(_TO_TEXT)
    try:
        text.encode()
    except UnicodeEncodeError:
        return None
    return text if as_name(text) == name else None


def as_name(text: str) -> str:
    """The name that the system knows, from its text."""
    return text.translate(_TO_NAME)
