"""Sound in figures, beside named references in the same run: `python -m bench.sound`.

1. The slow-down locked to hits beside librosa's time_stretch, on the demo song's drums, mix, and band alone.
2. Rendering a chart and measuring loudness as multiples of real time.
"""

import argparse
import time
from collections.abc import Callable

import numpy as np
from demo import make
from tests.sound.stretch_measures import attacks, tone

from fourlimb import demo
from fourlimb.model import Audio
from fourlimb.sound import loudness, true_peak_db
from fourlimb.sound.kit import RATE, built_in
from fourlimb.sound.loudness import limit
from fourlimb.sound.perform import perform
from fourlimb.sound.slow import slow
from fourlimb.sound.timemap import separate

SECONDS = 30.0


def signals() -> tuple[dict[str, Audio], list[float], list[float]]:
    """Drums alone, drums and band, band alone (30 s each); every hit; hits that stand apart, to measure at."""
    grid = make.make_grid()
    notes = list(make.play(grid))
    count = int(SECONDS * RATE)
    drums = perform([b for n in notes for b in make.blows(n)], built_in(), count).astype(np.float64)
    dry, _ = make.accompaniment(grid, notes, count)
    parts = {"drums": drums, "drums and band": drums + dry, "band alone": dry}
    hits = [n.time_s for n in notes if n.time_s < SECONDS]
    apart = [t for t in separate(hits, SECONDS) if 0.1 < t < SECONDS - 1]
    return {name: Audio(x.astype(np.float32) * 0.5, RATE) for name, x in parts.items()}, hits, apart


def librosa_stretch(audio: Audio, speed: float) -> Audio:
    import librosa

    return Audio(librosa.effects.time_stretch(audio.samples.T, rate=speed).T, audio.rate)


def compare_slow() -> None:
    heard, hits, apart = signals()
    off = np.random.default_rng(5).normal(0, 0.004, len(hits))
    methods: dict[str, Callable[[Audio, float], Audio]] = {
        "librosa": librosa_stretch,
        "no hits known": lambda a, s: slow(a, s, []),
        "locked to hits": lambda a, s: slow(a, s, hits),
        "hits off by 4 ms": lambda a, s: slow(a, s, [t + d for t, d in zip(hits, off, strict=True)]),
        "a fifth missed": lambda a, s: slow(a, s, [t for n, t in enumerate(sorted(hits)) if n % 5]),
    }
    print("signal          speed method             x real        rise    time     pre  shape  tone")
    for speed in (0.5, 0.75):
        for signal, audio in heard.items():
            for name, method in methods.items():
                start = time.process_time()
                made = method(audio, speed)
                spent = time.process_time() - start
                x, y = (a.samples.mean(axis=1).astype(np.float64) for a in (audio, made))
                row = f"{signal:15} {speed:5} {name:17} {SECONDS / spent:6.0f}x"
                if signal == "band alone":
                    print(f"{row} {'':34} {tone(x, y, speed):5.2f}")
                    continue
                m = attacks(x, y, speed, apart)
                held = f"{m.rise:5.2f}/{m.rise_90:5.2f} {m.time_ms_95:4.1f} ms {m.pre_db_90:+4.0f} dB"
                print(f"{row} {held} {m.shape:6.3f} {tone(x, y, speed):5.2f}")


def compare_meters() -> None:
    noise = Audio((np.random.default_rng(0).standard_normal((RATE * 120, 2)) * 0.1).astype(np.float32), RATE)
    for name, work in (("loudness", loudness), ("true peak", true_peak_db), ("limiter", limit)):
        start = time.process_time()
        work(noise)
        print(f"{name}: {120 / (time.process_time() - start):.0f}x real time")


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    print(f"demo song: {demo.truth().song.duration_s:.0f} s, first {SECONDS:.0f} s used")
    compare_slow()
    compare_meters()
