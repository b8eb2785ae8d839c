"""Some bars of the recording itself at another tempo: attacks sharp, pitch kept, counted in.

In: the recording that a lesson was made from, and the lesson, which knows where its bars and strokes are. Out: a
sound file. The recording is read, not changed, and no copy of it goes into the lesson.
"""

import re
from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING, Final, get_args

from fourlimb.model import Audio, Grid, InputError, Lesson, Level, Listening, Progress, silent
from fourlimb.model.count import say_span
from fourlimb.model.tempo import tempo_said

from .build import sheets
from .folder import read_heard, read_lesson
from .show import one_line
from .source import kind_of
from .takes import bars_named
from .workshop import safe_words, write_file

if TYPE_CHECKING:
    from fourlimb.sound import Format

USUAL_TEMPO: Final = "70 %"
"""Where practice usually begins (the ladder's first rungs lie round it)."""
STAGE: Final = "Slowing the recording"
_TEMPO: Final = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*(%?)\s*$")


def slowed(
    song: Path,
    folder: Path,
    *,
    bars: str | None = None,
    tempo: str = USUAL_TEMPO,
    level: Level | None = None,
    click: bool = False,
    out: Path | None = None,
    progress: Progress = silent,
) -> str:
    """Write bars of the recording `song` at a tempo ("92" beats a minute, "70 %" of the song's); says what was done.

    bars : "9-12", all when None. level : whose drums play over it, none when None. click : through all bars, not only
    before them. out : a WAV, FLAC, MP3 or OGG by its name's ending; named by song, bars and tempo when None.
    Raises InputError when the recording is not this lesson's, or bars or tempo cannot be; LessonError when the lesson
    or the file cannot be used.
    """
    from fourlimb import listen, sound

    lesson, heard = read_lesson(folder), read_heard(folder)
    must_be_its_recording(song, folder, lesson)
    first, last = _bars(bars, lesson.grid)
    own_bpm = tempo_said(lesson.grid, first)
    speed = speed_of(tempo, own_bpm)
    bpm = round(own_bpm * speed)
    target = out or Path(f"{_name(lesson, first, last, bpm)}.mp3")
    form = _format(target)
    recording = at_rate_of_kit(listen.read_audio(song, progress))
    progress(STAGE, 0.0)
    mix = sound.Mix(
        speed=speed, drums_db=None if level is None else 0.0, click_db=0.0 if click else None, from_bar=first,
        to_bar=last, recording=recording, recording_db=-sound.UNDER_LU if level is None else 0.0,
        attacks_s=attacks_of(heard),
    )  # fmt: skip
    track = sound.render(sheets(lesson)[level or "full"], mix)
    write_file(target, sound.encode(track.audio, form))
    progress(STAGE, 1.0)
    with_drums = f", with the drums of the {level} chart" if level else ""
    return f"{say_span(first, last)} at {bpm} (the song: {own_bpm:.0f}){with_drums}: {target}\n  {sound.RIGHTS}"


def attacks_of(heard: Listening) -> tuple[float, ...]:
    """Everything that was or may have been struck: a doubtful one does no harm (see `sound.slow`)."""
    return tuple(sorted([*(hit.time_s for hit in heard.hits), *(stroke.time_s for stroke in heard.possible)]))


def must_be_its_recording(song: Path, folder: Path, lesson: Lesson) -> None:
    """Raises InputError on any other file than the one that a lesson was made from."""
    if lesson.song.kind != "audio":
        raise InputError(f"{folder} was made from notes, not from a recording: its page plays it at any tempo")
    _, digest = kind_of(song)
    if digest != lesson.song.sha256:
        raise InputError(f"{song} is not the recording that {folder} was made from: name that file")
    if not lesson.grid.bars:
        raise InputError(f"no bars were found in {folder}: nothing can be counted in")


def _bars(text: str | None, grid: Grid) -> tuple[int, int]:
    first, last = bars_named(text, grid)
    return grid.numbers[0] if first is None else first, grid.numbers[-1] if last is None else last


def speed_of(text: str, own_bpm: float) -> float:
    """A tempo as it is typed ("92", "70 %") as a share of the song's. Raises InputError on what is no tempo."""
    found = _TEMPO.match(text)
    if found is None or float(found[1].replace(",", ".")) <= 0:
        raise InputError(
            f'"{one_line(text, 40)}" is no tempo: write beats a minute, like 92, or a share of the song\'s, like 70%'
        )
    from fourlimb.sound.render import FASTEST, SLOWEST

    said = float(found[1].replace(",", "."))
    speed = said / 100 if found[2] else said / own_bpm
    if not SLOWEST <= speed <= FASTEST:
        least, most = ceil(SLOWEST * own_bpm), floor(FASTEST * own_bpm)
        raise InputError(
            f"{one_line(text, 40)} cannot be played: the song has {own_bpm:.0f} beats a minute, use {least} to {most}"
        )
    return speed


def _format(path: Path) -> "Format":
    from fourlimb.sound import Format

    ending = path.suffix.lower().lstrip(".")
    for form in get_args(Format):
        if form == ending:
            found: Format = form
            return found
    raise InputError(f"{path} is no sound file's name: let it end in {', '.join('.' + f for f in get_args(Format))}")


def _name(lesson: Lesson, first: int, last: int, bpm: int) -> str:
    words = (safe_words(lesson.song.title), safe_words(f"{say_span(first, last)} at {bpm}"))
    return "-".join(word for word in words if word)


def at_rate_of_kit(audio: Audio) -> Audio:
    """A recording at the rate of all that is rendered, 44.1 kHz."""
    from fourlimb.sound.kit import RATE

    if audio.rate == RATE:
        return audio
    import soxr

    return Audio(soxr.resample(audio.samples, audio.rate, RATE).astype("float32"), RATE)
