"""What a lesson costs, beside a named reference in the same run.

    python -m bench.cost [--runs 3]

- Time of `fourlimb lesson` on the demo song (a process of its own) over the time of `librosa.load`,
  `librosa.beat.beat_track` and `librosa.effects.hpss` on the same file (also a process of its own), pair by pair.
- Peak memory of `fourlimb lesson` on a five-minute song (the demo song end to end, repeated).
- `python -X importtime` total of `fourlimb --help` over that of `import numpy`.
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile as sf

from fourlimb import demo

REFERENCE = """
import sys, librosa
y, sr = librosa.load(sys.argv[1], sr=None)
librosa.beat.beat_track(y=y, sr=sr)
librosa.effects.hpss(y)
"""


def timed(command: list[str]) -> float:
    """Wall seconds of one process."""
    began = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - began


def peak_mb(command: list[str]) -> float:
    """Peak resident memory of one process, MB (the operating system's own account of the child)."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise RuntimeError(f"{command} ended with {status}")
    return usage.ru_maxrss / 1024


def import_total_us(code: str) -> int:
    """Microseconds that `-X importtime` adds up for a piece of code."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", code], capture_output=True, text=True, check=False
    )
    lines = [line for line in done.stderr.splitlines() if line.startswith("import time:") and "self" not in line]
    return sum(int(line.split("|")[0].split(":")[1]) for line in lines)


def main() -> None:
    """Print the three figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=3)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        song = work / "song.ogg"
        song.write_bytes(demo.recording())
        ratios = []
        for _ in range(runs):
            ours = timed([sys.executable, "-m", "fourlimb.cli", "lesson", str(song), "-o", f"{work}/a.lesson", "-q"])
            shutil.rmtree(work / "a.lesson")
            theirs = timed([sys.executable, "-c", REFERENCE, str(song)])
            ratios.append(ours / theirs)
            print(f"lesson {ours:.1f} s, librosa load + beat_track + hpss {theirs:.1f} s, ratio {ours / theirs:.2f}")
        print(f"median ratio {statistics.median(ratios):.2f} (target: at most 4)")
        long = work / "long.wav"
        samples, rate = sf.read(song, dtype="float32")
        copies = int(np.ceil(300 * rate / len(samples)))
        sf.write(long, np.tile(samples, (copies, 1))[: 300 * rate], rate)
        peak = peak_mb([sys.executable, "-m", "fourlimb.cli", "lesson", str(long), "-o", f"{work}/b.lesson", "-q"])
        print(f"peak memory, five-minute song: {peak:.0f} MB (target: at most 1000)")
    help_us = [
        import_total_us("import sys; sys.argv=['fourlimb','--help']; from fourlimb.cli import main; main()")
        for _ in range(5)
    ]
    numpy_us = [import_total_us("import numpy") for _ in range(5)]
    ratio = statistics.median(help_us) / statistics.median(numpy_us)
    print(f"imports of fourlimb --help over import numpy: {ratio:.2f} (target: below 2)")


if __name__ == "__main__":
    main()
