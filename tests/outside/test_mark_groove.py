"""Markings of human performances against their own and other people's charts.

Source: Groove MIDI Dataset (Gillick, Roberts, Engel, Eck, Bamman, *Learning to Groove with Inverse Sequence
Transformations*, ICML 2019; CC BY 4.0, Google LLC): drummers on an electronic kit playing to a click. A performance's
chart here is the performance laid on its nearest 16th or triplet. Skipped where the data set is absent.
"""

import csv
import json
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import pytest

from fourlimb.mark import mark
from fourlimb.model import Chart, Grid, Hit, Stroke
from fourlimb.model.grid import regular

GROOVE = Path(__file__).parents[3] / "shared" / "data" / "groove"
pytestmark = pytest.mark.usefixtures("shared")

BARS = 16
PLACES = [Fraction(n, 16) for n in range(17)] + [Fraction(n, 12) for n in range(13) if n % 3]


class Played(NamedTuple):
    name: str
    hits: tuple[Hit, ...]
    chart: Chart
    grid: Grid


@lru_cache(maxsize=1)
def played() -> tuple[Played, ...]:
    """Six 4/4 beats of at least sixteen bars, one a drummer, in the order of the data set's table."""
    return tuple(_some(6))


def _some(count: int) -> Iterator[Played]:
    sounds = {int(note): row["sound"] for note, row in json.loads((GROOVE / "note_map.json").read_text()).items()}
    seen: set[str] = set()
    with (GROOVE / "info.csv").open() as file:
        for row in csv.DictReader(file):
            bars = float(row["duration"]) * float(row["bpm"]) / 240
            wanted = row["beat_type"] == "beat" and row["time_signature"] == "4-4" and row["split"] != "test"
            if wanted and row["drummer"] not in seen and bars >= BARS and (GROOVE / row["midi_filename"]).exists():
                seen.add(row["drummer"])
                yield _read(row, sounds)
                if len(seen) == count:
                    return


def _read(row: dict[str, str], sounds: dict[int, str]) -> Played:
    import mido

    bpm = float(row["bpm"])
    grid = regular(["4/4"] * BARS, bpm)
    hits: list[Hit] = []
    strokes: dict[tuple[int, Fraction, str], Stroke] = {}
    seconds = 0.0
    for message in mido.MidiFile(GROOVE / row["midi_filename"]):
        seconds += message.time
        if message.type != "note_on" or not message.velocity or message.note not in sounds or seconds >= grid.end_s:
            continue
        sound, loud = sounds[message.note], (message.velocity / 127) * 40 - 40
        bar, place = _place(seconds, bpm)
        if bar > BARS or (bar, place, sound) in strokes:  # a bounce: two notes of one stroke
            continue
        strokes[bar, place, sound] = Stroke(bar=bar, position=place, piece=sound, limb="right hand")
        hits.append(Hit(id=len(hits), time_s=seconds, sound=sound, loudness_db=loud, confidence=1.0))
    chart = Chart(strokes=tuple(sorted(strokes.values(), key=lambda s: s.sort_key)), bars=(), grade=1.0)
    return Played(row["id"], tuple(hits), chart, grid)


def _place(seconds: float, bpm: float) -> tuple[int, Fraction]:
    wholes = seconds * bpm / 240
    bar = int(wholes)
    place = min(PLACES, key=lambda p: (abs(float(p) - (wholes - bar)), p))
    return (bar + 2, Fraction(0)) if place == 1 else (bar + 1, place)


def _share(marking, verdict: str) -> float:
    written = [s for s in marking.strokes if s.verdict != "extra"]
    return sum(s.verdict == verdict for s in written) / len(written)


def test_a_performance_is_nearly_all_played_against_its_own_chart() -> None:
    assert len(played()) == 6
    for one in played():
        marking = mark(one.hits, one.chart, one.grid)
        assert _share(marking, "played") >= 0.98, one.name
        assert marking.take.tempo_bpm == pytest.approx(one.grid.bars[0].tempo_bpm, rel=0.01), one.name


def test_a_performance_slowed_to_a_rung_is_marked_alike() -> None:
    import msgspec

    for one in played()[:4]:
        slow = [msgspec.structs.replace(hit, time_s=2.0 + hit.time_s / 0.7) for hit in one.hits]
        marking = mark(slow, one.chart, one.grid)
        assert _share(marking, "played") >= 0.97, one.name
        assert marking.take.tempo_bpm == pytest.approx(0.7 * one.grid.bars[0].tempo_bpm, rel=0.015), one.name


def test_a_performance_scores_low_against_the_chart_of_another() -> None:
    for one, other in zip(played(), played()[1:] + played()[:1], strict=True):
        own = mark(one.hits, one.chart, one.grid, from_bar=1, to_bar=BARS).summary.score
        foreign = mark(one.hits, other.chart, other.grid, from_bar=1, to_bar=BARS).summary.score
        assert foreign < 0.5 < own, (one.name, other.name)
