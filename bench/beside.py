"""A research prototype of the ears and ours on the same recordings, in one run.

    python -m bench.beside DATA PROTOTYPE      needs onnxruntime; PROTOTYPE: folder with its network and its `infer.py`

Both are heard in its own one pass, with thresholds set per sound on the same mixes by the same search, no second look,
so that the two networks are compared and nothing else; below that, ours as it ships. Processor time is of one thread,
everything from decoded sound to curves included.
"""

import argparse
import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from training.evaluate import Rows, above, candidates, tune

from bench.scoring import counts, groups, load_scorer, micro, truths
from fourlimb.listen.network import Answer
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import SOUNDS, Audio, silent

ITS_SOUNDS = (
    "kick", "snare", "rim", "hat_closed", "hat_open", "hat_pedal", "tom_high", "tom_mid", "tom_floor", "crash", "ride",
    "ride_bell", "cowbell",
)  # fmt: skip
"""In the order of its outputs; its last one is all hand percussion."""

Heard = Callable[[Path], Answer]


def main(argv: list[str] | None = None) -> None:
    """Print one row a network and kind of sound."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("data", type=Path)
    p.add_argument("prototype", type=Path)
    a = p.parse_args(argv)
    scorer = load_scorer(a.data)
    ears = NetworkEars()
    for name, hear in (
        ("prototype", prototype(a.prototype)),
        (ears.name, lambda path: ears.curves(_sound(path), silent)),
    ):
        row(scorer, a.data, name, hear)
    truth = truths(a.data / "recordings" / "truth")
    for kind in ("mix", "drums"):
        found = {t: _shipped(ears, a.data / "recordings" / kind / f"{t}.flac") for t in truth}
        print(f"{ears.name} as it ships, {kind}: {_figures(scorer, truth, found)}", flush=True)


def row(scorer: ModuleType, data: Path, name: str, hear: Heard) -> None:
    """One network on mixes and drums alone, and what it costs."""
    truth = truths(data / "recordings" / "truth")
    started = time.process_time()
    mixes = {t: candidates(hear(data / "recordings" / "mix" / f"{t}.flac")) for t in truth}
    spent = time.process_time() - started
    minutes = sum(_sound(data / "recordings" / "mix" / f"{t}.flac").duration_s for t in truth) / 60
    thresholds = tune(scorer, truth, mixes)
    drums = {t: candidates(hear(data / "recordings" / "drums" / f"{t}.flac")) for t in truth}
    for kind, found in (("mix", mixes), ("drums", drums)):
        kept = {t: above(rows, thresholds) for t, rows in found.items()}
        print(f"{name}, curves alone, {kind}: {_figures(scorer, truth, kept)}", flush=True)
    print(f"{name}: {spent / minutes:.1f} s of processor a minute", flush=True)


def prototype(folder: Path) -> Heard:
    """The prototype's network as something that hears a file."""
    infer = _module(folder / "infer.py")
    session = infer.session(str(folder / "ears_best.onnx"), 1)

    def hear(path: Path) -> Answer:
        hits, levels, beats = infer.run(session, infer.feats(infer.load(str(path))))
        wide = np.zeros((2, len(hits), len(SOUNDS)), np.float32)
        for k, sound in enumerate(ITS_SOUNDS):
            wide[0, :, SOUNDS.index(sound)] = hits[:, k]
            wide[1, :, SOUNDS.index(sound)] = levels[:, k]
        rest = np.zeros((len(hits), 2), np.float32)
        return Answer(wide[0], wide[1], np.concatenate([beats, rest], 1), np.zeros((len(hits), 0), np.float32))

    return hear


def _shipped(ears: NetworkEars, path: Path) -> Rows:
    strokes = ears.hear(_sound(path), silent).strokes
    return [{"time_s": s.time_s, "sound": s.sound, "confidence": s.confidence} for s in strokes]


def _figures(scorer: ModuleType, truth: dict[str, Any], found: dict[str, Rows]) -> str:
    return " / ".join(
        f"{micro([counts(scorer, truth[t]['hits'], found[t], classes) for t in truth]):.3f}"
        for name, classes in groups(scorer).items()
        if name in ("3 classes", "5 classes", "8+ classes", "13 classes")
    )


def _sound(path: Path) -> Audio:
    import soundfile

    return Audio(*soundfile.read(path, dtype="float32", always_2d=True))


def _module(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


if __name__ == "__main__":
    main()
