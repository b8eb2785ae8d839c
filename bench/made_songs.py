"""Songs made of human grooves, with known form, meter and tempo, and the mistakes that ears make.

A made song is a row of sections, each a stretch of bars of one performance of the Groove set played at the song's tempo; a
letter that comes again brings the same groove back (other bars of it). Grooves of other meters than 4/4 are not in the
set in number, so bars of 4/4 are cut: a bar of 3/4 is the first three beats of one of 4/4; bars of compound meters come
from performances in 4/4 whose beats are all played in three (12/8 is the cleaner way to write those). `misheard` drops,
adds and moves hits as often as trained ears do.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import msgspec
import numpy as np

from fourlimb.listen.usual_bars import WRITTEN
from fourlimb.model import SOUNDS, Grid, Hit, Sound
from fourlimb.model.count import read_place
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length, is_compound

from .groove import Performance
from .playing import Played

METERS = ("4/4", "3/4", "2/4", "5/4", "7/8", "6/8", "12/8")
PLAIN_STYLES = frozenset({"rock", "funk", "pop", "hiphop", "soul", "country", "reggae", "punk", "dance", "highlife", "gospel"})  # fmt: skip
"""Styles whose bars have a front and a back: cut to another length they still sound like a bar."""
FEWEST_BARS = 8
NEAR_BEATS = 0.07
IN_THREE, IN_TWO = 0.12, 0.05
"""Share of strokes on each third of a beat from which it is played in three, and on its middle up to which it is not
played in two (a jazz ride or a shuffle leaves the first third out)."""
TIME_KEPT_ON: frozenset[Sound] = frozenset({"hat_closed", "hat_open", "ride", "ride_bell"})
IN_TIME = 0.6
"""Share of beats with a stroke on hat or ride from which time is kept: a solo has no meter to be heard."""
FORMS = ("AABBAABB", "ABABCB", "AABA", "ABCABC", "ABAB", "ABACA", "ABBA", "ABCB")
MISSED: dict[Sound, float] = {
    "kick": 0.03, "snare": 0.08, "hat_closed": 0.12, "hat_open": 0.2, "hat_pedal": 0.35, "tom_high": 0.3,
    "tom_mid": 0.4, "tom_floor": 0.3, "crash": 0.2, "ride": 0.1, "ride_bell": 0.2, "rim": 0.2,
}  # fmt: skip
"""Share of strokes that ears miss (rounded from the recall of the trained ears on records)."""
STRAYS_PER_S = 0.35
JITTER_S = 0.006


@dataclass(frozen=True)
class MadeSong:
    """A song with its truth: `starts` are the first bars of sections (the first one is 1)."""

    name: str
    grid: Grid
    hits: tuple[Hit, ...]
    starts: tuple[int, ...]


def song_of(grooves: Sequence[Performance], seed: int, *, bars: int = 8) -> MadeSong:
    """One song of sections of `bars` bars, from grooves that are long enough."""
    rng = np.random.default_rng(seed)
    form = FORMS[seed % len(FORMS)]
    chosen = {letter: grooves[int(rng.integers(len(grooves)))] for letter in sorted(set(form))}
    bpm = float(np.median([g.bpm for g in chosen.values()]))
    grid = regular(["4/4"] * (bars * len(form)), bpm)
    hits: list[Hit] = []
    for number, letter in enumerate(form):
        groove = chosen[letter]
        first = int(rng.integers(0, max(len(groove.grid.bars) - bars, 1)))
        hits += _stretch(groove, first, bars, bpm, number * bars * 240 / bpm)
    starts = tuple(1 + bars * n for n in range(len(form)) if n == 0 or form[n] != form[n - 1])
    return MadeSong(f"{seed} {form}", grid, numbered(hits), starts)


def _stretch(groove: Performance, first: int, bars: int, bpm: float, at_s: float) -> list[Hit]:
    """Bars of a groove at another tempo, moved to a second of the song."""
    bar_s = 240 / groove.bpm
    low, high = first * bar_s, (first + bars) * bar_s
    return [
        msgspec.structs.replace(hit, time_s=at_s + max(hit.time_s - low, 0.0) * groove.bpm / bpm)
        for hit in groove.hits
        if low - 0.03 <= hit.time_s < high - 0.03
    ]


def usual_song(meter: str, seed: int, *, bars: int = 24, spread_s: float = 0.008) -> MadeSong:
    """A song of one meter: two usual bars of it in turn, time kept in eighths, human spread."""
    rng = np.random.default_rng(seed)
    table = WRITTEN[meter]
    pair = [table[int(rng.integers(len(table)))] for _ in range(2)]
    compound = meter in ("6/8", "12/8")
    bpm = float(rng.uniform(90, 150)) * (1.0 if not compound else 1.1)
    grid = regular([meter] * bars, bpm)
    step = Fraction(1, 8)
    hits = []
    for index, number in enumerate(grid.numbers):
        kick, snare = pair[int(index % 4 == 3)]
        strokes: list[tuple[Sound, Fraction]] = [("kick", read_place(meter, w)) for w in kick.split()]
        strokes += [("snare", read_place(meter, w)) for w in snare.split()]
        strokes += [("hat_closed", step * n) for n in range(int(bar_length(meter) / step))]
        strokes += [("crash", Fraction(0))] if index % 8 == 0 else []
        for sound, place in strokes:
            time_s = grid.time_at(number, place) + float(rng.normal(0, spread_s))
            hits.append(Hit(id=0, time_s=max(time_s, 0.0), sound=sound, loudness_db=-4.0, confidence=1.0))
    return MadeSong(f"{meter} {seed}", grid, numbered(hits), (1,))


def metered_song(meter: str, grooves: Sequence[Performance], seed: int) -> Played:
    """About 36 s in a meter, with a band: human bars of 4/4 cut or extended to its length.

    2/4 is the first half of each bar, 3/4 its first three beats, 7/8 all but its last eighth, 5/4 the bar and its first
    beat again; 12/8 is a bar whose beats are played in three, 6/8 its first half.
    """
    rng = np.random.default_rng(seed)
    groove = groove_of(meter, grooves, seed, rng)
    quarter_bpm = groove.bpm * (1.5 if is_compound(meter) else 1.0)
    grid, hits = _cut(groove, meter, quarter_bpm, rng)
    quarter = 60 / (grid.end_s / len(grid.bars) / float(bar_length(meter) * 4))
    return Played(f"made {seed}", "made", quarter, meter, hits, grid, grid.end_s + 0.5, seed)


def groove_of(meter: str, grooves: Sequence[Performance], seed: int, rng: np.random.Generator) -> Performance:
    """The groove of a song: drawn from those that have a front and a back, or, as few are in three, in turn."""
    long = [g for g in grooves if g.meter == "4/4" and len(g.grid.bars) >= FEWEST_BARS]
    if is_compound(meter):
        threes = [g for g in long if in_three(g)]
        return threes[seed % len(threes)]
    plain = [g for g in long if g.style.split("/")[0] in PLAIN_STYLES]
    while True:
        groove = plain[int(rng.integers(len(plain)))]
        if not in_three(groove):
            return groove


def in_three(groove: Performance) -> bool:
    """Whether time is kept and beats are played in three: strokes fall on both thirds of a beat, hardly on its middle."""
    at = np.array([hit.time_s for hit in groove.hits]) * groove.bpm / 60
    shares = [float((np.abs(at % 1 - place) < NEAR_BEATS).mean()) for place in (1 / 3, 2 / 3, 1 / 2)]
    kept = {int(beat + 0.1) for beat, hit in zip(at, groove.hits, strict=True) if hit.sound in TIME_KEPT_ON}
    in_time = len(kept) >= IN_TIME * len(groove.grid.beats)
    return in_time and min(shares[:2]) >= IN_THREE and shares[2] <= IN_TWO


def _cut(
    groove: Performance, meter: str, quarter_bpm: float, rng: np.random.Generator
) -> tuple[Grid, tuple[Hit, ...]]:
    length, bar_s = float(bar_length(meter)) * 240 / quarter_bpm, 240 / groove.bpm
    bars = min(max(int(36 / length), 12), 60)
    first = int(rng.integers(0, max(len(groove.grid.bars) - 8, 1)))
    known = min(len(groove.grid.bars) - first, 16)
    pieces = [(min(length, bar_s), 0.0)] + ([(length - bar_s, bar_s)] if length > bar_s + 1e-6 else [])
    hits = []
    for bar in range(bars):
        source = (first + bar % known) * bar_s
        for until, at in pieces:
            hits += [
                msgspec.structs.replace(hit, time_s=max(bar * length + at + hit.time_s - source, 0.0))
                for hit in groove.hits
                if source - 0.03 <= hit.time_s < source + until - 0.03
            ]
    return regular([meter] * bars, quarter_bpm), numbered(hits)


def misheard(hits: Sequence[Hit], seed: int) -> tuple[Hit, ...]:
    """The hits as ears would give them: some missed (soft ones more), some added, all a little off, less sure."""
    rng = np.random.default_rng(seed)
    kept = []
    for hit in hits:
        soft = min(max((-hit.loudness_db - 10) / 20, 0.0), 0.6)
        if rng.random() < min(MISSED.get(hit.sound, 0.2) + soft, 0.9):
            continue
        confidence = float(np.clip(rng.beta(9, 1.2), 0.3, 0.99))
        time_s = max(hit.time_s + float(rng.normal(0, JITTER_S)), 0.0)
        kept.append(msgspec.structs.replace(hit, time_s=time_s, confidence=round(confidence, 3)))
    end = hits[-1].time_s if hits else 0.0
    for _ in range(int(rng.poisson(STRAYS_PER_S * end))):
        sound = SOUNDS[int(rng.choice([0, 1, 3, 3, 10, 11]))]
        confidence = round(float(np.clip(rng.beta(3, 2.5), 0.3, 0.95)), 3)
        kept.append(
            Hit(id=0, time_s=float(rng.uniform(0, end)), sound=sound, loudness_db=-12.0, confidence=confidence)
        )
    return numbered(kept)


def numbered(hits: Sequence[Hit]) -> tuple[Hit, ...]:
    """In time order, ids from 1, times rounded."""
    order = sorted(hits, key=lambda h: (h.time_s, SOUNDS.index(h.sound)))
    return tuple(msgspec.structs.replace(h, id=n, time_s=round(h.time_s, 4)) for n, h in enumerate(order, start=1))
