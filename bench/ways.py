"""Learns how likely ways to count are (`fourlimb/listen/ways.npz`, read by `weigh`), and says how often it is right.

    python -m bench.ways [--cache FOLDER] [--processes N] [--out FILE] [--trust N]

Learning data: every groove of the learning half of the Groove set that is long enough, rendered with fourlimb's own kit
and heard by the ears that ship, and songs made in every meter of the same half with a band (`made_songs.metered_song`,
`varied_songs`); each whole and in stretches, at its own and other speeds, worse heard (`choices`). Some stretches of
grooves get the harmony of a band, whose chords sometimes change in the middle of bars. Grooves whose beats are all
played in three count as 12/8. Beside them written songs of styles that the set has few of, whole and at the tempi
usual for them (`style_songs`). The recordings and rendered songs are not used: they check. Strokes alone have a table
of their own, learned from the same songs. How often the best way is right on songs of sessions that were left out, a
quarter at a time, is printed. With `--trust N` the curves of
`beat_trust` are fitted on every Nth of the songs of `met_in_life`, and their calibration error printed; without, they
stay as they are. Needs torch (the `training` extra). What the ears hear depends a little on the weights that ship
(strokes are chosen with the bars in view), so a second run changes a little again.
"""

import argparse
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from multiprocessing.pool import Pool
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np

from fourlimb.listen.bars import counted_ways
from fourlimb.listen.beat_trust import probable
from fourlimb.listen.weigh import Weights, weighed
from fourlimb.model.places import bar_length

from .choices import Choice, Take, right_tempo, struck_takes, takes, true_ways
from .confidence import calibration
from .groove import Performance, performances
from .made_songs import METERS, groove_of, in_three, metered_song, usual_song
from .perceptron import SUMS, one_fit, together
from .playing import LONGEST_S, Played, chroma_in, evidence_of, felt_bpm, played
from .style_songs import WRITTEN, style_songs
from .trust_curves import Rows, fit, judged
from .varied_songs import groove_and_song, with_chords

OUT = Path(__file__).parents[1] / "src" / "fourlimb" / "listen" / "ways.npz"
MADE = "made"
STYLE = "style"
TAKES, STRUCK_TAKES = {"groove": 6, STYLE: 1}, {"groove": 3, STYLE: 1}
TAKES_OF_MADE, STRUCK_TAKES_OF_MADE = 3, 2
"""How often a song is heard, by kind; the kinds of made songs are their meters."""
STYLE_ROUNDS = 20
SONGS_A_METER, VARIED_A_METER, USUAL_A_METER = 12, 16, 12
MORE_IN_TWO = 12
"""Varied songs in 2/4 beyond those of other meters: it is the hardest to tell."""
UNSEEN = 1000
"""Seeds of usual songs from here on are learned from, those `bench.bars` judges by are not."""
OTHER_SPEED = 0.7
WEIGHTS = {
    "groove": 0.67, "4/4": 0.6, "3/4": 0.6, "2/4": 1.0, "5/4": 0.6, "7/8": 0.6, "6/8": 0.6, "12/8": 0.6,
    STYLE: 0.5,
}  # fmt: skip
"""How much a take counts: real grooves more than made songs."""
WHOLE_S = 120.0
"""So much of a performance is learned from: the whole of most, and stretches from anywhere in it."""
RARE = 0.1
"""How much less songs in 2/4 count for strokes alone, where nothing tells them from half bars of 4/4."""
MET = {"alone": 1.0, "with a band": 2.0, "in every meter": 1.0}
"""How much songs count for the curves of trust, by kind: most that is played to us has a band."""
METERED = 20
LONG_ENOUGH_S = 20.0
QUARTERS = 4
SLOWEST_BPM, FASTEST_BPM = 40.0, 240.0


class Item(NamedTuple):
    """A song to learn from, the meters that are right for it, and the session its drummer played it in."""

    song: Played
    meters: set[str]
    session: str


def items(grooves: Sequence[Performance]) -> Iterator[Item]:
    """Grooves as they are, and songs made of them."""
    for groove in grooves:
        yield from _groove_item(groove, WHOLE_S)
    for seed in range(SONGS_A_METER):
        for meter in METERS:
            source = groove_of(meter, grooves, seed, np.random.default_rng(seed))
            yield Item(metered_song(meter, grooves, seed), {meter}, _session(source))
    for seed in range(VARIED_A_METER + MORE_IN_TWO):
        for meter in METERS if seed < VARIED_A_METER else ("2/4",):
            source, song = groove_and_song(meter, grooves, seed)
            yield Item(song, {meter}, _session(source))
    for song in style_songs(STYLE_ROUNDS):
        yield Item(song, set(METERS), song.name)


