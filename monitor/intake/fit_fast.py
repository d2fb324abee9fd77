"""FIT messages by the fast decoder, where it is installed: all of them, or a reason why there are none."""

from __future__ import annotations

import gc
from types import ModuleType

from monitor.intake.fit_messages import Messages

OUT_OF_MEMORY = "Python API call failed"  # its panic where Python has no memory for a string; nothing slower would do
NOT_INSTALLED = "the fast decoder is not installed"


def _decoder() -> ModuleType | None:
    """Imported when first needed: there are platforms that it has no build for."""
    try:
        import fitfast  # noqa: PLC0415 - optional
    except ImportError:
        return None
    return fitfast


def decode(data: bytes) -> Messages | str:
    """All messages of one FIT file, or the reason why there are none."""
    decoder = _decoder()
    if decoder is None:
        return NOT_INSTALLED
    collecting = gc.isenabled()
    gc.disable()  # a day of records is a million dicts, none of them a cycle
    try:
        return decoder.parse(data)  # type: ignore[no-any-return]
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as error:  # its panics are BaseException
        if str(error) == OUT_OF_MEMORY:
            raise MemoryError from error
        return _reason(error)
    finally:
        if collecting:
            gc.enable()


def count_records(data: bytes) -> int | None:
    """How many records there are, cheaply; None when the decoder cannot say."""
    decoder = _decoder()
    if decoder is None:
        return None
    try:
        return int(decoder.message_counts(data).get("record", 0))
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException:  # noqa: BLE001 - its panics are BaseException
        return None


def _reason(error: BaseException) -> str:
    if isinstance(error, Exception):
        return str(error).removeprefix("FIT decode error: ").strip()[:160] or type(error).__name__
    return "the fast decoder broke down on it"
