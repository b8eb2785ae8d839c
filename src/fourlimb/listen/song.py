"""The whole of listening to a recording: ears, beats, bars, places, form, in that order."""

import msgspec
import numpy as np
import numpy.typing as npt

from fourlimb.model import Grid, Hit, Listening, Possible, Progress, Recording, Song, silent
from fourlimb.model.audio import peak_size
from fourlimb.model.sounds import ORDER

from .bars import grid_of, ranked, steady_grid
from .beats import steady
from .doubt import calibrated
from .ears import Ears, Heard
from .evidence import Evidence, from_heard
from .feel import find_feel
from .form import form
from .harmony import chroma
from .layers import layered
from .other_tempo import other_tempo
from .places import place_hits
from .repeats import hear_again

FEW_STROKES = 8
"""Fewer strokes than this in a whole recording are noises, not drums (ours)."""
DRUMS_A_MINUTE = 6.0
SILENT_SHARE = 0.004
"""-48 dB below the loudest: before and after, nothing plays (ours)."""
LONG_SILENCE_S = 4.0
UNSURE_BAR = 0.4
"""Mean confidence of a bar's beats under which its lines may be wrong (`doubt` uses the same)."""
UNSURE_SHARE = 0.2
PHRASE_BARS = 4
JUMP = 0.12
"""A band without a click drifts by less than this between two phrases (ours; trade practice is some 5 %)."""
LOST_BEAT = 0.2
"""Mean confidence of beats under which there is no beat to speak of (ours)."""


def listen(audio: Recording, *, song: Song, ears: Ears | None = None, progress: Progress = silent) -> Listening:
    """Everything heard in a recording. Never fails on decoded sound: what is unsure is said in `notes`.

    `ears` is the detector (`default_ears()` when None); `progress` is told stages in a teacher's words.
    """
    detector = ears if ears is not None else default_ears()
    heard = detector.hear(audio, progress)
    hits = hits_of(heard)
    progress("finding the beat", 0.0)
    evidence = from_heard(heard, hits, audio.duration_s, sounding=sounding(audio), chroma=chroma(audio))
    grid, notes = _grid(evidence)
    progress("putting every stroke on its place", 0.5)
    grid = msgspec.structs.replace(grid, feel=find_feel(grid, hits))
    placed = hear_again(grid, place_hits(grid, hits), heard)
    placed = layered(calibrated(placed) if evidence.trained else placed)
    progress("finding the sections", 0.8)
    possible = _possible(heard, hits, placed)
    sections, landmarks, doubts = form(grid, placed, possible)
    progress("finding the sections", 1.0)
    return Listening(
        song=song,
        grid=grid,
        hits=placed,
        sections=sections,
        landmarks=landmarks,
        doubts=doubts,
        notes=(
            *audio.notes,
            *heard.notes,
            *_drums_said(heard, audio),
            *notes,
            *_gaps_said(audio),
        ),
        colours=tuple((hit.id, s.colour) for hit, s in zip(hits, heard.strokes, strict=True) if s.colour),
        possible=possible,
        extra={"ears": detector.name},
    )


def default_ears() -> Ears:
    """The detector used when none is named: the trained ears. The only place that decides."""
    from .trained import NetworkEars

    return NetworkEars()


def hits_of(heard: Heard) -> tuple[Hit, ...]:
    """Strokes as hits without places."""
    return tuple(
        Hit(
            id=number,
            time_s=round(float(stroke.time_s), 4),
            sound=stroke.sound,
            loudness_db=round(min(float(stroke.loudness_db), 0.0), 1),
            confidence=round(min(max(float(stroke.confidence), 0.0), 1.0), 3),
        )
        for number, stroke in enumerate(heard.strokes, start=1)
    )


def _possible(heard: Heard, hits: tuple[Hit, ...], placed: tuple[Hit, ...]) -> tuple[Possible, ...]:
    """What the ears were not sure enough of, and what the second pass took out, in time order."""
    kept = {hit.id for hit in placed}
    found = [*heard.possible, *(s for hit, s in zip(hits, heard.strokes, strict=True) if hit.id not in kept)]
    return tuple(
        Possible(
            time_s=round(float(stroke.time_s), 4),
            sound=stroke.sound,
            loudness_db=round(min(float(stroke.loudness_db), 0.0), 1),
            confidence=round(min(max(float(stroke.confidence), 0.0), 1.0), 3),
        )
        for stroke in sorted(found, key=lambda s: (s.time_s, ORDER[s.sound]))
    )


def sounding(audio: Recording) -> tuple[float, float]:
    """Seconds where the music starts and ends: the first and last hundredth of a second above `SILENT_SHARE`."""
    loud = np.flatnonzero(_loud(audio))
    if not len(loud):
        return 0.0, audio.duration_s
    step_s = peak_size(audio.rate) / audio.rate
    return round(float(loud[0]) * step_s, 4), round(min((float(loud[-1]) + 1) * step_s, audio.duration_s), 4)


