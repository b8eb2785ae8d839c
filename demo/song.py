"""Night Ferry, the song: form, chords, drum part, tune.

Data only; everything here was made for fourlimb.

A band's song about the last boat of the night, in D minor at 132 beats a minute. What makes it worth teaching from,
and hard to hear: see `PARTS`. Drums are written as a drummer counts them.
"""

from dataclasses import dataclass, field

from fourlimb.model import FeelName

TITLE = "Night Ferry"
TEMPO_BPM = 132.0
START_S = 0.35
PICKUP_METER = "2/4"
METER = "4/4"


@dataclass(frozen=True)
class Part:
    """A section: its bars' drum figures by name, its chords (one a bar)."""

    name: str
    from_bar: int
    figures: tuple[str, ...]
    chords: tuple[str, ...]
    feel: FeelName = "straight"
    like: str | None = None
    landmarks: tuple[tuple[int, str], ...] = field(default=())

    @property
    def to_bar(self) -> int:
        """Last bar."""
        return self.from_bar + len(self.figures) - 1


FIGURES: dict[str, str] = {
    "pickup": "snare 1 1& 2; high tom 2&; floor tom 2a",
    "intro": "kick 1 2& 3; snare 2 4; hat every 8th",
    "intro turn": "kick 1 2& 3 4&; snare 2 4; hat 1 1& 2 2& 3 3& 4; open hat 4&",
    "verse a": "kick 1 2& 3&; snare 2 4; ghost 2a 3e; hat every 8th",
    "verse b": "kick 1 2& 3& 4&; snare 2 4; ghost 2a 3e; hat every 8th",
    "verse b moved": "kick 1 2& 3& 4a; snare 2 4; ghost 2a 3e; hat every 8th",
    "verse turn": "kick 1 2& 3; snare 2 4 4a; hat 1 1& 2 2& 3 3& 4; open hat 4&",
    "quay": "kick 1 3; cross-stick 2 4; hat every 8th; shaker every 16th",
    "quay turn": "kick 1 3 3&; cross-stick 2 4; hat every 8th; shaker every 16th; open hat 2&",
    "chorus": "kick 1 1& 3 4&; snare 2 4; clap 2 4; ride every 8th; low 1 3",
    "chorus lift": "kick 1 2& 3 3&; snare 2 4; clap 2 4; ride every 8th; low 1 3",
    "chorus flam": "kick 1 1& 3; snare 2; flam 4; clap 2 4; ride every 8th; low 1 3",
    "triplet fill": "kick 1 1& 3 4; snare 2 3 3trip 3let; ride 1 1& 2; clap 2; "
    "high tom 4; mid tom 4trip; floor tom 4let; low 1",
    "silence": "",
    "half": "kick 1 2&; snare 3; ghost 2a 4e; ride every beat; foot hat 2 4",
    "half b": "kick 1 1a 4&; snare 3; ghost 2e 3a; ride every beat; foot hat 2 4",
    "half turn": "kick 1 2&; snare 3; ride 1 2; bell 3; high tom 3&; mid tom 4; floor tom 4&; foot hat 2 4",
    "kick alone": "kick every beat",
    "kick run": "kick 1 2 3 3& 4 4&",
    "double": "kick every beat; snare 1& 2& 3& 4&; hat every 8th",
    "double open": "kick every beat; snare 1& 2& 3& 4&; hat 1 1& 2 2& 3 3& 4; open hat 4&",
    "double roll": "kick every beat; snare 1& 2& 3 3e 3& 3a 4 4e; hat 1 1& 2 2&; high tom 4&; floor tom 4a",
    "out": "kick 1 1& 3 4&; snare 2 4; clap 2 4; open hat every beat; tambourine every 8th; low 1 3",
    "last": "kick 1; snare 1",
}
"""One bar each. "ghost" is a quiet snare, "flam" a snare with one; "low" is a programmed low drum under the kick."""

CRASHES = (1, 5, 17, 21, 27, 33, 37, 41, 42, 43, 44)
"""Bars that start with a crash in place of the time-keeping hand."""

