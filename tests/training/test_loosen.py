"""Parts that nobody would play: what changes, and that nothing falls apart."""

from collections.abc import Callable

import numpy as np
import pytest
from training.loosen import CHANGES, accents, loosen, slip, thin
from training.parts import Part
from training.sounds import INDEX

K, S, CR, HC = (INDEX[n] for n in ("kick", "snare", "crash", "hat_closed"))


def rock(bars: int = 32) -> Part:
    """Crash and kick on every one, snare on 2 and 4, hats in eighths."""
    rows = [(4.0 * b + t, s) for b in range(bars) for t, s in ((0, K), (0, CR), (1, S), (2, K), (3, S))]
    rows += [(n / 2, HC) for n in range(bars * 8)]
    beats, sounds = (np.array(c) for c in zip(*sorted(rows), strict=True))
    return Part(beats, sounds.astype(np.int64), np.full(len(beats), 0.8), 4, 120.0)


def alone_under_crash(part: Part, sound: int) -> float:
    """Share of crashes with that sound under them."""
    crash = part.beats[part.sounds == CR]
    own = part.beats[part.sounds == sound]
    return float(np.mean([np.abs(own - t).min(initial=9) < 0.05 for t in crash]))


def test_crashes_lose_their_kicks_and_get_snares() -> None:
    part = rock()
    changed = accents(part, np.random.default_rng(1))
    assert alone_under_crash(part, K) == 1.0
    assert alone_under_crash(changed, K) < 0.6
    assert alone_under_crash(changed, S) > 0.3
    assert (changed.sounds == CR).sum() == (part.sounds == CR).sum()


def test_a_thinned_part_is_a_part_of_the_part() -> None:
    part = rock()
    fewer = thin(part, np.random.default_rng(2))
    assert 0.5 < len(fewer.beats) / len(part.beats) < 0.95
    assert {*zip(fewer.beats, fewer.sounds, strict=True)} <= {*zip(part.beats, part.sounds, strict=True)}


def test_slipping_moves_one_sound_and_no_other() -> None:
    part = rock()
    moved = slip(part, np.random.default_rng(3))
    same = [np.array_equal(moved.beats[moved.sounds == s], part.beats[part.sounds == s]) for s in (K, S, CR, HC)]
    assert sorted(same) == [False, True, True, True]


@pytest.mark.parametrize("change", [*CHANGES, loosen])
@pytest.mark.parametrize("seed", range(5))
def test_every_change_keeps_a_part_in_order_and_its_columns_alike(
    change: Callable[[Part, np.random.Generator], Part], seed: int
) -> None:
    for part in (rock(), rock(1), rock().keep(np.arange(len(rock().beats)) < 1)):
        changed = change(part, np.random.default_rng(seed))
        assert len(changed.beats) == len(changed.sounds) == len(changed.strength)
        assert (np.diff(changed.beats) >= 0).all()
        assert ((changed.strength > 0) & (changed.strength <= 1)).all()
        assert ((changed.sounds >= 0) & (changed.sounds < 18)).all()
