"""What can be heard at the desk: bars of the recording, the same bars of a chart, and their beats, at any tempo.

All begin `LEAD_S` before their first bar and keep the recording's own time, so that one may follow the other or they
sound at once. The recording is read, never changed, and sent to nobody but the desk's own window.
"""

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from fourlimb.lesson.source import kind_of, title_of
from fourlimb.lesson.workshop import safe_name
from fourlimb.model import Audio, Grid, InputError, Lesson, Listening, Recording, Sheet

LEAD_S: Final = 0.10
"""Before the first bar, seconds of what is heard (as `sound.render` has it)."""
RING_S: Final = 0.25
"""After the last bar of the recording, song seconds."""
BLOCK_S: Final = 30
"""Seconds that are read at once."""
MOST_S: Final = 180.0
"""Longest that is heard at once (ours: who listens longer is not checking bars)."""
SONG_ENDINGS: Final = frozenset(
    {
        ".wav",
        ".flac",
        ".mp3",
        ".ogg",
        ".opus",
        ".oga",
        ".m4a",
        ".aac",
        ".aif",
        ".aiff",
        ".mp4",
        ".mov",
        ".mkv",
        ".webm",
    }
)
MOST_BYTES: Final = 1 << 28
"""So much is read of files whose names do not say that they are the song (ours: about a second)."""


@dataclass(frozen=True)
class Heard:
    """Bytes of a WAV, and when each bar begins in it: (number, seconds); then the end of the last."""

    wav: bytes
    bars: tuple[tuple[int, float], ...]
    end_s: float


def must_be_recording(song: Path, lesson: Lesson) -> None:
    """Raises InputError unless the file is the recording that the lesson was made from."""
    if lesson.song.kind != "audio":
        raise InputError("this lesson was made from notes, not from a recording: leave out --song")
    if kind_of(song)[1] != lesson.song.sha256:
        raise InputError(f"{song} is not the recording that this lesson was made from: name that file")


def recording_near(folder: Path, lesson: Lesson) -> Path | None:
    """The lesson's recording where it lies beside the lesson's folder; None where it does not.

    Files whose names say that they are the song are looked into first, others as long as that is quick.
    """
    if lesson.song.kind != "audio":
        return None
    called = {title_of(Path(f"{lesson.song.title}.x")).casefold(), folder.resolve().stem.casefold()}
    beside = sorted(_songs(folder.resolve().parent), key=lambda song: (not called & _names(song), song.name))
    left = MOST_BYTES
    for song in beside:
        try:
            left -= 0 if called & _names(song) else song.stat().st_size
            if left >= 0 and kind_of(song)[1] == lesson.song.sha256:
                return song
        except (InputError, OSError):
            continue
    return None


def _songs(folder: Path) -> list[Path]:
    try:
        return [path for path in folder.iterdir() if path.suffix.lower() in SONG_ENDINGS and path.is_file()]
    except OSError:
        return []


def _names(song: Path) -> set[str]:
    """What a lesson of this file is called, and its folder."""
    return {title_of(song).casefold(), safe_name(song).casefold()}


