"""Packed training material: what lies in the pack, and how it is opened.

A pack is a folder written by `python -m training.prepare`:

=================  ==============================================================================
`oneshots.flac`    single strokes, mono 32 kHz, end to end; `oneshots.json` lists kits and sounds
`notes.ogg`        single notes of instruments; `notes.json`
`speech.ogg`       synthetic speech
`band.ogg`         clips of music without drums; `band.json` with beats where they are known; more of
                   them in `band2.ogg`, `band2.json` and so on
`grooves.npz`      human performances as (quarter-note time, sound, velocity); `grooves.json`
=================  ==============================================================================

All sounds end up in one flat array per kind, so that a stroke is an offset and a length.
"""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

RATE_HZ = 32000
PAD_SAMPLES = 400_000

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Sample:
    """One stroke or note inside the flat array; `onset_s` is the attack's place in it."""

    start: int
    length: int
    onset_s: float = 0.0
    note: float = 60.0
    rms: float = 0.1


@dataclass(frozen=True)
class Group:
    """All strokes of one sound on one kit, soft to loud. `held` kits are kept from training."""

    kit: str
    sound: str
    held: bool
    recorded: bool
    samples: tuple[Sample, ...]


@dataclass(frozen=True)
class Instrument:
    """Single notes of one General MIDI program."""

    program: int
    role: str
    samples: tuple[Sample, ...]


@dataclass(frozen=True)
class BandClip:
    """Music without drums. `beats_s` and `beat_in_bar` are empty where the beat is not known."""

    name: str
    start: int
    length: int
    beats_s: Floats
    beat_in_bar: npt.NDArray[np.int64]
    meter: str


@dataclass(frozen=True)
class Groove:
    """A human performance: rows of (quarter notes from the start, sound number, velocity 0..1)."""

    events: Floats
    tempo_bpm: float
    numerator: int
    denominator: int
    style: str
    fill: bool
    validation: bool


@dataclass
class Index:
    """Everything a plan needs to know about the pack, without the sound itself."""

    groups: dict[str, list[Group]] = field(default_factory=dict)
    held_groups: dict[str, list[Group]] = field(default_factory=dict)
    instruments: list[Instrument] = field(default_factory=list)
    clips: list[BandClip] = field(default_factory=list)
    grooves: list[Groove] = field(default_factory=list)
    speech: tuple[int, int] = (0, 0)
    variants: int = 1
    variant_stride: int = 0

    def sounds_of(self, sound: str, held: bool) -> list[Group]:
        """Groups of a sound; where no held kit has it, the training kits' stand in."""
        return (self.held_groups if held else self.groups).get(sound) or self.groups[sound]


@dataclass
class Sounds:
    """The pack's sound: `strokes` (one-shots, then notes, then speech) and `band`."""

    oneshots: Floats
    rest: Floats
    band: Floats


def open_pack(folder: Path, variants: int = 1) -> tuple[Index, Sounds]:
    """Read a pack.

    variants : copies of the one-shots that lie one after another before the notes (see `render.vary`).
    """
    oneshots, notes, speech = (_read(folder / n) for n in ("oneshots.flac", "notes.ogg", "speech.ogg"))
    band, clips = _bands(folder)
    notes_at = variants * len(oneshots)
    speech_at = notes_at + len(notes)
    index = Index(
        instruments=_instruments(_json(folder / "notes.json"), notes_at),
        clips=clips,
        grooves=_grooves(folder),
        speech=(speech_at, len(speech)),
        variants=variants,
        variant_stride=len(oneshots),
    )
    for group in _groups(_json(folder / "oneshots.json")):
        (index.held_groups if group.held else index.groups).setdefault(group.sound, []).append(group)
    rest = np.concatenate([notes, speech, np.zeros(PAD_SAMPLES, np.float32)])
    return index, Sounds(oneshots, rest, band)


def _read(path: Path) -> Floats:
    import soundfile

    return np.asarray(soundfile.read(path, dtype="float32")[0], np.float32)


def _json(path: Path) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = json.loads(path.read_text())
    return rows


def _groups(rows: list[dict[str, Any]]) -> list[Group]:
    return [
        Group(
            r["kit"],
            r["sound"],
            r["held"],
            r["recorded"],
            tuple(Sample(s["start"], s["length"], s["onset_s"]) for s in r["samples"]),
        )
        for r in rows
    ]


def _instruments(rows: list[dict[str, Any]], at: int) -> list[Instrument]:
    return [
        Instrument(
            r["program"],
            r["role"],
            tuple(Sample(at + s["start"], s["length"], note=s["note"], rms=s["rms"]) for s in r["samples"]),
        )
        for r in rows
    ]


def _bands(folder: Path) -> tuple[Floats, list[BandClip]]:
    """Accompaniment of all files, end to end."""
    sounds: list[Floats] = []
    clips: list[BandClip] = []
    for path in sorted(folder.glob("band*.ogg")):
        clips += _clips(_json(path.with_suffix(".json")), sum(map(len, sounds)))
        sounds.append(_read(path))
    return np.concatenate(sounds), clips


def _clips(rows: list[dict[str, Any]], at: int) -> list[BandClip]:
    return [
        BandClip(
            r["name"],
            at + r["start"],
            r["length"],
            np.array([b[0] for b in r["beats"]], np.float32),
            np.array([b[1] for b in r["beats"]], np.int64),
            r["meter"] or "",
        )
        for r in rows
    ]


def _grooves(folder: Path) -> list[Groove]:
    packed = np.load(folder / "grooves.npz")
    events = np.stack([packed["quarters"], packed["sound"], packed["velocity"] / 127.0], 1).astype(np.float32)
    return [
        Groove(
            events[r["start"] : r["start"] + r["length"]],
            r["tempo_bpm"],
            r["numerator"],
            r["denominator"],
            r["style"],
            r["fill"],
            r["split"] == "validation",
        )
        for r in _json(folder / "grooves.json")
    ]
