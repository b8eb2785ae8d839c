"""A level as MP3, made piece by piece: what sounds as before is taken from the file that was there before.

The track is mixed in stretches of 1.8 seconds, each from what is struck in it or still rings, and coded in pieces of
`FRAMES` frames, each by an encoder of its own that has heard the fifth of a second before. Every stretch and piece is
a function of what sounds in it alone, and how loud the whole is goes in steps (`render.GAIN_STEP_DB`). So a file made
with the one before at hand is, byte for byte, the file made from nothing, and costs only what changed.

The file carries a private ID3 frame that says what its pieces were made of. Without it, or with another version's,
all is made.
"""

from collections.abc import Iterator, Mapping, Sequence
from hashlib import blake2b
from typing import Final

import msgspec
import numpy as np

from ..model import Audio, Samples, Sheet
from .encode import encode
from .frames import DELAY, FRAME, frames_of, laid, tag_of, titled
from .kit import RATE, Voices, built_in
from .loudness import CEILING_DBTP, limit, loudness_of, step_powers
from .perform import Struck, mixed, struck
from .render import Mix, clicks, drum_gain, planned
from .room import response

STRETCH: Final = 18 * RATE // 10
"""Samples mixed at a time: eighteen steps of the loudness meter, and with the room's ring one block of its filter."""

HEARD_BEFORE: Final = 8192
"""Samples before a stretch that the loudness meter still hears."""

FRAMES: Final = 96
"""Frames a piece, 2.5 s."""

WARM: Final = 8
COOL: Final = 3
"""Frames coded before and after a piece and left out: the encoder looks both ways."""

LIMITED_AROUND: Final = 1152
"""Samples around a piece that its limiter sees."""

FADE_S: Final = 0.05
OWNER: Final = b"fourlimb pieces 1\x00"


class Stretch(msgspec.Struct, frozen=True, array_like=True):
    """What was measured in a mixed stretch: the power of each 100 ms (float32), its highest sample."""

    powers: bytes
    peak: float


class Kept(msgspec.Struct, array_like=True):
    """What a file says of itself: stretches by their keys; keys, bytes and frames of its pieces in order."""

    stretches: dict[str, Stretch]
    pieces: list[tuple[str, int, int]]


def pressed(sheet: Sheet, before: bytes = b"", kit: Voices | None = None) -> bytes:
    """The chart with count-in and click as an MP3 file. `before`: the file there was, for what has not changed.

    Raises InputError on a song without bars.
    """
    return Press(sheet, kit or built_in()).file(*_kept(before))


