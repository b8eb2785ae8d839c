"""Takes of a chart as a student might play them: at another tempo, in a room, with mistakes that are known.

A take is played on the kit that ships with fourlimb (in no training data of the ears) with the spread of a player's
hands, a tempo that drifts, often a count-in, and one mistake of each kind asked for, each in a bar of its own. What
the room and the microphone do to it is in `heard_from`.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

import msgspec
import numpy as np

from fourlimb.model import Audio, Chart, Grid, Hit, Samples, Sound, Stroke
from fourlimb.model.places import beat_starts
from fourlimb.model.sounds import ORDER
from fourlimb.sound.filters import convolve
from fourlimb.sound.kit import RATE, built_in
from fourlimb.sound.perform import Blow, perform
from fourlimb.sound.strokes import blows_of

Kind = Literal[
    "missed kick", "missed snare", "rushed snare", "doubled stroke", "other drum", "silent bar", "left out bar"
]
KINDS: tuple[Kind, ...] = ("missed kick", "missed snare", "rushed snare", "doubled stroke", "other drum", "silent bar", "left out bar")  # fmt: skip
Room = Literal["near", "room", "telephone"]
ROOMS: tuple[Room, ...] = ("near", "room", "telephone")

MIDDLE = 4
"""Bars at least between a bar that is left out and either end of the take."""
RUSHED_S = 0.06
SPREAD_S = 0.007
DRIFT = 0.012
"""A rushed stroke; the spread of a good amateur's strokes (about that of the drummers of the Groove set against their
own steady time); how far the tempo wanders either way."""
OTHER: dict[Sound, Sound] = {"snare": "tom_floor", "tom_high": "tom_floor", "tom_mid": "snare", "tom_floor": "snare"}


@dataclass(frozen=True)
class Planted:
    """One mistake: its kind, where it is, and the piece that is missed, moved or added."""

    kind: Kind
    bar: int
    position: Fraction
    piece: Sound


@dataclass(frozen=True)
class Struck:
    """One stroke of the take: when, and what was written for it (or nothing)."""

    time_s: float
    stroke: Stroke


@dataclass(frozen=True)
class Take:
    """A take as it was played. `opens_s`: the second at which its first bar begins."""

    first: int
    last: int
    speed: float
    planted: tuple[Planted, ...]
    strokes: tuple[Struck, ...]
    opens_s: float
    ends_s: float

    def hits(self) -> list[Hit]:
        """What perfect ears would hear, count-in and all."""
        ordered = sorted(self.strokes, key=lambda s: (s.time_s, ORDER[s.stroke.piece]))
        return [
            Hit(id=n, time_s=s.time_s, sound=s.stroke.piece, loudness_db=_decibels(s.stroke.velocity), confidence=1.0)
            for n, s in enumerate(ordered, start=1)
        ]

    def drums(self) -> Samples:
        """The sound of it at the drummer's place, 44.1 kHz stereo."""
        blows = [blow for s in self.strokes for blow in _sounding(s)]
        return perform(blows, built_in(), int(self.ends_s * RATE))


def _sounding(struck: Struck) -> Iterator[Blow]:
    return blows_of(struck.stroke, struck.time_s, None)


def _decibels(velocity: int) -> float:
    return float(40 * np.log10(velocity / 127))


def take_of(
    chart: Chart,
    grid: Grid,
    seed: int,
    *,
    kinds: Sequence[Kind] = KINDS,
    bars: int = 16,
    speed: float | None = None,
    first: int | None = None,
    planted: Sequence[Planted] | None = None,
) -> Take:
    """A take of some bars with one mistake of each kind that these bars allow, each at least a bar from the others.

    `planted`: these mistakes instead.
    """
    dice = random.Random(seed)
    played = [bar for bar in grid.numbers if bar in chart.by_bar and bar > 0]
    start = first if first is not None else dice.choice(played[: max(len(played) - bars, 1)])
    inside = [bar for bar in grid.numbers if start <= bar < start + bars]
    planted = tuple(_plant(chart, grid, inside, kinds, dice) if planted is None else planted)
    speed = speed if speed is not None else dice.uniform(0.55, 1.08)
    strokes, opens, ends = _played(chart, grid, inside, planted, speed, dice)
    return Take(inside[0], inside[-1], speed, planted, tuple(strokes), opens, ends)


