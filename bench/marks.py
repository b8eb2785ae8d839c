"""Takes with known mistakes: which of them the marking names, and what it names besides.

    python -m bench.marks [--takes 24] [--lesson FOLDER] [--first-seed 1000]

The lesson is the demo's (made now unless a folder is named). Every take plays 24 bars of a level at another tempo, on
the kit that ships, near, across a room or by telephone, with one mistake of each kind (`bench.spoiled`). It is marked
twice: as it was struck (as MIDI would tell it) and as the ears hear it. A mistake is found when its own bar is told to
have it; every other sentence on a bar is a false one. Of a bar left out among bars that are alike nobody can say which
it was: any of the same figure within two bars is right. One more row is takes without a mistake.
"""

import argparse
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from fourlimb import lesson
from fourlimb.listen import default_ears, heights, hits_of_take
from fourlimb.mark import TOLD, mark
from fourlimb.mark.advice import TOLD_MS
from fourlimb.model import LEVELS, Chart, Lesson, MarkedStroke, Marking, silent
from fourlimb.model.sounds import INSTRUMENT

from .spoiled import KINDS, ROOMS, Kind, Planted, Take, heard_from, take_of

BARS = 24
ALIKE = 2
NEAR = 1 / 8
"""An added stroke is found within an eighth of where it is."""


@dataclass
class Count:
    """Mistakes planted and found by kind, bars told of wrongly, bars played."""

    planted: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    told: int = 0
    wrong: int = 0
    bars: int = 0
    wrong_words: Counter[str] = field(default_factory=Counter)
    scores: list[float] = field(default_factory=list)

    def add(self, take: Take, marking: Marking, chart: Chart) -> None:
        """One take more."""
        spoiled = {bar for mistake in take.planted for bar in may_be_at(mistake, chart)}
        told = [bar for bar in marking.bars if bar.say]
        self.told += len(told)
        for bar in told:
            if bar.bar not in spoiled:
                self.wrong += 1
                self.wrong_words[" ".join(word for word in bar.say.split() if not word[0].isdigit())] += 1
        self.bars += take.last - take.first + 1
        self.scores.append(marking.summary.score)
        for mistake in take.planted:
            self.planted[mistake.kind] += 1
            self.found[mistake.kind] += any(found(mistake, marking, bar) for bar in may_be_at(mistake, chart))


def may_be_at(mistake: Planted, chart: Chart) -> list[int]:
    """The bars at which a mistake may be told: its own, and for a bar left out those near that are the same figure."""
    if mistake.kind != "left out bar":
        return [mistake.bar]
    near = range(mistake.bar - ALIKE, mistake.bar + ALIKE + 1)
    return [bar for bar in near if chart.figure_of.get(bar) == chart.figure_of.get(mistake.bar)]


def found(mistake: Planted, marking: Marking, at: int) -> bool:
    """True when the marking tells of this mistake in a bar."""
    say = next((bar.say for bar in marking.bars if bar.bar == at), "")
    here = [s for s in marking.strokes if s.bar == at]
    return bool(say) and IS_TOLD[mistake.kind](mistake, here)


def _missed(mistake: Planted, here: Sequence[MarkedStroke]) -> bool:
    return any(_same(s, mistake) and s.verdict != "played" and s.confidence >= TOLD for s in here)


def _rushed(mistake: Planted, here: Sequence[MarkedStroke]) -> bool:
    return any(_same(s, mistake) and s.late_ms is not None and s.late_ms < -TOLD_MS for s in here)


def _added(mistake: Planted, here: Sequence[MarkedStroke]) -> bool:
    extra = [s for s in here if s.verdict == "extra" and s.confidence >= TOLD and s.piece == mistake.piece]
    return any(abs(s.position - mistake.position) <= NEAR for s in extra)


def _empty(_: Planted, here: Sequence[MarkedStroke]) -> bool:
    written = [s for s in here if s.verdict != "extra"]
    return sum(s.verdict == "missed" for s in written) >= 0.8 * len(written)