class Press:
    """One track on its way to a file; of a mix only what is played when is asked, not how loud its parts are."""

    def __init__(self, sheet: Sheet, kit: Voices, mix: Mix | None = None) -> None:
        plan = planned(sheet, mix or Mix())
        self.kit, self.mirrored, self.count = kit, sheet.kit.handed == "left", plan.count
        self.strokes: list[list[Struck]] = [[] for _ in range(-(-plan.count // STRETCH))]
        for one in struck(plan.blows, STRETCH):
            for number in self._reached(one):
                self.strokes[number].append(one)
        self.clicks: list[list[tuple[int, bool]]] = [[] for _ in self.strokes]
        for sample, first in plan.clicks:
            for number in (sample // STRETCH, sample // STRETCH + 1):
                if 0 <= number < len(self.clicks):
                    self.clicks[number].append((sample, first))
        self.keys = [self._key(number) for number in range(len(self.strokes))]
        self.mixes: dict[int, Samples] = {}

    def _reached(self, one: Struck) -> range:
        """The stretches that hear something of a stroke, its room and what the meter hears of it included."""
        rings = self.kit.rings(one.sound, one.velocity, second=one.second)
        if one.stop is not None:
            rings = min(rings, max(0, one.stop[0] - one.start) + one.stop[1])
        last = (one.start + rings + len(response()) + HEARD_BEFORE) // STRETCH
        return range(max(0, one.start // STRETCH), min(last, len(self.strokes) - 1) + 1)

    def _key(self, number: int) -> str:
        """Names everything that a stretch is made of."""
        at = number * STRETCH
        strokes = [
            (s.start - at, s.sound, s.velocity, s.turn, s.second, s.stop and (s.stop[0] - at, s.stop[1]))
            for s in self.strokes[number]
        ]
        clicked = [(sample - at, first) for sample, first in self.clicks[number]]
        return _digest((strokes, clicked, self.mirrored))

    def file(self, kept: Kept, coded: Mapping[str, tuple[bytes, int]]) -> bytes:
        """The whole file, made of what is kept and what is not."""
        stretches = {key: kept.stretches.get(key) or self.measured(n) for n, key in enumerate(self.keys)}
        gain = self.gain([stretches[key] for key in self.keys])
        frames = (self.count + DELAY) // FRAME + 2
        pieces: list[tuple[str, bytes, int]] = []
        for first in range(0, frames, FRAMES):
            length = min(FRAMES, frames - first)
            key = self._piece_key(first, length, gain)
            data, _ = coded.get(key) or (self._coded(first, length, gain), length)
            pieces.append((key, data, length))
        own = Kept(stretches, [(key, len(data), length) for key, data, length in pieces])
        tag = titled(_silent_tag(), [(data, length) for _, data, length in pieces], self.count)
        return b"".join([_id3(msgspec.msgpack.encode(own)), tag, *(data for _, data, _ in pieces)])

    def gain(self, stretches: Sequence[Stretch]) -> float:
        """What brings the track to its loudness, from all its stretches as they were measured."""
        heard = [np.frombuffer(stretch.powers, dtype=np.float32) for stretch in stretches]
        powers = np.concatenate(heard).astype(np.float64)[: self.count * 10 // RATE]
        return drum_gain(loudness_of(powers), max(stretch.peak for stretch in stretches))

    def measured(self, number: int) -> Stretch:
        """The drums of a stretch as the meter hears them."""
        heard = self._drums(number)
        # the meter's steps begin with the stretch: what it heard before is rounded up to a whole step
        lead = -HEARD_BEFORE % (RATE // 10)
        padded = np.concatenate([np.zeros((lead, 2), dtype=np.float32), heard])
        powers = step_powers(Audio(padded, RATE))[(lead + HEARD_BEFORE) * 10 // RATE :]
        self.mixes[number] = own = heard[HEARD_BEFORE:].copy()
        return Stretch(powers.astype(np.float32).tobytes(), float(np.abs(own).max(initial=0.0)))

    def _mix(self, number: int) -> Samples:
        """The drums of a stretch."""
        if number not in self.mixes:
            self.mixes[number] = self._drums(number)[HEARD_BEFORE:]
        return self.mixes[number]

    def _drums(self, number: int) -> Samples:
        """The drums of a stretch and of what the meter hears before it; mixed from what the room still holds."""
        before = len(response()) + HEARD_BEFORE
        first = number * STRETCH - before
        made = mixed(self.strokes[number], self.kit, first, before + STRETCH, mirrored=self.mirrored)
        return made[len(response()) :]

    def _seen(self, first: int, length: int) -> tuple[int, int]:
        """Samples that a piece is made of, limiter and warming up included."""
        return (first - WARM) * FRAME - LIMITED_AROUND, (first + length + COOL) * FRAME + LIMITED_AROUND

    def _piece_key(self, first: int, length: int, gain: float) -> str:
        begin, end = self._seen(first, length)
        heard = self.keys[max(0, begin // STRETCH) : end // STRETCH + 1]
        ends = self.count if end >= self.count - FADE_S * RATE else None
        return _digest((heard, first, length, gain, ends))

    def _coded(self, first: int, length: int, gain: float) -> bytes:
        begin, end = self._seen(first, length)
        cut = slice(LIMITED_AROUND, LIMITED_AROUND + (length + WARM + COOL) * FRAME)
        warm = WARM if first else 0
        sound = self.finished(begin, end, gain)[cut][(WARM - warm) * FRAME :]
        frames = frames_of(encode(Audio(sound, RATE), "mp3"))
        return laid(frames[warm : warm + length])

    def finished(self, begin: int, end: int, gain: float) -> Samples:
        """The track from sample `begin` to `end` at its loudness, limited, faded at its ends; silence around it."""
        out = np.zeros((end - begin, 2), dtype=np.float32)
        for number in range(max(0, begin // STRETCH), min(end // STRETCH + 1, len(self.strokes))):
            at = number * STRETCH
            start, stop = max(begin, at), min(end, at + STRETCH, self.count)
            if stop > start:
                piece = self._mix(number) + clicks(self.clicks[number], at, STRETCH)
                out[start - begin : stop - begin] = piece[start - at : stop - at]
        out *= np.float32(gain)
        return _edges(limit(Audio(out, RATE), CEILING_DBTP).samples, begin, self.count)


def _edges(samples: Samples, begin: int, count: int) -> Samples:
    """A part of a track from sample `begin` on, faded where the track of `count` samples begins and ends."""
    fade = min(round(FADE_S * RATE), count)
    at = np.arange(begin, begin + len(samples))
    rise = np.clip(at / max(1, fade - 1), 0, 1)
    fall = np.clip((count - 1 - at) / max(1, fade - 1), 0, 1)
    return np.asarray(samples * (rise * fall).astype(np.float32)[:, None], dtype=np.float32)


def _silent_tag() -> bytes:
    return tag_of(encode(Audio(np.zeros((FRAME, 2), dtype=np.float32), RATE), "mp3"))


def _digest(thing: object) -> str:
    return blake2b(msgspec.msgpack.encode(thing), digest_size=12).hexdigest()


def _id3(data: bytes) -> bytes:
    """An ID3v2.4 tag with one private frame."""
    body = b"PRIV" + _seven(len(OWNER) + len(data)) + b"\x00\x00" + OWNER + data
    return b"ID3\x04\x00\x00" + _seven(len(body)) + body


def _seven(size: int) -> bytes:
    """A size in four bytes of seven bits."""
    return bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))


def _kept(before: bytes) -> tuple[Kept, dict[str, tuple[bytes, int]]]:
    """What a file made before says of itself, and its pieces by their keys; nothing when it is not one of ours."""
    head = 10 + 10 + len(OWNER)
    if before[:6] != b"ID3\x04\x00\x00" or before[20:head] != OWNER:
        return Kept({}, []), {}
    end = 10 + sum(byte << shift for byte, shift in zip(before[6:10], (21, 14, 7, 0), strict=True))
    try:
        kept = msgspec.msgpack.decode(before[head:end], type=Kept)
        at = end + len(tag_of(before[end:]))
    except (msgspec.DecodeError, ValueError, StopIteration):
        return Kept({}, []), {}
    if at + sum(size for _, size, _ in kept.pieces) != len(before):
        return Kept({}, []), {}
    return kept, dict(_pieces(before, at, kept.pieces))


def _pieces(
    before: bytes, at: int, pieces: Sequence[tuple[str, int, int]]
) -> Iterator[tuple[str, tuple[bytes, int]]]:
    for key, size, frames in pieces:
        yield key, (before[at : at + size], frames)
        at += size
