"""Bars that are the same music teach each other, and differences stay."""

from fractions import Fraction as F

import msgspec
import numpy as np
from listen_material import performance

from fourlimb.listen.ears import Heard
from fourlimb.listen.repeats import hear_again
from fourlimb.model import SOUNDS, Hit
from fourlimb.model.grid import regular

GRID = regular(["4/4"] * 8, 120.0)
HITS = performance(8, 120.0)


def heard(traces: dict[tuple[str, float], float]) -> Heard:
    count = int(GRID.end_s * 100) + 1
    curves = np.zeros((count, len(SOUNDS)), np.float32)
    for (sound, time_s), height in traces.items():
        curves[round(time_s * 100), SOUNDS.index(sound)] = height
    zeros = np.zeros(count, np.float32)
    return Heard((), 100.0, zeros, zeros, zeros, zeros, curves)


def at(hits: tuple[Hit, ...], bar: int, sound: str) -> set[F | None]:
    return {h.position for h in hits if h.bar == bar and h.sound == sound}


def without(bar: int, sound: str, position: F) -> tuple[Hit, ...]:
    return tuple(h for h in HITS if (h.bar, h.sound, h.position) != (bar, sound, position))


def test_a_faint_stroke_that_all_like_bars_have_is_found() -> None:
    time_s = GRID.time_at(4, F(3, 8))
    again = hear_again(GRID, without(4, "hat_closed", F(3, 8)), heard({("hat_closed", time_s): 0.3}))
    assert F(3, 8) in at(again, 4, "hat_closed")
    new = max(again, key=lambda h: h.id)
    assert new.id == max(h.id for h in HITS) + 1 or new.id > max(h.id for h in without(4, "hat_closed", F(3, 8)))
    assert new.confidence < 0.9


def test_a_stroke_that_left_no_trace_is_not_invented() -> None:
    again = hear_again(GRID, without(4, "hat_closed", F(3, 8)), heard({}))
    assert F(3, 8) not in at(again, 4, "hat_closed")


def test_a_weak_stroke_that_no_like_bar_has_goes() -> None:
    time_s = GRID.time_at(3, F(3, 16))
    stray = Hit(
        id=900, time_s=time_s, sound="kick", loudness_db=-9, confidence=0.25, bar=3, position=F(3, 16)
    )  # fmt: skip
    again = hear_again(GRID, (*HITS, stray), heard({}))
    assert 900 not in {h.id for h in again}


def test_a_clear_moved_kick_stays_a_difference() -> None:
    moved = tuple(
        msgspec.structs.replace(h, position=F(11, 16), time_s=GRID.time_at(5, F(11, 16)))
        if (h.bar, h.sound, h.position) == (5, "kick", F(5, 8))
        else h
        for h in HITS
    )
    again = hear_again(GRID, moved, heard({}))
    assert at(again, 5, "kick") == {F(0), F(1, 2), F(11, 16)}


def test_bars_alike_grow_surer() -> None:
    unsure = tuple(msgspec.structs.replace(h, confidence=0.7) for h in HITS)
    again = hear_again(GRID, unsure, None)
    assert all(h.confidence > 0.7 for h in again)


def test_three_bars_teach_nothing() -> None:
    few = performance(3, 120.0)
    assert hear_again(regular(["4/4"] * 3, 120.0), few, None) == few
