"""Every kind of file: good ones come in whole, bad ones give one clear line."""

import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fourlimb.listen import read_audio
from fourlimb.model import InputError, MissingPartError

RATE = 44_100


def tone(seconds: float, channels: int = 1, rate: int = RATE) -> np.ndarray:
    t = np.arange(int(seconds * rate)) / rate
    return np.repeat(0.4 * np.sin(2 * np.pi * 330 * t)[:, None], channels, axis=1).astype(np.float32)


@pytest.mark.parametrize(
    ("suffix", "kind"), [("wav", "PCM_16"), ("flac", "PCM_16"), ("ogg", "VORBIS"), ("mp3", None)]
)
def test_a_song_comes_in_at_its_length(tmp_path: Path, suffix: str, kind: str | None) -> None:
    file = tmp_path / f"song.{suffix}"
    soundfile.write(file, tone(2.0, 2), RATE, subtype=kind)
    audio = read_audio(file)
    assert audio.rate == RATE
    assert audio.duration_s == pytest.approx(2.0, abs=0.01)
    assert audio.samples.shape[1] == 2
    assert np.abs(audio.samples).max() == pytest.approx(0.4, abs=0.02)
    assert audio.notes == ()


@pytest.mark.parametrize("rate", [8_000, 192_000])
def test_unusual_rates_are_kept(tmp_path: Path, rate: int) -> None:
    soundfile.write(tmp_path / "song.wav", tone(1.0, rate=rate), rate)
    assert read_audio(tmp_path / "song.wav").rate == rate


def test_eight_channels_are_mixed_to_their_mean(tmp_path: Path) -> None:
    samples = np.zeros((RATE, 8), np.float32)
    samples[:, 3] = 0.8
    soundfile.write(tmp_path / "song.wav", samples, RATE, subtype="FLOAT")
    audio = read_audio(tmp_path / "song.wav")
    assert audio.samples.shape == (RATE, 1)
    assert audio.samples.max() == pytest.approx(0.1, abs=1e-6)


def make_m4a(path: Path, seconds: float = 2.0, *, picture: bool = False, streams: int = 1) -> None:
    import av

    with av.open(str(path), "w") as container:
        if picture:
            video = container.add_stream("mpeg4", rate=10)
            video.width = video.height = 64
            video.pix_fmt = "yuv420p"
        sounds = [container.add_stream("aac", rate=RATE) for _ in range(streams)]
        for stream in sounds:
            stream.layout = "mono"
        for number, stream in enumerate(sounds):
            samples = tone(seconds)[:, 0][None] * (1 if number == 0 else 0.1)
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples), format="fltp", layout="mono")
            frame.sample_rate = RATE
            for packet in (*stream.encode(frame), *stream.encode(None)):
                container.mux(packet)
        if picture:
            still = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
            for packet in (*video.encode(still), *video.encode(None)):
                container.mux(packet)


def test_the_sound_of_a_video_is_read(tmp_path: Path) -> None:
    make_m4a(tmp_path / "film.mp4", picture=True)
    audio = read_audio(tmp_path / "film.mp4")
    assert audio.duration_s == pytest.approx(2.0, abs=0.05)
    assert np.abs(audio.samples[2000:-3000]).max() == pytest.approx(0.4, abs=0.05)


def test_of_several_sound_tracks_the_first_is_used_and_said(tmp_path: Path) -> None:
    make_m4a(tmp_path / "film.mp4", streams=2)
    audio = read_audio(tmp_path / "film.mp4")
    assert np.abs(audio.samples[2000:-3000]).max() > 0.3
    assert "2 sound tracks" in audio.notes[0]


def test_a_picture_without_sound_is_refused(tmp_path: Path) -> None:
    make_m4a(tmp_path / "film.mp4", picture=True, streams=0)
    with pytest.raises(InputError, match="no sound"):
        read_audio(tmp_path / "film.mp4")


def test_without_av_the_line_names_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_m4a(tmp_path / "song.m4a")
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    with pytest.raises(MissingPartError, match=r'pip install "fourlimb\[video\]"'):
        read_audio(tmp_path / "song.m4a")


