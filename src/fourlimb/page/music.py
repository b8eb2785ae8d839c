"""Sheet -> what sounds and when, in musical time, so that the page can play it at any tempo.

Units: *quarters* are quarter notes from the bar line, as played (swung where the grid swings), rounded to 6 decimals;
tempi are quarter notes a minute. A live recording's small drift is played steady (see `steady_tempi`); real changes
of tempo are kept. The page multiplies every tempo by the percent the student chose: nothing here depends on it.

Cannot do: swing that changes with tempo, or a tempo that changes inside a bar.
"""

from collections.abc import Sequence
from fractions import Fraction
from statistics import median
from typing import Any, Final

from fourlimb.model import LIMBS, SOUNDS, Grid, Hit, Sheet, Sound
from fourlimb.model.grid import swing_out
from fourlimb.model.places import bar_length, beat_lengths, beat_of, beat_starts
from fourlimb.model.sounds import TOMS

DRIFT_SHARE: Final = 0.06
"""A bar whose tempo lies within this share of its stretch's median is drift, not a new tempo (judgement)."""

TURNS: Final = 12
"""Round robins come in twos, threes and fours: counting to twelve serves them all."""

SECOND: Final = "second "
VOICES: Final = (*SOUNDS, *(f"{SECOND}{sound}" for sound in SOUNDS))
"""What the page can strike: every sound, then the second of its kind (the other crash)."""

Row = list[float | int]


def bars(grid: Grid) -> list[dict[str, Any]]:
    """One entry per bar: number `n`, meter, length in quarters, tempo, and where its beats fall."""
    tempi = steady_tempi(grid)
    return [
        {
            "n": bar.bar,
            "meter": bar.meter,
            "quarters": quarters(bar_length(bar.meter)),
            "tempo": tempo,
            "beats": [quarters(start) for start in beat_starts(bar.meter)],
        }
        for bar, tempo in zip(grid.bars, tempi, strict=True)
    ]


def record(sheet: Sheet, heard: Sequence[Hit]) -> dict[str, Any] | None:
    """What lays a student's own copy of the recording under the bars; None for a song that is no recording.

    Its length, bar lines (one more than bars) and the strokes heard in it by their height, seconds.
    """
    if sheet.song.kind != "audio" or not heard:
        return None
    times: dict[str, set[float]] = {"low": set(), "middle": set(), "high": set()}
    for hit in heard:
        times[_height(hit.sound)].add(round(hit.time_s, 3))
    return {
        "seconds": round(sheet.song.duration_s, 2),
        "lines": [round(at, 3) for at in (*(bar.start_s for bar in sheet.grid.bars), sheet.grid.end_s)],
        "strokes": {height: sorted(found) for height, found in times.items()},
    }


def _height(sound: Sound) -> str:
    if sound == "kick":
        return "low"
    return "middle" if sound in TOMS or sound in ("snare", "rim", "clap") else "high"


def steady_tempi(grid: Grid) -> list[float]:
    """Quarter notes a minute for each bar, one number per stretch of (nearly) the same tempo."""
    heard = [bar.tempo_bpm * 4 * float(beat_lengths(bar.meter)[0]) for bar in grid.bars]
    stretches: list[list[float]] = []
    for index, tempo in enumerate(heard):
        after = heard[index + 1] if index + 1 < len(heard) else tempo
        if stretches and (_near(tempo, median(stretches[-1])) or not _near(tempo, after)):
            stretches[-1].append(tempo)  # one odd bar is a slip of the beat, not a new tempo
        else:
            stretches.append([tempo])
    return [round(median(stretch), 2) for stretch in stretches for _ in stretch]


def _near(tempo: float, other: float) -> bool:
    return abs(tempo - other) <= DRIFT_SHARE * other


def blows(sheet: Sheet) -> list[Row]:
    """Everything struck, in time order: [bar index, quarters, seconds, sound, velocity, limb, turn, stop ...].

    A stroke is one row or several (a flam has a soft one before it), each `seconds` after the stroke's own place, at
    any tempo. `sound` and `limb` are indexes into `VOICES` and `LIMBS`; `turn` counts the blows on one voice. A row
    that is silenced ends in two numbers more: after how many quarters and seconds together, and the seconds it takes.
    """
    from fourlimb.sound.strokes import blows_of, struck_again
    from fourlimb.sound.voicing import CLOSE_S, STOPS

    index = {bar.bar: i for i, bar in enumerate(sheet.grid.bars)}
    starts = _bar_starts(sheet.grid)
    struck = []
    numbers = sheet.grid.numbers
    for stroke in struck_again(sheet, numbers[0], numbers[-1]) if numbers else ():
        if stroke.bar in index:
            at = played(sheet.grid, stroke.bar, stroke.position)
            struck += [
                (index[stroke.bar], at, blow, LIMBS.index(stroke.limb)) for blow in blows_of(stroke, 0.0, None)
            ]
    rows: list[Row] = []
    ringing: dict[str, list[tuple[Row, float]]] = {}
    turns: dict[int, int] = {}
    for bar, at, blow, limb in struck:
        voice = SOUNDS.index(blow.sound) + (len(SOUNDS) if blow.second else 0)
        turns[voice] = turn = turns.get(voice, -1) + 1
        row: Row = [bar, at, round(blow.time_s, 4), voice, blow.velocity, limb, turn % TURNS]
        place = starts[bar] + at
        for stopped in STOPS.get(blow.sound, ()):
            for earlier, since in ringing.pop(stopped, []):
                if place > since and len(earlier) == len(row):
                    earlier += [round(place - since, 6), 0, CLOSE_S]
        if blow.stop:
            row += [0, round(blow.stop[0] - blow.time_s, 4), blow.stop[1]]
        ringing.setdefault(blow.sound, []).append((row, place))
        rows.append(row)
    return rows


def _bar_starts(grid: Grid) -> list[float]:
    """Quarters from the start of the song to each bar line."""
    starts, at = [], Fraction(0)
    for bar in grid.bars:
        starts.append(quarters(at))
        at += bar_length(bar.meter)
    return starts


def played(grid: Grid, bar: int, position: Fraction) -> float:
    """Quarters from the bar line at which a written position sounds."""
    meter = grid.meter(bar)
    if position >= bar_length(meter):
        return quarters(position)
    beat, inside = beat_of(meter, position)
    share = swing_out(float(inside), grid.feel_of(bar))
    return round(4 * (float(beat_starts(meter)[beat]) + share * float(beat_lengths(meter)[beat])), 6)


def quarters(length: Fraction) -> float:
    """Whole notes -> quarter notes."""
    return round(float(length * 4), 6)
