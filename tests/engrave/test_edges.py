"""Sheets at the edge of what can be: every output is made, none breaks."""

import random
from collections.abc import Callable
from fractions import Fraction as F

import msgspec
import pytest
from builder import GROOVE, night_ferry, sheet, stroke

from fourlimb import engrave
from fourlimb.engrave import Layout
from fourlimb.model import Kit, Sheet, StaffPlace
from fourlimb.model.grid import Grid
from fourlimb.model.kit import FIVE_PIECE_KEY, Head, Voice

HEADS: tuple[Head, ...] = ("normal", "x", "circle-x", "diamond", "triangle", "plus", "slash")
VOICES: tuple[Voice, ...] = ("hands", "feet")


def without_bars() -> Sheet:
    made = night_ferry()
    chart = msgspec.structs.replace(made.chart, strokes=(), bars=())
    return msgspec.structs.replace(made, chart=chart, grid=Grid(beats=(), bars=()), sections=(), landmarks=())


def odd_key(seed: int) -> Sheet:
    dice = random.Random(seed)
    key = {
        sound: StaffPlace(
            line=dice.choice((-12, -4, 0, 5, 9, 14, 25)), head=dice.choice(HEADS), voice=dice.choice(VOICES)
        )
        for sound in FIVE_PIECE_KEY
    }
    return msgspec.structs.replace(night_ferry(), kit=Kit(key=key))


SHEETS: dict[str, Sheet] = {
    "no strokes": sheet(["", ""]),
    "one stroke": sheet(["kick 1"]),
    "a pickup alone": sheet(["snare 4"], first_bar=0),
    "a short pickup": sheet(["snare 1"], meters="1/4", first_bar=0),
    "no bars": without_bars(),
    "odd sections": sheet(
        [GROOVE] * 6,
        sections=[("", 2, 1), ("x" * 400, 3, 9), ('A\nB<>&"', 1, 2), ("dup", 3, 3)],
        landmarks={3: "y" * 500, 99: "nowhere", 2: "\x00\x07"},
    ),
    "32/32": sheet(["kick 1 2 3"] * 2, meters="32/32"),
    "1/1": sheet([""], meters="1/1", extra_strokes=[stroke(1, F(0), "kick"), stroke(1, F(1, 2), "snare")]),
    "a stroke in no bar": sheet([GROOVE], extra_strokes=[stroke(7, F(0), "kick")]),
    "a stroke twice": sheet([GROOVE], extra_strokes=[stroke(1, F(0), "kick")]),
    "no time": msgspec.structs.replace(night_ferry(), grid=msgspec.structs.replace(night_ferry().grid, end_s=0.0)),
    **{f"odd key {seed}": odd_key(seed) for seed in range(3)},
}
BIG = Layout(show_count=True, show_sticking=True, difficulty=True, scale=2.0)
OUTPUTS: dict[str, Callable[[Sheet], object]] = {
    "svg": engrave.svg_pages,
    "chart": engrave.chart_pdf,
    "large": lambda made: engrave.chart_pdf(made, BIG),
    "road map": engrave.roadmap_pdf,
    "figures": engrave.figures_pdf,
    "practice": engrave.practice_pdf,
    "book": engrave.teacher_pdf,
    "mei": engrave.mei,
    "musicxml": engrave.musicxml,
    "midi": engrave.midi,
    "cursor": lambda made: engrave.cursor(engrave.svg_pages(made)),
}


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("output", OUTPUTS)
def test_every_output_is_made(name: str, output: str) -> None:
    OUTPUTS[output](SHEETS[name])
