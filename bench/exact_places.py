"""Exact places against truth: with true beats given, and over the whole chain from sound."""

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction

import mir_eval
import msgspec
import numpy as np

from fourlimb.listen import place_hits
from fourlimb.listen.feel import find_feel
from fourlimb.model import Grid, Hit, Listening
from fourlimb.model.grid import FeelSpan, regular
from fourlimb.model.places import bar_length

from .cases import FAMILIES, WINDOW_S, Case
from .groove import Performance
from .made_songs import numbered


def places(grooves: Sequence[Performance]) -> dict[str, tuple[int, float, float]]:
    """Exact places given true beats: (strokes, ours, nearest 16th), straight and swung.

    Truth by construction: a performance is rounded (to 16ths; swung ones to swung 8ths) and every stroke is then played
    as far off as another stroke of the same performance was.
    """
    table: dict[str, list[tuple[bool, bool]]] = defaultdict(list)
    for number, groove in enumerate(grooves):
        if groove.meter != "4/4" or len(groove.grid.bars) < 4:
            continue
        made = _rounded_and_played(groove, number)
        if made is None:
            continue
        kind, grid, hits, truth = made
        placed = place_hits(msgspec.structs.replace(grid, feel=find_feel(grid, hits)), hits)
        for hit, (bar, position) in zip(placed, truth, strict=True):
            near = round(hit.time_s * groove.bpm / 60 * 4)
            table[kind].append(((hit.bar, hit.position) == (bar, position), near == (bar - 1) * 16 + position * 16))
    return {
        k: (len(v), float(np.mean([a for a, _ in v])), float(np.mean([b for _, b in v]))) for k, v in table.items()
    }


def _rounded_and_played(
    groove: Performance, seed: int
) -> tuple[str, Grid, tuple[Hit, ...], list[tuple[int, Fraction]]] | None:
    rng = np.random.default_rng(seed)
    feel = find_feel(groove.grid, groove.hits)[0]
    swung = feel.swing_unit == "8th" and feel.swing > 0.55
    grid = regular(["4/4"] * min(len(groove.grid.bars), 40), groove.bpm)
    if swung:
        span = FeelSpan(from_bar=1, to_bar=grid.numbers[-1], feel="straight", swing=feel.swing)
        grid = msgspec.structs.replace(grid, feel=(span,))
    step = Fraction(1, 8) if swung else Fraction(1, 16)
    pieces, off = [], []
    seen = set()
    for hit in groove.hits:
        bar = grid.bar_at(hit.time_s)
        candidates = [step * n for n in range(int(1 / step) + 1)]
        place = min(candidates, key=lambda p: abs(grid.time_at(bar, p, swung=True) - hit.time_s))
        off_s = hit.time_s - grid.time_at(bar, place, swung=True)
        bar, place = (bar + 1, Fraction(0)) if place == 1 else (bar, place)
        if not grid.has(bar) or (bar, place, hit.sound) in seen or abs(off_s) > 0.05:
            continue
        seen.add((bar, place, hit.sound))
        off.append(off_s)
        pieces.append((hit, bar, place))
    if len(pieces) < 32:
        return None
    offs = rng.permutation(off)
    made = []
    for (hit, bar, place), off_s in zip(pieces, offs, strict=True):
        time_s = max(grid.time_at(bar, place, swung=True) + float(off_s), 0.0)
        made.append((msgspec.structs.replace(hit, time_s=time_s, extra={"place": (bar, place)}), (bar, place)))
    hits = numbered([hit for hit, _ in made])
    truth = [hit.extra["place"] for hit in hits]
    return ("swung" if swung else "straight"), msgspec.structs.replace(grid, feel=()), hits, truth


GRIDS = (Fraction(1, 4), Fraction(1, 6))
"""Where a written stroke may stand, in beats: 16ths and sextuplets (32nds lie no further apart than human spread)."""
CLEAR_S = 0.028
"""A true stroke further than this from every place of the grids is nobody's place (2 x human spread)."""
BEAT_WINDOW_S = 0.07
SWUNG_BEATS = 1 / 12
"""How far the swing ratio that was found may put a swung eighth from the nearest sextuplet."""
CLEARLY = 2.0
"""A place is a stroke's own when the next one is this many times further."""


