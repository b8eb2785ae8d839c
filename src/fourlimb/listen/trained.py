"""The trained ears: the network heard at two speeds, and a second look with the song as teacher.

In: decoded sound. Out: `Heard`. `NetworkEars().hear(audio, silent)` is all a caller needs.

Method: pictures of the sound (`features`), the network over fixed windows of the song (`network`) at two speeds
(`speeds`), its beats (`bars`), every peak judged again by what the rest of the song does at the same place
(`song_sounds`), one stroke of each family at a time. Loudness is the network's own estimate of a stroke's peak,
against the song's loudest. The same recording gives the same answer in blocks of any size, and 30 dB softer.
"""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, Hit, Progress, Recording, Sound
from fourlimb.model.sounds import PERCUSSION

from .bars import find_grid
from .bells import as_rides, bells_are_rides
from .colour import colours
from .ears import Heard, HeardStroke
from .echoes import echoes
from .evidence import from_heard
from .features import FRAMES_PER_S
from .feet import footed, washes
from .habits import Pulse
from .network import Answer, Network, shipped
from .song_sounds import Candidates, Judge, shipped_judge
from .speeds import STAGE, hear_twice

FIRST_PASS = 0.5
"""Curve height above which a stroke counts while beats are first looked for."""

ONE_AT_A_TIME: tuple[frozenset[Sound], ...] = (
    frozenset({"hat_closed", "hat_open", "hat_pedal"}),
    frozenset({"ride", "ride_bell"}),
    frozenset({"crash", "china", "splash"}),
    frozenset({"snare", "rim"}),
)
"""Of these the surer one is kept when two are heard within `SAME_MOMENT_S`."""

SAME_MOMENT_S = 0.03
POSSIBLE = 0.05
"""What is at least this likely to be a stroke is kept for `taught` (ours: less likely ones are never put right)."""

BESIDE_THE_KIT = tuple(k for k, sound in enumerate(SOUNDS) if sound in PERCUSSION)
FAMILY = {sound: n for n, family in enumerate(ONE_AT_A_TIME) for sound in family}


@dataclass(frozen=True)
class NetworkEars:
    """A detector (see `ears.Ears`) with the network that ships; another network or judge may be given."""

    network: Network = field(default_factory=shipped)
    judge: Judge = field(default_factory=shipped_judge)

    @property
    def name(self) -> str:
        """What listened, for the lesson."""
        return self.network.name

    def hear(self, audio: Recording, progress: Progress) -> Heard:
        """Everything heard in `audio`; the same audio always gives the same answer."""
        answer = self.curves(audio, progress)
        progress(STAGE, 0.85)
        strokes, possible = self.decided(answer, self.pulse(answer, audio))
        progress(STAGE, 0.9)
        marks = colours(answer.shades, answer.hits, [s.time_s for s in strokes])
        heard = _heard(answer, tuple(s._replace(colour=c) for s, c in zip(strokes, marks, strict=True)))
        return replace(heard, possible=possible)

    def curves(self, audio: Recording, progress: Progress) -> Answer:
        """The network's curves for a whole recording, before any decision."""
        return hear_twice(self.network, audio, progress)

    def pulse(self, answer: Answer, audio: Recording) -> Pulse:
        """Beats of the first pass, for the second; empty when there are none."""
        first = self.judge.candidates(answer.hits, answer.levels, NO_BEATS)
        strokes = self._kept(first, first.heights.astype(np.float64), first.heights >= FIRST_PASS)
        hits = tuple(
            Hit(id=n, time_s=s.time_s, sound=s.sound, loudness_db=s.loudness_db, confidence=s.confidence)
            for n, s in enumerate(strokes, start=1)
        )
        grid = find_grid(from_heard(_heard(answer, strokes), hits, audio.duration_s)) if len(hits) > 1 else None
        if grid is None:
            return NO_BEATS
        per_bar = round(len(grid.beats) / max(len({b.bar for b in grid.beats}), 1))
        return Pulse(np.array([b.time_s for b in grid.beats]), max(per_bar, 1))

    def strokes(self, answer: Answer, beats: Pulse) -> tuple[HeardStroke, ...]:
        """Decide, given beats."""
        return self.decided(answer, beats)[0]

    def decided(self, answer: Answer, beats: Pulse) -> tuple[tuple[HeardStroke, ...], tuple[HeardStroke, ...]]:
        """Strokes, and what may be strokes of the kit but was not sure enough, both in time order."""
        return self.among(self.judge.candidates(answer.hits, answer.levels, beats))

    def among(self, found: Candidates) -> tuple[tuple[HeardStroke, ...], tuple[HeardStroke, ...]]:
        """The same of candidates that are known."""
        likely, enough = self.judge.confidence(found), self.judge.margin(found) >= 0
        chosen = _chosen(found, likely, enough)
        doubtful = ~enough & (likely >= POSSIBLE) & ~np.isin(found.sounds, BESIDE_THE_KIT)
        others = _unexplained(found, _chosen(found, likely, doubtful), chosen)
        return self._told(found, likely, chosen, chosen), self._told(found, likely, others, chosen)

    def _kept(
        self, found: Candidates, likely: npt.NDArray[np.float64], enough: npt.NDArray[np.bool_]
    ) -> tuple[HeardStroke, ...]:
        chosen = _chosen(found, likely, enough)
        return self._told(found, likely, chosen, chosen)

    def _told(
        self, found: Candidates, likely: npt.NDArray[np.float64], told: list[int], song: list[int]
    ) -> tuple[HeardStroke, ...]:
        floor = self.network.level_floor_db
        level_db = floor * (1 - found.levels.astype(np.float64))
        top = float(level_db[song].max(initial=floor))
        sounds = found.sounds[told]
        if bells_are_rides(found.sounds[song]):
            sounds = as_rides(sounds)
        sounds = footed(sounds, found.times_s[told])
        return tuple(
            HeardStroke(float(found.times_s[i]), SOUNDS[k], float(level_db[i]) - top, float(likely[i]))
            for i, k in zip(told, sounds, strict=True)
        )