def _plant(
    chart: Chart, grid: Grid, inside: Sequence[int], kinds: Sequence[Kind], dice: random.Random
) -> Iterator[Planted]:
    """Mistakes in bars of their own, none in the first or last bar of the take nor beside another.

    A bar is left out in the middle: near an end the take might as well begin later, or stop sooner.
    """
    free = [bar for bar in inside[1:-1] if bar in chart.by_bar]
    for kind in sorted(kinds, key=lambda kind: kind != "left out bar"):
        dice.shuffle(free)
        for bar in free:
            if kind == "left out bar" and not inside[0] + MIDDLE <= bar <= inside[-1] - MIDDLE:
                continue
            place = _place(kind, chart, grid, bar, dice)
            if place is not None:
                yield Planted(kind, bar, *place)
                free = [other for other in free if abs(other - bar) > 1]
                break


def _place(kind: Kind, chart: Chart, grid: Grid, bar: int, dice: random.Random) -> tuple[Fraction, Sound] | None:
    strokes = chart.by_bar[bar]
    if kind in ("silent bar", "left out bar"):
        return Fraction(0), strokes[0].piece
    if kind == "doubled stroke":
        return _double(strokes, grid.length(bar), dice)
    wanted: dict[str, Callable[[Stroke], bool]] = {
        "missed kick": lambda s: s.piece == "kick",
        "missed snare": lambda s: s.piece == "snare" and not s.ghost,
        "rushed snare": lambda s: s.piece == "snare" and not s.ghost and not s.grace,
        "other drum": lambda s: s.piece in OTHER and not s.ghost and not s.grace,
    }
    able = [s for s in strokes if wanted[kind](s) and not s.rolls]
    if not able:
        return None
    chosen = dice.choice(able)
    return chosen.position, chosen.piece


def _double(strokes: Sequence[Stroke], length: Fraction, dice: random.Random) -> tuple[Fraction, Sound] | None:
    """A 16th after a kick or snare, where neither is written a 16th to either side."""
    taken = {(s.position, s.piece) for s in strokes}
    step = Fraction(1, 16)
    able = [
        (s.position + step, s.piece)
        for s in strokes
        if s.piece in ("kick", "snare")
        and not s.ghost
        and s.position + 2 * step < length
        and not {(s.position + step, s.piece), (s.position + 2 * step, s.piece)} & taken
    ]
    return dice.choice(able) if able else None


def _played(
    chart: Chart, grid: Grid, inside: Sequence[int], planted: Sequence[Planted], speed: float, dice: random.Random
) -> tuple[list[Struck], float, float]:
    """Every stroke with its second, and the seconds at which its first bar begins and the recording stops."""
    at = dice.uniform(0.5, 3.0)
    strokes: list[Struck] = []
    beat_s = 60 / grid.at(inside[0]).tempo_bpm / speed
    if dice.random() < 0.6:
        count = len(beat_starts(grid.meter(inside[0])))
        strokes += [Struck(at + n * beat_s, _sticks(inside[0])) for n in range(count)]
        at += count * beat_s
    here = {mistake.bar: mistake for mistake in planted}
    phase, low = dice.uniform(0, 6.3), at
    for bar in inside:
        mistake = here.get(bar)
        if mistake is not None and mistake.kind == "left out bar":
            continue
        opens, length = grid.at(bar).start_s, (grid.end(bar) - grid.at(bar).start_s) / speed
        for stroke in _as_played(chart.by_bar.get(bar, ()), mistake):
            due = at + (grid.time_at(bar, stroke.position, swung=True) - opens) / speed
            off = dice.gauss(0, SPREAD_S) - (RUSHED_S if _rushed(stroke, mistake) else 0.0)
            wander = DRIFT * (due - low) * np.sin(phase + (due - low) / 25)
            loud = min(max(stroke.velocity + round(dice.gauss(0, 5)), 8), 127)
            strokes.append(Struck(float(due + off + wander), msgspec.structs.replace(stroke, velocity=loud)))
        at += length
    return strokes, low, at + 2.0


