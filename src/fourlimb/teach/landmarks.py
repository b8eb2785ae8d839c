"""Landmarks: bars anyone can recognise by ear, where a lost player finds the place again.

Read from the chart and the grid: the drums stop or come back, one piece plays alone, the feel or the tempo changes.
Only departures are landmarks, each at the bar where it begins; the silence after the last stroke is none. Whoever has
better ears may bring more (see `Landmark`).
"""

from collections.abc import Sequence
from typing import Final

from fourlimb.model import Chart, Grid, Landmark, Section
from fourlimb.model.sounds import SAY

TEMPO_JUMP: Final = 1.2
"""A bar this much faster or slower than the one before is heard as a new tempo (ours)."""

LEAST_ALONE: Final = 2
"""Strokes one piece must have in a bar to be heard as playing alone."""


def find_landmarks(chart: Chart, grid: Grid) -> tuple[Landmark, ...]:
    """Landmarks of a song in song order; none for a song without drums."""
    found: list[Landmark] = []
    before: str | None = None
    last = max(chart.by_bar, default=0)
    for bar in grid.numbers:
        state = _state(chart, bar)
        if state == "silent" and bar > last:
            break
        if state != before:
            what = _arrival(before, state)
            if what:
                found.append(Landmark(bar=bar, what=what))
        before = state
        found += [Landmark(bar=bar, what=what) for what in _grid_news(grid, bar)]
    return tuple(found)


def landmark_words(landmarks: Sequence[Landmark], sections: Sequence[Section] = ()) -> tuple[str, ...]:
    """One line each: "bar 17 (section B): the drums stop"."""
    return tuple(f"bar {mark.bar}{_section(mark.bar, sections)}: {_with_article(mark.what)}" for mark in landmarks)


def _state(chart: Chart, bar: int) -> str:
    """Says "silent", "<piece> alone" or "playing"."""
    strokes = chart.by_bar.get(bar, ())
    if not strokes:
        return "silent"
    pieces = {stroke.piece for stroke in strokes}
    if len(pieces) == 1 and len(strokes) >= LEAST_ALONE:
        return f"{SAY[strokes[0].piece]} alone"
    return "playing"


def _arrival(before: str | None, state: str) -> str:
    if state == "silent":
        return "drums stop" if before is not None else ""
    if state.endswith(" alone"):
        return state
    if before == "silent":
        return "drums come in"
    if before and before.endswith(" alone"):
        return "the whole kit comes in"
    return ""


def _grid_news(grid: Grid, bar: int) -> list[str]:
    if not grid.has(bar - 1):
        return []
    news = []
    old, new = grid.feel_of(bar - 1).feel, grid.feel_of(bar).feel
    if old != new:
        news.append(f"{new} feel" if new != "straight" else "ordinary time again")
    if grid.meter(bar) != grid.meter(bar - 1):
        news.append(f"the meter changes to {grid.meter(bar)}")
    else:
        news += _tempo_news(grid.at(bar - 1).tempo_bpm, grid.at(bar).tempo_bpm)
    return news


def _tempo_news(old: float, new: float) -> list[str]:
    ratio = new / old if old > 0 else 1.0
    if 1.9 <= ratio <= 2.1:
        return ["the tempo doubles"]
    if 0.475 <= ratio <= 0.525:
        return ["the tempo halves"]
    if ratio >= TEMPO_JUMP or ratio <= 1 / TEMPO_JUMP:
        return [f"the tempo goes {'up' if ratio > 1 else 'down'} to {new:.0f}"]
    return []


def _section(bar: int, sections: Sequence[Section]) -> str:
    name = next((section.name for section in sections if section.from_bar <= bar <= section.to_bar), "")
    return f" (section {name})" if name else ""


def _with_article(what: str) -> str:
    if what.startswith("fill"):
        return f"a {what}"
    return f"the {what}" if what.startswith(("drums ", "kick ", "snare ", "hat ", "ride ")) else what
