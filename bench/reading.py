"""Songs of many styles, meters and tempi, and their charts as letters on a line: to be read as a teacher reads a part.

    python -m bench.reading [WORD ...] [--level full steady bones] [--why]

Without words all songs are printed. Each bar that differs is printed once: beats apart, R and L for hands (small: a
ghost), x for feet. With `--why` the reasons are counted below. The songs are ours; nothing is judged here: what was
found by reading them has a test each in `tests/arrange/test_as_taught.py`.
"""

import argparse
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

import msgspec

from bench.written import KIT, song
from fourlimb.arrange import Arrangement, arrange
from fourlimb.model import LEVELS, Chart, FeelSpan, Grid, Listening, Section, Stroke
from fourlimb.model.grid import from_tempi
from fourlimb.model.places import bar_length, beat_starts


@dataclass(frozen=True)
class Piece:
    """A song to read: lines of bars, meters and tempi (of quarters) that come round in turn, feel and sections."""

    name: str
    lines: tuple[str, ...]
    bars: tuple[tuple[str, float], ...]
    feel: tuple[FeelSpan, ...] = ()
    sections: tuple[tuple[int, int], ...] = ()

    def listening(self) -> Listening:
        """The song as a listener without a doubt would have it."""
        meters = [self.bars[n % len(self.bars)] for n in range(len(self.lines))]
        grid = msgspec.structs.replace(from_tempi(meters), feel=self.feel)
        parts = [song([line], bpm=bpm, meter=meter) for line, (meter, bpm) in zip(self.lines, meters, strict=True)]
        struck = [(bar, hit) for bar, part in zip(grid.numbers, parts, strict=True) for hit in part.hits]
        hits = tuple(
            msgspec.structs.replace(hit, id=n, bar=bar, time_s=grid.time_at(bar, hit.position or Fraction(0)))
            for n, (bar, hit) in enumerate(struck)
        )
        named = tuple(Section(name=chr(65 + n), from_bar=a, to_bar=b) for n, (a, b) in enumerate(self.sections))
        return msgspec.structs.replace(parts[0], grid=grid, hits=hits, sections=named)


def _four(
    name: str, bpm: float, *lines: str, meter: str = "4/4", sections: tuple[tuple[int, int], ...] = ()
) -> Piece:
    return Piece(name, lines, ((meter, bpm),), sections=sections)