def _loud(audio: Recording) -> npt.NDArray[np.bool_]:
    """For each hundredth of a second (see `Recording.peaks`), whether anything plays."""
    peaks = audio.peaks()
    loud: npt.NDArray[np.bool_] = peaks > SILENT_SHARE * max(float(peaks.max(initial=0.0)), 1e-9)
    return loud


def _gaps_said(audio: Recording) -> tuple[str, ...]:
    """A sentence when the music stops for long and goes on: perhaps two songs in one file."""
    loud = np.flatnonzero(_loud(audio))
    gaps = np.flatnonzero(np.diff(loud) > LONG_SILENCE_S * 100)
    if not len(gaps):
        return ()
    step_s = peak_size(audio.rate) / audio.rate
    start, stop = loud[gaps[0]] * step_s, loud[gaps[0] + 1] * step_s
    return (
        f"nothing plays from {int(start // 60)}:{start % 60:04.1f} to {int(stop // 60)}:{stop % 60:04.1f}: "
        "if these are two songs, cut the file there",
    )


def _grid(evidence: Evidence) -> tuple[Grid, tuple[str, ...]]:
    found = ranked(evidence)
    grid = grid_of(found, evidence)
    if grid is not None and _trust(grid, evidence) >= LOST_BEAT:
        other = other_tempo(found, evidence)
        return grid, (*beat_said(grid), *([other] if other else []))
    why = (
        "no steady beat was found: bars are counted at an even tempo as a start; put them right with corrections "
        "like: bar line at 12.3"
    )
    start = evidence.hits[0].time_s if evidence.hits else evidence.starts_s
    even = steady_grid(steady(evidence.duration_s, start_s=start), evidence)
    return _unsure(even if grid is None else grid), (why,)


def _trust(grid: Grid, evidence: Evidence) -> float:
    """Mean confidence of the beats from the first stroke to the last (of all when there are no strokes)."""
    low, high = (evidence.hits[0].time_s - 1, evidence.hits[-1].time_s + 1) if evidence.hits else (0.0, np.inf)
    inside = [beat.confidence for beat in grid.beats if low <= beat.time_s <= high]
    return float(np.mean(inside)) if inside else 0.0


def beat_said(grid: Grid) -> tuple[str, ...]:
    """Sentences on a beat that is unsure for long, and on a tempo that jumps."""
    trust: dict[int, list[float]] = {}
    for beat in grid.beats:
        trust.setdefault(beat.bar, []).append(beat.confidence)
    unsure = [bar for bar, beats in trust.items() if float(np.mean(beats)) < UNSURE_BAR]
    said = []
    if len(unsure) >= max(UNSURE_SHARE * len(grid.bars), 2):
        s = f"{len(unsure)} of {len(grid.bars)} bars"
        said.append(f"the beat is unsure in {s}, first in bar {unsure[0]}: check where the one is there")
    jump = _jump(grid)
    if jump is not None:
        bar, before, after = jump
        said.append(
            f"the tempo goes from {before:.0f} to {after:.0f} at bar {bar}: "
            "if these are two songs, cut the file there; if not, check the bar lines round it"
        )
    return tuple(said)


def _jump(grid: Grid) -> tuple[int, float, float] | None:
    """The bar where the tempo jumps most from one phrase to the next, if it does: (bar, before, after)."""
    tempi = np.array([bar.tempo_bpm for bar in grid.bars])
    sides = [
        (float(np.median(tempi[n - PHRASE_BARS : n])), float(np.median(tempi[n : n + PHRASE_BARS])))
        for n in range(PHRASE_BARS, len(tempi) - PHRASE_BARS + 1)
    ]
    if not sides:
        return None
    change = [abs(np.log(after / before)) for before, after in sides]
    most = int(np.argmax(change))
    return (grid.bars[most + PHRASE_BARS].bar, *sides[most]) if change[most] > np.log(1 + JUMP) else None


def _unsure(grid: Grid) -> Grid:
    beats = tuple(msgspec.structs.replace(beat, confidence=0.0) for beat in grid.beats)
    changed: Grid = msgspec.structs.replace(grid, beats=beats)
    return changed


def _drums_said(heard: Heard, audio: Recording) -> tuple[str, ...]:
    count = len(heard.strokes)
    if count == 0:
        return ("no drums were found in this recording: is it the right file?",)
    if count < FEW_STROKES or count / max(audio.duration_s / 60, 0.05) < DRUMS_A_MINUTE:
        return (f"almost no drums were found ({count} strokes): what is written may be other noises",)
    if len(heard.drums_present) and not np.any(heard.drums_present > 0.5):
        return ("no drums were found that sound like a drum set: what is written may be other noises",)
    return ()