def test_a_cut_flac_gives_what_is_there_and_says_so(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    soundfile.write(tmp_path / "whole.flac", rng.uniform(-0.5, 0.5, (RATE * 4, 1)), RATE)
    data = (tmp_path / "whole.flac").read_bytes()
    (tmp_path / "cut.flac").write_bytes(data[: len(data) // 2])
    audio = read_audio(tmp_path / "cut.flac")
    assert 1.5 < audio.duration_s < 2.1
    assert audio.notes


def test_a_cut_m4a_is_refused_in_one_line(tmp_path: Path) -> None:
    make_m4a(tmp_path / "whole.m4a")
    data = (tmp_path / "whole.m4a").read_bytes()
    (tmp_path / "cut.m4a").write_bytes(data[: len(data) // 2])
    with pytest.raises(InputError, match="copy it again"):
        read_audio(tmp_path / "cut.m4a")


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers_are_refused_with_their_place(tmp_path: Path, bad: float) -> None:
    samples = tone(2.0)
    samples[RATE + 441] = bad
    soundfile.write(tmp_path / "song.wav", samples, RATE, subtype="FLOAT")
    with pytest.raises(InputError, match=r"not numbers, first at 1\.010 s"):
        read_audio(tmp_path / "song.wav")


def header_only(path: Path) -> None:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)


BAD = {
    "empty.wav": b"",
    "text.wav": b"Verse: the ferry leaves at nine\n" * 40,
    "noise.m4a": bytes(np.random.default_rng(3).integers(0, 256, 5000, dtype=np.uint8)),
    "riff.wav": b"RIFF\x24\x00\x00\x00WAVE",
    "zeros.mp3": bytes(4096),
}


@pytest.mark.parametrize("name", BAD)
def test_a_file_that_is_no_sound_gives_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(BAD[name])
    with pytest.raises(InputError) as caught:
        read_audio(tmp_path / name)
    assert name in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("begins", "kind"),
    [
        (b"Verse: the ferry leaves at nine, says M\xc3\xbcller\n" * 40, "text"),
        (b"<!DOCTYPE html><title>Download</title>" * 40, "a web page"),
        (b"%PDF-1.7\n%\xe2\xe3", "a PDF"),
        (b"PK\x03\x04" + bytes(60), "a packed folder"),
        (b"\x89PNG\r\n\x1a\n" + bytes(60), "a picture"),
    ],
)
def test_what_is_surely_no_recording_is_called_by_its_name(tmp_path: Path, begins: bytes, kind: str) -> None:
    (tmp_path / "song.mp3").write_bytes(begins)
    with pytest.raises(InputError, match=f"song.mp3 is {kind}"):
        read_audio(tmp_path / "song.mp3")


def test_a_header_without_sound_is_refused(tmp_path: Path) -> None:
    header_only(tmp_path / "song.wav")
    with pytest.raises(InputError, match="no sound in it"):
        read_audio(tmp_path / "song.wav")


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        read_audio(tmp_path / "none.wav")
    with pytest.raises(InputError, match="is a folder"):
        read_audio(tmp_path)


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "mp3"])
@pytest.mark.parametrize("seed", range(6))
def test_damaged_bytes_never_do_worse_than_one_line(tmp_path: Path, suffix: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    soundfile.write(tmp_path / "good", rng.uniform(-0.5, 0.5, (RATE, 1)), RATE, format=suffix.upper())
    data = bytearray((tmp_path / "good").read_bytes())
    for at in rng.integers(0, len(data), 30):
        data[at] = int(rng.integers(0, 256))
    file = tmp_path / f"bad.{suffix}"
    file.write_bytes(bytes(data[: int(rng.integers(len(data) // 4, len(data)))]))
    try:
        audio = read_audio(file)
    except InputError as error:
        said = str(error)
    else:
        assert np.isfinite(audio.samples).all()
        assert np.abs(audio.samples).max() <= 64
        return
    assert "\n" not in said


def damaged_mp3(tmp_path: Path, seconds: float = 20.0) -> Path:
    """An MP3 in which every thousandth byte is another one, but for the first tenth."""
    noise = np.random.default_rng(0).uniform(-0.5, 0.5, (round(seconds * RATE), 2))
    soundfile.write(tmp_path / "good.mp3", noise, RATE)
    data = bytearray((tmp_path / "good.mp3").read_bytes())
    for at in range(len(data) // 10, len(data), 997):
        data[at] ^= 0x55
    file = tmp_path / "scratched.mp3"
    file.write_bytes(bytes(data))
    return file


def test_a_damaged_mp3_says_one_thing_in_our_words_and_nothing_else(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    audio = read_audio(damaged_mp3(tmp_path))
    assert capfd.readouterr() == ("", "")
    assert len(audio.notes) == 1
    assert audio.notes[0].startswith("scratched.mp3 is damaged")


def test_a_decoder_that_loses_its_way_is_followed_by_the_other(tmp_path: Path) -> None:
    assert read_audio(damaged_mp3(tmp_path)).duration_s > 15.0


def test_what_we_print_ourselves_still_reaches_the_terminal(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    soundfile.write(tmp_path / "song.mp3", tone(2.0), RATE)
    read_audio(tmp_path / "song.mp3", progress=lambda *_: print("reading", file=sys.stderr, flush=True))
    assert "reading" in capfd.readouterr().err


def test_without_an_error_stream_a_file_is_read_all_the_same(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "song.mp3", tone(2.0), RATE)
    code = (
        "import os, sys; os.close(2); from fourlimb.listen import read_audio; print(read_audio(sys.argv[1]).length)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "song.mp3")], capture_output=True, text=True, check=True
    )
    assert abs(int(done.stdout) - 2 * RATE) < 1200
