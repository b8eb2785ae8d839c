"""Strokes in time -> stereo sound of the kit.

Every stroke is added at an integer sample; a later stroke may stop an earlier one (hats, choked cymbals). Then one
small room. Pure: the same strokes give the same samples.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Samples, Sound
from .kit import RATE, Voices
from .room import room
from .voicing import CLOSE_S, STOPS, place_of


@dataclass(frozen=True)
class Blow:
    """One thing struck.

    when (seconds), what, how hard (1 to 127). `stop`: when it is silenced, and how long that takes. `second`: on the
    second of its kind. `rings`: nothing that is struck later silences it.
    """

    time_s: float
    sound: Sound
    velocity: int
    stop: tuple[float, float] | None = None
    second: bool = False
    rings: bool = False


@dataclass(frozen=True)
class Struck:
    """A blow at its place in the sound: `start` and `stop` (when it is silenced, how long that takes) in samples.

    `turn` says which of the recorded strokes sounds, so that none sounds twice in a row.
    """

    start: int
    sound: Sound
    velocity: int
    turn: int
    second: bool
    stop: tuple[int, int] | None


def perform(blows: Sequence[Blow], kit: Voices, count: int, *, mirrored: bool = False, dry: bool = False) -> Samples:
    """Stereo float32, shape (count, 2). `mirrored`: a left-handed kit, sides exchanged; `dry`: no room."""
    return mixed(struck(blows), kit, 0, count, mirrored=mirrored, dry=dry)


def struck(blows: Sequence[Blow], piece: int | None = None) -> list[Struck]:
    """Every blow at its sample, in order of time.

    `piece`: samples after which turns begin anew, so that what is struck in one piece never changes another.
    """
    ordered = sorted(blows, key=lambda b: (b.time_s, b.sound, b.velocity))
    turns: dict[tuple[Sound, bool, int], int] = {}
    found = []
    for blow, stop in zip(ordered, _stops(ordered), strict=True):
        start = round(blow.time_s * RATE)
        number = 0 if piece is None else start // piece
        own = blow.sound, blow.second, number
        turn = turns.get(own, number)
        turns[own] = turn + 1
        silenced = None if stop is None else (round(stop[0] * RATE), round(stop[1] * RATE))
        found.append(Struck(start, blow.sound, blow.velocity, turn, blow.second, silenced))
    return found


def mixed(
    strokes: Iterable[Struck], kit: Voices, first: int, count: int, *, mirrored: bool = False, dry: bool = False
) -> Samples:
    """The samples from `first` on of what the strokes sound like together, shape (count, 2)."""
    near = np.zeros((count, 2), dtype=np.float32)
    send = np.zeros((count, 2), dtype=np.float32)
    for one in strokes:
        start = one.start - first
        wave = _stopped(kit.stroke(one.sound, one.velocity, one.turn, second=one.second), one)
        begin, end = max(start, 0), min(start + len(wave), count)
        if end <= begin:
            continue
        place = place_of(one.sound, second=one.second)
        both = wave[begin - start : end - start, None] * pan(-place.side if mirrored else place.side)
        near[begin:end] += both
        send[begin:end] += both * np.float32(10 ** (place.room_db / 20))
    if not dry:
        near += room(send)
    return near


def pan(side: float) -> Samples:
    """Gains of left and right, equal power, unity in the middle."""
    angle = (side + 1) * np.pi / 4
    return np.array([np.cos(angle), np.sin(angle)], dtype=np.float32) * np.float32(np.sqrt(2))


def _stops(ordered: Sequence[Blow]) -> list[tuple[float, float] | None]:
    """For each blow: when it is silenced and how long that takes (seconds), or None."""
    stops = [blow.stop for blow in ordered]
    open_by_sound: dict[Sound, list[int]] = {}
    for index, blow in enumerate(ordered):
        for stopped in STOPS.get(blow.sound, ()):
            for earlier in open_by_sound.pop(stopped, []):
                if ordered[earlier].time_s < blow.time_s:
                    own = stops[earlier]
                    closing = (blow.time_s, CLOSE_S)
                    stops[earlier] = closing if own is None else min(own, closing)
        if not blow.rings:
            open_by_sound.setdefault(blow.sound, []).append(index)
    return stops


def _stopped(wave: Samples, one: Struck) -> Samples:
    if one.stop is None:
        return wave
    at = max(0, one.stop[0] - one.start)
    if at >= len(wave):
        return wave
    fade = min(one.stop[1], len(wave) - at)
    cut = wave[: at + fade].copy()
    cut[at:] *= np.linspace(1, 0, fade, dtype=np.float32) ** 2
    return cut
