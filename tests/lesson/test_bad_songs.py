"""Whatever is given as a song: one clear line and exit code 1, or a listening; never a crash, nothing written."""

import io
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner

from fourlimb import demo
from fourlimb.cli import main

RATE = 44100


def beat(seconds: float = 12.0, rate: int = RATE, channels: int = 1) -> np.ndarray:
    """A plain beat: low thumps on 1 and 3, noise on 2 and 4, at 120 beats a minute."""
    rng = np.random.default_rng(1)
    out = np.zeros(int(seconds * rate), np.float32)
    decay = np.exp(-np.arange(rate // 4) / (0.04 * rate)).astype(np.float32)
    low = np.sin(2 * np.pi * 60 * np.arange(rate // 4) / rate).astype(np.float32) * decay
    for n, start in enumerate(range(0, len(out) - rate // 4, rate // 2)):
        noise = rng.standard_normal(rate // 4).astype(np.float32) * decay * 0.5
        out[start : start + rate // 4] += low if n % 2 == 0 else noise
    return np.repeat(out[:, None] * 0.8, channels, axis=1)


def written(path: Path, samples: np.ndarray, rate: int = RATE, **how: str) -> Path:
    sf.write(path, samples, rate, **how)
    return path


def cut(path: Path, share: float) -> Path:
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    return path


def raw(name: str, data: bytes) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        (folder / name).write_bytes(data)
        return folder / name

    return make


def nan_song(folder: Path) -> Path:
    samples = beat()
    samples[5000] = np.nan
    return written(folder / "nan.wav", samples, subtype="FLOAT")


def bomb(folder: Path) -> Path:
    """An .mxl of a few kB that unpacks to hundreds of MB."""
    path = folder / "bomb.mxl"
    container = '<?xml version="1.0"?><container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>'
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", container)
        with archive.open("score.xml", "w") as member:
            for _ in range(300):
                member.write(b" " * 1_000_000)
    return path


ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><score-partwise version="4.0"><part-list/>&c;</score-partwise>"""

PIANO = b"""<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1">
<part-name>Piano</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes>
<divisions>1</divisions></attributes><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>
</measure></part></score-partwise>"""


def midi(*events: bytes, ppq: int = 480) -> bytes:
    track = b"".join(events) + b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, ppq) + b"MTrk" + struct.pack(">I", len(track)) + track


REFUSED: dict[str, tuple[Callable[[Path], Path], str]] = {
    "nothing there": (lambda folder: folder / "absent.wav", "no such file"),
    "a folder": (lambda folder: folder, "is a folder"),
    "empty file": (raw("empty.wav", b""), "empty"),
    "text named wav": (raw("text.wav", b"dear drummer, the song is great\n" * 20), "text.wav"),
    "text named mid": (raw("text.mid", b"dear drummer\n" * 20), "text.mid"),
    "noise named m4a": (raw("noise.m4a", np.random.default_rng(2).bytes(5000)), "noise.m4a"),
    "header only": (lambda f: written(f / "none.wav", np.zeros((0, 1), np.float32)), "none.wav"),
    "not a number": (nan_song, "nan.wav"),
    "midi without drums": (raw("piano.mid", midi(b"\x00\x90\x3c\x40", b"\x60\x80\x3c\x40")), "channel 10"),
    "midi cut short": (raw("cut.mid", midi(b"\x00\x99\x24\x40")[:20]), "cut.mid"),
    "malformed musicxml": (raw("bad.musicxml", b"<score-partwise><part>"), "bad.musicxml"),
    "entity bomb": (raw("entities.musicxml", ENTITIES), "entities.musicxml"),
    "zip bomb": (bomb, "bomb.mxl"),
    "not a zip": (raw("not.mxl", b"PK\x03\x04 nothing"), "not.mxl"),
    "a piano part": (raw("piano.musicxml", PIANO), "piano.musicxml"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_used_is_refused_in_one_line(name: str, tmp_path: Path) -> None:
    make, part = REFUSED[name]
    song = make(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    result = CliRunner().invoke(main, ["lesson", str(song), "-o", str(tmp_path / "out.lesson"), "-q"])
    assert result.exit_code == 1, result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("fourlimb: ")
    assert part in lines[0]
    assert sorted(tmp_path.rglob("*")) == before, "nothing may be written"


def silence(folder: Path) -> Path:
    return written(folder / "silence.wav", np.zeros((RATE * 6, 2), np.float32))


def noise(folder: Path) -> Path:
    samples = np.random.default_rng(3).standard_normal((RATE * 8, 1)).astype(np.float32) * 0.1
    return written(folder / "noise.flac", samples)


HEARD: dict[str, Callable[[Path], Path]] = {
    "8 kHz": lambda f: written(f / "low.wav", beat(rate=8000), 8000),
    "192 kHz": lambda f: written(f / "high.wav", beat(6.0, rate=192_000), 192_000),
    "8 channels": lambda f: written(f / "many.wav", beat(6.0, channels=8)),
    "3 seconds": lambda f: written(f / "short.wav", beat(3.0)),
    "one sample": lambda f: written(f / "one.wav", np.zeros((1, 1), np.float32)),
    "silence": silence,
    "noise": noise,
    "wav cut short": lambda f: cut(written(f / "cut.wav", beat()), 0.6),
    "mp3 cut short": lambda f: cut(written(f / "cut.mp3", beat()), 0.6),
    "ogg": lambda f: written(f / "song.ogg", beat(6.0)),
    "opus": lambda f: written(f / "song.opus", beat(6.0, rate=48000), 48000, format="OGG", subtype="OPUS"),
}


@pytest.mark.parametrize("name", HEARD)
def test_what_can_be_used_is_heard(name: str, tmp_path: Path) -> None:
    song = HEARD[name](tmp_path)
    result = CliRunner().invoke(main, ["listen", str(song), "-q", "-o", str(tmp_path / "out.json")])
    if result.exit_code == 1:  # a file may still be refused, but in one line
        assert name == "one sample"
        assert len(result.stderr.strip().splitlines()) == 1
        return
    assert result.exit_code == 0, result.output
    from fourlimb.model import Listening
    from fourlimb.model.codec import decode

    heard = decode((tmp_path / "out.json").read_bytes(), Listening)
    if name in ("silence", "noise"):
        assert any("no drums" in note.lower() for note in heard.notes), heard.notes
    if name == "silence":
        assert not heard.hits


def test_a_recording_is_never_modified(tmp_path: Path) -> None:
    song = tmp_path / "song.ogg"
    song.write_bytes(demo.recording())
    song.chmod(0o444)
    result = CliRunner().invoke(main, ["listen", str(song), "-q", "-o", str(tmp_path / "out.json")])
    assert result.exit_code == 0
    assert song.read_bytes() == demo.recording()


def test_flac_cut_short_is_heard_or_refused_clearly(tmp_path: Path) -> None:
    song = cut(written(tmp_path / "cut.flac", beat()), 0.6)
    result = CliRunner().invoke(main, ["listen", str(song), "-q", "-o", str(tmp_path / "out.json")])
    assert result.exit_code in (0, 1)
    if result.exit_code == 1:
        assert len(result.stderr.strip().splitlines()) == 1


def test_m4a_is_heard_or_the_missing_library_is_named(tmp_path: Path) -> None:
    song = tmp_path / "song.m4a"
    song.write_bytes(_m4a(beat(6.0)))
    result = CliRunner().invoke(main, ["listen", str(song), "-q", "-o", str(tmp_path / "out.json")])
    assert result.exit_code == 0, result.output


def _m4a(samples: np.ndarray) -> bytes:
    import av

    buffer = io.BytesIO()
    with av.open(buffer, "w", format="ipod") as container:
        stream = container.add_stream("aac", rate=RATE, layout="mono")
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples.T), format="fltp", layout="mono")
        frame.sample_rate = RATE
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    return buffer.getvalue()
