"""Peak memory and processor time of the ears on long sound, one process a length.

    OMP_NUM_THREADS=1 python -m bench.memory 5 15

The sound is made (thumps and hisses in turn, mono, 22.05 kHz), because it only has to be long. Memory of the sound is
shown apart: it is held whole. Linux and macOS.
"""

import argparse
import resource
import subprocess
import sys
import time

import numpy as np

from fourlimb.listen.trained import NetworkEars
from fourlimb.model import Audio, silent

RATE = 22050
KIB = 1024 if sys.platform != "darwin" else 1


def main(argv: list[str] | None = None) -> None:
    """Print a line for each length in minutes."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("minutes", type=float, nargs="+")
    lengths = p.parse_args(argv).minutes
    if len(lengths) == 1:
        measure(lengths[0])
        return
    for minutes in lengths:  # the peak of a process never falls
        subprocess.run([sys.executable, "-m", "bench.memory", str(minutes)], check=True)


def measure(minutes: float) -> None:
    """One length, in this process."""
    start = peak_mb()
    audio = made(minutes)
    sound = audio.samples.nbytes / 1e6
    began = time.process_time()
    strokes = NetworkEars().hear(audio, silent).strokes
    seconds = (time.process_time() - began) / minutes
    print(
        f"{minutes:g} minutes: peak {peak_mb():.0f} MB (the sound {sound:.0f}, before hearing {start:.0f}), "
        f"{seconds:.1f} processor seconds a minute, {len(strokes)} strokes",
        flush=True,
    )


def made(minutes: float) -> Audio:
    """A thump and a hiss in turn, every half second."""
    t = np.arange(RATE // 2) / RATE
    thump = np.sin(2 * np.pi * 60 * t) * np.exp(-t / 0.08)
    hiss = np.random.default_rng(0).normal(0, 0.3, len(t)) * np.exp(-t / 0.04)
    second = np.concatenate([thump, hiss]).astype(np.float32)
    return Audio(np.tile(second, round(minutes * 60))[:, None], RATE)


def peak_mb() -> float:
    """The most that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * KIB / 1e6


if __name__ == "__main__":
    main()
