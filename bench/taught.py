"""A teacher who knows the truth checks the tenth of bars that stand first in the list, one after the other.

Each bar is put right, the song learns from it (`fourlimb.listen.learn`), the list is made anew, the next is taken. Counted
are strokes left wrong in the whole song: five families, missed and added, +-50 ms.
"""

import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import msgspec
import numpy as np

from fourlimb.listen import Spoken, form, learn, place_hits, still_possible
from fourlimb.listen.chances import EARLY_S
from fourlimb.model import SOUNDS, Audio, Grid, Hit, Listening
from fourlimb.model.sounds import ORDER

from .cases import FAMILIES, Case, heard, wrong_strokes
from .groove import Performance
from .made_songs import song_of
from .playing import KeptEars, Played, audio_of, key_of, weights


class Left(NamedTuple):
    """Wrong strokes of a song: as heard, with the bars corrected, and with what is learnt from them."""

    heard: int
    corrected: int
    learnt: int
    best: int
    chance: float


def left_wrong(case: Case, found: Listening) -> Left:
    """One song under the teacher's hands. `best`: the tenth of bars with most wrong corrected, nothing learnt."""
    count = int(np.ceil(0.1 * len(found.grid.bars)))
    wrong = wrong_strokes(case, found, tuple(FAMILIES))
    every = sum(wrong.values())
    truth = true_hits(case, found)
    ends = [teach(found, truth, count, learning=learning) for learning in (False, True)]
    corrected, learnt = (sum(wrong_strokes(case, end, tuple(FAMILIES)).values()) for end in ends)
    best = every - sum(n for _, n in wrong.most_common(count))
    return Left(every, corrected, learnt, best, every * (1 - count / len(found.grid.bars)))


def true_hits(case: Case, found: Listening) -> tuple[Hit, ...]:
    """The true strokes as the teacher would write them: at their places in the grid that was found."""
    highest = max((hit.id for hit in found.hits), default=0)
    rows = sorted((float(str(h["time_s"])), [str(s) for s in SOUNDS].index(str(h["sound"]))) for h in case.hits)
    hits = [
        Hit(id=10 * highest + n, time_s=t, sound=SOUNDS[s], loudness_db=-10.0, confidence=1.0, by="teacher")
        for n, (t, s) in enumerate(rows, start=1)
    ]
    return place_hits(found.grid, hits)


def teach(found: Listening, truth: Sequence[Hit], count: int, *, learning: bool) -> Listening:
    """The song after that many bars were put right, the first of the list each time."""
    first, spoken, known = found, [], set[int]()
    for _ in range(count):
        bar = next((doubt.bar for doubt in found.doubts if doubt.bar not in known), None)
        if bar is None:
            break
        known.add(bar)
        said = _stretch(found.grid, bar)
        spoken.append(said)
        hits = sorted([*(h for h in found.hits if not _in(h, said)), *(h for h in truth if _in(h, said))], key=_order)
        if learning:
            hits = list(learn(found.grid, first.hits, hits, first.possible, spoken).hits)
        possible = still_possible(first.possible, spoken)
        doubts = form(found.grid, hits, possible)[2]
        found = msgspec.structs.replace(found, hits=tuple(hits), doubts=doubts)
    return found


def _order(hit: Hit) -> tuple[float, int, int]:
    return hit.time_s, ORDER[hit.sound], hit.id


def _stretch(grid: Grid, bar: int) -> Spoken:
    return Spoken(grid.at(bar).start_s - EARLY_S, grid.end(bar) - EARLY_S, frozenset(SOUNDS))


def _in(hit: Hit, said: Spoken) -> bool:
    return said.start_s <= hit.time_s < said.end_s


def said(what: str, found: Sequence[tuple[Case, Listening]]) -> str:
    """One line on songs together."""
    rows = [left_wrong(case, one) for case, one in found]
    every, corrected, learnt, best, chance = np.sum(rows, axis=0)
    songs = " ".join(f"{row.learnt}/{row.heard}" for row in rows)
    return (
        f"{what}: of {every:.0f} wrong strokes left after the tenth of bars first in the list is corrected "
        f"{corrected / every:.2f}, and the song has learnt from them {learnt / every:.2f}; the best tenth, nothing "
        f"learnt {best / every:.2f}; any tenth {chance / every:.2f}; by song {songs}"
    )


def made_songs(
    grooves: Sequence[Performance], count: int, cache: Path | None, *, bars: int = 8
) -> Iterator[tuple[Case, Listening]]:
    """Songs of four to eight sections of `bars` human bars, with a band, on the kit that ships with fourlimb."""
    long = [g for g in grooves if g.meter == "4/4" and len(g.grid.bars) >= 16]
    for seed in range(count):
        made = song_of(long, seed, bars=bars)
        beat_s = made.grid.beats[1].time_s - made.grid.beats[0].time_s
        song = Played(
            f"form {made.name}", "made", 60 / beat_s, "4/4", made.hits, made.grid, made.grid.end_s + 0.5, seed
        )
        hits: list[dict[str, object]] = [{"time_s": h.time_s, "sound": h.sound} for h in song.hits]
        beats = np.array([b.time_s for b in song.grid.beats])
        ones = np.array([b.time_s for b in song.grid.beats if b.beat == 1])
        case = Case(song.name, _sound(song, cache), beats, ones, hits)
        yield case, heard(case, KeptEars(folder=cache, key=key_of(song)))


def _sound(song: Played, cache: Path | None) -> Audio:
    """The song's sound; silence of its length where what the ears hear in it is kept."""
    name = f"{zlib.crc32(key_of(song).encode()):08x}-{weights():08x}.npz"
    if cache is not None and (cache / name).exists():
        return Audio(np.zeros((int(song.ends_s * 100), 1), np.float32), 100)
    return audio_of(song)
