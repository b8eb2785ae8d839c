"""Sounds beside the kit are marked, the kit is not."""

from fractions import Fraction as F

import msgspec
from listen_material import performance

from fourlimb.listen import place_hits
from fourlimb.listen.layers import layered
from fourlimb.model import Hit, Sound
from fourlimb.model.grid import regular

GRID = regular(["4/4"] * 8, 100.0)
KIT = place_hits(GRID, performance(8, 100.0, spread_s=0.012))


def beside(sound: Sound, places: tuple[str, ...], *, spread_s: float = 0.0) -> tuple[Hit, ...]:
    hits = performance(8, 100.0, {sound: places}, spread_s=spread_s, seed=4)
    return place_hits(GRID, tuple(msgspec.structs.replace(h, id=h.id + 1000) for h in hits))


def layers(extra: tuple[Hit, ...], sound: Sound) -> set[str | None]:
    return {h.layer for h in layered((*KIT, *extra)) if h.sound == sound}


SIXTEENTHS = tuple(str(F(n, 16)) for n in range(16))


def test_a_shaker_that_never_leaves_the_grid_is_programmed() -> None:
    assert layers(beside("shaker", SIXTEENTHS), "shaker") == {"programmed"}


def test_a_shaker_with_human_timing_is_hand_percussion() -> None:
    assert layers(beside("shaker", SIXTEENTHS, spread_s=0.01), "shaker") == {"hand percussion"}


def test_a_clap_on_the_snare_is_a_second_snare() -> None:
    claps = tuple(
        msgspec.structs.replace(h, id=h.id + 1000, sound="clap", time_s=h.time_s + 0.005)
        for h in KIT
        if h.sound == "snare"
    )
    assert layers(claps, "clap") == {"second snare"}


def test_low_drums_on_the_kick_are_stacked() -> None:
    toms = tuple(
        msgspec.structs.replace(h, id=h.id + 1000, sound="tom_floor", time_s=h.time_s + 0.01)
        for h in KIT
        if h.sound == "kick"
    )
    assert layers(toms, "tom_floor") == {"stacked kick"}


def test_a_tom_groove_and_the_kit_stay_the_kits() -> None:
    toms = beside("tom_floor", ("3/8", "7/8"))
    found = layered((*KIT, *toms))
    assert all(h.layer is None for h in found)


def test_percussion_that_alone_keeps_time_stays() -> None:
    alone = tuple(h for h in KIT if h.sound != "hat_closed")
    shaker = beside("shaker", SIXTEENTHS, spread_s=0.01)
    assert {h.layer for h in layered((*alone, *shaker)) if h.sound == "shaker"} == {None}


def test_no_hits_no_layers() -> None:
    assert layered(()) == ()
