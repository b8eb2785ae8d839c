"""Listening against the world outside: file standards, independent readers, published annotations.

Sources beside each check. Checks that need the data folder skip without it.
"""

import io
import json
from fractions import Fraction as F
from pathlib import Path

import mido
import numpy as np
import pytest

from fourlimb.listen import place_hits, read_midi
from fourlimb.listen.beats import smooth
from fourlimb.model import Hit
from fourlimb.model.grid import FeelSpan, regular

DATA = Path(__file__).parents[2].parent / "shared" / "data"


def test_a_file_without_tempo_runs_at_120() -> None:
    """Standard MIDI Files 1.0: without a tempo event a quarter lasts 500,000 microseconds, the meter is 4/4."""
    track = mido.MidiTrack([mido.Message("note_on", channel=9, note=36, velocity=90, time=960)])
    file = mido.MidiFile(type=0, ticks_per_beat=480)
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    heard = read_midi(out.getvalue(), name="plain.mid")
    assert heard.hits[0].time_s == pytest.approx(1.0)
    assert heard.grid.bars[0].meter == "4/4"
    assert (heard.hits[0].bar, heard.hits[0].position) == (1, F(1, 2))


def test_ticks_become_seconds_as_mido_plays_them() -> None:
    """Independent reader: mido's own playback clock, over three tempo changes."""
    track = mido.MidiTrack()
    for bpm, ticks in ((90, 0), (140, 700), (61, 333), (200, 1111)):
        track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=ticks))
        track.append(mido.Message("note_on", channel=9, note=38, velocity=90, time=41))
    file = mido.MidiFile(type=0, ticks_per_beat=384)
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    clock, played = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(out.getvalue())):
        clock += message.time
        if message.type == "note_on":
            played.append(clock)
    heard = read_midi(out.getvalue(), name="tempi.mid")
    assert [h.time_s for h in heard.hits] == pytest.approx(played, abs=1e-4)


def test_general_midi_percussion_keys_are_read_as_their_names() -> None:
    """General MIDI Level 1 percussion key map (keys 35-81, 0-based numbers)."""
    named = {35: "kick", 36: "kick", 37: "rim", 38: "snare", 39: "clap", 42: "hat_closed", 44: "hat_pedal",
             46: "hat_open", 49: "crash", 51: "ride", 52: "china", 53: "ride_bell", 54: "tambourine",
             55: "splash", 56: "cowbell", 57: "crash", 59: "ride"}  # fmt: skip
    track = mido.MidiTrack([mido.Message("note_on", channel=9, note=k, velocity=90, time=480) for k in named])
    file = mido.MidiFile(type=0, ticks_per_beat=480)
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    assert [h.sound for h in read_midi(out.getvalue(), name="map.mid").hits] == list(named.values())


def test_smoothing_solves_the_penalised_least_squares_it_says() -> None:
    """Whittaker 1923: minimise sum w (x - t)^2 + s sum (second difference)^2; numpy's dense solver as reference."""
    rng = np.random.default_rng(3)
    t, w = np.cumsum(rng.uniform(40, 60, 25)), rng.uniform(0.2, 1, 25)
    scaled = w / np.median(w) + 1e-4
    second = np.diff(np.eye(25), 2, axis=0)
    dense = np.linalg.solve(np.diag(scaled) + 4 * second.T @ second, scaled * t)
    assert smooth(t, w) == pytest.approx(dense, abs=1e-8)


@pytest.mark.parametrize(("bpm", "ratio"), [(120, 3.2), (160, 2.7), (200, 2.2), (240, 1.8)])
def test_swung_rides_of_real_ratios_are_written_as_eighths(bpm: float, ratio: float) -> None:
    """Friberg and Sundstroem, Music Perception 19(3), 2002: ratios of jazz drummers' rides fall from about 3.5:1 at
    slow tempi to 1:1 at fast ones (values here rounded, from memory of their figure)."""
    share = ratio / (1 + ratio)
    grid = regular(["4/4"] * 4, bpm)
    swung = FeelSpan(from_bar=1, to_bar=4, feel="straight", swing=share)
    import msgspec

    played = msgspec.structs.replace(grid, feel=(swung,))
    hits = tuple(
        Hit(
            id=n, time_s=round(played.time_at(bar, F(e, 8), swung=True), 4), sound="ride", loudness_db=0, confidence=1
        )
        for n, (bar, e) in enumerate((bar, e) for bar in grid.numbers for e in range(8))
    )
    assert [h.position for h in place_hits(played, hits)] == [F(e, 8) for _ in grid.numbers for e in range(8)]


@pytest.mark.usefixtures("shared")
@pytest.mark.parametrize("track", ["Shadows", "Britpop"])
def test_annotated_strokes_of_real_songs_stand_on_their_bars(track: str) -> None:
    """MDB Drums (Southall et al. 2017, CC BY-NC-SA 4.0): hand-annotated strokes and beats of two rock songs in straight
    eighths; given the annotated strokes alone, beats must be found and nearly all strokes lie on 16ths."""
    from fourlimb.listen.bars import find_grid
    from fourlimb.listen.evidence import from_hits

    truth = json.loads((DATA / "recordings" / "truth" / f"{track}.json").read_text())
    hits = tuple(
        Hit(id=n, time_s=h["time_s"], sound=h["sound"], loudness_db=-3.0, confidence=1.0)
        for n, h in enumerate(truth["hits"], start=1)
    )
    grid = find_grid(from_hits(hits, truth["beats"][-1]["time_s"]))
    assert grid is not None
    beats, found = np.array([b["time_s"] for b in truth["beats"]]), np.array([b.time_s for b in grid.beats])
    assert np.mean([np.abs(found - t).min() < 0.07 for t in beats]) > 0.95
    placed = place_hits(grid, hits)
    assert np.mean([h.position is not None and (h.position * 16).denominator == 1 for h in placed]) > 0.95
