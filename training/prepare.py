"""Pack everything the training draws on into one small folder (about 55 MB).

    python -m training.prepare DATA PACKED OUT [--band FOLDER]

DATA holds `groove/` (MIDI), PACKED the one-shots, notes, speech and first accompaniment already at 32 kHz,
`--band` more accompaniment (OGG with a JSON of beats beside each). Licences and credits: DATA.md.
Performances of the groove set's test rows are never read. Every second extra clip goes once through a real
MP3 encoder, because most records a teacher has went through one.
"""

import argparse
import csv
import io
import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from training.material import RATE_HZ
from training.sounds import INDEX

Floats = npt.NDArray[np.float32]

VORBIS_BLOCK_FRAMES = 16384
"""libsndfile crashes when a long Vorbis file is written in one call."""

VORBIS_LEVEL = 0.9
"""About 47 kbit/s mono at 32 kHz."""

NEEDED_S = 17.0
"""Shorter clips are repeated up to this, a little more than a training clip."""

LONGEST_S = 48.0


def main(argv: list[str] | None = None) -> None:
    """Write the pack."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("data", type=Path)
    p.add_argument("packed", type=Path)
    p.add_argument("out", type=Path)
    p.add_argument("--band", type=Path, help="folder of more accompaniment")
    p.add_argument("--band-minutes", type=float, default=45.0)
    a = p.parse_args(argv)
    a.out.mkdir(parents=True, exist_ok=True)
    pack_oneshots(a.packed, a.out)
    pack_notes(a.packed, a.out)
    pack_grooves(a.data / "groove", a.out)
    pack_band(a.packed, a.band, a.band_minutes, a.out)
    for path in sorted(a.out.iterdir()):
        print(f"{path.name:16s} {path.stat().st_size / 2**20:6.1f} MiB")


def pack_oneshots(packed: Path, out: Path) -> None:
    """Single strokes: the sound as it is, the list under our names."""
    shutil.copyfile(packed / "oneshots.flac", out / "oneshots.flac")
    rows = [
        {
            "kit": g["kit"],
            "sound": g["sound"],
            "held": bool(g["held"]),
            "recorded": bool(g["real"]),
            "samples": [{"start": s["off"], "length": s["len"], "onset_s": s["on"]} for s in g["s"]],
        }
        for g in json.loads((packed / "oneshots.json").read_text())
    ]
    (out / "oneshots.json").write_text(json.dumps(rows))


def pack_notes(packed: Path, out: Path) -> None:
    """Single notes of instruments, and speech."""
    shutil.copyfile(packed / "inst.ogg", out / "notes.ogg")
    shutil.copyfile(packed / "speech.ogg", out / "speech.ogg")
    rows = [
        {
            "program": i["prog"],
            "role": i["role"],
            "samples": [{"start": s["off"], "length": s["len"], "note": s["note"], "rms": s["rms"]} for s in i["s"]],
        }
        for i in json.loads((packed / "inst.json").read_text())
    ]
    (out / "notes.json").write_text(json.dumps(rows))


def pack_grooves(folder: Path, out: Path) -> None:
    """Human performances, moved later by their file's measured lead on the click."""
    note_map = json.loads((folder / "note_map.json").read_text())
    leads = {r["id"]: float(r["median_offset_ms"] or 0) for r in _rows(folder / "offsets.csv")}
    parts: list[npt.NDArray[np.float64]] = []
    index: list[dict[str, Any]] = []
    start = 0
    for row in _rows(folder / "info.csv"):
        path = folder / row["midi_filename"]
        if row["split"] == "test" or not path.exists():
            continue
        tempo = float(row["bpm"])
        events = read_performance(path, note_map)
        if len(events) < 4:
            continue
        events[:, 0] -= leads.get(row["id"], -9.9) / 1000 * tempo / 60
        numerator, denominator = map(int, row["time_signature"].split("-"))
        index.append(
            {
                "start": start, "length": len(events), "tempo_bpm": tempo, "numerator": numerator,
                "denominator": denominator, "style": row["style"], "fill": row["beat_type"] == "fill",
                "split": row["split"],
            }
        )  # fmt: skip
        parts.append(events)
        start += len(events)
    everything = np.concatenate(parts)
    np.savez_compressed(
        out / "grooves.npz",
        quarters=everything[:, 0].astype(np.float32),
        sound=everything[:, 1].astype(np.uint8),
        velocity=everything[:, 2].astype(np.uint8),
    )
    (out / "grooves.json").write_text(json.dumps(index))