def _same(stroke: MarkedStroke, mistake: Planted) -> bool:
    return stroke.position == mistake.position and INSTRUMENT[stroke.piece] == INSTRUMENT[mistake.piece]


IS_TOLD: dict[Kind, Callable[[Planted, Sequence[MarkedStroke]], bool]] = {
    "missed kick": _missed,
    "missed snare": _missed,
    "rushed snare": _rushed,
    "doubled stroke": _added,
    "other drum": _missed,
    "silent bar": _empty,
    "left out bar": _empty,
}


def both(made: Lesson, seeds: Sequence[int], kinds: Sequence[Kind]) -> dict[str, Count]:
    """Every take as it was struck, and as it is heard in each room."""
    counts = {"as struck": Count(), **{f"heard, {room}": Count() for room in ROOMS}}
    ears = default_ears()
    for seed in seeds:
        level, room = LEVELS[seed // 3 % 3], ROOMS[seed % 3]
        chart = made.charts[level]
        take = take_of(chart, made.grid, seed, kinds=kinds, bars=BARS)
        counts["as struck"].add(take, mark(take.hits(), chart, made.grid, level=level), chart)
        heard = ears.hear(heard_from(take.drums(), room, seed), silent)
        marking = mark(hits_of_take(heard), chart, made.grid, level=level, heights=heights(heard))
        counts[f"heard, {room}"].add(take, marking, chart)
    return counts


def asked(what: str | None, *, takes: int, first_seed: int) -> tuple[Lesson, range]:
    """The lesson and the seeds of takes that the command line names; the demo's lesson, made now, where it names none."""
    parser = argparse.ArgumentParser(description=what, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=int, default=takes)
    parser.add_argument("--lesson", type=Path, help="the demo's where none is named")
    parser.add_argument("--first-seed", type=int, default=first_seed)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as work:
        made = lesson.read_lesson(said.lesson or lesson.make_demo(Path(work) / "demo.lesson"))
    return made, range(said.first_seed, said.first_seed + said.takes)


def main() -> None:
    made, seeds = asked(__doc__, takes=24, first_seed=1000)
    spoiled = both(made, seeds, KINDS)
    clean = both(made, range(seeds.stop, seeds.stop + len(seeds) // 2), ())
    print(f"| {len(seeds)} takes | {' | '.join(spoiled)} |\n|---|{'---|' * len(spoiled)}")
    for kind in KINDS:
        print(f"| {kind} | {' | '.join(f'{c.found[kind]} of {c.planted[kind]}' for c in spoiled.values())} |")
    print(f"| all found | {' | '.join(_share(c.found.total(), c.planted.total()) for c in spoiled.values())} |")
    print(
        f"| bars told of that had a mistake | {' | '.join(_share(c.told - c.wrong, c.told) for c in spoiled.values())} |"
    )
    print(f"| told wrongly, of 100 bars without a mistake | {' | '.join(_per_bar(c) for c in spoiled.values())} |")
    print(f"| the same of {len(seeds) // 2} clean takes | {' | '.join(_per_bar(c) for c in clean.values())} |")
    print(
        f"| score of the clean takes, median | {' | '.join(f'{np.median(c.scores or [0]):.3f}' for c in clean.values())} |"
    )
    words = sum((c.wrong_words for counts in (spoiled, clean) for c in counts.values()), Counter[str]())
    print("\nwhat was told wrongly, most often first: " + "; ".join(f"{say} {n}" for say, n in words.most_common(8)))


def _share(part: int, whole: int) -> str:
    return f"{part} of {whole}, {part / whole:.2f}" if whole else "-"


def _per_bar(count: Count) -> str:
    clean = count.bars - count.planted.total()
    return f"{100 * count.wrong / clean:.1f}" if clean else "-"


if __name__ == "__main__":
    main()
