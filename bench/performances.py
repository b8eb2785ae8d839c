"""Human performances (Groove MIDI Dataset) as songs, and what an electronic kit adds to them.

Gillick, Roberts, Engel, Eck, Bamman, "Learning to Groove with Inverse Sequence Transformations", ICML 2019; data
CC BY 4.0, Google LLC. People played these with two hands and two feet, so a checker that objects is wrong, unless
the pads told something that was not played. Pads do: they trigger twice, and they shake each other. The rules
below say which notes may be such artefacts; they are used only around places where the checker objects, and every
use is counted.
"""

import csv
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import mido
import msgspec

from fourlimb.arrange import check, perform
from fourlimb.model import Breach, Grid, Hit, Kit, Sound
from fourlimb.model.grid import regular
from fourlimb.model.sounds import FOOT, INSTRUMENT

KIT = Kit()
AROUND_MS = 130.0
"""How far from an objection an artefact may lie (one ceiling pedal change or hat foot stroke)."""


@dataclass(frozen=True)
class Trigger:
    """One pad note: milliseconds, sound, velocity, and the hit that stands for it."""

    ms: float
    sound: Sound
    velocity: int
    hit: Hit

    @property
    def pad(self) -> str:
        """The thing on the floor that was struck."""
        return INSTRUMENT[self.sound]


@dataclass(frozen=True)
class Performance:
    """One file of the data set."""

    name: str
    grid: Grid
    triggers: tuple[Trigger, ...]


@dataclass(frozen=True)
class Verdict:
    """What the checker said at first, which artefacts were allowed for, and what it still objects to."""

    name: str
    notes: int
    first: int
    allowed: Counter[str]
    left: tuple[Breach, ...]


