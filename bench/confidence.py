"""How far the confidence of strokes, beats, bar lines and sections is the share that is right."""

from collections.abc import Sequence

import mir_eval
import numpy as np

from fourlimb.model import Listening

from .cases import FAMILIES, WINDOW_S, Case, times

NEAR_S = 0.07


def strokes_told(found: Sequence[tuple[Case, Listening]]) -> tuple[list[float], list[bool]]:
    """Confidence of every stroke, and whether it is right (its family, +-50 ms)."""
    told: list[float] = []
    right: list[bool] = []
    for case, heard in found:
        for sounds in FAMILIES.values():
            wanted = np.array(times(case.hits, sounds))
            hits = [h for h in heard.hits if h.sound in sounds]
            at = np.array([h.time_s for h in hits])
            pairs = mir_eval.util.match_events(wanted, at, WINDOW_S) if len(wanted) and len(at) else []
            good = {j for _, j in pairs}
            told += [h.confidence for h in hits]
            right += [j in good for j in range(len(hits))]
    return told, right


def beats_told(found: Sequence[tuple[Case, Listening]], *, ones: bool) -> tuple[list[float], list[bool]]:
    """Confidence of beats inside bars, or of bar lines, where truth has beats, and whether they are right (+-70 ms)."""
    told, right = [], []
    for case, heard in found:
        truth = case.downbeats if ones else case.beats
        for beat in heard.grid.beats:
            if truth[0] - NEAR_S <= beat.time_s <= truth[-1] + NEAR_S and (beat.beat == 1) == ones:
                told.append(beat.confidence)
                right.append(bool(np.abs(truth - beat.time_s).min() < NEAR_S))
    return told, right


def table(told: Sequence[float], right: Sequence[bool]) -> str:
    """Calibration error and the reliability table, in a line."""
    sure, truth = np.array(told), np.array(right, float)
    bins = np.minimum((sure * 10).astype(int), 9)
    rows = [
        f"from {b / 10:.1f} n{(bins == b).sum()} told {sure[bins == b].mean():.2f} right {truth[bins == b].mean():.2f}"
        for b in np.unique(bins)
    ]
    return f"{calibration(told, right):.3f}: " + "  ".join(rows)


def calibration(told: Sequence[float], right: Sequence[bool]) -> float:
    """Expected calibration error over ten even ranges."""
    sure, truth = np.array(told), np.array(right, float)
    bins = np.minimum((sure * 10).astype(int), 9)
    return float(
        sum((bins == b).mean() * abs(sure[bins == b].mean() - truth[bins == b].mean()) for b in np.unique(bins))
    )
