"""Songs for tests, written as drummers say them."""

from collections.abc import Sequence

from fourlimb.model import Hit, Kit, Listening, Section, Song
from fourlimb.model.count import read_line
from fourlimb.model.grid import regular

KIT = Kit()


def song(
    bars: Sequence[str], *, bpm: float = 100, meter: str = "4/4", sections: tuple[Section, ...] = (), by: str = "ears"
) -> Listening:
    """One line of quick entry per bar: "kick 1 3; snare 2 4; hat every 8th"."""
    grid = regular([meter] * len(bars), bpm)
    hits: list[Hit] = []
    for bar, line in enumerate(bars, 1):
        for words in filter(None, (part.strip() for part in line.split(";"))):
            ghost = words.startswith("soft ")
            piece, places = read_line(meter, words.removeprefix("soft "))
            hits += [
                Hit(
                    id=len(hits) + n,
                    time_s=grid.time_at(bar, place),
                    sound=piece,
                    loudness_db=-30 if ghost else -10,
                    confidence=0.95,
                    bar=bar,
                    position=place,
                    by="teacher" if by == "teacher" else "ears",
                )
                for n, place in enumerate(places)
            ]
    facts = Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="")
    return Listening(song=facts, grid=grid, hits=tuple(hits), sections=sections)
