"""Parts written as drummers say them, one line a bar, as songs for the arranger.

A line is quick entry ("kick 1 2& 3; snare 2 4; hat every 8th"); before a piece may stand how it is struck: soft (a
ghost), loud (an accent), flam, drag.
"""

from collections.abc import Sequence
from typing import Literal

from fourlimb.model import Hit, Kit, Listening, Section, Song
from fourlimb.model.count import read_line
from fourlimb.model.grid import regular

KIT = Kit()
LOUDNESS_DB = {"soft": -30.0, "loud": -3.0}
USUAL_DB = -10.0
Grace = Literal["flam", "drag"]
GRACES: dict[str, Grace] = {"flam": "flam", "drag": "drag"}


def song(
    bars: Sequence[str],
    *,
    bpm: float = 100,
    meter: str = "4/4",
    sections: tuple[Section, ...] = (),
    by: Literal["ears", "file", "teacher"] = "ears",
) -> Listening:
    """A song of these bars; `bpm` counts quarter notes."""
    grid = regular([meter] * len(bars), bpm)
    hits: list[Hit] = []
    for bar, line in enumerate(bars, 1):
        for words in filter(None, (part.strip() for part in line.split(";"))):
            how, _, rest = words.partition(" ")
            struck = how in LOUDNESS_DB or how in GRACES
            piece, places = read_line(meter, rest if struck else words)
            hits += [
                Hit(
                    id=len(hits) + n,
                    time_s=grid.time_at(bar, place),
                    sound=piece,
                    loudness_db=LOUDNESS_DB.get(how, USUAL_DB),
                    confidence=0.95,
                    bar=bar,
                    position=place,
                    grace=GRACES.get(how),
                    by=by,
                )
                for n, place in enumerate(places)
            ]
    facts = Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="")
    return Listening(song=facts, grid=grid, hits=tuple(hits), sections=sections)
