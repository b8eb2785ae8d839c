"""Doubted kicks of takes: how many of those that `listen/unlike.py` takes in were struck.

    python -m bench.unlike [--takes 27] [--lesson FOLDER] [--first-seed 1002]

Takes of the demo lesson with mistakes (`bench.spoiled`) and every fourth performance of the learning half of the
Groove set on the kit that ships, in three rooms: of the kicks that the ears' judge left out and that stand so high in
the curve, those that somebody struck.
"""

from collections import Counter
from collections.abc import Iterable
from itertools import islice

from fourlimb.listen import default_ears, hits_of
from fourlimb.listen.ears import Heard
from fourlimb.listen.unlike import HIGH, hits_of_take
from fourlimb.model import LEVELS, Lesson, silent

from .groove import DATA, performances
from .marks import BARS, asked
from .playing import played
from .spoiled import ROOMS, heard_from, take_of
from .unheard import hear

NEAR_S = 0.035
SECONDS = 25.0
PERFORMANCES = 30


def taken_in(heard: Heard, kicks: Iterable[float]) -> Counter[tuple[float, bool]]:
    """(how sure, whether it was struck) of every kick that was taken in; `kicks`: seconds of those struck."""
    known = {(hit.time_s, hit.sound) for hit in hits_of(heard)}
    struck = list(kicks)
    more = [hit for hit in hits_of_take(heard) if (hit.time_s, hit.sound) not in known]
    return Counter((hit.confidence, any(abs(hit.time_s - at) < NEAR_S for at in struck)) for hit in more)


def of_takes(made: Lesson, seeds: range) -> Counter[tuple[float, bool]]:
    """In takes of the lesson."""
    found: Counter[tuple[float, bool]] = Counter()
    for seed in seeds:
        take = take_of(made.charts[LEVELS[seed // 3 % 3]], made.grid, seed, bars=BARS)
        heard = default_ears().hear(heard_from(take.drums(), ROOMS[seed % 3], seed), silent)
        found += taken_in(heard, (one.time_s for one in take.strokes if one.stroke.piece == "kick"))
    return found


def of_performances() -> Counter[tuple[float, bool]]:
    """In performances of people."""
    found: Counter[tuple[float, bool]] = Counter()
    some = (
        song for one in islice(performances(judging=False, root=DATA / "groove"), 0, None, 4) if (song := played(one))
    )
    for number, song in enumerate(islice(some, PERFORMANCES)):
        heard = hear(song.hits, min(song.ends_s, SECONDS), number)
        found += taken_in(heard, (hit.time_s for hit in song.hits if hit.sound == "kick"))
    return found


def main() -> None:
    made, seeds = asked(__doc__, takes=27, first_seed=1002)
    print("| doubted kicks | height from | taken in | struck |\n|---|---|---|---|")
    for name, found in (("takes of the lesson", of_takes(made, seeds)), ("performances", of_performances())):
        for least, sure in HIGH:
            print(f"| {name} | {least} | {found[sure, True] + found[sure, False]} | {found[sure, True]} |")


if __name__ == "__main__":
    main()
