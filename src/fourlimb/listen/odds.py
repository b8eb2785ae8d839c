"""Log-odds of the network's curves: the scale on which what is heard twice, or by two signs, adds up."""

import numpy as np
import numpy.typing as npt

LEAST = 1e-4
"""Curves are kept this far from 0 and 1 when their odds are taken."""


def log_odds(p: npt.NDArray[np.floating]) -> npt.NDArray[np.float64]:
    """Log-odds of probabilities, any shape, within about -9.2 to 9.2."""
    q = np.clip(p.astype(np.float64), LEAST, 1 - LEAST)
    return np.asarray(np.log(q / (1 - q)))


def probability(odds: npt.NDArray[np.floating]) -> npt.NDArray[np.float64]:
    """Probabilities of log-odds, any shape; beyond 30 either way nothing changes."""
    return np.asarray(1 / (1 + np.exp(-np.clip(odds.astype(np.float64), -30, 30))))