def _sticks(bar: int) -> Stroke:
    return Stroke(bar=bar, position=Fraction(0), piece="rim", limb="right hand", velocity=70)


def _rushed(stroke: Stroke, mistake: Planted | None) -> bool:
    return (
        mistake is not None
        and mistake.kind == "rushed snare"
        and (stroke.position, stroke.piece) == (mistake.position, mistake.piece)
    )


def _as_played(strokes: Sequence[Stroke], mistake: Planted | None) -> list[Stroke]:
    """The strokes of one bar as they are played there."""
    if mistake is None:
        return list(strokes)
    if mistake.kind == "silent bar":
        return []
    if mistake.kind == "doubled stroke":
        one = next(s for s in strokes if s.piece == mistake.piece)
        more = msgspec.structs.replace(one, position=mistake.position, grace=None, ghost=False, accent=False, roll=0)
        return [*strokes, more]
    out = []
    for stroke in strokes:
        if (stroke.position, stroke.piece) != (mistake.position, mistake.piece):
            out.append(stroke)
        elif mistake.kind == "other drum":
            out.append(msgspec.structs.replace(stroke, piece=OTHER[stroke.piece]))
        elif mistake.kind == "rushed snare":
            out.append(stroke)
    return out


def heard_from(drums: Samples, room: Room, seed: int) -> Audio:
    """The drums as a microphone has them: close by; across a lively room with a fan; by a telephone on a shelf."""
    rng = np.random.default_rng(seed)
    sound = drums / max(float(np.abs(drums).max()), 1e-9)
    if room != "near":
        sound = 0.5 * sound + 0.9 * _walls(sound, rng)
    sound = sound + _hiss(len(sound), rng) * (10 ** (-54 / 20) if room == "near" else 10 ** (-42 / 20))
    if room == "telephone":
        sound = np.tanh(2.2 * _band(sound.mean(axis=1, keepdims=True), 140.0, 7500.0))
    return Audio((0.5 * sound / max(float(np.abs(sound).max()), 1e-9)).astype(np.float32), RATE)


def _walls(sound: Samples, rng: np.random.Generator) -> Samples:
    """What a room of some 0.6 s gives back, energy 1 a channel."""
    count = int(0.7 * RATE)
    decay = np.exp(-6.9 * np.arange(count) / (0.6 * RATE))
    out = np.zeros_like(sound)
    for side in range(sound.shape[1]):
        wall = rng.standard_normal(count) * decay
        wall[: int(0.008 * RATE)] = 0
        out[:, side] = convolve(sound[:, side], wall / np.sqrt((wall**2).sum()))
    return out


def _hiss(count: int, rng: np.random.Generator) -> Samples:
    """Noise of a fan: pink, rms 1, both channels alike."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / RATE)
    spectrum /= np.sqrt(np.maximum(hertz, 30.0))
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / np.sqrt((noise**2).mean()))[:, None]


def _band(sound: Samples, low_hz: float, high_hz: float) -> Samples:
    """What passes between two frequencies, first order on either side."""
    spectrum = np.fft.rfft(sound, axis=0)
    hertz = np.fft.rfftfreq(len(sound), 1 / RATE)[:, None]
    passes = (1j * hertz / low_hz) / (1 + 1j * hertz / low_hz) / (1 + 1j * hertz / high_hz) ** 2
    return np.asarray(np.fft.irfft(spectrum * passes, len(sound), axis=0))
