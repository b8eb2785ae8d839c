"""The demo song that ships with fourlimb: "Night Ferry", its recording and its truth.

In: nothing. Out: the recording's bytes, a path to it on disk, the truth as a `Listening`. Composed and rendered by
the project itself (the `demo` folder of the source).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path
from typing import Final

from ..model import Listening, codec

RECORDING: Final = "night_ferry.ogg"
TRUTH: Final = "night_ferry.truth.json"


def recording() -> bytes:
    """The song as an OGG Vorbis file."""
    return (files(__package__) / RECORDING).read_bytes()


@contextmanager
def recording_path() -> Iterator[Path]:
    """The same as a path on disk, for as long as the context lasts (a package may live inside an archive)."""
    with as_file(files(__package__) / RECORDING) as path:
        yield path


def truth() -> Listening:
    """What is in the song: every hit as it was played, the grid, the form."""
    return codec.decode((files(__package__) / TRUTH).read_bytes(), Listening, where=TRUTH)
