"""A teacher's own video for a film: its place by its sound, what is to be said of it, its sound for the drums.

The file is read, not changed; nothing of it goes into the lesson but what is shown and heard in the film.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fourlimb.model import Audio, InputError, Progress, Sheet

from .slowing import at_rate_of_kit

if TYPE_CHECKING:
    from fourlimb.film import Footage, Sync, Wanted


@dataclass(frozen=True)
class Camera:
    """An open video in step with a sheet, and sentences about it. Close `footage` after use."""

    path: Path
    footage: "Footage"
    sync: "Sync"
    said: tuple[str, ...]


def camera_of(
    path: Path, sheet: Sheet, speeds: Sequence[float], offset_s: float | None, progress: Progress
) -> Camera:
    """The video laid beside a sheet. `speeds`: those it may be played at, the last where `offset_s` is given.

    Raises InputError when it is no video, or its place is neither given nor to be heard.
    """
    from fourlimb import film, listen
    from fourlimb.teach.cautions import caution

    footage = film.Footage(path)
    if offset_s is not None:
        sync = film.Sync(offset_s, speeds[-1])
    else:
        progress("Finding the place in the footage", 0.0)
        try:
            sync = film.find(sheet, listen.open_recording(path, progress), speeds)
        except InputError as error:
            footage.close()
            raise InputError(f"{error} (or say with --offset at which second the first bar begins)") from None
    footage.in_step(sync, sheet.grid.at(sheet.grid.numbers[0]).start_s)
    care = (caution("ask first"), caution("faces"), caution("school"))
    return Camera(path, footage, sync, (_place_said(sync, offset_s is None), *care))


def _place_said(sync: "Sync", found: bool) -> str:
    """Where the footage begins, and how sure that is."""
    speed = "" if sync.speed == 1.0 else f", played at {sync.speed:.0%} of the song's tempo"
    begins = f"the first bar begins at {sync.start_s:.2f} s of the footage{speed}"
    if not found:
        return f"{begins}, as you said"
    if sync.sure:
        return f"{begins}, by its sound"
    return (
        f"in doubt: {begins}, by its sound, but {sync.next_s:.2f} s fits nearly as well: look at the film, and if it "
        "is wrong give --offset, the second at which the first bar begins"
    )


def own_sound(camera: Camera, sheet: Sheet, wanted: "Wanted", progress: Progress) -> "Wanted":
    """The camera's sound in place of the drums, over the song where that is wanted too.

    Raises InputError when it was not played at the song's own tempo.
    """
    from fourlimb import listen

    if camera.sync.speed != 1.0:
        raise InputError(
            f"{camera.path} is played at {camera.sync.speed:.0%} of the song's tempo: only what is played at the "
            "song's own can be heard in the film (leave out --own-sound)"
        )
    heard = at_rate_of_kit(listen.read_audio(camera.path, progress))
    heard = _moved(heard, camera.sync.start_s - sheet.grid.at(sheet.grid.numbers[0]).start_s)
    if wanted.recording is not None:
        heard = _over(heard, wanted.recording)
    struck = {sheet.grid.time_at(s.bar, s.position, swung=True) for s in sheet.chart.strokes}
    attacks = tuple(sorted({*wanted.attacks_s, *struck}))
    return replace(wanted, drums=False, recording=heard, attacks_s=attacks)


def _moved(audio: Audio, by_s: float) -> Audio:
    """The sound from its second `by_s` on; with silence before it where that is negative. Stereo."""
    count = round(by_s * audio.rate)
    samples = audio.samples if audio.samples.shape[1] == 2 else np.repeat(audio.samples[:, :1], 2, axis=1)
    if count >= 0:
        return Audio(samples[count:], audio.rate)
    return Audio(np.concatenate([np.zeros((-count, 2), np.float32), samples]), audio.rate)


def _over(drums: Audio, song: Audio) -> Audio:
    """Drums over a song of the same rate, the song as far under them as it is under ours."""
    from fourlimb.sound import UNDER_LU, loudness

    difference = loudness(drums) + UNDER_LU - loudness(song)
    gain = np.float32(10 ** (difference / 20)) if np.isfinite(difference) else np.float32(1)
    count = max(drums.length, song.length)
    mixed = np.zeros((count, 2), np.float32)
    mixed[: song.length] = song.samples[:, :2] * gain
    mixed[: drums.length] += drums.samples
    return Audio(mixed, drums.rate)
