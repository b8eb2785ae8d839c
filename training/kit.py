"""A kit drawn from the pack, and a part played on it.

Most kits mix pieces of several recorded kits, each in one of several coloured versions, so that the network can't
learn
a kit by heart. Every stroke's nominal peak is known; it is the loudness the network learns.
"""

from dataclasses import dataclass

import numpy as np

from training.events import NO_GATE_S, Events
from training.material import Group, Index
from training.parts import HATS, Floats, Part, Rng
from training.sounds import CYMBALS, INDEX, NOMINAL_PEAK_DB, NOMINAL_SPREAD_DB, SOUNDS

HC, HO, HP = HATS
RD, RB = INDEX["ride"], INDEX["ride_bell"]
TOMS = [INDEX[n] for n in ("tom_high", "tom_mid", "tom_floor")]
LOOSE_HATS = 0.2
LAYERED = 0.15
BLEND_DB = (-12.0, 0.0)
BLEND_SEMITONES = 2.0
CYMBAL_NUMBERS = [INDEX[n] for n in CYMBALS]


@dataclass(frozen=True)
class Blend:
    """A second recording under every stroke of a sound: the two together are a drum that neither kit has."""

    group: Group
    gain: float
    ratio: float


@dataclass
class Kit:
    """Which recordings each sound uses, how loud and how tuned.

    peak_db, ratio, damp_s : shape (18,): nominal peak, playing speed, time until a damped piece is silent.
    """

    groups: list[list[Group]]
    versions: list[list[int]]
    layers: dict[int, Blend]
    peak_db: Floats
    ratio: Floats
    damp_s: Floats
    curve: float
    stride: int
    loose_s: float = 0.0
    """Above 0: the closed hat is a loose one (an open hat let ring this long), as on many older records."""


def draw_kit(index: Index, rng: Rng, held: bool, brushes: bool = False, blend: float = 0.0) -> Kit:
    """A kit at random. `held` uses the kits kept from training; `brushes` prefers brushed recordings.

    blend : share of sounds that are two recordings at once.
    """
    own = None
    if brushes:
        own = "fluid_brush"
    elif rng.random() < 0.3:
        names = sorted({g.kit for s in ("snare", "kick", "hat_closed") for g in index.sounds_of(s, held)})
        own = names[int(rng.integers(len(names)))]
    groups = [[_pick(index, rng, sound, held, own)] for sound in SOUNDS]
    if rng.random() < 0.3:
        groups[INDEX["crash"]].append(_pick(index, rng, "crash", held, None))
    loose_s = 0.0
    if rng.random() < LOOSE_HATS:
        groups[HC] = [_pick(index, rng, "hat_open", held, own)]
        loose_s = rng.uniform(0.04, 0.2)
    layers = {
        k: _blend(index, rng, sound, held)
        for k, sound in enumerate(SOUNDS)
        if rng.random() < max(blend, LAYERED if sound in ("kick", "snare") else 0.0)
    }
    return Kit(
        groups,
        [[int(rng.integers(index.variants)) for _ in g] for g in groups],
        layers,
        _peaks(rng),
        _tuning(rng),
        _damping(rng),
        float(rng.uniform(0.8, 2.0)),
        index.variant_stride,
        loose_s,
    )


