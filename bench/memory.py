"""Memory and time of hearing, by the length of the recording: the rows of docs/ears.md.

    OMP_NUM_THREADS=1 python -m bench.memory 5 15 180 [--song FILE] [--channels 2] [--format flac]

For each length in minutes a file is written that repeats a song (thumps and hisses in turn when none is named), each
time at another level and from another place; a process of its own opens it and hears everything (`open_recording`,
`listen`). Printed are the most memory that process held, before hearing and in all, and processor seconds a minute:
reading, ears, and what follows. Linux and macOS.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from fourlimb.listen import listen, open_recording
from fourlimb.listen.ears import Heard
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import Audio, Progress, Recording, Samples, Song

RATE = 44100
KIB = 1024 if sys.platform != "darwin" else 1
PIECE = 16384


def main(argv: list[str] | None = None) -> None:
    """Print a line for each length in minutes."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("minutes", type=float, nargs="*")
    p.add_argument("--song", type=Path)
    p.add_argument("--channels", type=int, choices=(1, 2), default=2)
    p.add_argument("--format", choices=("flac", "mp3", "ogg", "wav"), default="flac")
    p.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    a = p.parse_args(argv)
    if a.measure is not None:
        measure(a.measure)
        return
    with tempfile.TemporaryDirectory() as folder:
        for minutes in a.minutes:
            file = Path(folder) / f"{minutes:g} minutes, {a.channels} channels.{a.format}"
            write(file, minutes, a.channels, made() if a.song is None else read(a.song))
            subprocess.run([sys.executable, "-m", "bench.memory", "--measure", str(file)], check=True)
            file.unlink()


class TimedEars:
    """The ears that ship, and the processor seconds they took."""

    name = "timed"
    spent = 0.0

    def hear(self, audio: Recording, progress: Progress) -> Heard:
        """Everything heard."""
        began = time.process_time()
        heard = NetworkEars().hear(audio, progress)
        self.spent = time.process_time() - began
        return heard


def measure(file: Path) -> None:
    """One file, in this process."""
    start, began = peak_mb(), time.process_time()
    recording = open_recording(file)
    minutes, reading = recording.duration_s / 60, time.process_time() - began
    ears = TimedEars()
    heard = listen(recording, song=Song(duration_s=0.0, sample_rate_hz=RATE, sha256=""), ears=ears)
    whole = time.process_time() - began
    print(
        f"{file.name}: {'held' if isinstance(recording, Audio) else 'read again'}, peak {peak_mb():.0f} MB "
        f"({start:.0f} before); processor seconds a minute: reading {reading / minutes:.2f}, "
        f"ears {ears.spent / minutes:.2f}, the rest {(whole - reading - ears.spent) / minutes:.2f}; "
        f"{len(heard.hits)} hits, {len(heard.grid.bars)} bars",
        flush=True,
    )


def write(file: Path, minutes: float, channels: int, song: Samples) -> None:
    """A song over and over, never quite the same."""
    rng = np.random.default_rng(1)
    left = round(minutes * 60 * RATE)
    with soundfile.SoundFile(file, "w", RATE, channels, format=file.suffix[1:].upper()) as out:
        while left > 0:
            cut = song[rng.integers(0, RATE) :][:left] * np.float32(rng.uniform(0.5, 1))
            wide = np.stack([np.roll(cut, 7 * k) * np.float32(rng.uniform(0.7, 1)) for k in range(channels)], axis=1)
            for start in range(0, len(wide), PIECE):  # long writes of Vorbis overflow its stack
                out.write(wide[start : start + PIECE])
            left -= len(cut)


def read(path: Path) -> Samples:
    """A song as mono at `RATE`."""
    import soxr

    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    song: Samples = soxr.resample(samples.mean(axis=1), rate, RATE)
    return song


def made() -> Samples:
    """A minute of thumps and hisses in turn, every half second."""
    t = np.arange(RATE // 2) / RATE
    thump = np.sin(2 * np.pi * 60 * t) * np.exp(-t / 0.08)
    hiss = np.random.default_rng(0).normal(0, 0.3, len(t)) * np.exp(-t / 0.04)
    return np.tile(np.concatenate([thump, hiss]).astype(np.float32), 60)


def peak_mb() -> float:
    """The most that this process has held so far; on Linux `ru_maxrss` would count its parent too."""
    status = Path("/proc/self/status")
    if status.exists():
        return next(int(x.split()[1]) * 1024 / 1e6 for x in status.read_text().splitlines() if x.startswith("VmHWM"))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * KIB / 1e6


if __name__ == "__main__":
    main()
