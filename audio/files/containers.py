"""What the bytes of an audio file promise: how long it says it is, before anything is decoded.

A decoder that meets the end of a file early, or a damaged stretch, mostly hands over what is there and says
nothing. These small readers look at the container alone, so that a file cut short is told from a whole one.
They decode no sound.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import IO, BinaryIO

# RF64 and streamed WAV write all ones where the 32-bit size does not hold (EBU Tech 3306).
UNKNOWN_32 = 0xFFFFFFFF
# First eight bytes of the chunk names of Sony Wave64 ("riff" and "wave" GUIDs, then "data").
W64_RIFF = b"riff\x2e\x91\xcf\x11"
W64_DATA = b"data\xf3\xac\xd3\x11"
W64_HEAD_BYTES = 40  # "riff" GUID, 64-bit size, "wave" GUID
OGG_ENDS_STREAM = 0x04  # header type flag of the last page (RFC 3533 section 6)
# The tag that counts an MP3's frames lies inside its first frame, the longest of which has 2881 bytes.
MP3_TAG_BYTES = 4096
MOST_CHUNKS = 100_000
EXTENSIBLE, EXTENSIBLE_BYTES = b"\xfe\xff", 40  # format tag and size of a WAVE header that can name loudspeakers
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def container_fault(path: Path, size: int) -> str | None:
    """What is wrong with the container of a file of `size` bytes, as words for an error; None if nothing is.

    None too for what is no container known here: that is for the decoder to say.
    """
    end = promised_end(path)
    if end is not None and end > size:
        return f"cut short: its header promises sound up to byte {end}, the file ends at {size}"
    with path.open("rb") as file:
        ogg = file.read(4) == b"OggS"
    return ogg_fault(path) if ogg else None


def promised_end(path: Path) -> int | None:
    """Byte position where the header says the sound ends; None if this container states none.

    WAV, RF64, Wave64, AIFF/AIFF-C and AU state one. A header of a streamed file, whose size was never filled
    in, states none.
    """
    with path.open("rb") as file:
        head = file.read(24)
        if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
            return _wave_end(file)
        if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
            return _aiff_end(file)
        if head[:8] == W64_RIFF:
            return _wave64_end(file)
        if head[:4] == b".snd" and len(head) >= 12:
            offset, size = struct.unpack(">II", head[4:12])
            return None if size == UNKNOWN_32 else offset + size
    return None


def channel_mask(path: Path) -> int | None:
    """The loudspeakers that a WAV's or RF64's extensible header names: one bit each; None if it names none."""
    with path.open("rb") as file:
        place = _mask_place(file)
        if place is None:
            return None
        file.seek(place)
        return int(struct.unpack("<I", file.read(4))[0]) or None


def write_channel_mask(file: IO[bytes], mask: int) -> None:
    """Name the loudspeakers in the extensible header of an open WAV or RF64; without one it stays as it is."""
    place = _mask_place(file)
    if place is not None:
        file.seek(place)
        file.write(struct.pack("<I", mask))


def ogg_fault(path: Path) -> str | None:
    """What is wrong with an Ogg file's pages, as words for an error; None if all of them are whole.

    Every page's checksum and number is checked, because the decoders pass over a lost page without a word.
    Bytes after the end of the last stream (tags) are allowed.
    """
    numbers: dict[bytes, int] = {}  # of the last page, by stream
    open_streams: set[bytes] = set()
    position = 0
    with path.open("rb") as file:
        while True:
            head = file.read(27)
            if len(head) < 27 or head[:4] != b"OggS":
                if head and open_streams:
                    return f"cut short or corrupt: no whole Ogg page at byte {position}"
                return "cut short: its Ogg stream has no end" if open_streams or not numbers else None
            lengths = file.read(head[26])
            body = file.read(sum(lengths))
            if len(lengths) < head[26] or len(body) < sum(lengths):
                return "cut short: its last Ogg page is not all there"
            stream, (number, checksum) = head[14:18], struct.unpack("<II", head[18:26])
            if _ogg_checksum(head[:22] + bytes(4) + head[26:] + lengths + body) != checksum:
                return f"corrupt: the checksum of the Ogg page at byte {position} is wrong"
            if stream in open_streams and number != numbers[stream] + 1:
                return f"corrupt: an Ogg page is missing before byte {position}"
            numbers[stream] = number
            if head[5] & OGG_ENDS_STREAM:
                open_streams.discard(stream)
            else:
                open_streams.add(stream)
            position = file.tell()


def mp3_states_length(path: Path) -> bool:
    """Whether an MP3 begins with a tag that counts its frames; without one its length is only an estimate."""
    with path.open("rb") as file:
        head = file.read(10)
        start = 0
        if head[:3] == b"ID3" and len(head) == 10:
            # Tag size: four bytes of seven bits (ID3v2.4.0 section 6.2).
            start = 10 + sum((byte & 0x7F) << shift for byte, shift in zip(head[6:], (21, 14, 7, 0), strict=True))
        file.seek(start)
        first = file.read(MP3_TAG_BYTES)
    for name in (b"Xing", b"Info"):
        at = first.find(name)
        if at >= 0 and len(first) >= at + 12:
            flags, frames = struct.unpack(">II", first[at + 4 : at + 12])
            return bool(flags & 1) and frames > 0
    return b"VBRI" in first


def _wave_end(file: BinaryIO) -> int | None:
    wide: int | None = None
    position = 12
    for _ in range(MOST_CHUNKS):
        file.seek(position)
        head = file.read(8)
        if len(head) < 8:
            return None
        name, size = head[:4], struct.unpack("<I", head[4:])[0]
        if name == b"ds64":
            body = file.read(16)
            wide = struct.unpack("<Q", body[8:16])[0] if len(body) == 16 else None
        if name == b"data":
            if size == UNKNOWN_32:
                return None if wide is None else position + 8 + wide
            return None if size == 0 else position + 8 + size
        position += 8 + size + size % 2
    return None


def _mask_place(file: IO[bytes]) -> int | None:
    """Byte position of the channel mask (Microsoft's WAVEFORMATEXTENSIBLE: 20 bytes into a format chunk of 40)."""
    file.seek(0)
    head = file.read(12)
    if head[:4] not in (b"RIFF", b"RF64") or head[8:12] != b"WAVE":
        return None
    position = 12
    for _ in range(MOST_CHUNKS):
        file.seek(position)
        head = file.read(10)
        if len(head) < 10:
            return None
        size = struct.unpack("<I", head[4:8])[0]
        if head[:4] == b"fmt ":
            return position + 8 + 20 if head[8:10] == EXTENSIBLE and size >= EXTENSIBLE_BYTES else None
        position += 8 + size + size % 2
    return None


def _aiff_end(file: BinaryIO) -> int | None:
    position = 12
    for _ in range(MOST_CHUNKS):
        file.seek(position)
        head = file.read(8)
        if len(head) < 8:
            return None
        size = struct.unpack(">I", head[4:])[0]
        if head[:4] == b"SSND":
            return None if size in (0, UNKNOWN_32) else position + 8 + size
        position += 8 + size + size % 2
    return None


def _wave64_end(file: BinaryIO) -> int | None:
    position = W64_HEAD_BYTES
    for _ in range(MOST_CHUNKS):
        file.seek(position)
        head = file.read(24)
        if len(head) < 24:
            return None
        size = struct.unpack("<Q", head[16:])[0]  # counts its own 24-byte head
        if head[:8] == W64_DATA:
            return position + size if 24 < size < 2**63 else None
        if not 24 <= size < 2**62:
            return None
        position += (size + 7) // 8 * 8
    return None


def _ogg_checksum(page: bytes) -> int:
    """The CRC of RFC 3533 section 6: polynomial 0x04c11db7, from zero, bits not reflected.

    zlib's is the same polynomial reflected, started and ended with all ones, so bits are turned round before
    and after it.
    """
    reflected = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{reflected:032b}"[::-1], 2)
