"""The edge to libsndfile: sound files opened for decoding and for encoding, its complaints in our words.

The one module that imports soundfile. It hands out open files; what is taken from them and put into them is the
affair of `reading` and `writing`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ..errors import FileError
from .file_info import BITS, FLOATS
from .muted_stderr import muted_stderr
from .replacement import Sink

_MAGIC = (b"RIFF", b"RF64", b"riff", b"FORM", b"fLaC", b"OggS", b".snd", b"caff")
_READABLE = "WAV, RF64, W64, AIFF, FLAC, Ogg Vorbis, Opus or MP3"


@contextlib.contextmanager
def opened(path: Path) -> Iterator[Any]:
    """An open SoundFile; what libsndfile and the system complain of becomes a FileError."""
    import soundfile

    class ForwardOnly(soundfile.SoundFile):  # type: ignore[misc]
        """Lossy sound is read straight on: soundfile otherwise seeks after each read, and near the end of an
        Opus file that seek lands elsewhere.
        """

        def seekable(self) -> bool:
            return self.subtype in (*BITS, *FLOATS) and super().seekable()

    try:
        with path.open("rb") as raw:
            known = raw.read(4) in _MAGIC
        with contextlib.nullcontext() if known else muted_stderr():  # anything else may reach the MP3 decoder
            file = ForwardOnly(path)
    except OSError as error:
        raise FileError(f"{path}: cannot be opened ({reason(error)}); check who may read it") from error
    except TypeError as error:  # soundfile asks for rate and channels where the name ends in .raw
        raise FileError(f"{path}: is raw samples without a header; give {_READABLE}") from error
    except soundfile.LibsndfileError as error:
        raise FileError(
            f"{path}: is not audio that can be read here ({_words(error)}); give {_READABLE}, or convert "
            "it to WAV or FLAC first"
        ) from error
    with file:
        try:
            yield file
        except soundfile.LibsndfileError as error:
            raise FileError(
                f"{path}: cut short or corrupt: its sound cannot be decoded ({_words(error)}); fetch or export it again"
            ) from error


@contextlib.contextmanager
def created(sink: Sink, path: Path, container: str, subtype: str, rate_hz: int, channels: int) -> Iterator[Any]:
    """A SoundFile that writes to a sink; `path` only names it in a complaint.

    Raises
    ------
    FileError
        If the container cannot hold so many channels at this rate in this format.
    """
    import soundfile

    try:
        with soundfile.SoundFile(
            sink, "w", format=container, samplerate=rate_hz, channels=channels, subtype=subtype
        ) as file:
            yield file
    except soundfile.LibsndfileError as error:
        raise FileError(
            f"{path}: {path.suffix} cannot hold {channels} channels at {rate_hz} Hz as {subtype} "
            f"({_words(error)}); choose WAV"
        ) from error


def reason(error: OSError) -> str:
    """What the system says of a file it refuses."""
    return error.strerror or type(error).__name__


def _words(error: Any) -> str:
    """What libsndfile says, without its frills."""
    if error.code == 7:  # "does not exist or is not a regular file", said of anything it cannot make out
        return "format not recognised"
    return str(error.error_string).strip().removeprefix("Error : ").rstrip(".") or "unknown format"
