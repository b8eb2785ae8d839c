"""A detector without a network: spectral flux in bands, told apart by templates.

Method: magnitudes (1024-point Hann, 100 frames a second) are summed into 24 bands; the rise of each band's log
energy against 20 ms before is its flux. Each sound has a template of how its flux spreads over the bands; at each
peak of the whole flux a non-negative least-squares fit shares the rise among the templates, and shares over a
threshold become strokes. The templates are shapes drawn from where the drums sound (kick 40-120 Hz, snare body
150-400 Hz and wires 2-8 kHz, hats above 7 kHz, crash broad and high; common practice, no source), not learned.

What it cannot do: it hears kick, snare, closed hat and crash only, takes plucked basses for kicks and loud
consonants for hats, and knows nothing of ghosts. It is what remains when the trained ears are not there; expect an
F measure near .7 for kick, snare and hats on records. It holds a recording whole.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, Progress, Recording, Sound
from fourlimb.model.audio import mono

from .ears import Heard, HeardStroke

FRAMES_PER_S: Final = 100
RATE_HZ: Final = 32_000
WINDOW: Final = 1024
BANDS: Final = 24
LOWEST_HZ, HIGHEST_HZ = 35.0, 15_000.0
BLOCK_FRAMES: Final = 2_000
SILENCE_RMS: Final = 1e-4
"""-80 dBFS: quieter than this everywhere, there is nothing to hear (ours)."""

TEMPLATES: Final[dict[Sound, tuple[tuple[float, float, float], ...]]] = {
    "kick": ((35, 120, 1.0), (2000, 5000, 0.25)),
    "snare": ((150, 400, 0.7), (1000, 9000, 0.9)),
    "hat_closed": ((7000, 15000, 1.0),),
    "tom_mid": ((80, 300, 1.0),),
    "crash": ((2500, 15000, 1.0), (400, 2500, 0.4)),
}
"""From Hz, to Hz, how much: the bands in which each sound rises."""

STRONG: Final = 0.988
"""A song's strong strokes lie above this quantile of all frames: about 1.5 a second (ours)."""

THRESHOLD: Final[dict[Sound, float]] = {"kick": 0.55, "snare": 0.70, "hat_closed": 0.35, "crash": 0.95}
"""Smallest share of the song's strong strokes that counts, set on six recordings. Toms have a template, so that they
are not taken for kicks, but no threshold: on records more of them are wrong than right."""

Array = npt.NDArray[np.float32]


class FluxEars:
    """The simple detector behind the `Ears` protocol."""

    name = "flux"

    def hear(self, audio: Recording, progress: Progress) -> Heard:
        """Strokes and a beat curve (the whole flux); no harmony, no downbeats."""
        flux = band_flux(_resampled(audio), progress)
        whole = flux.mean(axis=1)
        zeros = np.zeros(len(flux), np.float32)
        if not len(flux) or float(whole.max()) <= 0:
            return Heard((), FRAMES_PER_S, zeros, zeros, zeros, zeros)
        curve = np.clip(whole / max(float(np.quantile(whole, 0.98)), 1e-6), 0, 1).astype(np.float32)
        strokes = _strokes(flux)
        return Heard(strokes, FRAMES_PER_S, curve * np.float32(0.6), zeros, zeros, _present(strokes, len(flux)))


