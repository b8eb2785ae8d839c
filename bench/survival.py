"""Random dense input, and the promises every arrangement keeps.

    python -m bench.survival [--songs 100000] [--keep survival.json]

With `--keep` the count so far is written every few seconds and taken up again by the next run of the same arranger.
"""

import argparse
import json
import random
import time
from collections import Counter
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import get_args

import fourlimb.arrange
from fourlimb.arrange import arrange, check
from fourlimb.arrange.limits import PLAYERS, Player
from fourlimb.model import LEVELS, LIMBS, SOUNDS, Chart, Hit, Kit, Layer, Listening, Section, Song, Struck
from fourlimb.model.grid import from_tempi
from fourlimb.model.kit import STANDARD_PIECES
from fourlimb.model.places import bar_length

METERS = ("4/4", "3/4", "6/8", "7/8", "5/4", "12/8", "2/2", "5/16", "1/4", "9/8", "11/8")
TEMPI = (20, 60, 90, 120, 180, 240, 400)
STEPS = (Fraction(1, 16), Fraction(1, 24), Fraction(1, 32), Fraction(1, 8), Fraction(3, 64), Fraction(1, 20))
LAYERS: tuple[Layer | None, ...] = (
    None,
    None,
    None,
    "kit",
    "programmed",
    "hand percussion",
    "second snare",
    "stacked kick",
)


def dense_song(seed: int) -> tuple[Listening, Kit, Player]:
    """One to four bars of up to twelve sounds at once, any meter, 20 to 440 bpm, any kit, any limbs, any player."""
    dice = random.Random(seed)
    count = dice.randint(1, 4)
    tempo = dice.choice(TEMPI)
    grid = from_tempi(
        [(dice.choice(METERS), tempo * dice.choice((1, 1, 1, 1.1))) for _ in range(count)],
        first_bar=dice.choice((0, 1)),
    )
    density = dice.choice((0.02, 0.1, 0.5, 1))
    hits: list[Hit] = []
    for bar in grid.bars:
        step = dice.choice(STEPS)
        for n in range(int(bar_length(bar.meter) / step) + 1):
            if dice.random() < density:
                hits += [_hit(dice, len(hits) + k, bar.bar, n * step) for k in range(dice.randint(1, 12))]
    sections = (Section(name="A", from_bar=1, to_bar=max(1, count // 2)),) if dice.random() < 0.5 else ()
    song = Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="")
    return Listening(song=song, grid=grid, hits=tuple(hits), sections=sections), _kit(dice), dice.choice(PLAYERS)


def _hit(dice: random.Random, number: int, bar: int, position: Fraction) -> Hit:
    return Hit(
        id=number,
        time_s=0.0,
        sound=dice.choice(SOUNDS),
        loudness_db=-40 * dice.random(),
        confidence=dice.random(),
        bar=bar if dice.random() < 0.99 else None,
        position=position,
        layer=dice.choice(LAYERS),
        grace=dice.choice((None, None, None, "flam", "drag", "ruff", "long_ruff")),
        struck=dice.choice((None, None, None, *get_args(Struck))),
        second=dice.random() < 0.1,
    )


def _kit(dice: random.Random) -> Kit:
    return Kit(
        handed=dice.choice(("right", "left")),
        open_handed=dice.random() < 0.3,
        double_pedal=dice.random() < 0.3,
        extra={"seconds": ["crash", "ride", "tom_floor"]} if dice.random() < 0.3 else {},
        pieces=STANDARD_PIECES if dice.random() < 0.5 else tuple(s for s in SOUNDS if dice.random() < 0.7),
        limbs=LIMBS if dice.random() < 0.7 else tuple(limb for limb in LIMBS if dice.random() < 0.6),
    )


def broken_promises(listening: Listening, kit: Kit, player: Player) -> list[str]:
    """What an arrangement of this input does not keep, in words; an empty list is what must come out."""
    made = arrange(listening, kit, player=player)
    broken: list[str] = []
    heard = {hit.id for hit in listening.hits}
    above: Chart | None = None
    for level in LEVELS:
        chart = made.charts[level]
        broken += [f"{level}: {b.limit} at bar {b.bar} {b.position}" for b in check(chart, listening.grid, kit)]
        told = {h for s in chart.strokes for h in s.hits}
        told |= {h for r in made.reasons if level in r.levels for h in r.hits}
        broken += [f"{level}: hit {h} has neither stroke nor reason" for h in sorted(heard - told)]
        if [bar.bar for bar in chart.bars] != list(listening.grid.numbers):
            broken.append(f"{level}: bars are missing")
        if above is not None:
            broken += [
                f"{level}: bar {low.bar} is harder than above"
                for low, high in zip(chart.bars, above.bars, strict=True)
                if low.difficulty > high.difficulty
            ]
            broken += [f"{level}: the grade is higher than above"] if chart.grade > above.grade else []
        above = chart
    if not _skeleton(made.charts["bones"]) <= _skeleton(made.charts["full"]):
        broken.append("bones: a kick or snare that full has not")
    return broken


def _skeleton(chart: Chart) -> set[tuple[int, Fraction, str]]:
    return {(s.bar, s.position, s.piece) for s in chart.strokes if s.piece in ("kick", "snare")}


@dataclass
class Run:
    """How far a long run is: songs 0 to `songs` - 1 are tried, with `arranger` (a digest of its code)."""

    arranger: str
    songs: int = 0
    seconds: float = 0.0
    broken: dict[str, int] = field(default_factory=dict)
    first: list[str] = field(default_factory=list)


def arranger_digest() -> str:
    """Twelve hexadecimal digits of the arranger's code."""
    code = sha256()
    for path in sorted(Path(fourlimb.arrange.__file__).parent.glob("*.py")):
        code.update(path.read_bytes())
    return code.hexdigest()[:12]


def long_run(songs: int, keep: Path | None = None) -> Run:
    """Songs 0 to `songs` - 1; what was kept of an earlier run of the same code is not tried again."""
    run = Run(arranger_digest())
    if keep is not None and keep.exists():
        before = Run(**json.loads(keep.read_text()))
        run = before if before.arranger == run.arranger else run
    broken = Counter(run.broken)
    saved = time.monotonic()
    began = time.process_time() - run.seconds
    while run.songs < songs:
        for what in broken_promises(*dense_song(run.songs)):
            broken[what.split(" at ")[0]] += 1
            run.first = [*run.first, f"song {run.songs}: {what}"][:20]
        run.songs += 1
        if keep is not None and (time.monotonic() - saved > 5 or run.songs == songs):
            run.broken, run.seconds, saved = dict(broken), round(time.process_time() - began, 1), time.monotonic()
            keep.write_text(json.dumps(asdict(run), indent=1))
    run.broken, run.seconds = dict(broken), round(time.process_time() - began, 1)
    return run


def main() -> None:
    """Print the count, and what was broken first."""
    read = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    read.add_argument("--songs", type=int, default=100_000)
    read.add_argument("--keep", type=Path)
    asked = read.parse_args()
    run = long_run(asked.songs, asked.keep)
    print(f"{run.songs} random dense songs, {sum(run.broken.values())} broken promises {run.broken}")
    print(f"{run.seconds:.0f} processor seconds, arranger {run.arranger}")
    print("\n".join(run.first))


if __name__ == "__main__":
    main()