HALVES = ((1, 4), (5, 8))
ROCK = "kick 1 2& 3; snare 2 4; hat every 8th"
MOTOWN = f"{ROCK}; shaker every 16th; tambourine 2 4; clap 2 4"
MOTOWN_CRASH = "crash 1; kick 1 2& 3; snare 2 4; hat 1& 2 2& 3 3& 4 4&; shaker every 16th; tambourine 2 4; clap 2 4"
MOTOWN_FILL = "kick 1 3; snare 2 3 3e 3& 3a; high tom 4 4e; floor tom 4& 4a; shaker every 16th; tambourine 2 4"
BLAST, GALLOP = (
    "kick every 16th; snare 3; ride every 4th",
    "kick 1 1e 1& 2 2e 2& 3 3e 3& 4 4e 4&; snare 2 4; hat every 8th",
)
CHINA = "kick every 8th; snare 2 4; crash 1; china 2 3 4"
ROUND = "snare 1 1e 1& 1a; high tom 2 2e 2& 2a; mid tom 3 3e 3& 3a; floor tom 4 4e 4& 4a"
SWING = "ride 1 2 2+2/3 3 4 4+2/3; foot hat 2 4"
SWING_FILL = "snare 1 1+1/3 1+2/3 2; high tom 2+1/3 2+2/3 3; floor tom 3+1/3 3+2/3 4; kick 1 4; foot hat 2 4"
BALLAD = "kick 1 3 3&; snare 2 4; ride every 8th"
LONG_1 = "snare 1 1e 1& 1a 2 2e 2& 2a; high tom 3 3e 3& 3a; mid tom 4 4e 4& 4a; kick every 4th"
LONG_2 = (
    "floor tom 1 1e 1& 1a 4 4e 4& 4a; snare 2 2+1/6 2+2/6 2+3/6 2+4/6 2+5/6; kick every 4th; "
    "high tom 3 3+1/6 3+2/6 3+3/6 3+4/6 3+5/6"
)
CLAVE = "kick 1 2& 3 4&; shaker every 16th; cowbell every 4th; high tom 2 2&; floor tom 4 4&"
STRAIGHT, HALF = "kick 1 3; snare 2 4; hat every 8th", "kick 1 2a; snare 3; hat every 8th"
DOUBLE = "kick every 4th; snare 1& 2& 3& 4&; hat every 8th"
SNARES = "snare 3 3e 3& 3a 4 4e 4& 4a; kick 1; hat 1 1& 2 2&"
TRAP_1 = "kick 1 2a 3&; snare 3; clap 3; hat 1 1& 2 2e 2& 2a 3 3& 4 4+1/8 4+2/8 4+3/8 4+4/8 4+5/8 4+6/8 4+7/8"
TRAP_2 = "kick 1 1a 2&; snare 3; clap 3; hat 1 1& 2 2& 3 3+1/6 3+2/6 3+3/6 3+4/6 3+5/6 4 4&; open hat 4a; rim 1a 2a"
SEVEN, SEVEN_16 = "kick 1 2&; snare 2 3; hat every 8th", "kick 1 1a 3&; snare 2 3; hat every 16th"
SEVEN_FILL = "snare 1 1e 1& 1a 2 2e 2& 2a; floor tom 3 3&; kick 1 3"
SIX_FILL = "kick 1; snare 2 2+1/6 2+2/6; high tom 2+3/6 2+4/6; floor tom 2+5/6; hat 1 1& 1a"
FUNK = "kick 1 1a 2& 3a; snare 2 4; soft snare 1e 2a 3e 3& 4e; hat 1 1& 2 2& 3 3& 4; open hat 4&"
FUNK_16 = "kick 1 1a 2& 3a; snare 2 4; soft snare 2a 3e; hat every 16th"
FUNK_FILL = "snare 1 1a 2& 3 3e 3a 4& 4a; kick 1& 2 2a 3& 4; hat 1 2 3 4"
PUNK, PUNK_CRASH = "kick 1 2& 3; snare 2 4; hat every 8th", "kick 1 3 3&; snare 2 4; crash every 4th"
PUNK_FILL = "snare 1 1& 2 2& 3 3e 3& 3a 4 4e 4& 4a; kick every 4th"
WALTZ, WALTZ_RIM = "kick 1; snare 2 3; ride every 8th", "kick 1 2&; rim 2 3; hat every 8th; foot hat 2 3"
WALTZ_5 = "kick 1 3& 5; snare 2 4; ride every 8th; high tom 5&"
TRAIN = "loud snare 1& 2& 3& 4&; soft snare 1 1e 1a 2 2e 2a 3 3e 3a 4 4e 4a; kick every 4th; foot hat 1& 2& 3& 4&"
DISCO_16 = "kick every 4th; snare 2 4; hat 1 1e 1a 2 2e 2a 3 3e 3a 4 4e 4a; open hat 1& 2& 3& 4&; clap 2 4"
DISCO = "kick every 4th; snare 2 4; hat 1 2 3 4; open hat 1& 2& 3& 4&; tambourine every 16th"
SHUFFLE = "kick 1 2+2/3; snare 3; soft snare 1+1/3 2+1/3 3+1/3 4+1/3; hat 1 1+2/3 2 2+2/3 3 3+2/3 4 4+2/3"
SHUFFLE_FILL = "kick 1 2+2/3; snare 3 3+1/3 3+2/3 4 4+1/3; floor tom 4+2/3; hat 1 1+2/3 2 2+2/3"
TAKE_5 = "kick 1 2& 4; snare 3 5; ride every 8th"
TAKE_5_FILL = "kick 1; snare 2 3 3&; ride 1 1& 2 2&; high tom 4 4e 4& 4a; floor tom 5 5e 5& 5a"
JUNGLE = "kick 1 3; floor tom every 8th; snare 2 4"