def _groove_item(groove: Performance, longest_s: float) -> Iterator[Item]:
    """A performance as it is, unless it is too short or too fast or slow to have a tempo."""
    song = played(groove, longest_s)
    if song is not None and SLOWEST_BPM <= felt_bpm(song) <= FASTEST_BPM:
        known = {groove.meter} if groove.meter in METERS else set(METERS)
        yield Item(song, {"12/8"} if in_three(groove) else known, _session(groove))


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
    """A groove with a band."""
    rng = np.random.default_rng(zlib.crc32(song.name.encode()))
    return with_chords(replace(song, name=f"{song.name} with a band", seed=int(rng.integers(1000))), rng)


def heard_choices(cache: Path, numbered: tuple[int, Item]) -> list[Choice]:
    """Every take of a song as the ears hear it."""
    number, item = numbered
    kind, evidence = kind_of(item.song), evidence_of(item.song, cache)
    other = replace(evidence, chroma=chroma_in(banded(item.song), cache)) if kind == "groove" else evidence
    found = takes(item.song, evidence, other, TAKES.get(kind, TAKES_OF_MADE), (1, number))
    return [_choice(take, item, whole=n == 0) for n, take in enumerate(found)]


def struck_choices(numbered: tuple[int, Item]) -> list[Choice]:
    """The same for strokes alone."""
    number, item = numbered
    rare = RARE if item.song.meter == "2/4" else 1.0
    count = STRUCK_TAKES.get(kind_of(item.song), STRUCK_TAKES_OF_MADE)
    found = [_choice(take, item) for take in struck_takes(item.song, count, (2, number))]
    return [replace(choice, weight=choice.weight * rare) for choice in found]


def kind_of(song: Played) -> str:
    """The meter of a made song, a style written out, or a groove as it was played."""
    return {MADE: song.meter, WRITTEN: STYLE}.get(song.style, "groove")


def _choice(take: Take, item: Item, *, whole: bool = False) -> Choice:
    ways = counted_ways(take.evidence, take.pulses)
    kind = kind_of(item.song)
    weight = WEIGHTS[kind] * (1.0 if take.speed == 1 else OTHER_SPEED)
    rows = np.array([way.row for way in ways], dtype=np.float32)
    true, fast = true_ways(ways, take, item.meters), right_tempo(ways, take)
    return Choice(rows, true, weight, kind, item.session, fast, whole)


def quarters(sessions: Sequence[str]) -> dict[str, int]:
    """Which quarter is left out together with each session."""
    return {name: n % QUARTERS for n, name in enumerate(sorted(set(sessions)))}


