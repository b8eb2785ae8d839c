"""The Groove MIDI Dataset as performances with truth, and which half of it judges.

Rule: a recording session whose name has an even CRC-32 is set aside for judging; sessions with an odd one may be
used to learn and to tune. Sessions are never split, so no drummer's warm-up teaches what the same evening is
judged by.

Places: the performances were played against a click, so the click's bars are true. Each file sits early of the
click by its own median (`offsets.csv`); that is taken off before beats are called true.
"""

import csv
import json
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import mido
import numpy as np

from fourlimb.model import Grid, Hit, Sound
from fourlimb.model.grid import regular
from fourlimb.model.sounds import ORDER

DATA = Path(__file__).parents[2] / "shared" / "data"


@dataclass(frozen=True)
class Performance:
    """One file. `hits` in seconds, `grid` the click's bars; both start at 0."""

    name: str
    style: str
    bpm: float
    meter: str
    hits: tuple[Hit, ...]
    grid: Grid
    judging: bool


def judges(session: str) -> bool:
    """True when a session (its name in `info.csv`) is set aside for judging."""
    return zlib.crc32(session.encode()) % 2 == 0


def performances(*, judging: bool, kind: str | None = "beat", root: Path = DATA / "groove") -> Iterator[Performance]:
    """Performances of one half, in the order of `info.csv`; `kind` is "beat", "fill" or None for both."""
    offsets = _offsets(root)
    sounds = {int(k): v["sound"] for k, v in json.loads((root / "note_map.json").read_text()).items()}
    with (root / "info.csv").open() as file:
        for row in csv.DictReader(file):
            if judges(row["session"]) == judging and kind in (None, row["beat_type"]):
                yield _read(row, root, offsets.get(row["id"], -9.9) / 1000, sounds)


def _offsets(root: Path) -> dict[str, float]:
    with (root / "offsets.csv").open() as file:
        return {row["id"]: float(row["median_offset_ms"]) for row in csv.DictReader(file) if row["median_offset_ms"]}


def _read(row: dict[str, str], root: Path, offset_s: float, sounds: dict[int, Sound]) -> Performance:
    midi = mido.MidiFile(root / row["midi_filename"])
    bpm = float(row["bpm"])
    per_tick = 60 / bpm / midi.ticks_per_beat
    found, tick = [], 0
    for message in mido.merge_tracks(midi.tracks):
        tick += message.time
        if message.type == "note_on" and message.velocity > 0 and message.note in sounds:
            found.append((tick * per_tick - offset_s, sounds[message.note], message.velocity))
    found.sort(key=lambda n: (n[0], ORDER[n[1]]))
    hits = tuple(
        Hit(
            id=i,
            time_s=max(t, 0.0),
            sound=s,
            loudness_db=round(40 * float(np.log10(v / 127)), 1),
            confidence=1.0,
        )
        for i, (t, s, v) in enumerate(found, start=1)
    )
    meter = row["time_signature"].replace("-", "/")
    whole = sum(m.time for m in mido.merge_tracks(midi.tracks)) / midi.ticks_per_beat
    count, unit = (int(p) for p in meter.split("/"))
    bars = max(int(np.ceil(whole / (count * 4 / unit))), 1)
    return Performance(
        row["id"], row["style"], bpm, meter, hits, regular([meter] * bars, bpm), judges(row["session"])
    )
