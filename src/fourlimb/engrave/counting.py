"""The count line of a bar, word by word with its place.

The words come from `Plan.counts` (any counting tradition); here they are only given their places. A beat takes the
words that its finest written division needs, so the words of a bar are shared out over its beats in order.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import lcm

from fourlimb.model import Sheet
from fourlimb.model.grid import Skipped
from fourlimb.model.places import beat_lengths, beat_starts


def count_words(sheet: Sheet, bar: int) -> tuple[tuple[Fraction, str], ...]:
    """(position, word) in order; empty when the count's words do not fit the bar's beats."""
    text = sheet.plan.counts.get(bar, "")
    if bar == 0 and text.startswith("(") and ")" in text and sheet.grid.length(0) < sheet.grid.length(1):
        text = text.partition(")")[2]  # the numbers that the pickup leaves out
    said = text.split()
    skipped = sheet.grid.skipped(bar)
    meter, late = (
        (skipped.whole, skipped.at) if isinstance(skipped, Skipped) else (sheet.grid.meter(bar), Fraction(0))
    )
    beats = list(zip(beat_starts(meter), beat_lengths(meter), strict=True))[int(skipped) :]
    places = [late + stroke.position for stroke in sheet.chart.by_bar.get(bar, ())]
    divisions = _divisions(beats, places, len(said))
    if divisions is None:
        return ()
    words = iter(said)
    out = []
    for (start, length), parts in zip(beats, divisions, strict=True):
        for part in range(parts):
            out.append((start + length * Fraction(part, parts) - late, next(words)))
    return tuple((at, word) for at, word in out if at >= 0)  # a pickup may begin inside a beat


def _divisions(beats: Sequence[tuple[Fraction, Fraction]], places: list[Fraction], words: int) -> list[int] | None:
    """Parts that each beat is counted in: what is written there, all halved together until the words fit."""
    found = []
    for start, length in beats:
        inside = [(p - start) / length for p in places if start <= p < start + length]
        found.append(lcm(*(p.denominator for p in inside)) if inside else 1)
    for least in (1, 2, 4, 8):
        tried = [parts if parts % 3 == 0 or parts > least else least for parts in found]
        if sum(tried) == words:
            return tried
    three = [
        3 if length.numerator == 3 and parts == 1 else parts for (_, length), parts in zip(beats, found, strict=True)
    ]
    return three if sum(three) == words else None
