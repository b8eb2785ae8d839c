"""A metronome in a student's take: what the marking says wrongly because of it, and what it still finds.

    python -m bench.clicks [--takes 9] [--lesson FOLDER] [--first-seed 3100]

Takes of 16 bars of the demo lesson (`bench.spoiled`; nine seeds are every level in every room), without a mistake and
with one of each kind, in which a click sounds on every beat: a knock, a beep, a wooden block, a tick of noise, an
electric tone, at three levels against the drums. Told wrongly are sentences on bars that had no mistake. Against them
stand takes in which a player, not a machine, strikes the cross-stick on every beat: of those no click may be told.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from unittest.mock import patch

import numpy as np

from fourlimb.listen import default_ears, heights, hits_of_take
from fourlimb.mark import compare, mark
from fourlimb.mark.clicks import SAY
from fourlimb.model import LEVELS, Audio, Grid, Lesson, Samples, Stroke, silent
from fourlimb.model.places import beat_starts
from fourlimb.model.sounds import PERCUSSION
from fourlimb.sound.click import click
from fourlimb.sound.kit import RATE

from .marks import Count, asked
from .spoiled import KINDS, ROOMS, SPREAD_S, Kind, Struck, Take, heard_from, take_of

BARS = 16

LEVELS_DB = (-6.0, -14.0, -22.0)
"""Loudest moment of the click against that of the drums."""


def _knock(first: bool) -> Samples:
    return click(first)


def _beep(first: bool) -> Samples:
    at = np.arange(int(0.03 * RATE)) / RATE
    shape = np.minimum(1, np.minimum(at / 0.001, (0.03 - at) / 0.004))
    return np.asarray(np.sin(2 * np.pi * (1500 if first else 1000) * at) * shape, dtype=np.float32)


def _block(first: bool) -> Samples:
    at = np.arange(int(0.12 * RATE)) / RATE
    ratio = 1.25 if first else 1.0
    rings = ((780, 1.0, 0.03), (1890, 0.6, 0.02), (3300, 0.25, 0.01))
    wave = sum(level * np.sin(2 * np.pi * ratio * hz * at) * np.exp(-at / t) for hz, level, t in rings)
    return np.asarray(wave, dtype=np.float32)


def _tick(_: bool) -> Samples:
    rng = np.random.default_rng(5)
    at = np.arange(int(0.02 * RATE)) / RATE
    noise = np.diff(rng.standard_normal(len(at) + 1))
    return np.asarray(noise * np.exp(-at / 0.003), dtype=np.float32)


def _pure(first: bool) -> Samples:
    """A square-ish tone, as small electric ones make."""
    at = np.arange(int(0.015 * RATE)) / RATE
    wave = np.tanh(4 * np.sin(2 * np.pi * (2640 if first else 1980) * at)) * np.exp(-at / 0.006)
    return np.asarray(wave, dtype=np.float32)


SOUNDS: dict[str, Callable[[bool], Samples]] = {
    "knock": _knock,
    "beep": _beep,
    "block": _block,
    "tick": _tick,
    "electric": _pure,
}


def with_click(take: Take, grid: Grid, sound: str, level_db: float) -> Samples:
    """The drums of a take with a click on every beat from before its first stroke to its end, all alike."""
    drums = take.drums()
    out = drums.copy()
    loudest = float(np.abs(drums).max())
    for time_s, first in clicks_of(take, grid):
        wave = SOUNDS[sound](first)
        wave = wave / float(np.abs(wave).max()) * loudest * 10 ** (level_db / 20)
        at = round(time_s * RATE)
        end = min(at + len(wave), len(out))
        if 0 <= at < end:
            out[at:end] += wave[: end - at, None]
    return out


def with_sticks(take: Take, grid: Grid, seed: int) -> Take:
    """The take with a cross-stick struck by a player on every beat."""
    rng = np.random.default_rng(seed)
    more = (
        Struck(max(at + rng.normal(0, SPREAD_S), 0.0), Stroke(bar=take.first, position=Fraction(0), piece="rim",
               limb="left hand", velocity=80))
        for at, _ in clicks_of(take, grid)
        if at > 0
    )  # fmt: skip
    return replace(take, strokes=(*take.strokes, *more))


def clicks_of(take: Take, grid: Grid) -> list[tuple[float, bool]]:
    """Evenly spaced beats of the take, (second, first of its bar): an even line through where its bars begin."""
    per_bar = len(beat_starts(grid.meter(take.first)))
    beat_s = 60 / take.speed / float(np.median([grid.at(bar).tempo_bpm for bar in range(take.first, take.last + 1)]))
    count = int((take.ends_s - take.opens_s) / beat_s)
    return [(take.opens_s + n * beat_s, n % per_bar == 0) for n in range(-per_bar, count)]


@dataclass
class Row:
    """What was told of the takes of one row, in how many a click was told of, and what would be told with it kept."""

    count: Count = field(default_factory=Count)
    kept: Count = field(default_factory=Count)
    takes: int = 0
    clicks: int = 0


def rows(made: Lesson, seeds: range) -> Iterator[tuple[str, Row]]:
    """Each kind of click over all takes and levels, without mistakes and with."""
    for sound in SOUNDS:
        clean, spoiled = Row(), Row()
        for seed in seeds:
            for level_db in LEVELS_DB:
                _mark(made, seed, (), clean, lambda take, s=sound, db=level_db: with_click(take, made.grid, s, db))
            _mark(made, seed, KINDS, spoiled, lambda take, s=sound: with_click(take, made.grid, s, LEVELS_DB[1]))
        yield sound, clean
        yield f"{sound}, with mistakes", spoiled
    for name, kinds in (("no click", ()), ("no click, with mistakes", KINDS)):
        none = Row()
        for seed in seeds:
            _mark(made, seed, kinds, none, Take.drums)
        yield name, none
    by_hand = Row()
    for seed in seeds:
        _mark(made, seed, (), by_hand, lambda take, n=seed: with_sticks(take, made.grid, n).drums())
    yield "cross-stick by hand", by_hand


def _mark(made: Lesson, seed: int, kinds: tuple[Kind, ...], row: Row, sounding: Callable[[Take], Samples]) -> None:
    level, room = LEVELS[seed // 3 % 3], ROOMS[seed % 3]
    chart = made.charts[level]
    take = take_of(chart, made.grid, seed, kinds=kinds, bars=BARS)
    audio: Audio = heard_from(sounding(take), room, seed)
    heard = default_ears().hear(audio, silent)
    written = {stroke.piece for one in made.charts.values() for stroke in one.strokes}
    hits = [hit for hit in hits_of_take(heard) if hit.sound not in PERCUSSION or hit.sound in written]
    marking = mark(hits, chart, made.grid, level=level, heights=heights(heard))
    row.count.add(take, marking, chart)
    with patch.object(compare, "clicks_among", lambda *_, **__: frozenset()):
        row.kept.add(take, mark(hits, chart, made.grid, level=level, heights=heights(heard)), chart)
    row.takes += 1
    row.clicks += SAY in marking.summary.say


def main() -> None:
    made, seeds = asked(__doc__, takes=9, first_seed=3100)
    print(
        "| click | takes | told wrongly of 100 bars, click kept | left out | mistakes found, kept | left out | told of |"
    )
    print(f"|{'---|' * 7}")
    words: Counter[str] = Counter()
    for name, row in rows(made, seeds):
        told = " | ".join(f"{_wrong(count):.1f}" for count in (row.kept, row.count))
        found = " | ".join(_found(count) for count in (row.kept, row.count))
        print(f"| {name} | {row.takes} | {told} | {found} | {row.clicks} |", flush=True)
        words += row.count.wrong_words
    print("\nwhat was told wrongly, most often first: " + "; ".join(f"{say} {n}" for say, n in words.most_common(6)))


def _wrong(count: Count) -> float:
    return 100 * count.wrong / max(count.bars - count.planted.total(), 1)


def _found(count: Count) -> str:
    return f"{count.found.total()} of {count.planted.total()}" if count.planted else "-"


if __name__ == "__main__":
    main()