def band_flux(samples: Array, progress: Progress) -> Array:
    """Rise of each band's log energy against two frames before; shape (frames, BANDS), 0 and up."""
    count = len(samples) * FRAMES_PER_S // RATE_HZ
    if count < 4 or float(np.sqrt(np.mean(samples**2))) < SILENCE_RMS:
        return np.zeros((count, BANDS), np.float32)
    hop = RATE_HZ // FRAMES_PER_S
    padded = np.pad(samples, (WINDOW // 2, WINDOW))
    window, bank = np.hanning(WINDOW).astype(np.float32), _bank()
    levels = np.empty((count, BANDS), np.float32)
    for start in range(0, count, BLOCK_FRAMES):
        stop = min(start + BLOCK_FRAMES, count)
        cut = padded[start * hop : (stop - 1) * hop + WINDOW]
        frames = np.lib.stride_tricks.sliding_window_view(cut, WINDOW)[::hop]
        levels[start:stop] = np.abs(np.fft.rfft(frames * window, axis=1)).astype(np.float32) @ bank
        progress("listening for drums", stop / count)
    floor = max(float(np.quantile(levels, 0.5)) * 0.1, float(np.quantile(levels, 0.99)) * 0.01, 1e-7)
    levels = np.log10(levels + floor)
    flux = np.zeros_like(levels)
    flux[2:] = np.maximum(levels[2:] - levels[:-2], 0)
    rise: Array = np.maximum(flux - _running_mean(flux, 60), 0)
    return rise


def _resampled(audio: Recording) -> Array:
    whole = np.concatenate([np.zeros(0, np.float32), *(mono(b) for b in audio.blocks(1 << 20))])
    if audio.rate == RATE_HZ:
        return whole
    import soxr

    out: Array = soxr.resample(whole, audio.rate, RATE_HZ)
    return out


def _edges() -> npt.NDArray[np.float64]:
    return np.geomspace(LOWEST_HZ, HIGHEST_HZ, BANDS + 1)


def _bank() -> Array:
    """Which FFT bin belongs to which band; a narrow band takes at least its nearest bin."""
    hz = np.arange(WINDOW // 2 + 1) * RATE_HZ / WINDOW
    edges = _edges()
    bank = np.zeros((len(hz), BANDS), np.float32)
    for band in range(BANDS):
        inside = (hz >= edges[band]) & (hz < edges[band + 1])
        if not inside.any():
            inside[int(np.abs(hz - np.sqrt(edges[band] * edges[band + 1])).argmin())] = True
        bank[inside, band] = 1 / inside.sum()
    return bank


def _templates() -> npt.NDArray[np.float64]:
    """Shape (BANDS, sounds), each column of length 1."""
    edges = _edges()
    middle = np.sqrt(edges[1:] * edges[:-1])
    shape = np.zeros((BANDS, len(TEMPLATES)))
    for column, parts in enumerate(TEMPLATES.values()):
        for low, high, much in parts:
            shape[(middle >= low) & (middle < high), column] = much
    normed: npt.NDArray[np.float64] = shape / np.linalg.norm(shape, axis=0)
    return normed


def _running_mean(curve: Array, width: int) -> Array:
    total = np.cumsum(np.pad(curve, ((width // 2 + 1, width // 2), (0, 0)), mode="edge"), axis=0, dtype=np.float64)
    mean: Array = ((total[width:] - total[:-width]) / width).astype(np.float32)
    return mean[: len(curve)]


def _peaks(curve: npt.NDArray[np.floating], floor: float, reach: int = 3) -> npt.NDArray[np.intp]:
    padded = np.pad(curve, reach)
    highest = np.max(np.stack([padded[k : k + len(curve)] for k in range(2 * reach + 1)]), axis=0)
    at = np.flatnonzero((curve >= highest) & (curve > floor))
    return at[np.concatenate([[True], np.diff(at) > reach])] if len(at) else at


def _strokes(flux: Array) -> tuple[HeardStroke, ...]:
    """Peaks of each template's share, measured against the song's own strong strokes."""
    gains = _shares(flux.astype(np.float64), _templates())
    found = []
    for column, sound in enumerate(TEMPLATES):
        if sound not in THRESHOLD:
            continue
        curve = gains[:, column]
        loud = max(float(np.quantile(curve, STRONG)), 0.3 * float(np.quantile(gains, STRONG)), 1e-6)
        for index in _peaks(curve, THRESHOLD[sound] * loud):
            found.append((int(index) / FRAMES_PER_S, sound, min(float(curve[index]) / loud, 1.0)))
    found.sort(key=lambda stroke: (stroke[0], SOUNDS.index(stroke[1])))
    return tuple(
        HeardStroke(round(t, 4), sound, round(20 * math.log10(share), 1), round(0.35 + 0.5 * share, 3))
        for t, sound, share in found
    )


def _shares(rises: npt.NDArray[np.float64], shapes: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Non-negative least squares by multiplicative updates (Lee and Seung 2001), all peaks at once."""
    gains = np.maximum(rises @ shapes, 1e-9)
    gram = shapes.T @ shapes
    for _ in range(60):
        gains *= (rises @ shapes + 1e-12) / (gains @ gram + 1e-9)
    return gains


def _present(strokes: tuple[HeardStroke, ...], count: int) -> Array:
    """1 within two seconds of a stroke."""
    present = np.zeros(count, np.float32)
    for stroke in strokes:
        middle = int(stroke.time_s * FRAMES_PER_S)
        present[max(middle - 2 * FRAMES_PER_S, 0) : middle + 2 * FRAMES_PER_S] = 1
    return present
