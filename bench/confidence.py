"""How far the confidence of strokes, beats, bar lines and sections is the share that is right."""

from collections.abc import Sequence

import mir_eval
import numpy as np

from fourlimb.model import Listening

from .cases import FAMILIES, WINDOW_S, Case, times


def reliability(found: Sequence[tuple[Case, Listening]]) -> tuple[float, list[tuple[str, int, float, float]]]:
    """Expected calibration error of hits' confidence, and rows (range, hits, mean confidence, share right)."""
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
    sure, truth = np.array(told), np.array(right)
    rows = []
    for low in np.arange(0, 1, 0.1):
        inside = (sure >= low) & (sure < low + 0.1 + 1e-6)
        if inside.any():
            rows.append((f"{low:.1f}", int(inside.sum()), float(sure[inside].mean()), float(truth[inside].mean())))
    return calibration(told, right), rows


def beats_calibration(found: Sequence[tuple[Case, Listening]]) -> tuple[float, float]:
    """Calibration error of the confidence of beats and of bar lines (+-70 ms)."""
    errors = []
    for ones in (False, True):
        told, right = [], []
        for case, heard in found:
            truth = case.downbeats if ones else case.beats
            inside = [b for b in heard.grid.beats if truth[0] - 0.07 <= b.time_s <= truth[-1] + 0.07]
            for beat in inside:
                if not ones or beat.beat == 1:
                    told.append(beat.confidence)
                    right.append(bool(np.abs(truth - beat.time_s).min() < 0.07))
        errors.append(calibration(told, right))
    return errors[0], errors[1]


def calibration(told: Sequence[float], right: Sequence[bool]) -> float:
    """Expected calibration error over ten even ranges."""
    sure, truth = np.array(told), np.array(right, float)
    bins = np.minimum((sure * 10).astype(int), 9)
    return float(
        sum((bins == b).mean() * abs(sure[bins == b].mean() - truth[bins == b].mean()) for b in np.unique(bins))
    )
