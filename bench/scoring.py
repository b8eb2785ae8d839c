"""Counts and figures for detectors of drum strokes, by the definitions of the data folder's own scorer.

The scorer script is loaded from the data folder, not copied. Beside its groups, two finer ones are counted here: "8+"
and "13 classes" (rare sounds pooled). Intervals are bootstraps over tracks: the tracks are few, and a figure without
its
interval says more than is known.
"""

import importlib.util
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

import numpy as np

Groups = dict[str, dict[str, set[str]]]

PERCUSSION = {"cowbell", "tambourine", "shaker"}
FINER: Groups = {
    "8+ classes": {
        "kick": {"kick"}, "snare": {"snare"}, "rim": {"rim", "clap"}, "hat_closed": {"hat_closed", "hat_pedal"},
        "hat_open": {"hat_open"}, "toms": {"tom_high", "tom_mid", "tom_floor"}, "crash": {"crash", "china", "splash"},
        "ride": {"ride", "ride_bell"}, "percussion": PERCUSSION,
    },
    "13 classes": {
        "kick": {"kick"}, "snare": {"snare"}, "rim": {"rim", "clap"}, "hat_closed": {"hat_closed"},
        "hat_open": {"hat_open"}, "hat_pedal": {"hat_pedal"}, "tom_high": {"tom_high"}, "tom_mid": {"tom_mid"},
        "tom_floor": {"tom_floor"}, "crash": {"crash", "china", "splash"}, "ride": {"ride"}, "ride_bell":
        {"ride_bell"},
        "percussion": PERCUSSION,
    },
}  # fmt: skip


class Interval(NamedTuple):
    """A figure with the bootstrap's 5th and 95th percentile."""

    value: float
    low: float
    high: float

    def __str__(self) -> str:
        return f"{self.value:.3f} [{self.low:.3f}, {self.high:.3f}]"


def load_scorer(data: Path) -> ModuleType:
    """The data folder's scorer as a module."""
    spec = importlib.util.spec_from_file_location("score_listen", data / "score_listen.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["score_listen"] = module
    spec.loader.exec_module(module)
    return module


def groups(scorer: ModuleType) -> Groups:
    """All groups that are counted: the scorer's and the finer ones."""
    return {**scorer.GROUPS, **FINER}


def truths(folder: Path) -> dict[str, dict[str, Any]]:
    """Truth files of a folder by track name."""
    return {p.stem: json.loads(p.read_text()) for p in sorted(folder.glob("*.json"))}


def counts(
    scorer: ModuleType,
    truth: Sequence[Mapping[str, Any]],
    found: Sequence[Mapping[str, Any]],
    classes: dict[str, set[str]],
    window_s: float = 0.05,
) -> dict[str, tuple[int, int, int]]:
    """Per class: matched, true, found. truth, found : rows with `time_s` and `sound`."""
    import mir_eval

    out = {}
    for name, sounds in classes.items():
        reference, estimate = scorer.times(truth, sounds), scorer.times(found, sounds)
        both = len(reference) and len(estimate)
        matched = len(mir_eval.util.match_events(reference, estimate, window_s)) if both else 0
        out[name] = (matched, len(reference), len(estimate))
    return out


def micro(rows: Sequence[dict[str, tuple[int, int, int]]], only: set[str] | None = None) -> float:
    """F of all classes (or some) of all tracks together."""
    total = np.sum([c for r in rows for k, c in r.items() if only is None or k in only] or [[0, 0, 0]], axis=0)
    return float(2 * total[0] / (total[1] + total[2])) if total[1] + total[2] else float("nan")


def bootstrap(rows: Sequence[Any], figure: Any, draws: int = 500, seed: int = 0) -> Interval:
    """A figure of a list of tracks, and its interval over tracks drawn again with replacement."""
    rng = np.random.default_rng(seed)
    values = [figure([rows[i] for i in rng.integers(len(rows), size=len(rows))]) for _ in range(draws)]
    low, high = np.nanpercentile(values, [5, 95])
    return Interval(figure(rows), float(low), float(high))
