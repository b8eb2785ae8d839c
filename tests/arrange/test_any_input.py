"""Whatever is heard, there is a chart at every level, and it keeps its promises (see bench.survival)."""

from bench.survival import broken_promises, dense_song
from hypothesis import given, settings
from hypothesis import strategies as st


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9))
def test_any_hits_on_any_kit_give_playable_nested_charts_with_every_hit_accounted_for(seed: int) -> None:
    assert broken_promises(*dense_song(seed)) == []
