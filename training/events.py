"""One list of sound events: what the renderer adds up."""

import numpy as np
import numpy.typing as npt

FIELDS = ("length", "start_s", "ratio", "gain", "gate_s", "release_s", "bus")
DRUMS, BAND = 0.0, 1.0
NO_GATE_S = 9.0


class Events:
    """Sample events of one clip, collected row by row.

    offset : first sample in the flat array. length : samples there. start_s : may be negative.
    ratio : playing speed (2 = an octave up). gain : linear. gate_s : time until the sound is let go.
    release_s : how long it then takes to vanish. bus : `DRUMS` or `BAND`.
    """

    def __init__(self) -> None:
        self.offsets: list[int] = []
        self.rows: list[tuple[float, ...]] = []

    def add(
        self,
        offset: int,
        length: int,
        start_s: float,
        ratio: float,
        gain: float,
        gate_s: float = NO_GATE_S,
        release_s: float = 0.1,
        bus: float = DRUMS,
    ) -> None:
        """One more sound."""
        self.offsets.append(offset)
        self.rows.append((float(length), start_s, ratio, gain, gate_s, release_s, bus))

    def arrays(self) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float32]]:
        """Offsets, shape (n,), and the other fields, shape (n, 7), in the order of `FIELDS`."""
        table = np.array(self.rows, np.float32).reshape(-1, len(FIELDS))
        return np.array(self.offsets, np.int64), table
