"""Every figure of `docs/arranger.md`.

    python -m bench.arrange [--data ../shared] [--songs 100000] [--keep survival.json] [--kept survival.json] [--all]

Tables: limits, impossible parts, ordering by stage, cost, one changed bar, any input, rudiments, fidelity with
layers, human performances, and all figures beside their targets. Without the data folder the tables that need it say
so.
"""

import argparse
import gc
import json
import random
import time
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from math import log
from pathlib import Path
from typing import Any

import msgspec

from bench import layers
from bench.impossible import IMPOSSIBLE, WAYS, chart, limits
from bench.performances import RULES, judge, performances
from bench.stages import SET_ASIDE, TUNED_ON, Part
from bench.survival import Run, long_run
from bench.written import KIT, song
from fourlimb.arrange import Memory, arrange
from fourlimb.arrange.difficulty import whole
from fourlimb.arrange.limits import PLAYERS, TABLE
from fourlimb.model import Hit, Listening, Song, Sound
from fourlimb.model.grid import regular

MARCH_BPM = 110
"""Quarter notes a minute at which rudiments are tried: march tempo, 108-120, as the published sheet is quoted."""


OPEN_BPM = 60
"""The slow ("open") end of the way the published sheet has every rudiment practised."""


Figure = tuple[str, str, str, bool]
"""What is measured, its value, its target, and whether it is met."""


def main() -> None:
    read = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    read.add_argument("--data", type=Path, default=Path("../shared"))
    read.add_argument("--songs", type=int, default=2000, help="random dense songs to try")
    read.add_argument("--keep", type=Path, help="where the count of random songs is kept, to be taken up again")
    read.add_argument("--kept", type=Path, help="print this count instead of trying songs")
    read.add_argument("--all", action="store_true", help="fidelity over every performance, not every ninth")
    asked = read.parse_args()
    limits_table()
    figures = [impossible_table(), *ordering_table(), *cost_table(), *changed_bar_table()]
    figures.append(survival_table(asked.songs, asked.keep, asked.kept))
    rudiments = asked.data / "trade" / "rudiments.json"
    grooves = asked.data / "data" / "groove"
    if rudiments.exists():
        figures.append(rudiment_table(rudiments))
    if grooves.exists():
        figures += [*fidelity_table(grooves, 1 if asked.all else 9), performance_table(grooves)]
    else:
        print(f"\nno data at {asked.data}: human performances and rudiments are not checked")
    head("Figures against their targets", "what", "figure", "target", "met")
    for what, value, target, met in figures:
        print(f"| {what} | {value} | {target} | {'met' if met else 'NOT met'} |")


def head(title: str, *columns: str) -> None:
    """The title and head of a table."""
    print(f"\n{title}\n| {' | '.join(columns)} |\n|{'---|' * len(columns)}")


def limits_table() -> None:
    head("Limits, shortest times in ms", "limit", "what", *PLAYERS, "source", "standing")
    for row in TABLE:
        cells = [f"{row.of(player):.0f}" for player in PLAYERS]
        print(f"| {row.name} | {row.says} | {' | '.join(cells)} | {row.source} | {row.standing} |")


def impossible_table() -> Figure:
    head("Impossible parts", "part", "limit that must be named", "named")
    named = [(name, limit, limit in limits(chart(rows))) for name, (limit, rows) in IMPOSSIBLE.items()]
    named += [(name, limit, limit in limits(chart(rows, struck=way))) for name, (limit, rows, way) in WAYS.items()]
    for name, limit, yes in named:
        print(f"| {name} | {limit} | {'yes' if yes else 'NO'} |")
    right = sum(yes for _, _, yes in named)
    return "impossible parts caught under their limit", f"{right} of {len(named)}", "all", right == len(named)


def part_value(part: Part) -> tuple[float, float]:
    """(difficulty, grade) of one written part at full."""
    heard = song(part.bars, bpm=part.bpm, meter=part.meter)
    full = arrange(heard, KIT, player="advanced").charts["full"]
    return whole(full, heard.grid, KIT).value, full.grade


def kendall(pairs: Sequence[tuple[float, float]]) -> float:
    """Kendall's tau-b of (stage, difficulty) pairs."""
    from scipy.stats import kendalltau

    return float(kendalltau([a for a, _ in pairs], [b for _, b in pairs]).statistic)


