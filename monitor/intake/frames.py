"""Objects through a pipe between a worker and its parent; arrays go beside the pickle, uncopied."""

from __future__ import annotations

import pickle
import struct
from typing import IO, Any

_HEAD = struct.Struct("<I")
_LENGTH = struct.Struct("<Q")
END_OF_PIPE = EOFError("the other end is closed")


def send(stream: IO[bytes], value: object) -> None:
    """Write one object; BrokenPipeError when nobody reads any more."""
    beside: list[pickle.PickleBuffer] = []
    main = pickle.dumps(value, protocol=5, buffer_callback=beside.append)
    stream.write(_HEAD.pack(len(beside)))
    for block in (memoryview(main), *(buffer.raw() for buffer in beside)):
        stream.write(_LENGTH.pack(block.nbytes))
        stream.write(block)
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """Read one object; EOFError when the other end is gone, also in the middle of it."""
    (count,) = _HEAD.unpack(_exactly(stream, _HEAD.size))
    main = _block(stream)
    return pickle.loads(main, buffers=[_block(stream) for _ in range(count)])


def _block(stream: IO[bytes]) -> bytearray:
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    return _exactly(stream, length)


def _exactly(stream: IO[bytes], length: int) -> bytearray:
    data = bytearray(length)
    view, filled = memoryview(data), 0
    while filled < length:
        got = stream.readinto(view[filled:])  # type: ignore[attr-defined]  # pipes have it, IO does not say so
        if not got:
            raise END_OF_PIPE
        filled += got
    return data
