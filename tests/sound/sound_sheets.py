"""Small sheets for the tests of this room."""

from collections.abc import Sequence
from fractions import Fraction as F

from fourlimb.model import Chart, FeelSpan, Grid, Kit, Limb, Plan, Sheet, Song, Stroke
from fourlimb.model.grid import regular
from fourlimb.model.kit import Handed
from fourlimb.model.sounds import FOOT, Sound

NO_PLAN = Plan(figures=(), differences=(), running_order=(), counts={})


def stroke(bar: int, place: str, piece: Sound, **more: object) -> Stroke:
    limb: Limb = "right foot" if piece in FOOT else "right hand"
    return Stroke(bar=bar, position=F(place), piece=piece, limb=limb, **more)


def sheet(
    strokes: Sequence[Stroke],
    *,
    bars: int = 2,
    tempo: float = 120.0,
    meter: str = "4/4",
    first_bar: int = 1,
    feel: tuple[FeelSpan, ...] = (),
    handed: Handed = "right",
    grid: Grid | None = None,
) -> Sheet:
    made = grid or regular([meter] * bars, tempo, start_s=0.7, first_bar=first_bar)
    made = Grid(beats=made.beats, bars=made.bars, feel=feel, end_s=made.end_s)
    return Sheet(
        song=Song(duration_s=made.end_s, sample_rate_hz=44100, sha256="0" * 64),
        level="full",
        chart=Chart(strokes=tuple(strokes), bars=(), grade=1.0),
        grid=made,
        kit=Kit(handed=handed),
        plan=NO_PLAN,
    )


GROOVE = [
    *[stroke(bar, place, "kick", velocity=105) for bar in (1, 2) for place in ("0", "1/2")],
    *[stroke(bar, place, "snare", velocity=108) for bar in (1, 2) for place in ("1/4", "3/4")],
    *[stroke(bar, f"{n}/8", "hat_closed", velocity=80) for bar in (1, 2) for n in range(8)],
]
