"""Renders "Night Ferry" and writes what ships: `python -m demo.make` (about 40 s).

Out: `src/fourlimb/demo/night_ferry.ogg` and its truth, `night_ferry.truth.json`, in the form of `fourlimb listen`.
Hits in the truth are those that were played, with the player's timing; layers that are not one drummer's are
marked.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from fourlimb.model import Audio, Beat, Grid, Hit, Landmark, Layer, Listening, Section, Song, Sound
from fourlimb.model.codec import pretty
from fourlimb.model.count import read_line, read_place
from fourlimb.model.grid import Bar, FeelSpan
from fourlimb.sound.encode import encode
from fourlimb.sound.kit import built_in, level
from fourlimb.sound.loudness import level_to, loudness, true_peak_db
from fourlimb.sound.perform import Blow, pan, perform
from fourlimb.sound.room import room

from . import band
from .band import RATE, Wave
from .song import (
    CHORDS,
    CRASHES,
    FIGURES,
    METER,
    PARTS,
    PICKUP_METER,
    START_S,
    TEMPO_BPM,
    TITLE,
    TUNE,
    Part,
)

OUT = Path(__file__).parents[1] / "src" / "fourlimb" / "demo"
TAIL_S = 2.2
SEED = 1917
TIMING_MS: dict[str, tuple[float, float]] = {
    "kit": (5.0, 0.0),
    "second snare": (2.0, 9.0),
    "hand percussion": (7.0, 2.0),
    "stacked kick": (3.0, 18.0),
}
"""Spread and lateness of each layer's player, milliseconds (human sets: 5-12 ms, measured on open performances)."""

LAYER_OF: dict[str, tuple[Sound, Layer]] = {
    "clap": ("clap", "second snare"),
    "shaker": ("shaker", "hand percussion"),
    "tambourine": ("tambourine", "hand percussion"),
    "low": ("kick", "stacked kick"),
}


@dataclass(frozen=True)
class Note:
    """One thing struck as written and as played."""

    bar: int
    position: Fraction
    sound: Sound
    velocity: int
    time_s: float
    layer: Layer
    flam: bool
    late_ms: float


def main() -> None:
    """Compose, play, mix, write."""
    grid = make_grid()
    notes = list(play(grid))
    count = int((grid.end_s + TAIL_S) * RATE)
    mixed = mix(grid, notes, count)
    OUT.mkdir(exist_ok=True)
    data = encode(mixed, "ogg", 0.65)
    (OUT / "night_ferry.ogg").write_bytes(data)
    (OUT / "night_ferry.truth.json").write_bytes(pretty(truth(grid, notes, data, mixed)))
    print(f"{mixed.duration_s:.1f} s, {len(data) // 1024} kB")
    print(f"{loudness(mixed):.1f} LUFS, {true_peak_db(mixed):.1f} dBTP")


def make_grid() -> Grid:
    """Bar 0 (two beats) and the bars of the form, in steady time."""
    beats, bars, at, beat_s = [], [], START_S, 60 / TEMPO_BPM
    for bar in range(PARTS[-1].to_bar + 1):
        meter = METER if bar else PICKUP_METER
        bars.append(Bar(bar=bar, start_s=round(at, 4), meter=meter, tempo_bpm=TEMPO_BPM))
        for beat in range(4 if bar else 2):
            beats.append(Beat(time_s=round(at, 4), bar=bar, beat=beat + 1, confidence=1.0))
            at += beat_s
    feel = [FeelSpan(from_bar=p.from_bar, to_bar=p.to_bar, feel=p.feel) for p in PARTS]
    return Grid(beats=tuple(beats), bars=tuple(bars), feel=(*_joined(feel),), end_s=round(at, 4))


def _joined(spans: list[FeelSpan]) -> list[FeelSpan]:
    out = [FeelSpan(from_bar=0, to_bar=spans[0].to_bar, feel=spans[0].feel)]
    for span in spans[1:]:
        if span.feel == out[-1].feel:
            out[-1] = FeelSpan(from_bar=out[-1].from_bar, to_bar=span.to_bar, feel=span.feel)
        else:
            out.append(span)
    return out


