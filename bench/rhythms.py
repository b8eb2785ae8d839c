"""Learns the table of usual bars of 4/4 (`fourlimb/listen/rhythms.npz`) from the learning half of the Groove set.

    python -m bench.rhythms [OUT]

Expectation maximisation of a mixture of Poisson bars with a log-normal tempo each; every file weighs as the square
root of its bars. Seeded, so the same data give the same table.
"""

import argparse
from pathlib import Path

import numpy as np

from fourlimb.listen.rhythms import GROUP_COUNT, SLOTS, struck_on

from .groove import Performance, performances

SHAPES = 48
ROUNDS = 40
SMOOTHING = 0.02
LEAST_OCTAVES = 0.3


def bars_of(performance: Performance) -> np.ndarray:
    """Each bar of a 4/4 performance as a row; shape (bars, groups * slots of the bar)."""
    grid = performance.grid
    places = np.array([h.time_s for h in performance.hits]) * performance.bpm / 60
    struck = (struck_on(places, performance.hits, 4 * len(grid.bars)) > 0).astype(float)
    rows = struck.reshape(len(grid.bars), 4 * SLOTS, GROUP_COUNT).transpose(0, 2, 1).reshape(len(grid.bars), -1)
    return rows[rows.sum(axis=1) >= 3]


def fit(rows: np.ndarray, weights: np.ndarray, log2_bpm: np.ndarray, seed: int = 7) -> dict[str, np.ndarray]:
    """Rates, weights and tempi of the shapes."""
    rng = np.random.default_rng(seed)
    chosen = rng.choice(len(rows), SHAPES, replace=False, p=weights / weights.sum())
    rates = 0.5 * rows[chosen] + 0.5 * np.average(rows, axis=0, weights=weights) + SMOOTHING
    share, middle, octaves = np.full(SHAPES, 1 / SHAPES), log2_bpm[chosen], np.full(SHAPES, 0.5)
    for _ in range(ROUNDS):
        logs = rows @ np.log(rates).T - rates.sum(axis=1) + np.log(share)
        logs += -0.5 * ((log2_bpm[:, None] - middle) / octaves) ** 2 - np.log(octaves)
        part = np.exp(logs - np.logaddexp.reduce(logs, axis=1, keepdims=True)) * weights[:, None]
        mass = part.sum(axis=0) + 1e-9
        share = mass / mass.sum()
        overall = np.average(rows, axis=0, weights=weights)
        rates = (part.T @ rows + 1.5 * overall + 0.05) / (mass + 2.0)[:, None]
        middle = (part.T @ log2_bpm + 2 * np.average(log2_bpm, weights=weights)) / (mass + 2)
        spread = (part * (log2_bpm[:, None] - middle) ** 2).sum(axis=0)
        octaves = np.sqrt((spread + 2 * 0.45**2) / (mass + 2))
        octaves = np.maximum(octaves, LEAST_OCTAVES)
    order = np.argsort(-share, kind="stable")
    shaped = rates[order].reshape(SHAPES, GROUP_COUNT, 4 * SLOTS)
    return {
        "log_rates": np.clip(np.rint(32 * np.log(shaped)), -32000, 0).astype(np.int16),
        "weights": share[order].astype(np.float32),
        "log2_bpm": middle[order].astype(np.float32),
        "octaves": octaves[order].astype(np.float32),
    }


def main() -> None:
    """Learns and writes the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path, nargs="?", default=Path("src/fourlimb/listen/rhythms.npz"))
    out = parser.parse_args().out
    rows, weights, tempi = [], [], []
    for performance in performances(judging=False):
        if performance.meter != "4/4":
            continue
        bars = bars_of(performance)
        if len(bars):
            rows.append(bars)
            weights.append(np.full(len(bars), len(bars) ** -0.5))
            tempi.append(np.full(len(bars), np.log2(performance.bpm)))
    table = fit(np.concatenate(rows), np.concatenate(weights), np.concatenate(tempi))
    np.savez_compressed(out, **table)
    print(f"{sum(len(r) for r in rows)} bars of {len(rows)} performances -> {out}")


if __name__ == "__main__":
    main()
