"""A changed bar is arranged again alone, with the answer that arranging everything gives."""

import random
from fractions import Fraction as F

import msgspec
from bench.survival import dense_song
from bench.written import KIT, song
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.arrange import Arrangement, Memory, arrange
from fourlimb.model import SOUNDS, Hit, Kit, Listening

BARS = (
    "kick 1 2& 3; snare 2 4; hat every 8th",
    "kick 1 2& 3 4&; snare 2 4; hat every 8th",
    "kick 1 2a 3; snare 2 4; soft snare 2e; hat every 16th",
    "snare 1 1e 1& 1a; high tom 2 2& 3; floor tom 3& 4 4&; kick 1 3",
)


def long_song(bars: int) -> Listening:
    return song([BARS[3] if n % 8 == 7 else BARS[n * 7 % 3] for n in range(bars)], bpm=110)


def changed(heard: Listening, dice: random.Random) -> Listening:
    """One bar with some of its hits gone and a new one in it."""
    bar = dice.choice(heard.grid.numbers)
    kept = [h for h in heard.hits if h.bar != bar or dice.random() < 0.6]
    place = F(dice.randrange(16), 16) * heard.grid.length(bar)
    new = Hit(
        id=max((h.id for h in heard.hits), default=0) + 1,
        time_s=0.0,
        sound=dice.choice(SOUNDS),
        loudness_db=-20 * dice.random(),
        confidence=dice.random(),
        bar=bar,
        position=place,
        by=dice.choice(("ears", "teacher")),
    )
    return msgspec.structs.replace(heard, hits=(*kept, new))


def same(a: Arrangement, b: Arrangement) -> bool:
    return a.charts == b.charts and a.reasons == b.reasons


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**9))
def test_remembering_never_changes_the_answer_on_any_song_kit_or_player(seed: int) -> None:
    heard, kit, player = dense_song(seed)
    dice, memory = random.Random(seed), Memory()
    arrange(heard, kit, player=player, memory=memory)
    for _ in range(3):
        heard = changed(heard, dice)
        assert same(arrange(heard, kit, player=player, memory=memory), arrange(heard, kit, player=player))


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**9))
def test_remembering_never_changes_the_answer_in_a_song_of_figures(seed: int) -> None:
    heard, dice, memory = long_song(24), random.Random(seed), Memory()
    for hit_share in (1.0, 0.7):
        doubted = tuple(msgspec.structs.replace(h, confidence=h.confidence * hit_share) for h in heard.hits)
        heard = changed(msgspec.structs.replace(heard, hits=doubted), dice)
        assert same(arrange(heard, KIT, memory=memory), arrange(heard, KIT))


def test_one_changed_bar_makes_work_for_a_few_bars_only() -> None:
    heard, memory = long_song(96), Memory()
    arrange(heard, KIT, memory=memory)
    everything = memory.made
    extra = Hit(id=9999, time_s=0.0, sound="snare", loudness_db=-10, confidence=1, bar=50, position=F(3, 16))
    arrange(msgspec.structs.replace(heard, hits=(*heard.hits, extra)), KIT, memory=memory)
    assert 0 < memory.made < everything / 20
    arrange(msgspec.structs.replace(heard, hits=(*heard.hits, extra)), KIT, memory=memory)
    assert memory.made == 0


def test_another_kit_player_or_grid_empties_the_memory() -> None:
    heard, memory = long_song(8), Memory()
    arrange(heard, KIT, memory=memory)
    left = Kit(handed="left")
    assert same(arrange(heard, left, memory=memory), arrange(heard, left))
    assert same(arrange(heard, left, player="beginner", memory=memory), arrange(heard, left, player="beginner"))
    slower = song(BARS, bpm=60)
    assert same(arrange(slower, KIT, memory=memory), arrange(slower, KIT))