def play(grid: Grid) -> Iterator[Note]:
    """Every stroke of the song with a player's timing and touch."""
    rng = np.random.default_rng(SEED)
    yield from _bar(grid, 0, "pickup", rng)
    for part in PARTS:
        for bar, figure in enumerate(part.figures, start=part.from_bar):
            yield from _bar(grid, bar, figure, rng)


def _bar(grid: Grid, bar: int, figure: str, rng: np.random.Generator) -> Iterator[Note]:
    meter = grid.meter(bar)
    lines = [line.strip() for line in FIGURES[figure].split(";") if line.strip()]
    if bar in CRASHES:
        lines.append("crash 1")
    for line in lines:
        word = line.split()[0]
        text = line if word not in ("ghost", "flam", "low") else line.replace(word, "snare", 1)
        read, places = read_line(meter, text)
        for place in places:
            if bar in CRASHES and place == 0 and word in ("hat", "ride", "open"):
                continue
            sound, layer = LAYER_OF.get(word, (read, "kit"))
            yield _note(grid, bar, place, sound, layer, word, figure, rng)


def _note(
    grid: Grid,
    bar: int,
    place: Fraction,
    sound: Sound,
    layer: Layer,
    word: str,
    figure: str,
    rng: np.random.Generator,
) -> Note:
    spread, late = TIMING_MS[layer]
    off_ms = float(np.clip(rng.normal(late, spread), late - 2.2 * spread, late + 2.2 * spread))
    if layer == "stacked kick":
        off_ms = float(np.clip(off_ms, 10, 28))
    at = grid.time_at(bar, place) + off_ms / 1000
    return Note(bar, place, sound, _touch(sound, place, word, figure, rng), at, layer, word == "flam", off_ms)


def _touch(sound: Sound, place: Fraction, word: str, figure: str, rng: np.random.Generator) -> int:
    """How hard: on the beat harder than off it, ghosts quiet, rolls growing."""
    beat = (place * 4).denominator == 1
    base = {
        "kick": 108 if beat else 98, "snare": 110, "rim": 92, "hat_closed": 88 if beat else 64, "hat_open": 96,
        "hat_pedal": 70, "ride": 92 if beat else 72, "ride_bell": 96, "crash": 112, "clap": 92,
        "tambourine": 92 if beat else 70, "shaker": 92 if beat else (72 if (place * 8).denominator == 1 else 58),
    }.get(sound, 104)  # fmt: skip
    if word == "ghost":
        base = 36
    if word == "low":
        base = 96
    if figure == "double roll" and sound == "snare":
        base = 80 + int(40 * float(place))
    if figure == "kick alone":
        base = 104
    return int(np.clip(base + rng.normal(0, 4), 20, 127))


def mix(grid: Grid, notes: list[Note], count: int) -> Audio:
    """The whole band, mastered."""
    kit = built_in()
    drums = perform([b for n in notes if n.layer == "kit" for b in blows(n)], kit, count)
    hands = perform(
        [b for n in notes if n.layer in ("hand percussion", "second snare") for b in blows(n)], kit, count
    )
    total = drums.astype(np.float64) * 0.62 + hands * 0.95 + low_drum(notes, count) * 0.4
    dry, send = accompaniment(grid, notes, count)
    total += dry + room(send.astype(np.float32)) * 0.35
    return level_to(Audio(total.astype(np.float32), RATE), -15.0, -1.5)


def blows(note: Note) -> list[Blow]:
    """The strokes of one note: a flam has a soft one before it."""
    main = Blow(note.time_s, note.sound, note.velocity)
    return [Blow(note.time_s - 0.028, note.sound, 48), main] if note.flam else [main]


def low_drum(notes: list[Note], count: int) -> Wave:
    """A programmed low drum: a sine that falls to 42 Hz."""
    out = np.zeros((count, 2))
    at = np.arange(int(0.5 * RATE)) / RATE
    turns = 2 * np.pi * np.cumsum(42 + 90 * np.exp(-at / 0.03)) / RATE
    wave = np.tanh(np.sin(turns) * np.exp(-at / 0.16) * 1.8) * np.minimum(1, at / 0.002)
    for note in notes:
        if note.layer == "stacked kick":
            add(out, wave * (note.velocity / 127), note.time_s, 0.0)
    return out


