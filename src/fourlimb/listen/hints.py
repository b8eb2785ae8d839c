"""The teacher's word on tempo, meter and the one; the rest is solved again around it.

Input: a `Listening` (no audio) and `Hints`. Output: a `Listening` with another grid, every hit placed anew on it, form and
doubts made again. Hits keep ids, times and confidence. Where the teacher spoke, beats and bar lines have confidence 1.

A hint is in seconds, because bar numbers change when the grid does; a hint that no beat is near moves to the nearest one.
"""

import msgspec
import numpy as np

from fourlimb.model import Grid, InputError, Listening
from fourlimb.model.places import bar_length, beat_lengths

from .bars import doubled, lay_counted
from .beats import Pulse
from .evidence import Evidence, from_hits
from .feel import find_feel
from .form import form
from .places import place_hits


class Hints(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the teacher said.

    octave : +1 doubles the tempo, -1 halves it, 0 leaves it (two taps of the same button are 2).
    ones_s : "this is the one": seconds of first beats; bars are counted from each, on to the next.
    bar_lines_s : "bar line here": one more bar line, the bar before it ends early if it must.
    meters : (from second, meter) pairs; the first may stand at 0.
    """

    octave: int = 0
    ones_s: tuple[float, ...] = ()
    bar_lines_s: tuple[float, ...] = ()
    meters: tuple[tuple[float, str], ...] = ()


def regrid(listening: Listening, hints: Hints) -> Listening:
    """The listening with its grid solved again under the hints. Raises InputError on a meter that cannot be."""
    for _, meter in hints.meters:
        bar_length(meter)
    if not -3 <= hints.octave <= 3:
        raise InputError(f"the tempo cannot be changed {hints.octave} octaves: use x2 or /2 up to three times")
    if not listening.grid.beats:
        return listening
    evidence = from_hits(listening.hits, listening.song.duration_s, grid=listening.grid)
    grid = _recounted(listening.grid, evidence, hints)
    grid = msgspec.structs.replace(grid, feel=find_feel(grid, listening.hits), extra=listening.grid.extra)
    hits = place_hits(grid, listening.hits)
    sections, landmarks, doubts = form(grid, hits)
    changed: Listening = msgspec.structs.replace(
        listening, grid=grid, hits=hits, sections=sections, landmarks=landmarks, doubts=doubts
    )
    return changed


def _recounted(grid: Grid, evidence: Evidence, hints: Hints) -> Grid:
    ones = [b.time_s for b in grid.beats if b.beat == 1 and b.bar > 0] or [grid.beats[0].time_s]
    pulse = _other_octave(_pulse(grid), hints.octave, ones[0])
    first = _nearest(pulse, min(hints.ones_s, default=ones[0]))
    starts = {first: None, **{_nearest(pulse, s): None for s in (*hints.ones_s, *hints.bar_lines_s)}}
    counted = []
    base = _base_meter(grid)
    if not hints.ones_s and not hints.meters and not hints.octave:
        starts |= {
            _nearest(pulse, bar.start_s): None for bar in grid.bars if bar.bar > 0 and grid.meter(bar.bar) != base
        }
    for at in sorted({*starts, *(_nearest(pulse, s) for s, _ in hints.meters if s > pulse.times_s[first])}):
        counted.append((at, _meter_at(float(pulse.times_s[at]), hints, base)))
    said = {at for at in starts if at in {_nearest(pulse, s) for s in (*hints.ones_s, *hints.bar_lines_s)}}
    first_size = len(beat_lengths(counted[0][1]))
    if said and counted[0][0] >= first_size:  # bars before the teacher's one are counted backwards from it
        counted[0] = (counted[0][0] % first_size, counted[0][1])
    return lay_counted(_trusting(pulse, said), counted, evidence.duration_s)


def _pulse(grid: Grid) -> Pulse:
    beats = [b for b in grid.beats if b.time_s < grid.end_s - 1e-6]
    times, keep = np.unique(np.array([b.time_s for b in beats]), return_index=True)
    return Pulse(times, np.array([beats[i].confidence for i in keep]))


def _other_octave(pulse: Pulse, octave: int, one_s: float) -> Pulse:
    """Twice or half as many beats; halving keeps the beats that the known first beat belongs to."""
    for _ in range(abs(octave)):
        if octave > 0:
            pulse = doubled(pulse)
        elif len(pulse.times_s) > 3:
            keep = _nearest(pulse, one_s) % 2
            pulse = Pulse(pulse.times_s[keep::2], pulse.confidence[keep::2])
    return pulse


def _nearest(pulse: Pulse, time_s: float) -> int:
    return int(np.abs(pulse.times_s - time_s).argmin())


def _base_meter(grid: Grid) -> str:
    counts: dict[str, int] = {}
    for bar in grid.bars:
        if bar.bar > 0:
            counts[bar.meter] = counts.get(bar.meter, 0) + 1
    return max(counts, key=lambda m: (counts[m], m)) if counts else "4/4"


def _meter_at(time_s: float, hints: Hints, base: str) -> str:
    said = [meter for start, meter in sorted(hints.meters) if start <= time_s + 0.05]
    return said[-1] if said else base


def _trusting(pulse: Pulse, said: set[int]) -> Pulse:
    trust = pulse.confidence.copy()
    trust[sorted(said)] = 1.0
    return Pulse(pulse.times_s, trust)