def true_places(case: Case) -> list[tuple[dict[str, object], int, Fraction]]:
    """True strokes with clear places as (stroke, bar counted from 1 for the first true bar line, beats into the bar).

    The nearest 16th or sextuplet to the true beats; what lies between places is left out.
    """
    index = np.arange(len(case.beats))
    ones = [n for n, time_s in enumerate(case.beats) if time_s in case.downbeats]
    found = []
    for hit in case.hits:
        time_s = float(str(hit["time_s"]))
        if not case.beats[ones[0]] - CLEAR_S <= time_s < case.beats[-1]:
            continue
        at = float(np.interp(time_s, case.beats, index))
        beat_s = float(np.interp(at, index, np.gradient(case.beats)))
        near = sorted({step * round(at / step) for step in GRIDS}, key=lambda p: abs(float(p) - at))
        off = [abs(float(place) - at) * beat_s for place in near]
        if off[0] > CLEAR_S or (len(off) > 1 and off[1] < CLEARLY * off[0]):
            continue
        bar = max(k for k, n in enumerate(ones) if n <= near[0])
        found.append((hit, bar + 1, near[0] - ones[bar]))
    return found


def whole_chain(case: Case, found: Listening) -> tuple[int, int, int, int]:
    """(true strokes, with clear places, of these heard, of these at their exact place), from sound to written place."""
    clear = {(str(h["sound"]), str(h["time_s"])): (bar, beats) for h, bar, beats in true_places(case)}
    heard = right = 0
    for sounds in FAMILIES.values():
        hits = [h for h in found.hits if h.sound in sounds]
        true = [h for h in case.hits if h["sound"] in sounds]
        at, wanted = np.array([h.time_s for h in hits]), np.array([float(str(h["time_s"])) for h in true])
        for i, j in mir_eval.util.match_events(wanted, at, WINDOW_S) if len(at) and len(wanted) else ():
            place = clear.get((str(true[i]["sound"]), str(true[i]["time_s"])))
            if place is not None:
                heard += 1
                right += _is_at(case, found.grid, hits[j], *place)
    return len(case.hits), len(clear), heard, right


def places_said(found: Sequence[tuple[Case, Listening]]) -> str:
    """One line on the whole chain."""
    rows = np.array([whole_chain(case, heard) for case, heard in found])
    every, clear, heard, right = rows.sum(axis=0)
    return (
        f"exact place, whole chain: {right / heard:.3f} of {heard} strokes heard, {right / clear:.3f} of all {clear} true "
        f"strokes with a clear place ({1 - clear / every:.2f} of them lie between places); by song, of those heard: "
        + " ".join(f"{r[3] / max(r[2], 1):.3f}" for r in rows)
    )


def _is_at(case: Case, grid: Grid, hit: Hit, bar: int, beats: Fraction) -> bool:
    """Same bar line (within the beat window), same place; of a swung place, the nearest place to how it is played."""
    if hit.bar is None or hit.position is None:
        return False
    place, moved = hit.position * 4, 0
    if place == 4 * bar_length(grid.meter(hit.bar)):
        place, moved = Fraction(0), 1
    start = grid.time_at(hit.bar + moved, Fraction(0)) if grid.has(hit.bar + moved) else grid.end_s
    if abs(start - case.downbeats[bar - 1]) > BEAT_WINDOW_S:
        return False
    if place == beats:
        return True
    span = grid.end(hit.bar) - grid.at(hit.bar).start_s
    played = (grid.time_at(hit.bar, hit.position, swung=True) - grid.at(hit.bar).start_s) / span
    swung = grid.time_at(hit.bar, hit.position, swung=True) != grid.time_at(hit.bar, hit.position)
    return swung and abs(played * float(4 * bar_length(grid.meter(hit.bar))) - float(beats)) < SWUNG_BEATS