class Recorded:
    """A recording, decoded at the first wish; a song is then held, a long recording is read again at every wish."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._sound: Recording | None = None
        self._gain = 1.0

    def piece(self, from_s: float, to_s: float) -> tuple[Audio, float]:
        """Seconds of it, and what brings all of it to the loudness of our charts; silence where it has none.

        Raises InputError when it cannot be read.
        """
        from fourlimb import listen

        with self._lock:
            if self._sound is None:
                self._sound = listen.open_recording(self.path)
                self._gain = _gain(self._sound)
            return _cut(self._sound, from_s, to_s), self._gain


def _gain(recording: Recording) -> float:
    from fourlimb.sound.loudness import SILENCE_LUFS, TARGET_LUFS, loudness_of, step_powers

    blocks = recording.blocks(BLOCK_S * recording.rate)
    measured = loudness_of(np.concatenate([np.zeros(0), *(step_powers(Audio(b, recording.rate)) for b in blocks)]))
    return 1.0 if measured == SILENCE_LUFS else float(10 ** ((TARGET_LUFS - measured) / 20))


def of_recording(recorded: Recorded, heard: Listening, grid: Grid, first: int, last: int, speed: float) -> Heard:
    """Bars of the recording at a share of its tempo, attacks sharp. Raises InputError when that cannot be."""
    from fourlimb import sound
    from fourlimb.sound.loudness import faded, limit

    _must_be_short(grid, first, last, speed)
    from_s, to_s = grid.at(first).start_s - LEAD_S * speed, grid.end(last) + RING_S
    piece, gain = recorded.piece(from_s, to_s)
    attacks = [at - from_s for at in _attacks(heard) if from_s <= at <= to_s]
    slower = sound.slow(piece, speed, attacks)
    loud = faded(limit(Audio(slower.samples * np.float32(gain), piece.rate)), in_s=0.02)
    return Heard(sound.encode(loud, "wav"), *_starts(grid, first, last, speed))


def of_chart(sheet: Sheet, first: int, last: int, speed: float) -> Heard:
    """The same bars of a chart, as our kit plays them. Raises InputError when that cannot be."""
    return _played(sheet, first, last, speed, drums_db=0.0, click_db=None)


def of_click(sheet: Sheet, first: int, last: int, speed: float) -> Heard:
    """Only the beats of these bars, clicked: over the recording they tell whether beats and ones are right."""
    return _played(sheet, first, last, speed, drums_db=None, click_db=0.0)


def _played(
    sheet: Sheet, first: int, last: int, speed: float, *, drums_db: float | None, click_db: float | None
) -> Heard:
    from fourlimb import sound

    _must_be_short(sheet.grid, first, last, speed)
    mix = sound.Mix(speed=speed, drums_db=drums_db, click_db=click_db, count_in=False, from_bar=first, to_bar=last)
    track = sound.render(sheet, mix)
    return Heard(sound.encode(track.audio, "wav"), track.bars, track.end_s)


def _must_be_short(grid: Grid, first: int, last: int, speed: float) -> None:
    if not (grid.has(first) and grid.has(last) and first <= last):
        raise InputError(
            f"bars {first}-{last} are not in the song: it has bars {grid.numbers[0]} to {grid.numbers[-1]}"
        )
    if (grid.end(last) - grid.at(first).start_s) / speed > MOST_S:
        raise InputError(f"that is longer than {MOST_S / 60:.0f} minutes: choose fewer bars")


def _starts(grid: Grid, first: int, last: int, speed: float) -> tuple[tuple[tuple[int, float], ...], float]:
    zero = grid.at(first).start_s
    bars = tuple(
        (bar.bar, round(LEAD_S + (bar.start_s - zero) / speed, 4)) for bar in grid.bars if first <= bar.bar <= last
    )
    return bars, round(LEAD_S + (grid.end(last) - zero) / speed, 4)


def _cut(recording: Recording, from_s: float, to_s: float) -> Audio:
    """A piece of sound, at most two channels; what lies before its beginning or after its end is silence."""
    start, stop = round(from_s * recording.rate), round(to_s * recording.rate)
    size, parts = BLOCK_S * recording.rate, []
    for number, block in enumerate(recording.blocks(size)):
        first = number * size
        if first >= stop:
            break
        parts.append(block[max(start - first, 0) : max(stop - first, 0), :2])
    inside = np.concatenate(parts)
    before = min(max(-start, 0), stop - start)
    after = max(stop - start - before - len(inside), 0)
    return Audio(np.pad(inside, ((before, after), (0, 0))), recording.rate)


def _attacks(heard: Listening) -> list[float]:
    """Everything that was or may have been struck (see `sound.slow`)."""
    return [*(hit.time_s for hit in heard.hits), *(stroke.time_s for stroke in heard.possible)]