def add(out: Wave, wave: Wave, time_s: float, side: float) -> None:
    """Adds a mono or stereo sound at a time."""
    start = round(time_s * RATE)
    end = max(start, min(len(out), start + len(wave)))
    start, end = min(start, len(out)), min(end, len(out))
    if wave.ndim == 1:
        out[start:end] += wave[: end - start, None] * pan(side)
    else:
        out[start:end] += wave[: end - start]


def accompaniment(grid: Grid, notes: list[Note], count: int) -> tuple[Wave, Wave]:
    """Everything but drums: dry sound, and what goes to the room."""
    out, send = np.zeros((count, 2)), np.zeros((count, 2))
    bass, keys, guitar = np.zeros((count, 2)), np.zeros((count, 2)), np.zeros((count, 2))
    for part in PARTS:
        for bar, chord in enumerate(part.chords, start=part.from_bar):
            _bass(bass, grid, notes, part, bar, chord)
            _organ(keys, grid, part, bar, chord)
            _guitar(guitar, grid, part, bar, chord)
    sung = sing(grid, count)[:, None] * pan(0.05)
    hoot = np.zeros((count, 2))
    add(hoot, band.horn(1.5), grid.at(25).start_s + 0.4, -0.2)
    add(hoot, band.horn(1.1), grid.at(26).start_s + 0.25, -0.2)
    guitar = band.amp(guitar, 3.0)
    strum = sparkle(grid, count)
    out += bass * 0.30 + keys * 0.30 + guitar * 0.42 + sung * 0.34 + hoot * 0.26 + strum * 0.10
    send += keys * 0.2 + guitar * 0.2 + sung * 0.3 + hoot * 0.4
    return out, send


def _bass(out: Wave, grid: Grid, notes: list[Note], part: Part, bar: int, chord: str) -> None:
    """The bass plays with the kick; in the race, eighths; silent where the kick is alone."""
    if part.name in ("horn", "engine"):
        return
    root = CHORDS[chord][0] - 12
    root += 12 if root < 30 else 0
    eighth = 30 / TEMPO_BPM
    if part.name == "race":
        for n in range(8):
            add(
                out,
                band.bass(root + (12 if n % 4 == 3 else 0), eighth * 0.85, 0.9),
                grid.time_at(bar, Fraction(n, 8)),
                0,
            )
        return
    kicks = sorted({n.position for n in notes if n.bar == bar and n.sound == "kick" and n.layer == "kit"})
    for place, after in zip(kicks, [*kicks[1:], Fraction(1)], strict=True):
        length = min(float(after - place) * 240 / TEMPO_BPM * 0.94, 2.6)
        if bar == PARTS[-1].to_bar:
            length = 2.4
        key = root + (7 if place == Fraction(7, 8) else 0)
        add(out, band.bass(key, length, 1.0), grid.time_at(bar, place), 0)


def _organ(out: Wave, grid: Grid, part: Part, bar: int, chord: str) -> None:
    soft = {"intro": 0.7, "verse": 0.55, "engine": 0.75, "horn": 0.9, "race": 0.8}.get(part.name, 1.0)
    length = grid.end(bar) - grid.at(bar).start_s
    if part.name == "horn":
        return
    if bar == PARTS[-1].to_bar:
        length += 1.6
    chorded = band.organ(CHORDS[chord][1:4], length + 0.05) * soft
    if bar == PARTS[-1].to_bar:
        chorded *= np.linspace(1, 0, len(chorded))[:, None] ** 1.5
    add(out, chorded, grid.at(bar).start_s, 0)


