"""What three strokes put right by a teacher who knows the truth do to the rest of a song.

For every song and every pair of sounds that were taken for one another three times or more, up to three strokes drawn
at random are named (five draws), and `sounding_like` says which others are changed.
"""

from collections import Counter
from typing import Any

import numpy as np

from fourlimb.listen import sounding_like
from fourlimb.listen.ears import HeardStroke
from fourlimb.model import Hit, Sound

NAMED, DRAWS, LEAST = 3, 5, 3
NEAR_S = {"same": 0.05, "other": 0.04}


def corrected(songs: dict[str, tuple[list[HeardStroke], list[dict[str, Any]]]]) -> tuple[float, float, float]:
    """Means over draws, summed over pairs: strokes left wrong after naming, of them put right, others broken."""
    rng = np.random.default_rng(0)
    left = right = broken = 0.0
    for strokes, truth in songs.values():
        true = true_sounds(strokes, truth)
        hits = [
            Hit(id=n, time_s=s.time_s, sound=s.sound, loudness_db=s.loudness_db, confidence=s.confidence)
            for n, s in enumerate(strokes)
        ]
        colour = {n: s.colour for n, s in enumerate(strokes)}
        pairs = Counter((h.sound, t) for h, t in zip(hits, true, strict=True) if t and t != h.sound)
        for (heard, is_), count in sorted(pairs.items()):
            if count < LEAST:
                continue
            wrong = [h.id for h in hits if h.sound == heard and true[h.id] == is_]
            for _ in range(DRAWS):
                named = rng.choice(wrong, min(NAMED, count - 1), replace=False).tolist()
                changed = sounding_like(hits, colour, named, heard, is_)
                left += (count - len(named)) / DRAWS
                right += sum(true[n] == is_ for n in changed) / DRAWS
                broken += sum(true[n] == heard for n in changed) / DRAWS
    return left, right, broken


def true_sounds(strokes: list[HeardStroke], truth: list[dict[str, Any]]) -> list[Sound | None]:
    """What each heard stroke really was; None where nothing was played."""
    found: list[Sound | None] = [None] * len(strokes)
    waiting = []
    for hit in truth:
        same = [
            n for n, s in enumerate(strokes)
            if found[n] is None and s.sound == hit["sound"] and abs(s.time_s - hit["time_s"]) < NEAR_S["same"]
        ]  # fmt: skip
        if same:
            found[min(same, key=lambda n: abs(strokes[n].time_s - hit["time_s"]))] = hit["sound"]
        else:
            waiting.append(hit)
    for hit in waiting:
        near = [n for n, s in enumerate(strokes) if found[n] is None]
        near = [n for n in near if abs(strokes[n].time_s - hit["time_s"]) < NEAR_S["other"]]
        if near:
            found[min(near, key=lambda n: abs(strokes[n].time_s - hit["time_s"]))] = hit["sound"]
    return found
