"""How long rolls are kept up: one rule for what is drawn, written to files, and played.

A roll lasts as it says, at most to the bar line and to the next stroke on the same piece. One that says nothing
(`lasts` 0) lasts as long as one note at its place is written, and only the writer of notes knows that; for the ear
it is the rest of the beat (`beat_ends`).
"""

from collections.abc import Sequence
from fractions import Fraction

from .chart import Stroke
from .places import bar_length, beat_lengths, beat_of, beat_starts


def roll_ends(meter: str, strokes: Sequence[Stroke]) -> dict[int, Fraction]:
    """Where each roll that says how long it lasts ends (whole notes), by its index in `strokes` (one bar's)."""
    kept = {index: s.position + s.lasts for index, s in enumerate(strokes) if s.rolls and s.lasts > 0}
    return {index: min(end, *_edges(meter, strokes, strokes[index])) for index, end in kept.items()}


def beat_ends(meter: str, strokes: Sequence[Stroke]) -> dict[int, Fraction]:
    """Where each measured roll that does not say how long it lasts ends for the ear."""
    found = {}
    for index, stroke in enumerate(strokes):
        if stroke.roll and not stroke.lasts and stroke.position < bar_length(meter):
            beat = beat_of(meter, stroke.position)[0]
            end = beat_starts(meter)[beat] + beat_lengths(meter)[beat]
            found[index] = min(end, *_edges(meter, strokes, stroke))
    return found


def _edges(meter: str, strokes: Sequence[Stroke], stroke: Stroke) -> list[Fraction]:
    own = stroke.piece, stroke.second
    later = [s.position for s in strokes if (s.piece, s.second) == own and s.position > stroke.position]
    return [bar_length(meter), *later]