PIECES: tuple[Piece, ...] = (
    _four("pop with shaker, tambourine, claps", 118, *[MOTOWN] * 3, MOTOWN_FILL, MOTOWN_CRASH, MOTOWN, MOTOWN,
          MOTOWN_FILL, sections=HALVES),
    _four("metal, double kick", 180, BLAST, BLAST, BLAST, f"snare every 16th; {BLAST.split(';')[0]}", GALLOP, GALLOP,
          GALLOP, f"{ROUND}; kick every 8th", CHINA, CHINA, CHINA, f"{ROUND}; kick every 8th",
          sections=(*HALVES, (9, 12))),
    _four("soft swing", 140, *[f"{SWING}; soft kick every 4th", f"{SWING}; soft snare 1+2/3 3+2/3"] * 3, SWING_FILL,
          f"{SWING}; soft snare 2 3+2/3; loud kick 4+2/3"),
    _four("long fills", 100, BALLAD, BALLAD, LONG_1, LONG_2, BALLAD, BALLAD, LONG_1, LONG_2, sections=HALVES),
    _four("latin layers", 104, *[f"{CLAVE}; rim 1 2& 4; mid tom 1& 3&; hat every 8th", f"{CLAVE}; rim 2 3"] * 4),
    Piece("straight, half-time, double-time", (*[STRAIGHT] * 3, SNARES, *[HALF] * 3, SNARES, *[DOUBLE] * 3, SNARES),
          (("4/4", 150),), sections=(*HALVES, (9, 12)),
          feel=(FeelSpan(from_bar=5, to_bar=8, feel="half-time"),
                FeelSpan(from_bar=9, to_bar=12, feel="double-time"))),
    _four("programmed hats", 140, *[TRAP_1, TRAP_2] * 4),
    _four("seven eight", 130, SEVEN, SEVEN, SEVEN_16, SEVEN_16, SEVEN, SEVEN, SEVEN_16, SEVEN_FILL, meter="7/8"),
    _four("six eight ballad", 90, "kick 1; snare 2; hat every 8th", "kick 1 1&; snare 2; hat every 16th", SIX_FILL,
          "kick 1; snare 2; hat every 8th", meter="6/8"),
    _four("funk with ghosts", 98, FUNK, FUNK, FUNK_16, FUNK_16, FUNK, FUNK, FUNK_16, FUNK_FILL),
    _four("punk", 200, PUNK, PUNK, PUNK, PUNK_FILL, PUNK_CRASH, PUNK_CRASH, "kick 1 1& 2& 3 3& 4&; snare 2 4; "
          "crash every 4th", PUNK_FILL, sections=HALVES),
    Piece("waltz with a five", (WALTZ, WALTZ, WALTZ_RIM, WALTZ_5) * 2, (("3/4", 112),) * 3 + (("5/4", 112),)),
    _four("train beat", 120, TRAIN, TRAIN, TRAIN, "snare 1 1e 1& 1a 2 2e 2& 2a 3 3& 4; crash 4&; kick 1 2 3 4 4&"),
    _four("disco", 122, *[DISCO_16] * 3, *[DISCO] * 3),
    Piece("half-time shuffle", (*[SHUFFLE] * 3, SHUFFLE_FILL), (("4/4", 92),),
          feel=(FeelSpan(from_bar=1, to_bar=4, feel="half-time"),)),
    _four("five four", 126, TAKE_5, TAKE_5, TAKE_5, TAKE_5_FILL, TAKE_5, "kick 1 2& 3& 4&; snare 3 5; ride every 8th",
          TAKE_5, TAKE_5_FILL, meter="5/4"),
    _four("floor tom groove", 112, JUNGLE, JUNGLE, f"{JUNGLE}; high tom 4& 4a", JUNGLE),
)  # fmt: skip
"""All songs."""


def bar_lines(strokes: tuple[Stroke, ...], meter: str) -> tuple[str, ...]:
    """A bar as one line a piece: letters at their places, beats apart."""
    finest = min(lcm(16, *(s.position.denominator for s in strokes)), 96)
    lines: dict[str, list[str]] = {}
    for stroke in strokes:
        row = lines.setdefault(stroke.piece, ["."] * int(bar_length(meter) * finest))
        letter = stroke.letter or "x"
        row[int(stroke.position * finest)] = letter.lower() if stroke.ghost else letter
    cuts = [int(start * finest) for start in beat_starts(meter)] + [None]
    return tuple(
        f"{piece:<11} " + " ".join("".join(row[a:b]) for a, b in pairwise(cuts)) for piece, row in lines.items()
    )


def read_chart(chart: Chart, grid: Grid) -> None:
    """Print every bar that differs once."""
    found: dict[tuple[str, ...], list[int]] = {}
    for bar in grid.numbers:
        found.setdefault(bar_lines(chart.by_bar.get(bar, ()), grid.meter(bar)), []).append(bar)
    for lines, bars in found.items():
        print(f"  bars {', '.join(map(str, bars))}")
        print("".join(f"    {line}\n" for line in lines), end="")


def count_reasons(made: Arrangement) -> None:
    """Print how often each reason is given."""
    counts = Counter((r.what, r.sound, r.why, "/".join(r.levels)) for r in made.reasons)
    for (what, sound, why, levels), count in counts.most_common():
        print(f"  {count} x {what} {sound}: {why} ({levels})")


def main() -> None:
    """Print the charts of the songs asked for."""
    read = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    read.add_argument("words", nargs="*", help="only songs with one of these in their name")
    read.add_argument("--level", nargs="*", default=LEVELS, choices=LEVELS)
    read.add_argument("--why", action="store_true")
    asked = read.parse_args()
    for piece in PIECES:
        if asked.words and not any(word in piece.name for word in asked.words):
            continue
        heard = piece.listening()
        made = arrange(heard, KIT)
        for level in asked.level:
            print(f"{piece.name}: {level}, grade {made.charts[level].grade}")
            read_chart(made.charts[level], heard.grid)
        if asked.why:
            count_reasons(made)


if __name__ == "__main__":
    main()