def _guitar(out: Wave, grid: Grid, part: Part, bar: int, chord: str) -> None:
    """Muted eighths in intro and verse, strummed chords in the choruses, picked chords on open water."""
    keys = CHORDS[chord][1:]
    if part.name in ("intro", "verse"):
        riff = (0, 2, 1, 2, 3, 2, 1, 2) if part.name == "intro" else (0, 0, 1, 0, 0, 1, 0, 0)
        for n, step in enumerate(riff):
            wave = band.pluck(keys[step] - (12 if part.name == "verse" else 0), 0.4, bar * 8 + n, 0.75, 0.5)
            add(out, wave * (1.0 if n % 2 == 0 else 0.75), grid.time_at(bar, Fraction(n, 8)), 0.5)
    elif part.name in ("chorus", "last chorus", "race"):
        places = (0, 3, 6) if part.name != "race" else (0, 2, 3, 5, 6)
        last = bar == PARTS[-1].to_bar
        for n in places[:1] if last else places:
            for string, key in enumerate(keys):
                length = 3.2 if last else 0.55 if part.name == "race" else 0.85
                wave = band.pluck(key, length, bar * 64 + n * 8 + string, 0.3, 2.5) * 0.5
                add(out, wave, grid.time_at(bar, Fraction(n, 8)) + string * 0.007, 0.45 if n % 2 else -0.45)
    elif part.name == "open water":
        for n, string in enumerate((0, 1, 2, 3, 2, 1, 2, 1)):
            add(
                out,
                band.pluck(keys[string], 0.9, bar * 8 + n, 0.25, 2.0) * 0.6,
                grid.time_at(bar, Fraction(n, 8)),
                0.4,
            )


def sparkle(grid: Grid, count: int) -> Wave:
    """A bright twelve-string an octave up in the choruses and the race.

    what a record has above the drums' own band.
    """
    out = np.zeros((count, 2))
    for part in PARTS:
        if part.name not in ("chorus", "last chorus", "race", "open water"):
            continue
        for bar, chord in enumerate(part.chords, start=part.from_bar):
            for n in range(1 if bar == PARTS[-1].to_bar else 8):
                key = CHORDS[chord][1 + (0, 2, 3, 1, 2, 3, 1, 2)[n]] + 12
                for twin, side in ((0.0, -0.6), (0.06, 0.6)):
                    wave = band.pluck(key + twin, 0.5, 9000 + bar * 16 + n, 0.0, 1.2)
                    add(out, band.highpass(wave, 1500) * 2, grid.time_at(bar, Fraction(n, 8)) + twin * 0.1, side)
    return out


def sing(grid: Grid, count: int) -> Wave:
    """The tune."""
    keys = []
    beat_s = 60 / TEMPO_BPM
    for bar, text in TUNE:
        for word in text.split(","):
            place, length, key = word.split()
            start = grid.time_at(bar, read_place(METER, place))
            keys.append((start, float(length) * beat_s * 0.96, float(key)))
    return band.voice(keys, count)


def truth(grid: Grid, notes: list[Note], data: bytes, mixed: Audio) -> Listening:
    """What is in the song, in the form of `fourlimb listen`."""
    loudest = max(level(n.sound, n.velocity) for n in notes if n.layer == "kit")
    ordered = sorted(notes, key=lambda n: (n.time_s, n.sound, n.layer))
    hits = tuple(
        Hit(
            id=number,
            time_s=round(n.time_s, 4),
            sound=n.sound,
            loudness_db=round(20 * float(np.log10(level(n.sound, n.velocity) / loudest)), 1),
            confidence=1.0,
            bar=n.bar,
            position=n.position,
            layer=None if n.layer == "kit" else n.layer,
            grace="flam" if n.flam else None,
            late_ms=round(n.late_ms, 1),
            by="file",
        )
        for number, n in enumerate(ordered, start=1)
    )
    silent = {p.name for p in PARTS if not any(FIGURES[f] for f in p.figures)}
    return Listening(
        song=Song(
            duration_s=round(mixed.duration_s, 4),
            sample_rate_hz=RATE,
            sha256=hashlib.sha256(data).hexdigest(),
            title=TITLE,
            credits=("Music and recording: made for fourlimb",),
        ),
        grid=grid,
        hits=hits,
        sections=tuple(
            Section(name=p.name, from_bar=p.from_bar, to_bar=p.to_bar, like=p.like, tacet=p.name in silent)
            for p in PARTS
        ),
        landmarks=tuple(Landmark(bar=bar, what=what) for p in PARTS for bar, what in p.landmarks),
    )


if __name__ == "__main__":
    main()
