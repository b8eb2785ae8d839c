"""Charts written by counting, and charts drawn at random."""

import random
from collections.abc import Mapping, Sequence
from fractions import Fraction

from hypothesis import strategies as st

from fourlimb.model import Chart, Grid, Kit, Landmark, Section, Sheet, Song, Stroke
from fourlimb.model.count import read_line
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length
from fourlimb.teach import plan
from fourlimb.teach.content import Content, Mark, from_places

GROOVE = "hat every 8th; snare 2 4; kick 1 2& 3"
RIDE = GROOVE.replace("hat", "ride")
FILL = "hat 1 1& 2 2&; snare 2 3 3e 3& 3a; high tom 4 4e; floor tom 4& 4a; kick 1 2&"

PIECES = ("kick", "snare", "rim", "hat_closed", "hat_open", "tom_high", "tom_floor", "crash", "ride")
METERS = ("4/4", "3/4", "6/8", "7/8", "5/4")


HOW: dict[str, dict[str, object]] = {
    "ghost": {"ghost": True},
    "accent": {"accent": True},
    "second": {"second": True},
    "roll": {"roll": 32},
    "roll16": {"roll": 16},
    "tied": {"tied": True},
    "choked": {"struck": "choke"},
    "ringing": {"struck": "let_ring"},
    "buzz": {"struck": "buzz"},
    "long-ruff": {"grace": "long_ruff"},
}
"""Words before a piece: how it is struck; "for:1/2" says how long a roll lasts."""


def strokes(bar: int, text: str, meter: str = "4/4") -> list[Stroke]:
    """Reads "hat every 8th; ghost snare 1a; accent crash 1" as the strokes of one bar."""
    out = []
    for line in (part.strip() for part in text.split(";") if part.strip()):
        marks: dict[str, object] = {}
        while (how := line.partition(" ")[0]) in HOW or how.startswith("for:"):
            marks |= HOW.get(how) or {"lasts": Fraction(how.removeprefix("for:"))}
            line = line.partition(" ")[2]
        piece, places = read_line(meter, line)
        out += [Stroke(bar=bar, position=at, piece=piece, limb="right hand", **marks) for at in places]
    return out


def song(bars: Mapping[int, str] | Sequence[str], meters: Sequence[str] | None = None) -> tuple[Chart, Grid]:
    """A chart and its steady grid at 100; bars given as a list count from 1."""
    texts = dict(bars) if isinstance(bars, Mapping) else dict(enumerate(bars, start=1))
    meters = meters or ["4/4"] * len(texts)
    written = [s for (bar, text), meter in zip(texts.items(), meters, strict=True) for s in strokes(bar, text, meter)]
    return chart(written), regular(meters, 100.0, first_bar=min(texts, default=1))


def chart(written: Sequence[Stroke]) -> Chart:
    return Chart(strokes=tuple(sorted(written, key=lambda s: s.sort_key)), bars=(), grade=1.0)


def sheet(
    given: Chart,
    grid: Grid,
    sections: Sequence[Section] = (),
    landmarks: Sequence[Landmark] = (),
    title: str = "Night Ferry",
) -> Sheet:
    return Sheet(
        song=Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="0" * 64, title=title),
        level="full",
        chart=given,
        grid=grid,
        kit=Kit(),
        plan=plan(given, grid, Kit()),
        sections=tuple(sections),
        landmarks=tuple(landmarks),
    )


MARKS = st.builds(
    Mark,
    accent=st.booleans(),
    ghost=st.booleans(),
    grace=st.sampled_from([None, None, "flam", "drag"]),
    struck=st.sampled_from([None, None, None, "rimshot", "buzz"]),
    second=st.booleans(),
    roll=st.sampled_from([0, 0, 16, 32]),
    lasts=st.sampled_from([Fraction(0), Fraction(1, 4), Fraction(5, 16)]),
    tied=st.booleans(),
)


@st.composite
def contents(draw: st.DrawFn, meter: str | None = None) -> Content:
    """A bar with up to twelve strokes on 16ths and triplets, often plain."""
    kind = meter or draw(st.sampled_from(METERS))
    step = draw(st.sampled_from([Fraction(1, 16), Fraction(1, 8), Fraction(1, 24)]))
    places = st.integers(0, int(bar_length(kind) / step) - 1).map(lambda n: n * step)
    notes = draw(
        st.dictionaries(st.tuples(places, st.sampled_from(PIECES)), st.one_of(st.just(Mark()), MARKS), max_size=12)
    )
    return from_places(kind, notes)


def content_strokes(bar: int, content: Content) -> list[Stroke]:
    return [
        Stroke(bar=bar, position=at, piece=piece, limb="right hand", **mark._asdict())
        for at, piece, mark in content.notes
    ]


@st.composite
def songs(draw: st.DrawFn) -> tuple[Chart, Grid]:
    """Up to 24 bars from a handful of figures in one or two meters, silences among them."""
    pool = draw(st.lists(contents(), min_size=1, max_size=5))
    rng = random.Random(draw(st.integers(0, 10_000)))
    picked = [rng.choice(pool) for _ in range(draw(st.integers(1, 24)))]
    written = [s for bar, content in enumerate(picked, start=1) for s in content_strokes(bar, content)]
    return chart(written), regular([content.meter for content in picked], 100.0)
