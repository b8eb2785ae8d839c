"""A sheet and what is wanted -> a film in an open file, its captions and its chapters."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from math import ceil
from typing import IO, Final

import numpy as np

from fourlimb.engrave import Layout
from fourlimb.model import Progress, Samples, Sheet, silent
from fourlimb.model.audio import in_blocks
from fourlimb.sound.kit import RATE

from .captions import Caption, Chapter, Shot, captions_of, chapters_of
from .picture import HEIGHT, zones
from .scenes import Scene
from .sounding import Take, Wanted
from .stage import FRAMES_A_SECOND, Beside, Stage
from .writing import Container, Writer

SAMPLES_A_FRAME: Final = RATE // FRAMES_A_SECOND
STAGE: Final = "Filming"


@dataclass(frozen=True)
class Film:
    """What a film holds besides picture and sound; `seconds` is how long it is."""

    seconds: float
    chapters: tuple[Chapter, ...]
    captions: tuple[Caption, ...]


def make(
    sheet: Sheet,
    scenes: Sequence[Scene],
    file: IO[bytes],
    *,
    container: Container = "mp4",
    wanted: Wanted | None = None,
    beside: Beside | None = None,
    layout: Layout | None = None,
    height: int = HEIGHT,
    progress: Progress = silent,
) -> Film:
    """Write the film of some scenes of a sheet.

    `height` of the picture in pixels, a multiple of 4; `beside`: a teacher's own picture; `layout`: how the music is
    printed, as far as that makes sense in a film. Raises MissingPartError
    without PyAV, InputError when it cannot be written.
    """
    shots = shots_of(sheet, scenes, wanted or Wanted())
    chapters, captions = chapters_of(sheet, shots), captions_of(sheet, shots)
    zoned = zones(height, footage=beside is not None)
    stage = Stage(sheet, zoned, layout or Layout(), beside)
    title = sheet.song.title or "Drum lesson"
    writer = Writer(file, container, (zoned.wide, zoned.high), title, chapters, captions)
    total = frames_of(shots[-1].end_s)
    done = 0
    for shot in shots:
        count = frames_of(shot.end_s) - frames_of(shot.start_s)
        sound = _sound(shot, count)
        for frame, canvas in enumerate(stage.frames(shot.scene, shot.take, count)):
            if frame % FRAMES_A_SECOND == 0:
                progress(STAGE, done / total)
                writer.sound(next(sound))
            writer.picture(canvas.planes)
            done += 1
    writer.close()
    progress(STAGE, 1.0)
    return Film(shots[-1].end_s, chapters, captions)


def shots_of(sheet: Sheet, scenes: Sequence[Scene], wanted: Wanted) -> tuple[Shot, ...]:
    """Every scene in its place; each lasts whole frames."""
    shots: list[Shot] = []
    at = 0
    for scene in scenes:
        take = Take(sheet, scene, wanted) if scene.kind == "play" else None
        count = ceil((take.seconds if take else scene.seconds) * FRAMES_A_SECOND)
        shots.append(Shot(scene, at / FRAMES_A_SECOND, (at + count) / FRAMES_A_SECOND, take))
        at += count
    return tuple(shots)


def frames_of(seconds: float) -> int:
    """Seconds -> frames."""
    return round(seconds * FRAMES_A_SECOND)


def _sound(shot: Shot, count: int) -> Iterator[Samples]:
    """A scene's sound second by second, together as long as its pictures."""
    made = shot.take.sound() if shot.take is not None else iter(())
    left = count * SAMPLES_A_FRAME
    for second in in_blocks(chain(made, _silence(left)), FRAMES_A_SECOND * SAMPLES_A_FRAME):
        yield second[:left]
        left -= len(second)
        if left <= 0:
            return


def _silence(count: int) -> Iterator[Samples]:
    """At least so much silence, in small pieces."""
    for _ in range(0, count, RATE):
        yield np.zeros((RATE, 2), dtype=np.float32)
