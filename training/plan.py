"""One training clip, planned: which sounds start when, and what the network should say.

Pure numpy and cheap (a few ms), so that worker processes keep a GPU fed. A plan holds no sound.
Targets are curves at 100 frames a second whose kernels keep the place between frames (`kernel`).
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from training.band import accompany
from training.events import BAND, Events
from training.kit import draw_kit, play
from training.loosen import loosen
from training.material import RATE_HZ, BandClip, Groove, Index
from training.parts import Floats, Part, Rng, layer
from training.patterns import written
from training.performed import performed
from training.sounds import INDEX, LEVEL_FLOOR_DB, NEVER_LABELLED_DB, SOUNDS

FRAMES_PER_S = 100
HIT_WIDTH, BEAT_WIDTH = 0.9, 1.3
"""Standard deviation of the target kernels, in frames."""

IGNORED_FRAMES = 2
PRESENCE_S = 1.2
"""Drums count as present this long before and after a stroke."""

LONGEST_RING_S = 1.0
"""An open hat nobody closes counts as ringing this long."""

BEAT, DOWNBEAT, CHANGE, PRESENT, MACHINE, RINGING = range(6)
Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Recipe:
    """Shares of what is drawn; the ablations change these."""

    performed: float = 0.6
    band_clips: float = 0.45
    band: bool = True
    speech: float = 0.35
    varispeed: float = 0.3
    drumless: float = 0.06
    balance_db: tuple[float, float] = (-3.5, 6.0)
    drums_alone: float = 0.12
    effects: float = 1.0
    blend: float = 0.2
    loosened: float = 0.35
    masked: bool = False


@dataclass
class Plan:
    """A clip. Curves are bytes (255 = 1): hits, levels, known: shape (frames, 18); pulse: (frames, 6)."""

    events: Events
    hits: Bytes
    levels: Bytes
    known: Bytes
    pulse: Bytes
    pulse_weight: npt.NDArray[np.float32]
    clip_start: int = -1
    clip_ratio: float = 1.0
    has_drums: bool = True
    has_notes: bool = False


@dataclass
class Planner:
    """Draws plans of `seconds` from an index."""

    index: Index
    seconds: float = 16.0
    held: bool = False
    recipe: Recipe = field(default_factory=Recipe)

    def __post_init__(self) -> None:
        chosen = [g for g in self.index.grooves if g.validation == self.held]
        self.grooves: list[Groove] = [g for g in chosen if not g.fill]
        self.fills: list[Groove] = [g for g in chosen if g.fill]

    def draw(self, rng: Rng) -> Plan:
        """A clip at random."""
        speed = 2 ** rng.uniform(-0.8, 0.7) if rng.random() < self.recipe.varispeed else 1.0
        span_s = self.seconds * speed
        n_beats = span_s * 3.9 + 12
        use_human = bool(self.grooves) and rng.random() < self.recipe.performed
        part = performed(self.grooves, self.fills, rng, n_beats) if use_human else written(rng, n_beats)
        part = layer(part, rng, n_beats)
        if rng.random() < self.recipe.loosened:
            part = loosen(part, rng)
        clip, clip_at, clock, first = self._time(part, rng, span_s)
        part = _shift(part, first)
        times = np.array([clock(b) for b in part.beats])
        part, times, drumless = _window(part, times, rng, span_s, self.recipe.drumless)
        events = Events()
        brushes = part.style in ("swing", "train") and rng.random() < 0.3
        kit = draw_kit(self.index, rng, self.held, brushes, self.recipe.blend)
        levels, rings = play(kit, part, times, events, rng)
        plan = self._targets(part, times / speed, levels, events)
        _mark_machine_and_ringing(plan, part, times / speed, levels, rings / speed)
        last_beat = _beats_until(clock, span_s)
        changes = self._band(plan, part, rng, clock, last_beat, span_s, clip)
        _mark_pulse(plan, part, clock, last_beat, speed, changes)
        if clip is not None:
            plan.clip_start, plan.clip_ratio = clip.start + int(clip_at * RATE_HZ), speed
        if not len(part.beats) and not plan.has_notes:
            plan.pulse_weight[[BEAT, DOWNBEAT]] = 0
        if speed != 1.0:
            _change_speed(events, speed)
        plan.has_drums = not drumless
        return plan

    def _time(
        self, part: Part, rng: Rng, span_s: float
    ) -> tuple[BandClip | None, float, Callable[[float], float], float]:
        """Accompaniment clip (or None), where it starts, the clock, and the beat that the part starts on."""
        clip, at = None, 0.0
        if self.index.clips and self.recipe.band and rng.random() < self.recipe.band_clips:
            clip = self.index.clips[int(rng.integers(len(self.index.clips)))]
            room = clip.length / RATE_HZ - span_s - 0.1
            if room <= 0:
                clip = None
            else:
                at = rng.uniform(0, room)
        if clip is not None and len(clip.beats_s) > 8 and _fits(clip, part):
            clock, first = _clip_clock(clip, at, part.beats_per_bar)
            return clip, at, clock, first
        return clip, at, _steady_clock(part.tempo_bpm, rng, rng.uniform(0.05, part.beats_per_bar)), 0.0

    def _targets(self, part: Part, times: Floats, levels: Floats, events: Events) -> Plan:
        n = int(self.seconds * FRAMES_PER_S)
        plan = Plan(
            events,
            np.zeros((n, len(SOUNDS)), np.uint8),
            np.zeros((n, len(SOUNDS)), np.uint8),
            np.full((n, len(SOUNDS)), 255, np.uint8),
            np.zeros((n, 6), np.uint8),
            np.ones(6, np.float32),
        )
        scale = np.clip(1 - levels / LEVEL_FLOOR_DB, 0, 1)
        for t, sound, level, share in zip(
            times.tolist(), part.sounds.tolist(), levels.tolist(), scale.tolist(), strict=True
        ):
            frame = t * FRAMES_PER_S
            if level < NEVER_LABELLED_DB:
                low = max(0, round(frame) - IGNORED_FRAMES)
                plan.known[low : round(frame) + IGNORED_FRAMES + 1, sound] = 0
                continue
            kernel(plan.hits[:, sound], frame, HIT_WIDTH)
            near = slice(max(0, round(frame) - 1), round(frame) + 2)
            plan.levels[near, sound] = np.maximum(plan.levels[near, sound], round(255 * share))
        reach = int(PRESENCE_S * FRAMES_PER_S)
        for frame in np.round(times * FRAMES_PER_S).astype(int):
            plan.pulse[max(0, frame - reach) : frame + reach, PRESENT] = 255
        return plan

    def _band(
        self, plan: Plan, part: Part, rng: Rng, clock: Callable[[float], float], n_beats: float,
        span_s: float, clip: BandClip | None,
    ) -> Floats | None:  # fmt: skip
        """Notes and speech. Returns beats where the harmony changes, or None where that is not known."""
        changes = None
        if self.recipe.band and (clip is None or rng.random() < 0.3):
            kicks = part.beats[part.sounds == INDEX["kick"]]
            known = accompany(
                self.index, rng, plan.events, clock, n_beats, span_s, part.beats_per_bar, kicks, clip is not None
            )
            plan.has_notes = True
            changes = known if clip is None else None
        if self.recipe.band and rng.random() < self.recipe.speech:
            self._speak(plan.events, rng, span_s)
        return changes

    def _speak(self, events: Events, rng: Rng, span_s: float) -> None:
        start, length = self.index.speech
        t = rng.uniform(0, 2)
        while t < span_s and length > 6 * RATE_HZ:
            seconds = rng.uniform(0.5, 3)
            at = start + int(rng.integers(length - 5 * RATE_HZ))
            ratio = 2 ** (rng.normal(0, 2) / 12)
            events.add(at, int(seconds * RATE_HZ * 1.3), t, ratio, rng.uniform(0.1, 0.5), seconds, 0.02, BAND)
            t += seconds + rng.exponential(0.8)


def kernel(curve: Bytes, frame: float, width: float) -> None:
    """Raise `curve` to a bell round a place between frames; its nearest frame always reaches 255."""
    nearest = round(frame)
    top = np.exp(-0.5 * ((nearest - frame) / width) ** 2)
    for f in range(max(0, nearest - 2), min(len(curve), nearest + 3)):
        value = round(255 * min(1.0, float(np.exp(-0.5 * ((f - frame) / width) ** 2) / top)))
        curve[f] = max(curve[f], value)


def batch(planner: Planner, rng: Rng, size: int) -> dict[str, np.ndarray]:
    """`size` plans as the arrays that `render` takes; events carry their clip's number."""
    plans = [planner.draw(rng) for _ in range(size)]
    tables = [p.events.arrays() for p in plans]
    return {
        "offset": np.concatenate([t[0] for t in tables]),
        "table": np.concatenate([t[1] for t in tables]),
        "clip": np.concatenate([np.full(len(t[0]), i, np.int64) for i, t in enumerate(tables)]),
        "hits": np.stack([p.hits for p in plans]),
        "levels": np.stack([p.levels for p in plans]),
        "known": np.stack([p.known for p in plans]),
        "pulse": np.stack([p.pulse for p in plans]),
        "pulse_weight": np.stack([p.pulse_weight for p in plans]),
        "clip_start": np.array([p.clip_start for p in plans], np.int64),
        "clip_ratio": np.array([p.clip_ratio for p in plans], np.float32),
        "has_drums": np.array([p.has_drums for p in plans], np.float32),
        "has_notes": np.array([p.has_notes for p in plans], np.float32),
    }


