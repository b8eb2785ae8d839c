"""A teacher's own video beside the music: read frame by frame, turned upright, scaled into its part of the picture.

In step with the chart: `Sync` says at which second of the footage the first bar begins, the song's grid says the
rest, so where bars are played slowly or round and round the footage is too. Its sound is used to find the place only.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from fourlimb.model import InputError

from .canvas import Canvas, Plane
from .picture import Zone
from .syncing import Sync
from .writing import needs_av

SEEK_S: Final = 2.0
"""From this far ahead on it is quicker to jump in the file than to read up to there (ours)."""

LAST_S: Final = 0.1
"""How long the last frame stands."""

BLACK: Final = (16, 128, 128)


class Footage:
    """An open video; shows what belongs to a second of the song. Close it after use."""

    def __init__(self, path: Path) -> None:
        self._av = needs_av()
        self._path = path
        try:
            self._file = self._av.open(str(path))
            self._stream = self._file.streams.video[0]
        except (self._av.error.FFmpegError, OSError, IndexError, ValueError):
            raise InputError(f"{path} is no video that can be read: name your camera's file") from None
        self._stream.codec_context.thread_count = 1  # the same pictures in every run
        sounds = self._file.streams.audio
        self._zero_s = float(sounds[0].start_time * sounds[0].time_base) if sounds and sounds[0].start_time else 0.0
        self._sync, self._first_s = Sync(0.0, 1.0), 0.0
        self._end_s = float("inf")
        self._frames = self._decoded()
        self._now: Timed | None = None
        self._next: Timed | None = None
        self._fitted: tuple[float, list[Plane]] = (float("nan"), [])

    def in_step(self, sync: Sync, first_s: float) -> None:
        """Lay it beside the song: `first_s` is the song's second at which the film's first bar begins."""
        self._sync, self._first_s = sync, first_s

    def close(self) -> None:
        """Let the file go."""
        self._file.close()

    def paint(self, canvas: Canvas, zone: Zone, song_s: float) -> None:
        """The frame that belongs to a second of the song; black before the footage begins and after its end."""
        timed = self._at(self._sync.start_s + (song_s - self._first_s) / self._sync.speed)
        if timed is None:
            canvas.fill(zone, BLACK)
            return
        if self._fitted[0] != timed[0]:
            self._fitted = timed[0], fitted(timed[1], zone)
        canvas.show(self._fitted[1], zone)

    def _at(self, time_s: float) -> "Timed | None":
        """The frame that stands at a second of the footage; None before it begins and after its end."""
        if time_s < 0 or time_s >= self._end_s:
            return None
        if self._now is None or not self._now[0] <= time_s < self._now[0] + SEEK_S:
            self._jump(time_s)
        while self._next is not None and self._next[0] <= time_s:
            self._now, self._next = self._next, next(self._frames, None)
        if self._next is None and self._now is not None:
            self._end_s = self._now[0] + LAST_S
        return self._now if self._now is not None and time_s < self._end_s else None

    def _jump(self, time_s: float) -> None:
        """Go to the last whole frame before a second, and read on from there."""
        if self._now is not None or time_s > SEEK_S:
            self._file.seek(round((time_s + self._zero_s) / self._stream.time_base), stream=self._stream)
            self._frames = self._decoded()
        self._now = next(self._frames, None)
        self._next = next(self._frames, None)

    def _decoded(self) -> "Iterator[Timed]":
        """Frames with their seconds, counted from where the sound begins; a damaged end is the end."""
        try:
            for frame in self._file.decode(self._stream):
                if frame.time is not None:
                    yield float(frame.time) - self._zero_s, frame
        except (self._av.error.FFmpegError, OSError):
            return


Timed = tuple[float, Any]
"""A frame, after its second."""


def fitted(frame: Any, zone: Zone) -> list[Plane]:
    """A frame as luma and both colours of a zone's size: upright, whole, black beside it where its shape differs."""
    turns = round((getattr(frame, "rotation", 0) or 0) / 90) % 4
    wide, high = frame.width, frame.height
    if turns % 2:
        wide, high = high, wide
    share = min(zone.wide / wide, zone.high / high)
    size = max(2, 2 * round(wide * share / 2)), max(2, 2 * round(high * share / 2))
    to = size if turns % 2 == 0 else (size[1], size[0])
    small = frame.reformat(to[0], to[1], "yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
    made = []
    for number, plane in enumerate(small.planes):
        part = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)[:, : plane.width]
        half = 1 if number == 0 else 2
        whole = np.full((zone.high // half, zone.wide // half), BLACK[number], np.uint8)
        upright = np.rot90(part, turns)[: whole.shape[0], : whole.shape[1]]
        top, left = (whole.shape[0] - upright.shape[0]) // 2, (whole.shape[1] - upright.shape[1]) // 2
        whole[top : top + upright.shape[0], left : left + upright.shape[1]] = upright
        made.append(whole)
    return made