NO_BEATS = Pulse(np.zeros(0), 4)


def _chosen(found: Candidates, likely: npt.NDArray[np.float64], enough: npt.NDArray[np.bool_]) -> list[int]:
    """Those that are enough and have no likelier rival, in time order."""
    keep = np.flatnonzero(enough)
    order = keep[np.lexsort((found.sounds[keep], -likely[keep]))]
    chosen = np.array(_without_rivals(found, order.tolist()), np.int64)
    chosen = chosen[~echoes(found.sounds[chosen], found.times_s[chosen])]
    chosen = chosen[~washes(found.sounds[chosen], found.times_s[chosen], likely[chosen])]
    return sorted(chosen.tolist(), key=lambda i: (found.times_s[i], found.sounds[i]))


def _unexplained(found: Candidates, asked: list[int], strokes: list[int]) -> list[int]:
    """Those at whose moment no stroke of the same sound or family was heard."""
    times, moments = found.times_s[strokes], found.times_s[asked]
    low, high = (np.searchsorted(times, moments + off).tolist() for off in (-SAME_MOMENT_S, SAME_MOMENT_S))
    return [i for i, a, b in zip(asked, low, high, strict=True) if not _explained(found, i, strokes[a:b])]


def _explained(found: Candidates, i: int, near: list[int]) -> bool:
    mine = FAMILY.get(SOUNDS[found.sounds[i]])
    sounds = [found.sounds[j] for j in near]
    return any(k == found.sounds[i] or (mine is not None and FAMILY.get(SOUNDS[k]) == mine) for k in sounds)


def _without_rivals(found: Candidates, likeliest_first: list[int]) -> list[int]:
    """Drop what a likelier sound of the same family already explains."""
    kept: list[int] = []
    taken: dict[int, list[int]] = {}
    for i in likeliest_first:
        mine = FAMILY.get(SOUNDS[found.sounds[i]])
        moment = int(found.times_s[i] / SAME_MOMENT_S)
        near = [j for m in (moment - 1, moment, moment + 1) for j in taken.get(m, ())]
        if mine is not None and any(_rivals(found, i, j, mine) for j in near):
            continue
        kept.append(i)
        taken.setdefault(moment, []).append(i)
    return kept


def _rivals(found: Candidates, i: int, j: int, family: int) -> bool:
    other = SOUNDS[found.sounds[j]]
    same_moment = abs(found.times_s[i] - found.times_s[j]) < SAME_MOMENT_S
    return bool(same_moment and found.sounds[i] != found.sounds[j] and FAMILY.get(other) == family)


def _heard(answer: Answer, strokes: tuple[HeardStroke, ...]) -> Heard:
    beat, downbeat, change, present = answer.pulse.T
    return Heard(
        strokes, float(FRAMES_PER_S), np.ascontiguousarray(beat), np.ascontiguousarray(downbeat),
        np.ascontiguousarray(change), np.ascontiguousarray(present), answer.hits,
    )  # fmt: skip