def _fits(clip: BandClip, part: Part) -> bool:
    top = {"4/4": 4, "3/4": 3, "6/8": 2, "12/8": 4}.get(clip.meter, 0)
    tempo = 60 / float(np.median(np.diff(clip.beats_s)))
    triplets = clip.meter in ("6/8", "12/8")
    own_triplets = part.style in ("swing", "shuffle")
    return top == part.beats_per_bar and triplets == own_triplets and 0.62 < tempo / part.tempo_bpm < 1.6


def _clip_clock(clip: BandClip, at: float, beats_per_bar: int) -> tuple[Callable[[float], float], float]:
    beats = clip.beats_s.astype(np.float64) - at
    first_down = int(np.flatnonzero(clip.beat_in_bar == 1)[0])
    numbers = np.arange(len(beats)) - first_down
    period = float(np.median(np.diff(beats)))

    def clock(beat: float) -> float:
        if beat < numbers[0]:
            return float(beats[0] + (beat - numbers[0]) * period)
        if beat > numbers[-1]:
            return float(beats[-1] + (beat - numbers[-1]) * period)
        return float(np.interp(beat, numbers, beats))

    first = int(np.floor(np.interp(0.0, beats, numbers) / beats_per_bar)) * beats_per_bar
    return clock, float(first)


