"""Records as JSON documents and back: whatever is kept as JSON becomes text, and text a value, here.

The only user of msgspec. The one other text is `hash_chain.canonical`, of what is hashed or sealed.

What is hashed stays as it was written: a document that was read is never written anew.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Annotated, Any, Generic, TypeVar

import msgspec

from ..errors import CasebookError

T = TypeVar("T")
_PLAIN = frozenset((str, int, float, bool))
_KNOWN: set[Any] = set()  # kinds whose parts msgspec knows
_LEARNING = threading.Lock()

LARGEST = 2**40  # of what a page tells: far beyond any count of frames, and the casebook takes many times that
LatencyS = Annotated[float, msgspec.Meta(ge=0.0, le=60.0)]  # a minute: no output lies as far behind


@dataclass(frozen=True)
class Kept(Generic[T]):
    """A record with what its protected row adds: its place in the chain, its hash, and when it was written."""

    record: T
    seq: int
    hash: str
    at: str


def from_text(text: str, kind: type[T]) -> T:
    """The record that a JSON text holds; what the record does not know is left aside.

    Raises
    ------
    CasebookError
        If the text is no such record; the message names the part that is wrong.
    """
    try:
        return msgspec.json.decode(text, type=_learnt(kind), strict=False)
    except (msgspec.ValidationError, msgspec.DecodeError, RecursionError) as error:
        raise CasebookError(f"a kept {kind.__name__} cannot be read: {error}; see earwitness verify") from error


def _learnt(kind: type[T]) -> type[T]:
    """A kind of record whose parts msgspec knows.

    It notes what it knows of a record at the class before it has looked at the parts; another thread that finds the
    note meanwhile ends the program with a segmentation fault (seen with 0.22). So one thread at a time has it learn.
    """
    if kind not in _KNOWN:
        with _LEARNING:
            msgspec.json.Decoder(kind)
            _KNOWN.add(kind)
    return kind


def value_of(text: str) -> Any:
    """The objects, arrays, text and numbers that a JSON text holds, where no record stands for them."""
    return json.loads(text)


def text_of(value: Any, *, sort_keys: bool = True) -> str:
    """The JSON text of plain values as it is kept; protected rows hash it, so its spaces and its order never change."""
    return json.dumps(value, sort_keys=sort_keys)


def from_plain(value: Mapping[str, Any], kind: type[T]) -> T:
    """The record that plain values hold.

    Raises
    ------
    CasebookError
        If they are no such record; the message names the part that is wrong.
    """
    try:
        return msgspec.convert(value, _learnt(kind), strict=False)
    except msgspec.ValidationError as error:
        raise CasebookError(f"a kept {kind.__name__} cannot be read: {error}; see earwitness verify") from error


def beyond(record: Any, name: str = "") -> tuple[str, float] | None:
    """The first number in a record that nothing here could mean, with the name of its field; None if there is none."""
    if record is None or isinstance(record, str):
        return None
    if isinstance(record, (int, float)):
        return None if abs(record) <= LARGEST else (name, record)
    if is_dataclass(record):
        parts = [(part.name, getattr(record, part.name)) for part in fields(record)]
    elif isinstance(record, Mapping):
        parts = [(name, part) for part in record.values()]
    else:
        parts = [(name, part) for part in record] if isinstance(record, (list, tuple)) else []
    return next((found for name, part in parts if (found := beyond(part, name))), None)


def told(record: Any) -> bytes:
    """A record that was made here, and not read from a document, as JSON: in a tenth of the time of `text_of`."""
    return msgspec.json.encode(record, enc_hook=_told_part)


def _told_part(value: Any) -> Any:
    if isinstance(value, float):  # of numpy, for one
        return float(value)
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"{type(value).__name__} is told to no page")


def plain(record: Any) -> Any:
    """A record (a dataclass, or any value that holds some) as objects, arrays, text and numbers."""
    if record is None or type(record) in _PLAIN:  # most parts are; a page asks for many records a second
        return record
    # not msgspec.to_builtins: of a dataclass that msgspec read it leaves out whatever the document had left out
    if is_dataclass(record):
        return {part.name: plain(getattr(record, part.name)) for part in fields(record)}
    if isinstance(record, Mapping):
        return {name: plain(part) for name, part in record.items()}
    return [plain(part) for part in record] if isinstance(record, (list, tuple)) else record
