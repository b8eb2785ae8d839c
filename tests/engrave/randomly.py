"""Random charts from a number: any meter, density, tuplet and mark, always the same for the same number."""

import random
from fractions import Fraction

import msgspec
from builder import sheet, stroke

from fourlimb.model import SOUNDS, FeelSpan, Sheet, Stroke
from fourlimb.model.places import bar_length, beat_lengths, beat_starts
from fourlimb.model.sounds import FOOT

METERS = (
    "4/4",
    "3/4",
    "2/4",
    "5/4",
    "6/8",
    "9/8",
    "12/8",
    "5/8",
    "7/8",
    "2/2",
    "3/8",
    "6/4",
    "7/4",
    "11/8",
    "5/16",
    "3+2+2/8",
    "2+3/8",
)
PARTS = (1, 2, 4, 3, 8, 6, 5, 7)


def random_sheet(number: int, *, bars: int = 6) -> Sheet:
    """A chart of `bars` bars that nobody should have to play."""
    dice = random.Random(number)
    meters, meter = [], dice.choice(METERS)
    for _ in range(bars):
        meter = dice.choice(METERS) if dice.random() < 0.3 else meter
        meters.append(meter)
    first = 0 if dice.random() < 0.25 else 1
    strokes: list[Stroke] = []
    for bar, name in enumerate(meters, start=first):
        kind = dice.random()
        if kind < 0.15:
            continue
        if kind < 0.4 and bar > first and meters[bar - first - 1] == name:
            strokes += [_again(s, bar) for s in strokes if s.bar == bar - 1]
            continue
        strokes += _bar(dice, bar, name)
    feel = [FeelSpan(from_bar=2, to_bar=3, feel="half-time", swing=0.667)] if dice.random() < 0.3 else []
    tempi = [dice.uniform(60, 200)] * bars if dice.random() < 0.7 else [dice.uniform(60, 200) for _ in range(bars)]
    return sheet(
        [""] * bars,
        meters=meters,
        tempo=tempi,
        first_bar=first,
        extra_strokes=strokes,
        feel=feel,
        sections=[("A", 1, 3), ("B long name of a section", 4, bars)] if dice.random() < 0.6 else [],
        landmarks={2: "drums stop"} if dice.random() < 0.4 else {},
        doubts=[dice.randint(1, bars - 1)] if dice.random() < 0.5 else [],
    )


BARS = (
    "hat every 8th; kick 1 2& 3; snare 2 4",
    "hat every 8th; kick 1 1a 3 3&; snare [accent] 2 4",
    "ride every 8th; kick 1 2&; snare 3",
    "snare 1 1e 1& 1a; high tom 2 2& ; mid tom 3 3&; floor tom 4 4e 4& 4a",
    "",
    "crash 1; kick 1",
)


def returning_sheet(number: int, *, most: int = 9) -> Sheet:
    """A song whose sections come again, some with another last bar: what repeats are for."""
    dice = random.Random(number)
    phrases = [[dice.randrange(len(BARS)) for _ in range(dice.choice((3, 4, 4, 4, 8)))] for _ in range(4)]
    kinds = [[bar for _ in range(dice.choice((1, 2))) for bar in dice.choice(phrases)] for _ in range(3)]
    bars: list[str] = []
    sections: list[tuple[str, int, int]] = []
    first = 0 if dice.random() < 0.2 else 1
    if first == 0:
        bars.append("snare 4 4&")
    for count in range(dice.randint(3, most)):
        section = list(dice.choice(kinds))
        if dice.random() < 0.3:
            section[-1] = dice.randrange(len(BARS))
        start = first + len(bars)
        bars += [BARS[bar] for bar in section]
        sections.append((f"{'ABC'[count % 3]}{count}", start, start + len(section) - 1))
    feel = []
    if dice.random() < 0.3:
        feel = [FeelSpan(from_bar=sections[1][1], to_bar=sections[1][2], feel="half-time", swing=0.667)]
    cues = {dice.choice(sections)[1]: "strings in"} if dice.random() < 0.5 else {}
    return sheet(bars, sections=sections, first_bar=first, feel=feel, landmarks=cues, tempo=dice.uniform(70, 180))


def _again(one: Stroke, bar: int) -> Stroke:
    return msgspec.structs.replace(one, bar=bar)


def _bar(dice: random.Random, bar: int, meter: str) -> list[Stroke]:
    density = dice.choice((0.2, 0.5, 0.9))
    found: dict[tuple[Fraction, str], Stroke] = {}
    pieces = dice.sample(SOUNDS, dice.randint(1, 6))
    for start, length in zip(beat_starts(meter), beat_lengths(meter), strict=True):
        parts = dice.choice(PARTS)
        if length < Fraction(1, 4):
            parts = dice.choice((1, 2, 4))
        if length.numerator == 3:
            parts = dice.choice((1, 3, 6, 12, 5, 7))
        for part in range(parts):
            for piece in pieces:
                if dice.random() < density / len(pieces) ** 0.5:
                    at = start + length * Fraction(part, parts)
                    found[at, piece] = _stroke(dice, bar, at, piece)
    assert all(s.position < bar_length(meter) for s in found.values())
    return sorted((_kept_up(dice, s, meter) for s in found.values()), key=lambda s: s.sort_key)


def _kept_up(dice: random.Random, one: Stroke, meter: str) -> Stroke:
    """Half of the rolls last to the end of a beat, this one or a later one."""
    if not one.rolls or dice.random() < 0.5:
        return one
    ends = [s + n for s, n in zip(beat_starts(meter), beat_lengths(meter), strict=True) if s + n > one.position]
    return msgspec.structs.replace(one, lasts=dice.choice(ends) - one.position)


def _stroke(dice: random.Random, bar: int, at: Fraction, piece: str) -> Stroke:
    how: dict[str, object] = {}
    if piece not in FOOT:
        how["letter"] = dice.choice(("R", "L", None))
        mark = dice.random()
        if mark < 0.1:
            how["accent"] = True
        elif mark < 0.2:
            how["ghost"] = True
        elif mark < 0.27:
            how["grace"] = dice.choice(("flam", "drag", "ruff", "long_ruff"))
        elif mark < 0.35:
            how["struck"] = dice.choice(("buzz", "choke", "half_open", "rimshot", "let_ring"))
        elif mark < 0.39:
            how["roll"] = dice.choice((16, 32))
        elif mark < 0.44:
            how["word"] = dice.choice(("fer-", "ry", "night", "夜", "&"))
    if piece in ("crash", "kick", "tom_floor") and dice.random() < 0.2:
        how["second"] = True
    how["velocity"] = dice.randint(1, 127)
    return stroke(bar, at, piece, **how)
