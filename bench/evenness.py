"""How evenly people play: how much of a machine their most even strokes have.

    python -m bench.evenness [--every 1] [--data ../shared/data/groove]

Performances of the learning half of the Groove set, sound by sound and minute by minute, as `mark/clicks.py` looks for
a click in them. Prints the highest log-likelihood ratios of a machine against a player: what is asked for before
strokes are a click must be more.
"""

import argparse
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fourlimb.mark.clicks import NEVER, SURE_FOREIGN_NATS, SURE_NATS, likelier_machine, lines_through, parts
from fourlimb.model import Sound

from .groove import DATA, Performance, performances

SHOWN = 8


class Evenness(NamedTuple):
    """The line on which a sound of a performance is most like a machine."""

    nats: float
    sound: Sound
    name: str


def evenest(one: Performance) -> Iterator[Evenness]:
    """For every sound and minute of a performance its best line, if it has one."""
    for sound in sorted({hit.sound for hit in one.hits} - NEVER):
        times = np.array([hit.time_s for hit in one.hits if hit.sound == sound])
        for part in parts(times):
            nats = [likelier_machine(line.away(part)) for line in lines_through(part)]
            if nats:
                yield Evenness(max(nats), sound, one.name)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, help="every n-th performance")
    parser.add_argument("--data", type=Path, default=DATA / "groove")
    asked = parser.parse_args()
    some = islice(performances(judging=False, root=asked.data), 0, None, asked.every)
    found = sorted((one for each in some for one in evenest(each)), reverse=True)
    print(
        f"{len(found)} lines; a click is told from {SURE_NATS} nats on, {SURE_FOREIGN_NATS} where it is not written"
    )
    for one in found[:SHOWN]:
        print(f"  {one.nats:.1f} {one.sound} of {one.name}")


if __name__ == "__main__":
    main()
