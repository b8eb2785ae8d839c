"""Takes of something else: how many are told to be that, and how many takes full of mistakes are told so wrongly.

    python -m bench.strangers [--songs 100] [--learning] [--data ../shared/data/groove]

Human performances of the Groove set of sixteen bars in 4/4, each laid on its nearest 16th or triplet: a chart. Its own
performance is a take, spoiled in one of six ways (strokes left out, noise in time, a simplified part, both with
strokes added, a stop that goes back, hardly any kick), at .55 to 1.1 of the tempo; a performance of another session is
a take of something else, at .7 to 1 of its own tempo. Takes are as struck (as MIDI tells them). The judging half
unless `--learning`.
"""

import argparse
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import msgspec

from fourlimb.mark import mark
from fourlimb.model import Chart, Grid, Hit, Stroke
from fourlimb.model.grid import regular
from fourlimb.model.sounds import Sound

from .groove import DATA, performances

BARS = 16
FEWEST = 60
PLACES = [Fraction(n, 16) for n in range(17)] + [Fraction(n, 12) for n in range(13) if n % 3]
SOFT_DB = -18.0
SPOILED = ("left out", "noise", "simplified", "both and added", "stop", "hardly any kick")


class Song(NamedTuple):
    """A performance and what it would be written as."""

    session: str
    hits: tuple[Hit, ...]
    chart: Chart
    grid: Grid
    bpm: float


def songs(judging: bool, root: Path) -> Iterator[Song]:
    """Performances long enough, as charts."""
    for one in performances(judging=judging, root=root):
        grid = regular([one.meter] * BARS, one.bpm)
        inside = [hit for hit in one.hits if hit.time_s < grid.end_s]
        if one.meter != "4/4" or not inside or inside[-1].time_s < grid.end_s - 4:
            continue
        hits, chart = _written(inside, one.bpm)
        if len(hits) >= FEWEST:
            yield Song(one.name.rpartition("/")[0], hits, chart, grid, one.bpm)


def _written(hits: Sequence[Hit], bpm: float) -> tuple[tuple[Hit, ...], Chart]:
    strokes: dict[tuple[int, Fraction, Sound], Stroke] = {}
    kept = []
    for hit in hits:
        wholes = hit.time_s * bpm / 240
        bar = int(wholes)
        place = min(PLACES, key=lambda p: (abs(float(p) - (wholes - bar)), p))
        at = (bar + 2, Fraction(0)) if place == 1 else (bar + 1, place)
        if at[0] > BARS or (*at, hit.sound) in strokes:
            continue
        ghost = hit.sound == "snare" and hit.loudness_db < SOFT_DB
        strokes[*at, hit.sound] = Stroke(bar=at[0], position=at[1], piece=hit.sound, limb="right hand", ghost=ghost)
        kept.append(hit)
    return tuple(kept), Chart(strokes=tuple(sorted(strokes.values(), key=lambda s: s.sort_key)), bars=(), grade=1.0)


def spoiled(song: Song, kind: str, dice: random.Random) -> list[Hit]:
    """The song's own performance with many mistakes of one kind."""
    beat, speed = 60 / song.bpm, dice.uniform(0.55, 1.1)
    gone = dice.choice((0.1, 0.2, 0.3, 0.4)) if kind in ("left out", "both and added") else 0.05
    spread = dice.choice((0.015, 0.025, 0.035)) if kind in ("noise", "both and added") else 0.006
    added = 0.1 if kind == "both and added" else 0.03
    out = []
    for hit in song.hits:
        beats = hit.time_s / beat
        off_beat = abs(beats - round(beats)) > 0.15
        simple = kind == "simplified" and (
            (hit.sound == "snare" and hit.loudness_db < SOFT_DB)
            or (hit.sound == "kick" and off_beat and dice.random() < 0.7)
        )
        no_kick = kind == "hardly any kick" and hit.sound == "kick" and dice.random() < 0.8
        if simple or no_kick or dice.random() < gone:
            continue
        out.append(_at(hit, 1 + hit.time_s / speed + dice.gauss(0, spread)))
        if dice.random() < added:
            out.append(_at(hit, 1 + (hit.time_s + beat / 4) / speed + dice.gauss(0, spread)))
    if kind == "stop":
        cut, back = out[len(out) // 2].time_s, 4 * beat / speed * dice.choice((1, 2))
        again = [_at(hit, hit.time_s + 2 + back) for hit in out if hit.time_s >= cut - back]
        out = [hit for hit in out if hit.time_s < cut] + again
    return out


def _at(hit: Hit, time_s: float) -> Hit:
    return msgspec.structs.replace(hit, time_s=time_s)


def told(take: Sequence[Hit], song: Song) -> str:
    """What the marking says first of whether this is the song."""
    first = mark(take, song.chart, song.grid).summary.say[:1]
    if first and first[0].startswith("This is hardly"):
        return "hardly these bars"
    return "may not be this song" if first and first[0].startswith("This may not be") else "this song"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=int, default=100)
    parser.add_argument("--learning", action="store_true")
    parser.add_argument("--data", type=Path, default=DATA / "groove")
    asked = parser.parse_args()
    dice = random.Random(3)
    found = list(songs(not asked.learning, asked.data))
    dice.shuffle(found)
    rows: dict[str, Counter[str]] = {name: Counter() for name in ("something else", *SPOILED)}
    for number, song in enumerate(found[: asked.songs]):
        other = dice.choice([one for one in found if one.session != song.session])
        speed = dice.choice((1.0, 0.85, 0.7))
        rows["something else"][told([_at(hit, 1 + hit.time_s / speed) for hit in other.hits], song)] += 1
        kind = SPOILED[number % len(SPOILED)]
        rows[kind][told(spoiled(song, kind, dice), song)] += 1
    answers = ("hardly these bars", "may not be this song", "this song")
    print(f"| take of | takes | {' | '.join(answers)} |\n|---|---|---|---|---|")
    for name, row in rows.items():
        print(f"| {name} | {row.total()} | {' | '.join(str(row[answer]) for answer in answers)} |")


if __name__ == "__main__":
    main()