def learned_from(
    pool: Pool, heard: Sequence[Choice], struck: Sequence[Choice], quarter: dict[str, int]
) -> tuple[list[Weights], dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Weights learned from what was heard without each quarter, and the tables of all that was heard and struck."""
    some = [[c for c in heard if quarter[c.session] != part] for part in range(QUARTERS)]
    asked = [*((part, 0) for part in some), *((whole, seed) for whole in (heard, struck) for seed in range(SUMS))]
    found = pool.starmap(one_fit, asked, chunksize=1)
    weights = [Weights(**one) for one in found[:QUARTERS]]
    return weights, together(found[QUARTERS : QUARTERS + SUMS]), together(found[QUARTERS + SUMS :])


def left_out(choices: Sequence[Choice], quarter: dict[str, int], weights: Sequence[Weights]) -> str:
    """How often the tempo and the way are right on whole songs (on all takes) left out, by kind of song."""
    right: dict[str, list[tuple[bool, bool, bool]]] = {}
    for choice in choices:
        best = int(weighed(choice.rows, weights[quarter[choice.session]]).argmax())
        right.setdefault(choice.kind, []).append((choice.whole, bool(choice.fast[best]), bool(choice.true[best])))
    return "  ".join(_shares(kind, rights) for kind, rights in sorted(right.items()))


def _shares(kind: str, rights: Sequence[tuple[bool, bool, bool]]) -> str:
    every = np.array(rights)
    whole = every[every[:, 0]] if every[:, 0].any() else every
    return (
        f"{kind} tempo {whole[:, 1].mean():.3f} way {whole[:, 2].mean():.3f} of {len(whole)} "
        f"({every[:, 1].mean():.3f} {every[:, 2].mean():.3f} of {len(every)})"
    )


def met_in_life(grooves: Sequence[Performance]) -> Iterator[tuple[str, Item]]:
    """Songs that the curves of trust are fitted on, by kind: human grooves alone, with a band, in every meter."""
    for groove in grooves:
        for item in _groove_item(groove, LONGEST_S):
            yield "alone", item
            if item.song.ends_s >= LONG_ENOUGH_S:
                yield "with a band", item._replace(song=banded(item.song))
    for seed in range(METERED):
        for meter in METERS:
            source = groove_of(meter, grooves, seed, np.random.default_rng(seed))
            yield "in every meter", Item(metered_song(meter, grooves, seed), {meter}, _session(source))


def trust_rows(cache: Path, task: tuple[Item, Weights]) -> tuple[Rows, Rows]:
    """What speaks for the beats and bar lines of a song counted by weights that did not know it."""
    item, weights = task
    return judged(item.song, evidence_of(item.song, cache), weights)


def trust_curves(
    kinds: Sequence[str], parts: Sequence[int], rows: Sequence[tuple[Rows, Rows]]
) -> dict[str, np.ndarray]:
    """Both curves; their error by kind of song is printed, each part of the songs told by a curve of the others."""
    found = {}
    counts = np.array([MET[kind] for kind in kinds])
    for what, songs in zip(("beats", "lines"), zip(*rows, strict=True), strict=True):
        lines = what == "lines"
        curves = {part: _fit_some(songs, counts * (np.array(parts) != part), lines) for part in set(parts)}
        told = [probable(song.signs, curves[part]) * song.at_all for song, part in zip(songs, parts, strict=True)]
        curve = _fit_some(songs, counts, lines)
        errors = []
        for kind in MET:
            own = [n for n, other in enumerate(kinds) if other == kind]
            said, right = np.concatenate([told[n] for n in own]), np.concatenate([songs[n].right for n in own])
            errors.append(f"{kind} {calibration(said, right):.3f} (told {said.mean():.2f}, right {right.mean():.2f})")
        print(f"{what}: {np.round(curve, 2).tolist()}; calibration error, left out: {'  '.join(errors)}", flush=True)
        found[f"trust_{what}"] = curve.astype(np.float32)
    return found


def _fit_some(songs: Sequence[Rows], counts: np.ndarray, lines: bool) -> np.ndarray:
    some = np.flatnonzero(counts)
    return fit([songs[n] for n in some], counts[some].tolist(), lines=lines)


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cache", type=Path, help="folder that keeps what the ears hear")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--trust", type=int, default=0, help="fit the curves of trust too, on every Nth song")
    parser.add_argument("--out", type=Path, default=OUT)
    return parser.parse_args()


def main() -> None:
    """Writes the table."""
    asked = _asked()
    grooves = [groove for groove in performances(judging=False) if groove.bpm >= SLOWEST_BPM]
    with TemporaryDirectory() as folder, get_context("fork").Pool(asked.processes) as pool:
        cache = asked.cache or Path(folder)
        cache.mkdir(parents=True, exist_ok=True)
        learning = list(items(grooves))
        quarter = quarters([item.session for item in learning])
        heard = _usable(pool.imap(partial(heard_choices, cache), enumerate(learning)))
        usual = [*learning, *usual_items(USUAL_A_METER)]
        struck = _usable(pool.imap(struck_choices, enumerate(usual)))
        weights, of_heard, of_struck = learned_from(pool, heard, struck, quarter)
        print(f"struck: {len(struck)} takes; heard: {len(heard)} takes", flush=True)
        print(f"left out: {left_out(heard, quarter, weights)}", flush=True)
        tables = {f"heard_{part}": values for part, values in of_heard.items()}
        tables |= {f"struck_{part}": values for part, values in of_struck.items()}
        with np.load(OUT) as shipped:
            trusted = {name: shipped[name] for name in shipped.files if name.startswith("trust_")}
        np.savez_compressed(asked.out, **tables, **trusted)
        if asked.trust:
            chosen = list(met_in_life(grooves))[:: asked.trust]
            parts = [quarter[item.session] for _, item in chosen]
            tasks = [(item, weights[part]) for (_, item), part in zip(chosen, parts, strict=True)]
            trusted = trust_curves(
                [k for k, _ in chosen], parts, pool.map(partial(trust_rows, cache), tasks, chunksize=1)
            )
            np.savez_compressed(asked.out, **tables, **trusted)


def _usable(songs: Iterable[list[Choice]]) -> list[Choice]:
    """Takes of which a true way was tried."""
    return [choice for song in songs for choice in song if len(choice.rows) and choice.true.any()]


if __name__ == "__main__":
    main()
