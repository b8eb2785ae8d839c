"""A recording too long to be held is decoded anew at each reading, and nobody can tell but by its memory."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from listen_material import SONG

from fourlimb.listen import listen, open_recording, read_audio
from fourlimb.listen.song import sounding
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import Audio, InputError, Recording, Samples, silent
from fourlimb.model.audio import in_blocks, peaks_of

RATE = 44_100
MIX = Path("data", "recordings", "mix")


def drums(seconds: float, channels: int = 1, rate: int = RATE) -> np.ndarray:
    """Thumps and hisses in turn; the second channel is softer."""
    rng = np.random.default_rng(5)
    t = np.arange(int(seconds * rate)) / rate
    since = t % 0.5
    thump, hiss = np.sin(2 * np.pi * 60 * since) * np.exp(-since / 0.08), rng.normal(0, 0.3, len(t))
    odd = (t / 0.5).astype(int) % 2 == 1
    mono = 0.5 * np.where(odd, hiss * np.exp(-since / 0.04), thump)
    return np.stack([mono * 0.7**k for k in range(channels)], axis=1).astype(np.float32)


def written(path: Path, samples: np.ndarray) -> Path:
    soundfile.write(path, samples, RATE)
    return path


def whole(recording: Recording, size: int = 1 << 16) -> Samples:
    return np.concatenate(list(recording.blocks(size)))


@pytest.mark.parametrize("size", [1, 7, 100, 1000])
def test_blocks_hold_every_sample_once_whatever_the_pieces(size: int) -> None:
    samples = np.arange(2222, dtype=np.float32).reshape(-1, 2)
    for cut in (1, 3, 99, 5000):
        blocks = list(in_blocks((samples[i : i + cut] for i in range(0, len(samples), cut)), size))
        assert all(len(block) == size for block in blocks[:-1])
        assert np.array_equal(np.concatenate(blocks), samples)


@pytest.mark.parametrize("suffix", ["wav", "flac", "mp3", "ogg"])
@pytest.mark.parametrize("channels", [1, 2])
def test_a_long_file_gives_the_samples_of_a_short_one(tmp_path: Path, suffix: str, channels: int) -> None:
    file = written(tmp_path / f"song.{suffix}", drums(14, channels))
    short, long = open_recording(file), open_recording(file, held=1000)
    assert isinstance(short, Audio)
    assert not isinstance(long, Audio)
    assert (long.rate, long.length, long.duration_s, long.notes) == (RATE, short.length, short.duration_s, ())
    assert np.array_equal(whole(long), short.samples)
    assert np.array_equal(whole(long, 9999), short.samples)
    assert np.array_equal(long.peaks(), short.peaks())


@pytest.mark.parametrize("channels", [1, 2])
def test_a_long_file_is_heard_as_a_short_one(tmp_path: Path, channels: int) -> None:
    file = written(tmp_path / "song.flac", drums(14, channels))
    short, long = (listen(open_recording(file, held=held), song=SONG) for held in (1 << 25, 1000))
    assert len(short.hits) > 10
    assert short == long


@dataclass(frozen=True)
class Piecemeal:
    """A recording that arrives in pieces of another size than is asked for."""

    audio: Audio
    cut: int

    rate = property(lambda self: self.audio.rate)
    length = property(lambda self: self.audio.length)
    duration_s = property(lambda self: self.audio.duration_s)
    notes = ()

    def blocks(self, size: int) -> Iterator[Samples]:
        return in_blocks(self.audio.blocks(self.cut), size)

    def peaks(self) -> Samples:
        return self.audio.peaks()


@pytest.mark.parametrize("cut", [4096, 100_003])
def test_what_is_heard_does_not_depend_on_the_size_of_pieces(cut: int) -> None:
    audio = Audio(drums(14), RATE)
    ears = NetworkEars()
    assert ears.hear(Piecemeal(audio, cut), silent).strokes == ears.hear(audio, silent).strokes


@pytest.mark.parametrize("track", ["80sRock", "Britpop", "Punk", "Reggae", "Shadows", "Zeppelin"])
def test_real_recordings_are_the_same_held_or_not(shared: Path, track: str) -> None:
    held, reread = (open_recording(shared / MIX / f"{track}.flac", held=n) for n in (1 << 25, 1000))
    assert held.length > 15 * RATE
    assert np.array_equal(whole(held), whole(reread, 10 * RATE))
    assert sounding(held) == sounding(reread)


def test_a_real_recording_is_heard_the_same_held_or_not(shared: Path) -> None:
    file = shared / MIX / "Reggae.flac"
    held, reread = (NetworkEars().hear(open_recording(file, held=n), silent).strokes for n in (1 << 25, 1000))
    assert len(held) > 50
    assert held == reread


def test_peaks_are_those_of_hundredths_of_a_second() -> None:
    samples = np.zeros((1000, 2), np.float32)
    samples[205, 1] = -0.5
    assert peaks_of([samples[:, :]], 1000).tolist() == [0.0] * 20 + [0.5] + [0.0] * 79


def test_corrupt_peaks_are_bounded_in_a_long_file_too(tmp_path: Path) -> None:
    samples = drums(4)
    samples[RATE] = 100.0
    soundfile.write(tmp_path / "song.wav", samples, RATE, subtype="FLOAT")
    short, long = (open_recording(tmp_path / "song.wav", held=held) for held in (1 << 25, 1000))
    assert whole(long).max() == whole(short).max() == long.peaks().max() == 1.0
    assert np.array_equal(whole(long), whole(short))


def test_a_long_file_damaged_in_the_middle_is_heard_round_the_damage(tmp_path: Path) -> None:
    file = written(tmp_path / "song.flac", drums(40))
    data = bytearray(file.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 40] = b"\x55" * 40
    file.write_bytes(data)
    short, long = (open_recording(file, held=held) for held in (1 << 25, 1000))
    assert long.duration_s > 38
    assert long.notes == short.notes
    assert "damaged" in long.notes[0]
    assert np.array_equal(whole(long), whole(short))


def test_numbers_that_are_none_are_refused_in_a_long_file_with_their_place(tmp_path: Path) -> None:
    samples = drums(4)
    samples[3 * RATE] = np.nan
    soundfile.write(tmp_path / "song.wav", samples, RATE, subtype="FLOAT")
    with pytest.raises(InputError, match=r"not numbers, first at 3\.000 s"):
        open_recording(tmp_path / "song.wav", held=1000)


@pytest.mark.parametrize("then", ["gone", "shorter", "longer", "noise"])
def test_a_file_that_changes_while_it_is_heard_gives_one_line(tmp_path: Path, then: str) -> None:
    file = written(tmp_path / "song.wav", drums(6))
    long = open_recording(file, held=1000)
    if then == "gone":
        os.remove(file)
    elif then == "noise":
        file.write_bytes(bytes(4096))
    else:
        written(file, drums(3 if then == "shorter" else 9))
    with pytest.raises(InputError, match="changed while it was heard") as caught:
        NetworkEars().hear(long, silent)
    assert "\n" not in str(caught.value)


def test_progress_of_a_long_file_is_told_to_the_end(tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    file = written(tmp_path / "song.flac", drums(27))
    recording = open_recording(file, lambda stage, share: told.append((stage, share)), held=1000)
    assert told[-1] == ("reading the recording", 1.0)
    listen(recording, song=SONG, progress=lambda stage, share: told.append((stage, share)))
    hearing = [share for stage, share in told if stage == "listening to the drums"]
    assert len(hearing) >= 6
    assert hearing == sorted(hearing)
    assert told[-1] == ("finding the sections", 1.0)


def test_read_audio_holds_it_whole_however_long(tmp_path: Path) -> None:
    file = written(tmp_path / "song.flac", drums(2))
    assert isinstance(read_audio(file), Audio)
