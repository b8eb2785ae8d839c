"""Songs in the styles that human performances lack, to learn ways to count from: each at the tempi its players count.

What a bar looks like, and how songs vary it, is the ears' training's (`training.styles`, `training.patterns`). Here a
style is given the tempi at which its players call a quarter a quarter: common practice, no source. Such a song says
nothing about how strokes fall, only which beat is counted, so it is learned from whole and at its own tempo.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from training.patterns import bars
from training.styles import STYLES

from fourlimb.model import SOUNDS, Hit
from fourlimb.model.grid import regular

from .made_songs import numbered
from .playing import Played
from .varied_songs import with_chords

WRITTEN = "written"
TEMPI: Mapping[str, tuple[float, float]] = {
    "backbeat": (75, 150), "half time": (110, 160), "four on the floor": (110, 135), "breaks": (150, 180),
    "swing": (100, 280), "shuffle": (80, 150), "one drop": (65, 90), "latin": (85, 130), "train": (90, 130),
}  # fmt: skip
"""Quarters a minute, from and to; other styles at the tempo that comes with their bar."""
SONGS: Mapping[str, int] = {**dict.fromkeys(TEMPI, 1), "hip hop": 1, "metal": 1, "swing": 3, "backbeat": 2}
"""Of every style in a round: swing at every tempo, and most of what is played is backbeat. Styles that are left out have
no usual meter, or no beat to speak of."""
LENGTH_S = 30.0
FEWEST_BARS = 8
WITH_BAND = 0.5
SPREAD_S = (0.003, 0.012)
"""Of human strokes round their place; a machine's have none."""
SOFTEST = 0.06
END_BEATS = 0.1


def style_songs(rounds: int) -> Iterator[Played]:
    """As many rounds of songs of every style."""
    for seed in range(rounds):
        for style, count in SONGS.items():
            yield from (style_song(style, seed * count + again) for again in range(count))


def style_song(style: str, seed: int) -> Played:
    """About half a minute of a style in 4/4; half of them with a band."""
    rng = np.random.default_rng([list(STYLES).index(style), seed])
    bar = STYLES[style][0](rng)
    if style in TEMPI:
        bar = replace(bar, tempo_bpm=float(np.exp(rng.uniform(*np.log(TEMPI[style])))))
    count = max(int(LENGTH_S * bar.tempo_bpm / 60 / bar.beats), FEWEST_BARS)
    rows = bars(bar, rng, count)
    rows = rows[(rows[:, 0] >= 0) & (rows[:, 0] < count * bar.beats - END_BEATS)]
    spread_s = 0.0 if rng.random() < bar.machine else rng.uniform(*SPREAD_S)
    times_s = np.maximum(rows[:, 0] * 60 / bar.tempo_bpm + rng.normal(0, 1, len(rows)) * spread_s, 0)
    levels_db = 40 * np.log10(np.clip(rows[:, 2], SOFTEST, 1))
    hits = [
        Hit(id=0, time_s=float(t), sound=SOUNDS[int(sound)], loudness_db=float(level), confidence=1.0)
        for t, sound, level in zip(times_s, rows[:, 1], levels_db, strict=True)
    ]
    grid = regular(["4/4"] * count, bar.tempo_bpm)
    name = f"{WRITTEN} {style} {seed}"
    song = Played(name, WRITTEN, bar.tempo_bpm, "4/4", numbered(hits), grid, grid.end_s + 0.5)
    if rng.random() >= WITH_BAND:
        return song
    return with_chords(replace(song, seed=int(rng.integers(1000))), rng)
