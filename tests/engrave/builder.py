"""Hand-made sheets for the tests: bars written as the count, one grammar for all tests."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from fourlimb.model import (
    Chart,
    ChartBar,
    FeelSpan,
    Kit,
    Landmark,
    Plan,
    Section,
    Sheet,
    Song,
    Sound,
    Stroke,
)
from fourlimb.model.count import read_line
from fourlimb.model.grid import Grid, from_tempi
from fourlimb.model.sounds import FOOT


def strokes_of(bar: int, meter: str, text: str, **how: Any) -> list[Stroke]:
    """Strokes of one bar from "kick 1 3; snare 2 4"; a word in brackets after a piece says how: "snare [ghost]
    2a"."""
    found = []
    for part in filter(None, (p.strip() for p in text.split(";"))):
        marks: dict[str, Any] = dict(how)
        while "[" in part:
            before, _, rest = part.partition("[")
            mark, _, after = rest.partition("]")
            marks |= _mark(mark.strip())
            part = f"{before.strip()} {after.strip()}"
        piece, places = read_line(meter, part)
        for place in places:
            found.append(stroke(bar, place, piece, **marks))
    return found


def _mark(word: str) -> dict[str, Any]:
    if word in ("accent", "ghost"):
        return {word: True}
    if word in ("flam", "drag", "ruff", "long ruff"):
        return {"grace": word.replace(" ", "_")}
    if word == "second":
        return {"second": True}
    if word.startswith("roll "):
        return {"roll": int(word.removeprefix("roll "))}
    if word.startswith("lasts "):
        return {"lasts": Fraction(word.removeprefix("lasts "))}
    if word == "tied":
        return {"tied": True}
    if word in ("R", "L"):
        return {"letter": word}
    return {"struck": word.replace(" ", "_")}


def stroke(bar: int, position: Fraction, piece: Sound, **how: Any) -> Stroke:
    limb = "right foot" if piece == "kick" else "left foot" if piece in FOOT else "right hand"
    if how.get("letter") == "L":
        limb = "left hand"
    return Stroke(bar=bar, position=position, piece=piece, limb=limb, **how)


def sheet(
    bars: Sequence[str],
    *,
    meters: str | Sequence[str] = "4/4",
    tempo: float | Sequence[float] = 112.0,
    title: str = "Night Ferry",
    sections: Sequence[tuple[str, int, int]] = (),
    tacet: Sequence[str] = (),
    landmarks: Mapping[int, str] | None = None,
    feel: Sequence[FeelSpan] = (),
    kit: Kit | None = None,
    counts: Mapping[int, str] | None = None,
    doubts: Sequence[int] = (),
    first_bar: int = 1,
    extra_strokes: Sequence[Stroke] = (),
    credits: Sequence[str] = (),
) -> Sheet:
    """A sheet whose bar n is written by bars[n - first_bar]."""
    all_meters = [meters] * len(bars) if isinstance(meters, str) else list(meters)
    tempi = [float(tempo)] * len(bars) if isinstance(tempo, int | float) else list(tempo)
    grid = from_tempi(list(zip(all_meters, tempi, strict=True)), first_bar=first_bar)
    grid = Grid(beats=grid.beats, bars=grid.bars, end_s=grid.end_s, feel=tuple(feel))
    strokes: list[Stroke] = list(extra_strokes)
    for number, (text, meter) in enumerate(zip(bars, all_meters, strict=True), start=first_bar):
        strokes += strokes_of(number, meter, text)
    strokes.sort(key=lambda s: s.sort_key)
    chart = Chart(
        strokes=tuple(strokes),
        bars=tuple(
            ChartBar(bar=n, figure="A", difficulty=1.5, count=(counts or {}).get(n, "")) for n in grid.numbers
        ),
        grade=2.0,
    )
    return Sheet(
        song=Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="0" * 64, title=title, credits=tuple(credits)),
        level="full",
        chart=chart,
        grid=grid,
        kit=kit or Kit(),
        plan=Plan(figures=(), differences=(), running_order=(), counts=dict(counts or {})),
        sections=tuple(Section(name=n, from_bar=a, to_bar=b, tacet=n in tacet) for n, a, b in sections),
        landmarks=tuple(Landmark(bar=b, what=w) for b, w in (landmarks or {}).items()),
        doubts=tuple(doubts),
    )


GROOVE = "hat every 8th; kick 1 1a 3 3&; snare [accent] 2 4"
FILL = (
    "snare [accent] 1 1a; snare [ghost] 1e 1&; high tom 2 2e; mid tom 2& 2a; floor tom 3 3e; snare 3& 3a; "
    "crash 4; kick 1 2 3 4"
)


def night_ferry() -> Sheet:
    """A song with what makes charts hard: pickup, repeats, a fill, a tacet, triplets, a feel change, graces."""
    g, f = GROOVE, FILL
    g2 = "hat every 8th; kick 1 2& 3; snare [accent] 2 4"
    opened = "hat 1 1& 2 2& 3 3& 4; open hat 4&; kick 1 1a 3 3&; snare [accent] 2 4"
    crashed = "crash [accent] 1; hat 1& 2 2& 3 3& 4 4&; kick 1 1a 3 3&; snare [accent] 2 4"
    trip = "snare 1 1trip 1let; high tom 2 2trip 2let; snare [flam] 3; snare [buzz] 4; foot hat 1 2 3 4; kick 1"
    half = "ride every 8th; kick 1 2&; snare [accent] 3; foot hat 2 4"
    sixteen = "hat every 16th; kick 1 2a 3; snare 2 4"
    bars = [
        "snare 4 4&",
        crashed, g, g, opened, crashed, g, g, f,
        g2, g2, g2, g2, g2, g2, g2, g2,
        "", "", "", "", "", "", "", "",
        "kick 1 2 3 4", "kick 1 2 3 4", "kick 1 2 3 4", "kick 1 2 3; snare [drag] 4",
        half, half, half, trip,
        sixteen, sixteen, "cowbell every beat; kick 1 3; snare 2 4; rim 2a",
        "china 1; splash 2; ride bell 3 3&; kick 1 2 3; snare [rimshot] 4",
        "crash [choke] 1; kick 1",
    ]  # fmt: skip
    count = "1 e & a 2 e & a 3 e & a 4"
    return sheet(
        bars,
        first_bar=0,
        tempo=152.0,
        sections=[
            ("Intro", 1, 8), ("A verse", 9, 16), ("B guitar alone", 17, 24), ("C break", 25, 28), ("D half", 29, 32),
            ("E out", 33, 37),
        ],
        tacet=["B guitar alone"],
        landmarks={25: "kick alone", 17: "drums stop"},
        feel=[FeelSpan(from_bar=29, to_bar=32, feel="half-time")],
        counts={8: count},
        doubts=[8, 32],
        credits=("Words and music: the house band",),
    )  # fmt: skip