def performances(folder: Path) -> Iterator[Performance]:
    """All performances listed in `info.csv` whose MIDI file is there, in its order."""
    sounds = {int(key): row["sound"] for key, row in json.loads((folder / "note_map.json").read_text()).items()}
    with (folder / "info.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            path = folder / row["midi_filename"]
            if path.exists():
                yield read(path, row["id"], row["time_signature"].replace("-", "/"), sounds)


def read(path: Path, name: str, meter: str, sounds: dict[int, Sound]) -> Performance:
    """One MIDI file; places are its exact ticks."""
    midi = mido.MidiFile(path)
    notes: list[tuple[int, int, int]] = []
    tempo = 500_000
    for track in midi.tracks:
        at = 0
        for message in track:
            at += message.time
            if message.type == "set_tempo":
                tempo = message.tempo
            elif message.type == "note_on" and message.velocity > 0 and message.note in sounds:
                notes.append((at, message.note, message.velocity))
    count, unit = (int(part) for part in meter.split("/"))
    whole = 4 * midi.ticks_per_beat
    bar_ticks = Fraction(count, unit) * whole
    last = max((at for at, _, _ in notes), default=0)
    grid = regular([meter] * (int(last / bar_ticks) + 1), 60e6 / tempo)
    triggers = []
    for index, (at, note, velocity) in enumerate(sorted(notes)):
        bar = int(at / bar_ticks)
        position = (at - bar * bar_ticks) / whole
        hit = Hit(
            id=index,
            time_s=at * tempo / midi.ticks_per_beat / 1e6,
            sound=sounds[note],
            loudness_db=_decibel(velocity),
            confidence=1.0,
            bar=bar + 1,
            position=Fraction(position),
        )
        triggers.append(Trigger(1000 * hit.time_s, sounds[note], velocity, hit))
    return Performance(name, grid, tuple(triggers))


def _decibel(velocity: int) -> float:
    """40 log10(v/127) dB: MIDI Manufacturers Association, General MIDI Level 2."""
    from math import log10

    return 40 * log10(velocity / 127)


def judge(performance: Performance, rounds: int = 40) -> Verdict:
    """Check a performance; where the checker objects, take away what the rules call artefacts, and check again."""
    triggers = list(performance.triggers)
    first = -1
    allowed: Counter[str] = Counter()
    breaches: tuple[Breach, ...] = ()
    for _ in range(rounds):
        chart = perform([t.hit for t in triggers], performance.grid, KIT)
        breaches = check(chart, performance.grid, KIT)
        first = len(breaches) if first < 0 else first
        if not breaches:
            break
        cuts = artefacts(triggers, [1000 * performance.grid.time_at(b.bar, b.position) for b in breaches])
        if not cuts:
            break
        allowed.update(rule for rule, _ in cuts.values())
        triggers = [new for i, t in enumerate(triggers) for new in ([t] if i not in cuts else cuts[i][1])]
    return Verdict(performance.name, len(performance.triggers), first, allowed, breaches)


Cuts = dict[int, tuple[str, list[Trigger]]]


def artefacts(triggers: list[Trigger], places_ms: list[float]) -> Cuts:
    """The likeliest artefact near each objection: its rule, and what it becomes (nothing, or another trigger).

    Of several candidates the softest goes first; the rest stay for the next round.
    """
    found: Cuts = {}
    for place in places_ms:
        window = [i for i, t in enumerate(triggers) if -AROUND_MS <= t.ms - place <= AROUND_MS]
        if any(i in found for i in window):
            continue
        ways = [
            (rule != "closing hat", t.velocity, i, rule)
            for i in window
            for t in [triggers[i]]
            for rule in _rules(triggers, i)
        ]
        if ways:
            _, _, index, rule = min(ways)
            found[index] = (rule, _instead(triggers[index], rule))
    return found


def _instead(trigger: Trigger, rule: str) -> list[Trigger]:
    if rule != "closing hat":
        return []
    hit = msgspec.structs.replace(trigger.hit, sound="hat_closed")
    return [Trigger(trigger.ms, "hat_closed", trigger.velocity, hit)]


RULES = {
    "two zones": "two notes of one pad within 20 ms (head and rim, bow and edge): one stroke",
    "bounce": "a note of the same drum within 65 ms, no more than a quarter louder (or both soft): the same stroke "
    "bouncing, as in a buzz",
    "touch": "a note of velocity 15 or less within 70 ms before one three times as loud on the same pad",
    "beater": "a second kick within 60 ms, or within 80 ms at 40 % or less: the beater bounces off the pad",
    "foot twice": "a second hi-hat foot note within 100 ms: the pedal's switch triggers twice",
    "shaken": "a note of velocity 35 or less, at 30 % or less of a stroke within 35 ms on another pad: vibration",
    "shaken stand": "a cymbal or tom of 15 or less, at 25 % or less of a stroke up to 60 ms before: vibration",
    "third pad": "three or more hand pads within 40 ms: the softest, when at 70 % or less of the loudest: vibration",
    "chick": "a hat note within 40 ms of the foot closing the hat: the pad, set off by its own pedal",
    "closing hat": "an open hat within 40 ms of the foot closing it: struck while closing, counts as closed",
}
"""Which notes may be artefacts of the pads (thresholds ours, seen in the data)."""

_STANDS = {"crash cymbal", "ride cymbal", "hi-hat", "high tom", "mid tom", "floor tom"}


def _rules(triggers: list[Trigger], index: int) -> Iterator[str]:
    """Names of the rules under which this note may be an artefact."""
    me = triggers[index]
    before, after = _near(triggers, index, -1, 100.0), _near(triggers, index, 1, 70.0)
    yield from _same_pad(me, [t for t in before if t.pad == me.pad], [t for t in after if t.pad == me.pad])
    others = [t for t in before + after if t.pad != me.pad]
    close = [t for t in others if abs(t.ms - me.ms) <= 35]
    if me.velocity <= 35 and any(me.velocity <= 0.3 * t.velocity for t in close):
        yield "shaken"
    shakers = [t for t in others if 0 <= me.ms - t.ms <= 60]
    if me.pad in _STANDS and me.velocity <= 15 and any(me.velocity <= 0.25 * t.velocity for t in shakers):
        yield "shaken stand"
    if me.sound in FOOT:
        return
    hands = [t for t in others if abs(t.ms - me.ms) <= 40 and t.sound not in FOOT]
    others_loud = [t.velocity for t in hands] if len({t.pad for t in hands}) >= 2 else []
    if others_loud and me.velocity <= min(0.7 * max(others_loud), *others_loud):
        yield "third pad"
    if me.pad == "hi-hat" and any(t.sound == "hat_pedal" for t in before + after if abs(t.ms - me.ms) <= 40):
        yield "chick"
    if me.sound == "hat_open" and any(t.sound == "hat_pedal" and abs(t.ms - me.ms) <= 40 for t in before + after):
        yield "closing hat"


def _same_pad(me: Trigger, before: list[Trigger], after: list[Trigger]) -> Iterator[str]:
    for other in before:
        gap = me.ms - other.ms
        if me.sound == "hat_pedal" or other.sound == "hat_pedal":
            if me.sound == other.sound and gap < 100:
                yield "foot twice"
        elif gap < 20:
            yield "two zones"
        elif me.sound == "kick":
            if gap < 60 or (gap < 80 and me.velocity <= 0.4 * other.velocity):
                yield "beater"
        elif gap < 65 and (me.velocity <= 1.25 * other.velocity or max(me.velocity, other.velocity) <= 25):
            yield "bounce"
    if any(me.velocity <= 15 and 3 * me.velocity <= t.velocity for t in after):
        yield "touch"


def _near(triggers: list[Trigger], index: int, step: int, within_ms: float) -> list[Trigger]:
    found = []
    other = index + step
    while 0 <= other < len(triggers) and abs(triggers[other].ms - triggers[index].ms) <= within_ms:
        found.append(triggers[other])
        other += step
    return found