def read_performance(path: Path, note_map: dict[str, dict[str, str]]) -> npt.NDArray[np.float64]:
    """Rows of (quarter notes, sound number, velocity) of one MIDI file, in time order."""
    import mido

    midi = mido.MidiFile(path)
    rows: list[tuple[float, int, int]] = []
    tick = 0
    for message in mido.merge_tracks(midi.tracks):
        tick += message.time
        if message.type == "note_on" and message.velocity > 0 and str(message.note) in note_map:
            sound = note_map[str(message.note)]["sound"]
            rows.append((tick / midi.ticks_per_beat, INDEX[sound], message.velocity))
    return np.array(rows, np.float64).reshape(-1, 3)


def pack_band(packed: Path, extra: Path | None, minutes: float, out: Path) -> None:
    """All accompaniment in one file: the packed clips, then up to `minutes` of the extra ones."""
    sound, _ = _sound(packed / "acc.ogg")
    parts = [sound]
    rows = [
        {
            "name": c["f"], "start": c["off"], "length": c["len"], "beats": c["beats"] or [],
            "meter": c["meter"],
        }
        for c in json.loads((packed / "acc.json").read_text())
    ]  # fmt: skip
    start = len(sound)
    known = {r["name"] for r in rows}
    left = minutes * 60 * RATE_HZ
    paths = sorted(p for p in extra.glob("*.ogg") if p.name not in known) if extra else []
    for k, path in enumerate(paths):
        if left <= 0:
            break
        clip, row = _clip(path, through_mp3=k % 2 == 1)
        rows.append({**row, "start": start})
        parts.append(clip)
        start += len(clip)
        left -= len(clip)
    _write_vorbis(out / "band.ogg", np.concatenate(parts))
    (out / "band.json").write_text(json.dumps(rows))
    print(f"accompaniment: {len(rows)} clips, {start / RATE_HZ / 60:.1f} min")


def _clip(path: Path, through_mp3: bool) -> tuple[Floats, dict[str, Any]]:
    import soxr

    sound, rate = _sound(path)
    if through_mp3:
        sound, rate = _mp3_round_trip(sound, rate)
    clip = np.asarray(soxr.resample(sound, rate, RATE_HZ)[: int(LONGEST_S * RATE_HZ)], np.float32)
    if len(clip) < NEEDED_S * RATE_HZ:
        clip = np.tile(clip, int(np.ceil(NEEDED_S * RATE_HZ / len(clip))))
    clip *= 0.7 / max(float(np.abs(clip).max()), 1e-6)
    meta: dict[str, Any] = {}
    if path.with_suffix(".json").exists():
        meta = json.loads(path.with_suffix(".json").read_text())
    end = len(clip) / RATE_HZ
    beats = [[b["time_s"], b["beat_in_bar"]] for b in meta.get("beats", []) if b["time_s"] < end]
    return clip, {"name": path.name, "length": len(clip), "beats": beats, "meter": meta.get("meter")}


def _mp3_round_trip(sound: Floats, rate: int) -> tuple[Floats, int]:
    import soundfile

    buffer = io.BytesIO()
    soundfile.write(buffer, sound, rate, format="MP3", subtype="MPEG_LAYER_III", compression_level=0.85)
    buffer.seek(0)
    back, rate = soundfile.read(buffer, dtype="float32")
    return np.asarray(back, np.float32), rate


def _sound(path: Path) -> tuple[Floats, int]:
    import soundfile

    sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    return sound.mean(1), rate


def _write_vorbis(path: Path, sound: Floats) -> None:
    import soundfile

    with soundfile.SoundFile(
        path, "w", RATE_HZ, 1, format="OGG", subtype="VORBIS", compression_level=VORBIS_LEVEL
    ) as f:
        for i in range(0, len(sound), VORBIS_BLOCK_FRAMES):
            f.write(sound[i : i + VORBIS_BLOCK_FRAMES])


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as f:
        return list(csv.DictReader(f))


if __name__ == "__main__":
    main()