PARTS: tuple[Part, ...] = (
    Part("intro", 1, ("intro", "intro", "intro", "intro turn"), ("Dm", "Bb", "F", "C")),
    Part(
        "verse",
        5,
        ("verse a", "verse b", "verse a", "verse turn", "quay", "quay", "quay", "quay turn",
         "verse a", "verse b moved", "verse a", "verse turn"),
        ("Dm", "Bb", "F", "C", "Dm", "Bb", "Gm", "A", "Dm", "Bb", "F", "C"),
    ),  # bars 9 to 12 of the verse are its bars 1 to 4 with one kick moved
    Part(
        "chorus",
        17,
        ("chorus", "chorus lift", "chorus", "chorus flam", "chorus", "chorus lift", "chorus", "triplet fill"),
        ("Bb", "F", "C", "Dm", "Bb", "F", "Gm", "A"),
        landmarks=((24, "a fill in triplets round the toms"),),
    ),
    Part("horn", 25, ("silence", "silence"), ("Dm", "Dm"), landmarks=((25, "drums stop"),)),
    Part(
        "open water",
        27,
        ("half", "half b", "half", "half turn"),
        ("Dm", "C", "Bb", "A"),
        feel="half-time",
        landmarks=((27, "half-time begins"),),
    ),
    Part("engine", 31, ("kick alone", "kick run"), ("Dm", "Dm"), landmarks=((31, "kick alone"),)),
    Part(
        "race",
        33,
        ("double", "double", "double", "double open", "double", "double", "double", "double roll"),
        ("Dm", "Dm", "Bb", "Bb", "F", "F", "C", "C"),
        feel="double-time",
        landmarks=((33, "double-time begins"),),
    ),
    Part(
        "last chorus",
        41,
        ("out", "out", "out", "last"),
        ("Bb", "F", "C", "Dm"),
        like="chorus",
        landmarks=((44, "last hit"),),
    ),
)  # fmt: skip

CHORDS: dict[str, tuple[int, ...]] = {
    "Dm": (50, 57, 62, 65, 69),
    "Bb": (46, 58, 62, 65, 70),
    "F": (41, 57, 60, 65, 69),
    "C": (48, 55, 60, 64, 67),
    "Gm": (43, 58, 62, 67, 70),
    "A": (45, 57, 61, 64, 69),
}
"""Bass note (two octaves above the bass) and voicing, as MIDI keys."""

TUNE: tuple[tuple[int, str], ...] = (
    # bar, then place/length in beats/key, as counted
    (5, "1& .5 69, 2 .5 69, 2& .5 67, 3 1 65, 4 1 62"),
    (6, "1& .5 65, 2 .5 65, 2& .5 67, 3 2 65"),
    (7, "1& .5 69, 2 .5 69, 2& .5 72, 3 1 69, 4 1 65"),
    (8, "1 1 67, 2 2 64"),
    (9, "1& .5 69, 2 .5 69, 2& .5 67, 3 1 65, 4 1 62"),
    (10, "1& .5 65, 2 .5 67, 2& .5 69, 3 2 70"),
    (11, "1 .5 70, 1& .5 69, 2 1 67, 3 .5 67, 3& .5 65, 4 1 62"),
    (12, "1 3 64"),
    (13, "1& .5 69, 2 .5 69, 2& .5 67, 3 1 65, 4 1 62"),
    (14, "1& .5 65, 2 .5 65, 2& .5 67, 3 2 65"),
    (15, "1& .5 69, 2 .5 69, 2& .5 72, 3 1 74, 4 1 72"),
    (16, "1 1 72, 2 2 67"),
    (17, "1 1.5 74, 2& .5 72, 3 1 70, 4 .5 70, 4& .5 72"),
    (18, "1 2 69, 3 .5 65, 3& .5 67, 4 1 69"),
    (19, "1 1.5 72, 2& .5 70, 3 1 67, 4 1 64"),
    (20, "1 3 65"),
    (21, "1 1.5 74, 2& .5 72, 3 1 70, 4 .5 70, 4& .5 72"),
    (22, "1 2 69, 3 .5 69, 3& .5 70, 4 1 72"),
    (23, "1 1 70, 2 1 69, 3 1 67, 4 1 65"),
    (24, "1 3 64"),
    (27, "1 3 74, 4 1 72"),
    (28, "1 3 72, 4 1 67"),
    (29, "1 2 70, 3 1 69, 4 1 67"),
    (30, "1 3.5 69"),
    (33, "1 1 62, 2 1 65, 3 1.5 69, 4& .5 67"),
    (34, "1 3 65"),
    (35, "1 1 62, 2 1 65, 3 1.5 70, 4& .5 69"),
    (36, "1 3 65"),
    (37, "1 1 65, 2 1 69, 3 1.5 72, 4& .5 70"),
    (38, "1 3 69"),
    (39, "1 1 67, 2 1 72, 3 1.5 76, 4& .5 74"),
    (40, "1 3 72"),
    (41, "1 1.5 74, 2& .5 72, 3 1 70, 4 .5 70, 4& .5 72"),
    (42, "1 2 69, 3 .5 69, 3& .5 70, 4 1 72"),
    (43, "1 1 72, 2 1 70, 3 1 67, 4 1 64"),
    (44, "1 4 62"),
)
