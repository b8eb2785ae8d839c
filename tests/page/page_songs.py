"""Small songs for the tests of this room, written by hand, and a stand-in for the engraver."""

from collections.abc import Sequence
from fractions import Fraction as F

from fourlimb import teach
from fourlimb.model import (
    Chart,
    ChartBar,
    FeelSpan,
    Grid,
    Kit,
    Landmark,
    Level,
    Limb,
    Section,
    Sheet,
    Song,
    Stroke,
)  # fmt: skip
from fourlimb.model.grid import from_tempi
from fourlimb.model.places import bar_length, beat_starts
from fourlimb.model.sounds import FOOT, Sound
from fourlimb.page.music import played
from fourlimb.page.pictures import Picture


def stroke(bar: int, place: str, piece: Sound, **more: object) -> Stroke:
    limb: Limb = "right foot" if piece == "kick" else "left foot" if piece in FOOT else "right hand"
    if piece == "snare":
        limb = "left hand"
    return Stroke(bar=bar, position=F(place), piece=piece, limb=limb, **more)


def groove(bar: int, hats: Sequence[str] = ("0", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8")) -> list[Stroke]:
    """Kick on 1 and 3, snare on 2 and 4, hats as said."""
    return [
        *(stroke(bar, place, "kick", velocity=100) for place in ("0", "1/2")),
        *(stroke(bar, place, "snare", velocity=104) for place in ("1/4", "3/4")),
        *(stroke(bar, place, "hat_closed", velocity=78) for place in hats),
    ]


def song(
    strokes: Sequence[Stroke],
    bars: Sequence[tuple[str, float]],
    *,
    first_bar: int = 1,
    level: Level = "full",
    title: str = "Night Ferry",
    feel: tuple[FeelSpan, ...] = (),
    sections: tuple[Section, ...] = (),
    landmarks: tuple[Landmark, ...] = (),
    credits: tuple[str, ...] = (),
    kit: Kit | None = None,
) -> Sheet:
    """A sheet of bars given as (meter, quarter notes a minute)."""
    made = from_tempi(bars, start_s=0.5, first_bar=first_bar)
    grid = Grid(beats=made.beats, bars=made.bars, feel=feel, end_s=made.end_s)
    chart = Chart(strokes=tuple(strokes), bars=(), grade=1.0)
    plan = teach.plan(chart, grid, kit or Kit())
    names = {bar: figure.name for figure in plan.figures for bar in figure.bars}
    said = tuple(
        ChartBar(bar=n, figure=names.get(n, ""), difficulty=1.0, count=plan.counts.get(n, "")) for n in grid.numbers
    )
    return Sheet(
        song=Song(duration_s=made.end_s, sample_rate_hz=44100, sha256="ab" * 32, title=title, credits=credits),
        level=level,
        chart=Chart(strokes=tuple(strokes), bars=said, grade=1.0),
        grid=grid,
        kit=kit or Kit(),
        plan=plan,
        sections=sections,
        landmarks=landmarks,
    )


def ferry(level: Level = "full", *, title: str = "Night Ferry", sections: tuple[Section, ...] | None = None) -> Sheet:
    """Eight bars with a pickup, a fill with a flam and an open hat, and a silent bar."""
    hats = ("0", "1/4", "1/2", "3/4") if level == "bones" else ("0", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8")
    strokes = [stroke(0, "0", "snare"), stroke(0, "1/8", "tom_floor")]
    for bar in (1, 2, 3, 5, 6, 7):
        strokes += groove(bar, hats)
    strokes += [stroke(4, "0", "kick"), stroke(4, "1/4", "snare", grace="flam"), stroke(4, "7/8", "hat_open")]
    strokes += [stroke(5, "1/16", "kick")]
    return song(
        strokes,
        [("1/4", 120.0)] + [("4/4", 120.0)] * 8,
        first_bar=0,
        level=level,
        title=title,
        sections=sections
        if sections is not None
        else (
            Section(name="harbour", from_bar=1, to_bar=4),
            Section(name="open sea", from_bar=5, to_bar=8),
        ),
        landmarks=(Landmark(bar=8, what="drums stop"),),
        credits=("Written by the crew",),
    )


def sketch(sheet: Sheet) -> Picture:
    """A stand-in for the engraver: four bars a line, one straight stroke of ink for each."""
    boxes = []
    for place, bar in enumerate(sheet.grid.bars):
        length = float(4 * bar_length(bar.meter))
        marks = []
        for at in beat_starts(bar.meter):
            quarter = played(sheet.grid, bar.bar, at)
            marks.append([quarter, 0.25 * (place % 4) + 0.01 + 0.23 * quarter / length])
        boxes.append({"line": place // 4, "x": 0.25 * (place % 4), "width": 0.25, "marks": marks})
    count = -(-len(boxes) // 4)
    lines = "".join(
        f'<g id="line-{n}"><path d="M0 {200 * n} h1000" stroke="currentColor"/></g>' for n in range(count)
    )
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="0" height="0">{lines}</svg>'
    return Picture(svg=svg, unit=1000.0, lines=[[0.2 * n, 0.2 * n + 0.06] for n in range(count)], boxes=boxes)


def silent_kit(sounds: set[str], *, mirrored: bool = False) -> dict[str, object]:
    """A stand-in for the drums: no sound files."""
    return {"sounds": {sound: {} for sound in sorted(sounds)}, "mirrored": mirrored}
