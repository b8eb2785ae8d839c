"""What a detector of drum sounds promises, whichever it is.

`listen` asks an `Ears` for everything it hears in a recording at once; all that follows (beats, bars, places, form)
sees only `Heard`. A detector without a network and a trained one stand behind the same door.
"""

from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from fourlimb.model import Progress, Recording, Sound

Curve = npt.NDArray[np.float32]


class HeardStroke(NamedTuple):
    """One sound heard. `time_s` seconds; `loudness_db` relative to the loudest stroke (<= 0); `confidence` 0 to 1.

    `colour`: how it sounded (see `colour`); "" where the detector does not say.
    """

    time_s: float
    sound: Sound
    loudness_db: float
    confidence: float
    colour: str = ""


@dataclass(frozen=True, eq=False)
class Heard:
    """All that was heard.

    strokes : increasing in time.
    frames_per_s : rate of the curves below.
    activations : shape (n, 18), 0 to 1, columns in the order of `SOUNDS`; None when the detector has none.
    beat, downbeat : shape (n,), 0 to 1: how much a beat (the first beat of a bar) is heard here.
    change : shape (n,), 0 to 1: how much the harmony changes here. drums_present : shape (n,), 0 to 1.
    A detector without such an output leaves an array of zeros.
    possible : what may be strokes but was not sure enough to be one, increasing in time; for `taught`.
    """

    strokes: tuple[HeardStroke, ...]
    frames_per_s: float
    beat: Curve
    downbeat: Curve
    change: Curve
    drums_present: Curve
    activations: Curve | None = None
    notes: tuple[str, ...] = field(default=())
    possible: tuple[HeardStroke, ...] = ()


class Ears(Protocol):
    """A detector. `name` goes into the lesson, so that it is known what listened."""

    @property
    def name(self) -> str:
        """What listened."""
        ...

    def hear(self, audio: Recording, progress: Progress) -> Heard:
        """Everything heard in `audio`; the same audio always gives the same answer."""
        ...
