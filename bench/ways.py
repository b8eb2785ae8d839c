"""Learns how likely ways to count are (`fourlimb/listen/ways.npz`, read by `weigh`), and says how often it is right.

    python -m bench.ways [--cache FOLDER] [--processes N] [--out FILE]

Learning data: every groove of the learning half of the Groove set that is long enough, rendered with fourlimb's own kit
and heard by the ears that ship, and songs made in every meter of the same half with a band
(`made_songs.metered_song`); each whole and in stretches, at its own and other speeds, worse heard (`choices`). Some
stretches of grooves get the harmony of a band, one of three with two chords a bar, so that chords that change in the
middle of a bar are not taken for bar lines. Grooves whose beats are all played in three count as 12/8. The recordings
and rendered songs are not used: they check. Strokes alone have a table of their own, learned from the same songs.
Needs torch (the `training` extra). Also printed: how often the best way is right on songs of drummers' sessions that
were left out, a quarter at a time.
"""

import sys
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fourlimb.listen.bars import counted_ways
from fourlimb.listen.weigh import Weights, weighed
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length

from .choices import Choice, Take, struck_takes, takes, true_ways
from .groove import Performance, performances
from .made_songs import METERS, groove_of, in_three, metered_song, usual_song
from .perceptron import table
from .playing import Played, chroma_in, evidence_of, felt_bpm, played

OUT = Path(__file__).parents[1] / "src" / "fourlimb" / "listen" / "ways.npz"
MADE = "made"
TAKES, STRUCK_TAKES = {False: 5, True: 4}, {False: 3, True: 2}
"""By whether a song was made."""
SONGS_A_METER, USUAL_A_METER = 24, 12
UNSEEN = 1000
"""Seeds of usual songs from here on are learned from, those `bench.bars` judges by are not."""
OTHER_SPEED = 0.7
WEIGHTS = {"groove": 1.0, "4/4": 0.5, "3/4": 0.5, "2/4": 0.5, "5/4": 0.5, "7/8": 0.5, "6/8": 0.5, "12/8": 0.5}
"""How much a take counts: real grooves more than made songs."""
RARE = 0.1
"""How much less songs in 2/4 count for strokes alone, where nothing tells them from half bars of 4/4."""
TWICE_A_BAR = 0.35
QUARTERS = 4
SLOWEST_BPM, FASTEST_BPM = 40.0, 240.0


class Item(NamedTuple):
    """A song to learn from, the meters that are right for it, and the session its drummer played it in."""

    song: Played
    meters: set[str]
    session: str


def items(grooves: Sequence[Performance], songs_a_meter: int) -> Iterator[Item]:
    """Grooves as they are, and songs made of them."""
    for groove in grooves:
        song = played(groove)
        if song is not None and SLOWEST_BPM <= felt_bpm(song) <= FASTEST_BPM:
            known = {groove.meter} if groove.meter in METERS else set(METERS)
            yield Item(song, {"12/8"} if in_three(groove) else known, _session(groove))
    for seed in range(songs_a_meter):
        for meter in METERS:
            source = groove_of(meter, grooves, seed, np.random.default_rng(seed))
            yield Item(metered_song(meter, grooves, seed), {meter}, _session(source))


def usual_items(songs_a_meter: int) -> Iterator[Item]:
    """Songs of usual bars, for strokes alone."""
    for seed in range(UNSEEN, UNSEEN + songs_a_meter):
        for meter in METERS:
            made = usual_song(meter, seed)
            quarter_bpm = 240 * float(bar_length(meter)) * len(made.grid.bars) / made.grid.end_s
            name, ends_s = f"usual {meter} {seed}", made.grid.end_s + 0.5
            yield Item(Played(name, MADE, quarter_bpm, meter, made.hits, made.grid, ends_s), {meter}, f"usual {seed}")


def _session(groove: Performance) -> str:
    return groove.name.rsplit("/", 1)[0]


def banded(song: Played) -> Played:
    """A groove with a band whose chords change with the bar or, one time in three, twice a bar."""
    number, grid = zlib.crc32(song.name.encode()), song.grid
    if song.meter == "4/4" and np.random.default_rng(number).random() < TWICE_A_BAR:
        grid = regular(["2/4"] * (2 * len(grid.bars)), song.quarter_bpm)
    return replace(song, name=f"{song.name} with a band", seed=number % 1000, grid=grid)


def heard_choices(cache: Path | None, numbered: tuple[int, Item]) -> list[Choice]:
    """Every take of a song as the ears hear it."""
    number, item = numbered
    made, evidence = item.song.style == MADE, evidence_of(item.song, cache)
    other = evidence if made else replace(evidence, chroma=chroma_in(banded(item.song), cache))
    return [_choice(take, item) for take in takes(item.song, evidence, other, TAKES[made], (1, number))]


def struck_choices(numbered: tuple[int, Item]) -> list[Choice]:
    """The same for strokes alone."""
    number, item = numbered
    made = item.song.style == MADE
    rare = RARE if item.song.meter == "2/4" else 1.0
    found = [_choice(take, item) for take in struck_takes(item.song, STRUCK_TAKES[made], (2, number))]
    return [replace(choice, weight=choice.weight * rare) for choice in found]


def _choice(take: Take, item: Item) -> Choice:
    ways = counted_ways(take.evidence, take.pulses)
    kind = item.song.meter if item.song.style == MADE else "groove"
    weight = WEIGHTS[kind] * (1.0 if take.speed == 1 else OTHER_SPEED)
    rows = np.array([way.row for way in ways], dtype=np.float32)
    return Choice(rows, true_ways(ways, take, item.meters), weight, kind, item.session)


def left_out(choices: Sequence[Choice]) -> str:
    """How often the best way is right when a quarter of the sessions is not learned from, by kind of song."""
    quarter = {name: n % QUARTERS for n, name in enumerate(sorted({choice.session for choice in choices}))}
    right: dict[str, list[bool]] = {}
    for part in range(QUARTERS):
        weights = Weights(**table([c for c in choices if quarter[c.session] != part], sums=1))
        for choice in (c for c in choices if quarter[c.session] == part):
            right.setdefault(choice.kind, []).append(bool(choice.true[int(weighed(choice.rows, weights).argmax())]))
    return "  ".join(f"{kind} {np.mean(rights):.3f} of {len(rights)}" for kind, rights in sorted(right.items()))


def main(arguments: Sequence[str]) -> None:
    """Writes the table."""
    said = dict(zip(arguments[::2], arguments[1::2], strict=True))
    cache = Path(said["--cache"]) if "--cache" in said else None
    grooves = [groove for groove in performances(judging=False) if groove.bpm >= SLOWEST_BPM]
    learning = list(enumerate(items(grooves, SONGS_A_METER)))
    usual = [*learning, *enumerate(usual_items(USUAL_A_METER), start=len(learning))]
    tables = {}
    with Pool(int(said.get("--processes", "1"))) as pool:
        for name, hear, songs in (
            ("heard", partial(heard_choices, cache), learning),
            ("struck", struck_choices, usual),
        ):
            found = [c for song in pool.imap(hear, songs) for c in song if len(c.rows) and c.true.any()]
            print(
                f"{name}: {len(found)} takes of {len(songs)} songs; sessions left out: {left_out(found)}", flush=True
            )
            tables |= {f"{name}_{part}": values for part, values in table(found).items()}
    np.savez_compressed(Path(said.get("--out", OUT)), **tables)


if __name__ == "__main__":
    main(sys.argv[1:])