def _steady_clock(tempo_bpm: float, rng: Rng, starts_at: float) -> Callable[[float], float]:
    """Nearly constant tempo; `starts_at` is the beat that falls on 0 s."""
    period = 60 / tempo_bpm
    depth = rng.uniform(0, 0.012) if rng.random() < 0.5 else 0.0
    speed, phase = rng.uniform(0.05, 0.3), rng.uniform(0, 2 * np.pi)

    def clock(beat: float) -> float:
        return float((beat - starts_at) * period + depth * period * np.sin(speed * beat + phase) / speed * 0.5)

    return clock


def _shift(part: Part, first: float) -> Part:
    return replace(part, beats=part.beats + first)


def _beats_until(clock: Callable[[float], float], end_s: float) -> float:
    beat = 0.0
    while clock(beat) < end_s + 0.5:
        beat += 1.0
    return beat


def _window(part: Part, times: Floats, rng: Rng, span_s: float, drumless: float) -> tuple[Part, Floats, bool]:
    """Strokes inside the clip; now and then a stretch, or all of it, without drums."""
    low, high = 0.0, span_s - 0.06
    u = rng.random()
    keep = np.ones(len(times), bool)
    if u < drumless:
        keep[:] = False
    elif u < drumless + 0.05:
        low = rng.uniform(1, span_s * 0.7)
    elif u < drumless + 0.09:
        high = rng.uniform(span_s * 0.3, span_s - 0.06)
    elif u < drumless + 0.12:
        a, b = np.sort(rng.uniform(0, span_s, 2))
        keep &= (times < a) | (times > b)
    keep &= (times >= low) & (times < high)
    order = np.argsort(times[keep], kind="stable")
    kept = part.keep(keep)
    kept = replace(kept, beats=kept.beats[order], sounds=kept.sounds[order], strength=kept.strength[order])
    return kept, times[keep][order], not keep.any()


def _mark_machine_and_ringing(plan: Plan, part: Part, times: Floats, levels: Floats, rings_s: Floats) -> None:
    """Strokes that a machine plays, and stretches in which an open hat rings."""
    by_machine = part.by_machine() & (levels >= NEVER_LABELLED_DB)
    for t in times[by_machine].tolist():
        kernel(plan.pulse[:, MACHINE], t * FRAMES_PER_S, HIT_WIDTH)
    opened = part.sounds == INDEX["hat_open"]
    for t, ring in zip(times[opened].tolist(), rings_s[opened].tolist(), strict=True):
        start, end = round(t * FRAMES_PER_S), round((t + min(ring, LONGEST_RING_S)) * FRAMES_PER_S)
        plan.pulse[max(0, start) : end + 1, RINGING] = 255


def _mark_pulse(
    plan: Plan, part: Part, clock: Callable[[float], float], n_beats: float, speed: float, changes: Floats | None
) -> None:
    per_bar = part.beats_per_bar
    for beat in range(-per_bar * 3, int(n_beats) + 1):
        frame = clock(float(beat)) / speed * FRAMES_PER_S
        if not -2 < frame < len(plan.pulse) + 2:
            continue
        kernel(plan.pulse[:, BEAT], frame, BEAT_WIDTH)
        if beat % per_bar == 0:
            kernel(plan.pulse[:, DOWNBEAT], frame, BEAT_WIDTH)
    if changes is None:
        plan.pulse_weight[CHANGE] = 0
        return
    for beat in changes:
        frame = clock(float(beat)) / speed * FRAMES_PER_S
        if 0 <= frame < len(plan.pulse):
            kernel(plan.pulse[:, CHANGE], frame, BEAT_WIDTH)


def _change_speed(events: Events, speed: float) -> None:
    """Play the whole clip faster or slower, as a tape would: times, pitches and lengths together."""
    events.rows = [
        (length, start / speed, ratio * speed, gain, gate / speed, release / speed, bus)
        for length, start, ratio, gain, gate, release, bus in events.rows
    ]
