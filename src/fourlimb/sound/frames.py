"""MP3 frames cut from one stream and laid into another, each piece standing on its own.

An encoder carries bits over from frame to frame (the reservoir), so a stream cannot be cut between any two. Here the
bits that belong to each frame are found, and laid again so that the first frame of a piece needs nothing from before
it: pieces can then be joined in any order of making. Nothing is decoded, no bit of the coded sound is changed.

Layout: ISO/IEC 11172-3 (frame header, side information, main data), MPEG 1 Layer III, stereo, 44.1 kHz only. The
first frame of the file says how many samples at its start and end are the coder's own (the Xing and LAME tags, as
players read them; from memory).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final

FRAME: Final = 1152
"""Samples in a frame."""

DELAY: Final = 576
"""Samples that the encoder puts before the sound (a decoder adds 529 of its own and takes both away)."""

KBITS: Final = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
SIZES: Final = tuple(144_000 * kbits // 44_100 for kbits in KBITS)
"""Bytes of an unpadded frame at each bit rate."""

HEAD: Final = 4
SIDE: Final = 32
MOST_BACK: Final = 511
"""How far back a frame's bits may begin, bytes (nine bits of the side information)."""

GRANULE: Final = 59
BEFORE_GRANULES: Final = 20
"""Bits of side information: those of one channel in one granule, and those before the first of them."""


@dataclass(frozen=True)
class Frame:
    """A frame's header and side information as written, and the bytes that are its sound."""

    head: bytes
    side: bytes
    sound: bytes

    @property
    def windows(self) -> tuple[int, ...]:
        """How each granule and channel is cut into blocks: 0 long, else as coded. Joined frames should agree."""
        bits = int.from_bytes(self.side, "big")
        found = []
        for number in range(4):
            after = 256 - BEFORE_GRANULES - GRANULE * number - 33  # 12 + 9 + 8 + 4 bits stand before the switch
            switched = bits >> (after - 1) & 1
            found.append((bits >> (after - 3) & 3) if switched else 0)
        return tuple(found)


def frames_of(stream: bytes) -> list[Frame]:
    """The frames of a stream, without the one that only says what the file is."""
    pieces = list(_cut(stream))[1:]
    area = b"".join(piece[HEAD + SIDE :] for piece in pieces)
    starts = accumulate((len(piece) - HEAD - SIDE for piece in pieces), initial=0)
    found = []
    for piece, start in zip(pieces, starts, strict=False):
        side = piece[HEAD : HEAD + SIDE]
        begin = start - int.from_bytes(side[:2], "big") // 128
        found.append(Frame(piece[:HEAD], side, area[begin : begin + _length(side)]))
    return found


def tag_of(stream: bytes) -> bytes:
    """The first frame, which says what the file is."""
    return next(_cut(stream))


def _cut(stream: bytes) -> Iterator[bytes]:
    at = 0
    while at + HEAD <= len(stream):
        index, padded = stream[at + 2] >> 4, stream[at + 2] >> 1 & 1
        if stream[at] != 0xFF or not 0 < index < 15:
            raise ValueError(f"no frame at byte {at}")
        size = SIZES[index - 1] + padded
        yield stream[at : at + size]
        at += size


def _length(side: bytes) -> int:
    """Bytes of a frame's own sound."""
    bits = int.from_bytes(side, "big")
    return -(-sum(bits >> (256 - BEFORE_GRANULES - GRANULE * n - 12) & 0xFFF for n in range(4)) // 8)


def laid(frames: Sequence[Frame]) -> bytes:
    """Frames as a stream of its own: the first begins anew, the others use what room those before them leave."""
    ahead = [0] * (len(frames) + 1)  # bytes that frames up to here must leave free for those after
    for number in range(len(frames) - 1, 0, -1):
        wanted = len(frames[number].sound) + ahead[number + 1] - (SIZES[-1] - HEAD - SIDE)
        ahead[number] = min(MOST_BACK, max(0, wanted))
    heads, area, free = [], bytearray(), 0
    for number, frame in enumerate(frames):
        back = min(free, MOST_BACK)
        needed = len(frame.sound) + ahead[number + 1] - back
        index = next((n for n, size in enumerate(SIZES) if size - HEAD - SIDE >= needed), len(SIZES) - 1)
        start = len(area) - back
        area += bytes(SIZES[index] - HEAD - SIDE)
        area[start : start + len(frame.sound)] = frame.sound
        free = len(area) - start - len(frame.sound)
        heads.append((_head(frame.head, index), _begins(frame.side, back), SIZES[index] - HEAD - SIDE))
    return b"".join(_joined(heads, bytes(area)))


def _joined(heads: Sequence[tuple[bytes, bytes, int]], area: bytes) -> Iterator[bytes]:
    at = 0
    for head, side, size in heads:
        yield head + side + area[at : at + size]
        at += size


def _head(head: bytes, index: int) -> bytes:
    """The header with another bit rate and no padding."""
    return head[:2] + bytes([(index + 1) << 4 | head[2] & 0x0D]) + head[3:]


def _begins(side: bytes, back: int) -> bytes:
    """The side information with its sound beginning so many bytes before the frame."""
    return (int.from_bytes(side[:2], "big") & 0x7F | back << 7).to_bytes(2, "big") + side[2:]


def titled(tag: bytes, pieces: Sequence[tuple[bytes, int]], count: int) -> bytes:
    """The first frame for pieces of (bytes, frames) that hold `count` samples of sound."""
    total, frames = len(tag) + sum(len(data) for data, _ in pieces), sum(n for _, n in pieces)
    made = bytearray(tag)
    xing = HEAD + SIDE
    made[xing + 8 : xing + 12] = frames.to_bytes(4, "big")
    made[xing + 12 : xing + 16] = total.to_bytes(4, "big")
    made[xing + 16 : xing + 116] = bytes(_contents(len(tag), pieces, total, frames))
    after = frames * FRAME - DELAY - count
    made[xing + 141 : xing + 144] = (DELAY << 12 | min(after, 0xFFF)).to_bytes(3, "big")
    made[xing + 148 : xing + 152] = total.to_bytes(4, "big")
    made[xing + 152 : xing + 154] = bytes(2)  # a sum over all bytes, that no player needs
    made[xing + 154 : xing + 156] = _crc(bytes(made[: xing + 154])).to_bytes(2, "big")
    return bytes(made)


def _contents(first: int, pieces: Sequence[tuple[bytes, int]], total: int, frames: int) -> Iterator[int]:
    """Where in the file each per cent of the sound begins, in 256ths."""
    bytes_at = list(accumulate((len(data) for data, _ in pieces), initial=first))
    frames_at = list(accumulate((n for _, n in pieces), initial=0))
    number = 0
    for percent in range(100):
        at = percent * frames // 100
        while number + 1 < len(pieces) and frames_at[number + 1] <= at:
            number += 1
        inside = (at - frames_at[number]) * len(pieces[number][0]) // max(1, pieces[number][1])
        yield min(255, (bytes_at[number] + inside) * 256 // total)


def _crc(data: bytes) -> int:
    """CRC-16 as the tag wants it: polynomial 8005, bits reflected, begun at zero."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return crc