def ordering_table() -> list[Figure]:
    head("Ordering by stage", "parts", "number", "Kendall tau", "mean distance of grade from stage (1-8)")
    for name, parts in (("used for choosing weights", TUNED_ON), ("set aside", SET_ASIDE)):
        values = [(part.stage, *part_value(part)) for part in parts]
        off = [abs(stage - grade) for stage, _, grade in values if stage > 0]
        tau = kendall([(s, v) for s, v, _ in values])
        print(f"| {name} | {len(parts)} | {tau:.2f} | {sum(off) / len(off):.2f} |")
    return [("difficulty follows the stage on parts set aside, Kendall tau", f"{tau:.2f}", ">= 0.70", tau >= 0.7)]


def dense(bars: int, bpm: float = 120) -> Listening:
    """Every sixteenth of every bar with one to four sounds, no two bars alike (a fixed sequence, no randomness)."""
    grid = regular(["4/4"] * bars, bpm)
    sounds: tuple[Sound, ...] = ("kick", "snare", "hat_closed", "ride", "tom_high", "tom_floor", "crash", "shaker")
    hits: list[Hit] = []
    seed = 1
    for bar in grid.numbers:
        for n in range(16):
            seed = seed * 1103515245 + 12345 & 0x7FFFFFFF
            for k in range(1 + seed // 65536 % 4):
                sound = sounds[(seed // 256 + 3 * k) % len(sounds)]
                place = Fraction(n, 16)
                hits.append(Hit(id=len(hits), time_s=0.0, sound=sound, loudness_db=-10.0, confidence=0.9, bar=bar,
                                position=place))  # fmt: skip
    facts = Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="")
    return Listening(song=facts, grid=grid, hits=tuple(hits))


def cost_table() -> list[Figure]:
    head("Cost, three levels with limbs, difficulty and reasons, one core", "bars", "hits", "processor seconds")
    rows = []
    for bars in (75, 150, 300, 600, 1200):
        heard = dense(bars)
        gc.collect()
        start = time.process_time()
        arrange(heard, KIT)
        rows.append((bars, time.process_time() - start))
        print(f"| {bars} | {len(heard.hits)} | {rows[-1][1]:.2f} |")
    exponent = log(rows[-1][1] / rows[0][1]) / log(rows[-1][0] / rows[0][0])
    print(f"exponent {exponent:.2f}")
    groove, fill = (
        "kick 1 2& 3; snare 2 4; hat every 8th",
        "snare 1 1e 1& 1a; high tom 2 2& 3; floor tom 3& 4 4&; kick 1 3",
    )
    heard = song(([groove] * 7 + [fill]) * 12, bpm=120)
    gc.collect()
    start = time.process_time()
    arrange(heard, KIT)
    print(f"a song of {len(heard.grid.bars)} bars, two figures: {time.process_time() - start:.2f} s")
    seconds = dict(rows)[300]
    return [
        ("300 dense bars, three levels, processor seconds", f"{seconds:.2f}", "< 3", seconds < 3),
        ("exponent of cost over bars", f"{exponent:.2f}", "<= 1.1", exponent <= 1.1),
    ]


def played(bars: int, seed: int) -> Listening:
    """A song of four figures, as ears hear one: loudness and confidence differ from stroke to stroke."""
    grooves = (
        "kick 1 2& 3; snare 2 4; hat every 8th",
        "kick 1 2& 3 4&; snare 2 4; hat every 8th",
        "kick 1 2a 3; snare 2 4; soft snare 2e; hat every 16th",
    )
    fill = "snare 1 1e 1& 1a; high tom 2 2& 3; floor tom 3& 4 4&; kick 1 3"
    heard = song([fill if n % 8 == 7 else grooves[n * 7 % 3] for n in range(bars)], bpm=110)
    dice = random.Random(seed)
    hits = tuple(
        msgspec.structs.replace(
            hit, loudness_db=hit.loudness_db + dice.uniform(-3, 3), confidence=dice.uniform(0.6, 1)
        )
        for hit in heard.hits
    )
    return msgspec.structs.replace(heard, hits=hits)


class Stopped:
    """Adds up the seconds that the garbage collector takes."""

    def __init__(self) -> None:
        self.seconds = self.began = 0.0

    def __call__(self, phase: str, info: dict[str, int]) -> None:
        """Called by the collector when it starts and when it stops."""
        if phase == "start":
            self.began = time.process_time()
        else:
            self.seconds += time.process_time() - self.began


CHANGES = 40
"""Bars changed one after the other in a song of 300."""


def changed_bar_table() -> list[Figure]:
    """One bar changed as a teacher does, again and again, with the memory that a program keeps.

    Python's garbage collector stops everything now and then, for longer the more a program holds; its time is told
    apart.
    """
    columns = ("song", "all of it", "median", "9 of 10", "worst", "worst less garbage collection", "same answer")
    head("One bar of 300 changed, ms on one core", *columns)
    stopped = Stopped()
    gc.callbacks.append(stopped)
    figures = []
    for name, heard in (("dense, no two bars alike", dense(300)), ("four figures, as heard", played(300, 1))):
        dice, memory = random.Random(2), Memory()
        gc.collect()
        start = time.process_time()
        arrange(heard, KIT, memory=memory)
        whole, spent, own = 1000 * (time.process_time() - start), [], []
        for number in range(CHANGES):
            heard = _with_one_bar_changed(heard, dice.randint(1, 300), number)
            stopped.seconds, start = 0.0, time.process_time()
            made = arrange(heard, KIT, memory=memory)
            spent.append(1000 * (time.process_time() - start))
            own.append(spent[-1] - 1000 * stopped.seconds)
        anew = arrange(heard, KIT)
        same = (made.charts, made.reasons) == (anew.charts, anew.reasons)
        spent.sort()
        median, ninth = spent[CHANGES // 2], spent[CHANGES * 9 // 10]
        says = "yes" if same else "NO"
        print(f"| {name} | {whole:.0f} | {median:.0f} | {ninth:.0f} | {spent[-1]:.0f} | {max(own):.0f} | {says} |")
        value = f"{median:.0f}, {ninth:.0f}, {spent[-1]:.0f} ({max(own):.0f})"
        what = f"one bar of 300, {name}: median, 9 of 10, worst (less garbage collection), ms"
        figures.append((what, value, "< 100", max(own) < 100 and same))
    gc.callbacks.remove(stopped)
    return figures


def _with_one_bar_changed(heard: Listening, bar: int, number: int) -> Listening:
    """The kicks of a bar gone, a teacher's snare on 1a instead."""
    kept = [h for h in heard.hits if h.bar != bar or h.sound != "kick"]
    new = Hit(id=10**6 + number, time_s=0.0, sound="snare", loudness_db=-10.0, confidence=1.0, bar=bar,
              position=Fraction(3, 16), by="teacher")  # fmt: skip
    return msgspec.structs.replace(heard, hits=(*kept, new))


def survival_table(count: int, keep: Path | None, kept: Path | None) -> Figure:
    run = long_run(count, keep) if kept is None else Run(**json.loads(kept.read_text()))
    broken = sum(run.broken.values())
    print(
        f"\nAny input: {run.songs} random dense songs, {broken} broken promises {run.broken}, arranger {run.arranger}"
    )
    value = f"{broken} broken promises in {run.songs} songs"
    return "any input is survived", value, "0 in 100000", broken == 0 and run.songs >= 100_000


UNCOVERED: dict[int, str] = {
    1: "written as no. 6; at 60 bpm the same notes are played as singles",
    5: "three alike in one hand: nothing in the rhythm asks for it",
    19: "written as no. 17",
    25: "written as no. 24",
    26: "the lead changes through three strokes of one hand; ours changes it as in no. 17",
    28: "written as no. 21",
    29: "written as no. 22",
}
"""Why the published hands of some rudiments do not follow from rhythm, accents and graces."""


def rudiment_table(path: Path) -> Figure:
    rows = json.loads(path.read_text())["rudiments"]
    title = f"Rudiments over and over at {MARCH_BPM} bpm, one drum, right hand leading"
    head(title, "no.", "name", "published", "ours", "agrees", "why not")
    agree = 0
    for row in rows:
        published = "".join(stroke["hand"] for stroke in row["strokes"])
        ours = rudiment_hands(row)
        agree += ours == published
        says = "yes" if ours == published else "no"
        why = "" if ours == published else UNCOVERED.get(row["number"], "NOT EXPLAINED")
        print(f"| {row['number']} | {row['name']} | {published} | {ours} | {says} | {why} |")
    groups = Counter(_as_written(row) for row in rows)
    most = len(groups)
    slow = rudiment_hands(rows[0], OPEN_BPM) == "".join(stroke["hand"] for stroke in rows[0]["strokes"])
    print(f"{agree} of {len(rows)} agree; {len(rows) - most} share their notes with another, so {most} is the most")
    print(f"no. 1 at {OPEN_BPM} bpm: {'as published' if slow else 'NOT as published'}")
    unexplained = {row["number"] for row in rows} - set(UNCOVERED)
    value = f"{agree} of {len(rows)} ({most} can)"
    met = agree == len(unexplained)
    return "rudiments with their published hands", value, "all that rhythm, accents and graces decide", met


def _as_written(row: dict[str, Any]) -> tuple[object, ...]:
    """All that the engine is told of a rudiment."""
    notes = tuple((s["at"], bool(s.get("accent")), s.get("grace")) for s in row["strokes"])
    return row["length"], notes


def rudiment_hands(row: dict[str, Any], bpm: float = MARCH_BPM) -> str:
    """Our hands for the first repetition of a rudiment played over and over, from rhythm, accents and graces alone."""
    strokes, length = row["strokes"], Fraction(row["length"])
    times, part = 2, Fraction(1, 4) if (4 * length).denominator == 1 else Fraction(1, 8)
    while times * length < 1 or (times * length / part).denominator != 1:
        times += 2
    grid = regular([f"{times * length / part}/{part.denominator}"], bpm)
    hits = tuple(
        Hit(id=time * len(strokes) + n, time_s=0.0, sound="snare", loudness_db=-3.0 if stroke.get("accent") else -10.0,
            confidence=1.0, bar=1, position=time * length + Fraction(stroke["at"]), grace=stroke.get("grace"))
        for time in range(times) for n, stroke in enumerate(strokes)
    )  # fmt: skip
    facts = Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="")
    full = arrange(Listening(song=facts, grid=grid, hits=hits), KIT).charts["full"]
    return "".join(stroke.letter or "" for stroke in full.strokes)[: len(strokes)]


def fidelity_table(folder: Path, step: int) -> list[Figure]:
    """Every `step`-th groove, from the middle: those at whole steps were looked at while the role rules were made."""
    head("Strokes of human grooves given back (4 to 40 bars)", "input", "grooves", "precision", "recall", "F")
    totals = {"nothing added": [0, 0, 0], "layers, named": [0, 0, 0], "layers, not named": [0, 0, 0]}
    grooves = 0
    for index, performance in enumerate(performances(folder)):
        if index % step != step // 2 or not layers.LEAST_BARS <= len(performance.grid.bars) <= 40:
            continue
        grooves += 1
        results = (
            layers.alone(performance),
            layers.recovered(performance, True),
            layers.recovered(performance, False),
        )
        for total, result in zip(totals.values(), results, strict=True):
            total[:] = [a + b for a, b in zip(total, result, strict=True)]
    figures = []
    for name, (right, written, own) in totals.items():
        if grooves:
            score = 2 * right / (written + own)
            print(f"| {name} | {grooves} | {right / written:.3f} | {right / own:.3f} | {score:.3f} |")
            figures.append((f"strokes given back, {name}, F", f"{score:.3f}", ">= .95", score >= 0.95))
    return figures


def performance_table(folder: Path) -> Figure:
    allowed: Counter[str] = Counter()
    count = untouched = notes = 0
    left = []
    for performance in performances(folder):
        verdict = judge(performance)
        count, notes = count + 1, notes + verdict.notes
        untouched += verdict.first == 0
        allowed.update(verdict.allowed)
        if verdict.left:
            left.append(verdict)
    print(f"\nHuman performances: {count}, {notes} notes; {untouched} playable as they stand")
    good = count - len(left)
    print(f"with what the rules allow for: {good} of {count} ({100 * good / max(count, 1):.2f} %)")
    print("| rule | uses | what it allows |\n|---|---|---|")
    for rule, text in RULES.items():
        print(f"| {rule} | {allowed[rule]} | {text} |")
    for verdict in left:
        for breach in verdict.left:
            print(f"left: {verdict.name} bar {breach.bar} {breach.position}: {breach.limit}: {breach.why}")
    share = 100 * good / max(count, 1)
    return "human performances without a false alarm", f"{share:.2f} % of {count}", ">= 99.5 %", share >= 99.5


if __name__ == "__main__":
    main()
