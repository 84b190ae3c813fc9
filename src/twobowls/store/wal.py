"""Looking into a write-ahead log before SQLite does.

SQLite reads such a log up to the first spoilt page and forgets the rest in silence, as it must
after a power cut. What it forgets may have been promised to a phone, so we look first. The format
is described at https://sqlite.org/fileformat2.html#walformat.
"""

import struct
import sys
from array import array
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

HEADER = struct.Struct(">8I")  # magic, version, page size, checkpoint, salt (2), checksum (2)
FRAME = struct.Struct(">6I")  # page, size of the file after a commit or 0, salt (2), checksum (2)
LITTLE_ENDIAN, BIG_ENDIAN = 0x377F0682, 0x377F0683  # of the words that are summed
MASK = 0xFFFFFFFF


@dataclass(frozen=True, slots=True)
class WalState:
    """What a write-ahead log holds: transactions that can be read, and some that cannot."""

    readable: int
    lost: int


def wal_path(path: Path) -> Path:
    """Return where SQLite keeps the write-ahead log of a store."""
    return path.with_name(path.name + "-wal")


def look_at_wal(path: Path) -> WalState:
    """Count the transactions in the write-ahead log of the store at ``path``.

    A transaction is lost when its last frame carries the log's own salt, so it was written after
    the log was begun, and yet lies behind a place where the checksums stop being right. Frames
    left over from before the log was begun have another salt; a half-written transaction has no
    last frame.

    Returns
    -------
    WalState
        Both zero when there is no log.
    """
    try:
        with wal_path(path).open("rb") as file:
            return _count(file)
    except FileNotFoundError:
        return WalState(0, 0)


def _count(file: BinaryIO) -> WalState:
    header = file.read(HEADER.size)
    if not header:
        return WalState(0, 0)
    if len(header) < HEADER.size:
        return WalState(0, 1)
    magic, _version, page_size, _checkpoint, salt_1, salt_2, *checksum = HEADER.unpack(header)
    if magic not in (LITTLE_ENDIAN, BIG_ENDIAN):
        return WalState(0, 1)
    big = magic == BIG_ENDIAN
    running = _sum(header[:24], big, (0, 0))
    if running != tuple(checksum):
        return WalState(0, 1)
    sound, readable, lost = True, 0, 0
    while len(frame := file.read(FRAME.size + page_size)) == FRAME.size + page_size:
        _page, commit, frame_salt_1, frame_salt_2, *checksum = FRAME.unpack_from(frame)
        ours = (frame_salt_1, frame_salt_2) == (salt_1, salt_2)
        if sound:
            running = _sum(frame[FRAME.size :], big, _sum(frame[:8], big, running))
            sound = ours and running == tuple(checksum)
        readable += bool(sound and commit)
        lost += bool(not sound and ours and commit)
    return WalState(readable, lost)


def _sum(content: bytes, big: bool, start: tuple[int, int]) -> tuple[int, int]:
    """Return the running checksum of a log after some more content (a multiple of 8 bytes)."""
    words = array("I", content)
    if big != (sys.byteorder == "big"):
        words.byteswap()
    first, second = start
    numbers = iter(words)
    for even, odd in zip(numbers, numbers, strict=True):
        first = (first + even + second) & MASK
        second = (second + odd + first) & MASK
    return first, second
