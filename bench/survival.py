"""Random dense input, and the promises every arrangement keeps."""

import random
from fractions import Fraction
from typing import get_args

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