def play(kit: Kit, part: Part, times_s: Floats, events: Events, rng: Rng) -> tuple[Floats, Floats]:
    """Add every stroke of `part` to `events` at its time.

    Returns their nominal peaks, dB, and how long they are let ring, seconds; shape (n,) each.
    """
    levels = kit.peak_db[part.sounds] + 20 * kit.curve * np.log10(np.maximum(part.strength, 0.05))
    hats = times_s[np.isin(part.sounds, HATS)]
    rings, by_machine = np.zeros(len(levels)), part.by_machine().tolist()
    for i, sound in enumerate(part.sounds.tolist()):
        t, level = float(times_s[i]), float(levels[i])
        gate = _gate(kit, sound, t, hats, rng)
        rings[i] = gate
        which = int(rng.integers(len(kit.groups[sound])))
        group = kit.groups[sound][which]
        sample = group.samples[_layer_number(len(group.samples), float(part.strength[i]), by_machine[i], rng)]
        ratio = float(kit.ratio[sound]) * (1.0 if by_machine[i] else 2 ** (rng.normal(0, 0.12) / 12))
        release = 0.03 if sound == HO else max(0.03, 0.5 * gate if gate < NO_GATE_S else 0.1)
        gain = 10 ** (level / 20)
        version = kit.versions[sound][which] * kit.stride
        events.add(version + sample.start, sample.length, t - sample.onset_s / ratio, ratio, gain, gate, release)
        under = kit.layers.get(sound)
        if under is not None:
            number = _layer_number(len(under.group.samples), float(part.strength[i]), by_machine[i], rng)
            extra, speed = under.group.samples[number], ratio * under.ratio
            start = t - extra.onset_s / speed
            events.add(extra.start, extra.length, start, speed, gain * under.gain, gate, release)
    return levels, rings


def _blend(index: Index, rng: Rng, sound: str, held: bool) -> Blend:
    ratio = 2 ** (rng.normal(0, BLEND_SEMITONES) / 12)
    return Blend(_pick(index, rng, sound, held, None), 10 ** (rng.uniform(*BLEND_DB) / 20), ratio)


def _pick(index: Index, rng: Rng, sound: str, held: bool, kit: str | None) -> Group:
    groups = index.sounds_of(sound, held)
    own = [g for g in groups if g.kit == kit]
    if own:
        return own[0]
    weights = np.array([1.0 if g.recorded else 0.5 for g in groups])
    return groups[int(rng.choice(len(groups), p=weights / weights.sum()))]


def _peaks(rng: Rng) -> Floats:
    peaks = NOMINAL_PEAK_DB + rng.normal(0, 1, len(SOUNDS)) * NOMINAL_SPREAD_DB
    peaks[HO] = peaks[HC] + 3 + rng.normal(0, 2.5)
    peaks[HP] = min(peaks[HP], peaks[HC] - 1)
    peaks[RB] = peaks[RD] + 4 + rng.normal(0, 2)
    peaks[TOMS] += rng.normal(0, 1.5) - rng.normal(0, 1)
    return peaks


def _tuning(rng: Rng) -> Floats:
    semitones = rng.normal(0, 1.3, len(SOUNDS))
    semitones[[INDEX["snare"], INDEX["rim"]]] = rng.normal(0, 2.2, 2)
    semitones[TOMS] = rng.normal(0, 1.8) + rng.normal(0, 0.6, 3)
    if rng.random() < 0.1:
        semitones += rng.uniform(-4, 4)
    return np.asarray(2 ** (semitones / 12))


def _damping(rng: Rng) -> Floats:
    damp = np.where(rng.random(len(SOUNDS)) < 0.25, rng.uniform(0.08, 0.6, len(SOUNDS)), NO_GATE_S)
    if rng.random() < 0.7:
        damp[CYMBAL_NUMBERS] = NO_GATE_S
    return damp


def _gate(kit: Kit, sound: int, t: float, hats: Floats, rng: Rng) -> float:
    if sound == HC and kit.loose_s:
        return kit.loose_s
    if sound != HO:
        return float(kit.damp_s[sound])
    after = hats[hats > t + 0.02]
    if len(after) and rng.random() > 0.1:
        return float(after[0] - t)
    return NO_GATE_S


def _layer_number(n: int, strength: float, machine: bool, rng: Rng) -> int:
    if n == 1:
        return 0
    if machine:
        return round(0.8 * (n - 1))
    return int(np.clip(round(strength * (n - 1) + rng.normal(0, 0.08 * n)), 0, n - 1))
