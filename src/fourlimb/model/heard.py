"""What `listen` hands on: the song's facts, its grid, what was heard, its form, and what is in doubt.

This is the JSON of `fourlimb listen` (schema "fourlimb/listen/1"). Unknown fields of a newer version are kept
in `extra` at every level and written back where they stood (see `codec`).
"""

from fractions import Fraction
from typing import Literal

import msgspec

from .grid import Grid
from .sounds import Sound

LISTEN_SCHEMA = "fourlimb/listen/1"

Layer = Literal["kit", "programmed", "hand percussion", "second snare", "stacked kick"]
SourceKind = Literal["audio", "midi", "musicxml"]
Author = Literal["arranger", "teacher"]

Grace = Literal["flam", "drag", "ruff", "long_ruff"]
"""One to four small notes before the main one (a ruff is the four-stroke, a long ruff the five-stroke)."""

Struck = Literal["rimshot", "buzz", "choke", "half_open", "foot_splash", "let_ring"]
"""Ways of striking that are a property of a stroke, not a piece of their own."""


Stress = Literal["ghost", "accent", "plain"]
"""How hard a stroke is meant to be struck, whatever was measured."""


class Song(msgspec.Struct, frozen=True, kw_only=True):
    """Facts of the recording (or MIDI, or MusicXML part). `sha256` is of the file's bytes, lower-case hex.

    `sample_rate_hz` is 0 when nothing was recorded. `credits` are lines for the chart (writers, recording).
    """

    duration_s: float
    sample_rate_hz: int
    sha256: str
    title: str = ""
    kind: SourceKind = "audio"
    credits: tuple[str, ...] = ()
    extra: dict[str, object] = {}


class Roll(msgspec.Struct, frozen=True, kw_only=True):
    """A roll that a file writes: in notes of 1/`notes` (0: a buzz), kept up for `lasts` whole notes (0: one note).

    `tied`: it goes on from the bar before and is not struck anew.
    """

    notes: int = 0
    lasts: Fraction = msgspec.field(default_factory=Fraction)
    tied: bool = False
    extra: dict[str, object] = {}


class Hit(msgspec.Struct, frozen=True, kw_only=True):
    """Something heard. `bar` and `position` are where it was placed (None: could not be placed).

    `loudness_db` is relative to the song's loudest kit stroke (0 and below); `confidence` 0 to 1;
    `layer` marks sounds that are not one drummer's (None or "kit": part of the kit); `grace` a flam or drag heard
    as one; `struck` how, where that is known; `stress` how hard, where the teacher says so or a score writes it;
    `roll` where a file writes one; `second`: on the second of its kind (the other crash); `late_ms` played place
    against written place;
    `by` says who put it there.
    """

    id: int
    time_s: float
    sound: Sound
    loudness_db: float
    confidence: float
    bar: int | None = None
    position: Fraction | None = None
    layer: Layer | None = None
    grace: Grace | None = None
    struck: Struck | None = None
    stress: Stress | None = None
    roll: Roll | None = None
    second: bool = False
    late_ms: float | None = None
    by: Literal["ears", "file", "teacher"] = "ears"
    extra: dict[str, object] = {}


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """Bars that belong together. `like` names an earlier section with the same music; `tacet`: no drums."""

    name: str
    from_bar: int
    to_bar: int
    like: str | None = None
    tacet: bool = False
    extra: dict[str, object] = {}


class Landmark(msgspec.Struct, frozen=True, kw_only=True):
    """A bar anyone can recognise by ear, and what is heard there ("drums stop")."""

    bar: int
    what: str
    extra: dict[str, object] = {}


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """A bar worth checking first, and why, in one sentence. `share` 0 to 1: expected share of wrong strokes."""

    bar: int
    share: float
    why: str
    extra: dict[str, object] = {}


class Possible(msgspec.Struct, frozen=True, kw_only=True):
    """What may be a stroke but was not sure enough to be one: a `Hit` that was not written."""

    time_s: float
    sound: Sound
    loudness_db: float
    confidence: float
    extra: dict[str, object] = {}


class Listening(msgspec.Struct, frozen=True, kw_only=True):
    """Everything heard in one song. `notes` are sentences for the teacher ("no drums were found ...").

    `colours`: how hits sounded, by id, for finding strokes that sound alike (see `listen.colour`).
    `possible`: what bars put right by the teacher may turn into strokes elsewhere (see `listen.taught`).
    """

    song: Song
    grid: Grid
    hits: tuple[Hit, ...]
    sections: tuple[Section, ...] = ()
    landmarks: tuple[Landmark, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    notes: tuple[str, ...] = ()
    colours: tuple[tuple[int, str], ...] = ()
    possible: tuple[Possible, ...] = ()
    schema: str = LISTEN_SCHEMA
    extra: dict[str, object] = {}
