"""Recordings and rendered songs of the data folder with their truth, and strokes counted as the scorer counts them."""

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import mir_eval
import numpy as np
import soxr

from fourlimb.listen import listen, read_audio
from fourlimb.listen.ears import Ears
from fourlimb.model import Audio, Hit, Listening, Song

from .groove import DATA

FAMILIES = {
    "kick": {"kick"}, "snare": {"snare", "rim"}, "hats": {"hat_closed", "hat_open", "hat_pedal"},
    "toms": {"tom_high", "tom_mid", "tom_floor"}, "cymbals": {"crash", "ride", "ride_bell", "china", "splash"},
}  # fmt: skip
WINDOW_S = 0.05


@dataclass
class Case:
    """One recording with its truth: beats as (seconds, beat in bar), hits as the truth file gives them."""

    name: str
    audio: Audio
    beats: np.ndarray
    downbeats: np.ndarray
    hits: list[dict[str, object]]


def cases(folder: str, *, speed: float = 1.0) -> Iterator[Case]:
    """Recordings ("recordings") or rendered songs ("rendered") at a speed (pitch moves too)."""
    sounds = DATA / ("recordings/mix" if folder == "recordings" else "rendered")
    truths = DATA / ("recordings/truth" if folder == "recordings" else "rendered")
    for file in sorted(sounds.glob("*.flac")):
        truth = json.loads((truths / f"{file.stem}.json").read_text())
        audio = read_audio(file)
        if speed != 1.0:
            audio = Audio(soxr.resample(audio.mono(), audio.rate * speed, audio.rate)[:, None], audio.rate)
        beats = [(b["time_s"] / speed, b["beat_in_bar"]) for b in truth["beats"]]
        yield Case(
            file.stem,
            audio,
            np.array([t for t, _ in beats]),
            np.array([t for t, n in beats if n == 1]),
            truth["hits"],
        )


def heard(case: Case, ears: Ears) -> Listening:
    song = Song(duration_s=case.audio.duration_s, sample_rate_hz=case.audio.rate, sha256="")
    return listen(case.audio, song=song, ears=ears)


def f_of(truth: Sequence[dict[str, object]], hits: Sequence[Hit]) -> tuple[int, int, int]:
    """Right, true, heard strokes of five families at +-50 ms."""
    counts = np.zeros(3, int)
    for sounds in FAMILIES.values():
        wanted = np.array(times(truth, sounds))
        found = np.array(times([{"time_s": h.time_s, "sound": h.sound} for h in hits], sounds))
        right = len(mir_eval.util.match_events(wanted, found, WINDOW_S)) if len(wanted) and len(found) else 0
        counts += (right, len(wanted), len(found))
    return int(counts[0]), int(counts[1]), int(counts[2])


def times(hits: Sequence[dict[str, object]], sounds: set[str]) -> list[float]:
    """Onsets of one family, increasing; those within 20 ms of the one before are one (the scorer's definition)."""
    kept: list[float] = []
    for time_s in sorted(float(str(h["time_s"])) for h in hits if h["sound"] in sounds):
        if not kept or time_s - kept[-1] > 0.02:
            kept.append(time_s)
    return kept


def wrong_strokes(case: Case, found: Listening, families: Sequence[str]) -> Counter[int]:
    """Missed and added strokes of some families, by bar."""
    wrong: Counter[int] = Counter()
    for family in families:
        wanted, hits, pairs = matched(case, found, family)
        missed = np.delete(wanted, [i for i, _ in pairs]).tolist()
        added = np.delete(hits, [j for _, j in pairs]).tolist()
        wrong.update(found.grid.bar_at(time_s) for time_s in missed + added)
    return wrong


def matched(case: Case, found: Listening, family: str) -> tuple[np.ndarray, np.ndarray, list[tuple[int, int]]]:
    sounds = FAMILIES[family]
    wanted = np.array(times(case.hits, sounds))
    hits = np.array(times([{"time_s": h.time_s, "sound": h.sound} for h in found.hits], sounds))
    return wanted, hits, mir_eval.util.match_events(wanted, hits, WINDOW_S) if len(wanted) and len(hits) else []
