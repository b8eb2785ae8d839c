"""What ears miss of playing, and what a stroke that they miss leaves in their curves.

    python -m bench.unheard [--performances 24] [--data ../shared/data/groove]

Performances of the learning half of the Groove set, played on the kit that ships and recorded near, across a room and
by telephone (`bench.spoiled`). Prints for each sound the share that is heard, and how much likelier a height of the
curve is where a stroke was missed by the ears than where nothing was struck; and how often ears add an instrument to
one that is struck: the numbers of `mark/unheard.py`.
"""

import argparse
from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fourlimb.listen.ears import Heard
from fourlimb.listen.odds import log_odds
from fourlimb.listen.trained import NetworkEars
from fourlimb.mark.unheard import LOWEST, TOLD
from fourlimb.model import SOUNDS, Hit, silent
from fourlimb.model.sounds import INSTRUMENT, ORDER

from .groove import DATA, performances
from .playing import drums_of, played
from .spoiled import ROOMS, heard_from

SOFT = "soft snare"
KINDS: tuple[str, ...] = tuple(kind for s in SOUNDS for kind in ((s, SOFT) if s == "snare" else (s,)))
"""What is told apart: every sound, soft snares for themselves."""
SOFT_DB = -18.0
"""Softer than this against the loudest (velocity 45) is a ghost."""
GROUPS: dict[str, tuple[str, ...]] = {
    "kick": ("kick",),
    "snare": ("snare",),
    "hats": ("hat_closed", "hat_open", "hat_pedal"),
    "ghosts": (SOFT, "snare"),
    "cross-sticks": ("rim",),
    "others": ("tom_high", "tom_mid", "tom_floor", "crash", "ride", "ride_bell"),
}
"""Sounds whose traces are alike."""
NEAR_S = 0.05
REACH_S = 0.04


class Place(NamedTuple):
    """A moment at which a sound could be: whether it was struck, whether it was heard, and its curve's height."""

    kind: str
    struck: bool
    heard: bool
    height: float


def hear(hits: tuple[Hit, ...], ends_s: float, room: int) -> Heard:
    """A performance on the kit that ships, as the ears have it in one of the rooms."""
    return NetworkEars().hear(heard_from(drums_of(hits, ends_s), ROOMS[room % 3], room), silent)


def places(hits: tuple[Hit, ...], ends_s: float, found: Heard) -> Iterator[Place]:
    """Every stroke, and every moment at which something else is struck, as the ears have it."""
    times = np.array([s.time_s for s in found.strokes])
    names = [INSTRUMENT[s.sound] for s in found.strokes]
    used = {INSTRUMENT[hit.sound]: hit.sound for hit in hits}
    inside = [hit for hit in hits if 0.2 < hit.time_s < ends_s - 0.5]
    for hit in inside:
        here = [other for other in inside if abs(other.time_s - hit.time_s) < NEAR_S]
        for name, sound in used.items():
            own = [other for other in here if INSTRUMENT[other.sound] == name]
            if own and hit not in own:
                continue  # told once, by its own hit
            near = any(names[i] == name for i in np.flatnonzero(np.abs(times - hit.time_s) < NEAR_S))
            soft = sound == "snare" and bool(own) and own[0].loudness_db < SOFT_DB
            kind = SOFT if soft else (own[0].sound if own else sound)
            yield Place(kind, bool(own), near, _height(found.activations, name, hit.time_s))


def added(hits: tuple[Hit, ...], ends_s: float, found: Heard) -> Iterator[tuple[str, str | None]]:
    """(instrument struck, None) for every stroke, and (it, instrument heard there that nobody struck) where there is one."""
    for hit in hits:
        if not 0.2 < hit.time_s < ends_s - 0.5:
            continue
        name = INSTRUMENT[hit.sound]
        yield name, None
        struck = {INSTRUMENT[other.sound] for other in hits if abs(other.time_s - hit.time_s) < NEAR_S}
        here = (s for s in found.strokes if s.confidence >= TOLD and abs(s.time_s - hit.time_s) < NEAR_S)
        yield from ((name, other) for other in {INSTRUMENT[s.sound] for s in here} - struck)


def _height(curves: np.ndarray | None, name: str, at_s: float) -> float:
    assert curves is not None
    columns = [ORDER[s] for s in SOUNDS if INSTRUMENT[s] == name]
    return float(
        curves[max(int((at_s - REACH_S) * 100), 0) : int((at_s + REACH_S) * 100) + 2, columns].max(initial=0)
    )


def fit(found: list[Place]) -> tuple[float, float]:
    """Log-likelihood ratio, missed by the ears against not struck, as a + b log-odds(height): two classes alike."""
    unheard = [p for p in found if not p.heard]
    x = log_odds(np.clip([p.height for p in unheard], LOWEST, 1 - LOWEST))
    y = np.array([p.struck for p in unheard])
    weight = np.where(y, 1 / max(y.sum(), 1), 1 / max((~y).sum(), 1))
    table = np.stack([np.ones(len(x)), x], axis=1)
    line = np.zeros(2)
    for _ in range(50):
        p = 1 / (1 + np.exp(-table @ line))
        curve = (table * (weight * p * (1 - p))[:, None]).T @ table + 1e-9 * np.eye(2)
        line += np.linalg.solve(curve, table.T @ (weight * (y - p)))
    return float(line[0]), float(line[1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--performances", type=int, default=24)
    parser.add_argument("--data", type=Path, default=DATA / "groove")
    asked = parser.parse_args()
    songs = [s for g in islice(performances(judging=False, root=asked.data), 0, None, 9) if (s := played(g))]
    found: list[Place] = []
    wrong: Counter[tuple[str, str | None]] = Counter()
    for number, song in enumerate(songs[: asked.performances]):
        ends_s = min(song.ends_s, 25.0)
        heard = hear(song.hits, ends_s, number)
        found += places(song.hits, ends_s, heard)
        wrong.update(added(song.hits, ends_s, heard))
    table: dict[str, list[Place]] = defaultdict(list)
    for place in found:
        table[place.kind].append(place)
    print(
        "| sound | struck | heard | heights of those unheard: 10, 50, 90 % | of nothing struck |\n|---|---|---|---|---|"
    )
    for kind in sorted(table, key=KINDS.index):
        rows = [p for p in table[kind] if p.struck]
        if rows:
            missed = [p.height for p in rows if not p.heard]
            empty = [p.height for p in table[kind] if not p.struck and not p.heard]
            share = 1 - len(missed) / len(rows)
            print(f"| {kind} | {len(rows)} | {share:.2f} | {_spread(missed)} | {_spread(empty)} |")
    print("\nlog-likelihood ratio of an unheard stroke, a + b log-odds(height):")
    for name, kinds in GROUPS.items():
        a, b = fit([place for kind in kinds for place in table[kind]])
        print(f"  {name}: {a:.2f} + {b:.2f}")
    print("\nheard where another was struck, share of its strokes:")
    for (name, other), count in sorted((pair, n) for pair, n in wrong.items() if pair[1] is not None):
        print(f"  {name}: {other} {count / wrong[name, None]:.3f} ({count} of {wrong[name, None]})")


def _spread(values: list[float]) -> str:
    return ", ".join(f"{v:.3f}" for v in np.quantile(values, [0.1, 0.5, 0.9])) if values else "-"


if __name__ == "__main__":
    main()
