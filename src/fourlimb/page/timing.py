"""The timing of a take as a picture: each stroke over its bar, early above the line and late below."""

from typing import Final

from fourlimb.model import Grid, MarkedStroke, Marking
from fourlimb.model.sounds import FOOT, SAY

WIDE: Final = 1000.0
HIGH: Final = 220.0
LEFT: Final = 64.0
FOOT_ROOM: Final = 26.0
"""The picture in its own units; room for words at the left and bar numbers at the foot."""

MOST_MS: Final = 100.0
"""Strokes further off stand at the edge."""

UNHEARD_MS: Final = 20.0
"""The band that nobody hears (as `mark` scores it)."""

NUMBERS_MOST: Final = 24
"""Bar numbers written under the picture at most."""


def timing(grid: Grid, marking: Marking) -> str:
    """SVG text; "" when nothing was played in time. Kick: full square; snare: full circle; others: small rings."""
    played = [s for s in marking.strokes if s.late_ms is not None and s.verdict != "extra"]
    bars = [bar.bar for bar in marking.bars]
    if not played or not bars:
        return ""
    step = (WIDE - LEFT) / len(bars)
    column = {bar: LEFT + step * n for n, bar in enumerate(bars)}
    dots = "".join(_dot(s, column[s.bar] + step * float(s.position / grid.length(s.bar))) for s in played)
    every = max(1, -(-len(bars) // NUMBERS_MOST))
    lines = "".join(f'<path class="line" d="M{column[bar]:.1f} 0 V{_y(MOST_MS) + 8:.1f}"/>' for bar in bars)
    numbers = "".join(
        f'<text x="{column[bar] + step / 2:.1f}" y="{HIGH - 6:.0f}">{bar}</text>'
        for n, bar in enumerate(bars)
        if n % every == 0 and bar > 0  # a pickup is no bar and has no number
    )
    top, foot = _y(-UNHEARD_MS), _y(UNHEARD_MS)
    return (
        f'<svg class="timing" viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img" aria-label="{_told(played)}">'
        f'<rect class="band" x="{LEFT:.0f}" y="{top:.1f}" width="{WIDE - LEFT:.0f}" height="{foot - top:.1f}"/>'
        f'{lines}<path class="zero" d="M{LEFT:.0f} {_y(0):.1f} H{WIDE:.0f}"/>'
        f'<g class="words"><text class="side" x="0" y="{_y(-70):.1f}">early</text>'
        f'<text class="side" x="0" y="{_y(0) + 6:.1f}">in time</text>'
        f'<text class="side" x="0" y="{_y(70) + 6:.1f}">late</text>{numbers}</g><g class="dots">{dots}</g></svg>'
    )


def _y(late_ms: float) -> float:
    middle = (HIGH - FOOT_ROOM) / 2
    return middle + middle * min(max(late_ms / MOST_MS, -1.0), 1.0) * 0.94


def _dot(stroke: MarkedStroke, x: float) -> str:
    y = _y(stroke.late_ms or 0.0)
    if stroke.piece in FOOT:
        return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8"/>'
    if stroke.piece in ("snare", "rim"):
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
    return f'<circle class="hand" cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>'


def _told(played: list[MarkedStroke]) -> str:
    """The picture in a sentence, for those who hear the page."""
    near = sum(1 for s in played if abs(s.late_ms or 0.0) <= UNHEARD_MS)
    far = max(played, key=lambda s: abs(s.late_ms or 0.0))
    where = f"bar {far.bar}" if far.bar else "the pickup"
    side = "early" if (far.late_ms or 0.0) < 0 else "late"
    return (
        f"{near} of {len(played)} strokes within {UNHEARD_MS:.0f} milliseconds of steady time; "
        f"furthest off: {SAY[far.piece]} in {where}, {abs(far.late_ms or 0.0):.0f} milliseconds {side}"
    )
