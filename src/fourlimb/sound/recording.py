"""The song itself under the drums: the teacher's choice, never the default.

In: the decoded recording, the bars wanted, the speed, the times of its hits. Out: that stretch of it at that speed
and at a loudness under the drums. What leaves the house with the recording inside may need its owners' permission
(`RIGHTS`).
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..model import Audio, InputError, Samples
from .kit import RATE
from .loudness import SILENCE_LUFS, loudness
from .slow import slow

RIGHTS: Final = (
    "Sharing or selling this may need a licence for the song and, if the recording is in it, for the recording. "
    "If unsure, ask the publisher, your school, a collecting society or a lawyer."
)
"""The sentence to show wherever the recording is mixed in or exported."""

UNDER_LU: Final = -6.0
"""Recording against the loudness wanted of the whole: the drums that are taught stay in front (by ear)."""


def stretch_of(
    recording: Audio, attacks_s: Sequence[float], first_s: float, end_s: float, speed: float, target_lufs: float
) -> Samples:
    """Seconds `first_s` to `end_s` of the recording, slower, stereo float32 at 44.1 kHz.

    Raises InputError on another rate.
    """
    if recording.rate != RATE:
        raise InputError(f"the recording is at {recording.rate} Hz: bring it to {RATE} Hz before it is mixed in")
    start, stop = (max(0, round(s * RATE)) for s in (first_s, end_s))
    piece = recording.samples[start:stop, :2]
    wide = np.repeat(piece, 2, axis=1) if piece.shape[1] == 1 else piece
    slower = slow(Audio(wide, RATE), speed, [a - start / RATE for a in attacks_s])
    measured = loudness(recording)
    gain_db = 0.0 if measured == SILENCE_LUFS else target_lufs + UNDER_LU - measured
    return np.asarray(slower.samples * np.float32(10 ** (gain_db / 20)), dtype=np.float32)
