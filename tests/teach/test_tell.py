"""Differences in a teacher's words."""

import re
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import Kit
from fourlimb.model.count import listing, read_place, say_place, say_span
from fourlimb.model.places import bar_length
from fourlimb.teach import plan
from fourlimb.teach.changes import compare
from fourlimb.teach.content import Content, content_of
from fourlimb.teach.say import many, say_bars, say_places, times
from fourlimb.teach.tell import clauses_of, tell, tell_new

from .written import FILL, GROOVE, METERS, RIDE, contents, song, strokes


def _tell(before: str, after: str, meter: str = "4/4") -> str:
    a, b = content_of(meter, strokes(1, before, meter)), content_of(meter, strokes(2, after, meter))
    return tell(a, b, compare(a, b), "bars 1-4").say


@pytest.mark.parametrize(
    ("before", "after", "say"),
    [
        ("kick 1 4&", "kick 1 4a", "as bars 1-4, but the kick on 4& moves to 4a"),
        ("kick 1 2& 4&", "kick 1 2a 4a", "as bars 1-4, but the kicks on 2& and 4& move to 2a and 4a"),
        ("kick 1; crash 1", "kick 1", "as bars 1-4, but the crash on 1 is left out"),
        ("kick 1", "kick 1 2&", "as bars 1-4, but a kick is added on 2&"),
        ("kick 1", "kick 1; open hat 4&", "as bars 1-4, but an open hat is added on 4&"),
        ("kick 1; hat every 8th", "kick 1", "as bars 1-4, but the hat is left out"),
        (GROOVE, RIDE, "as bars 1-4, but the hat part goes to the ride"),
        ("hat 1 2", "crash 1; hat 2", "as bars 1-4, but the hat on 1 becomes a crash"),
        ("hat 1 2 3 4; kick 1", "hat 1 2 3; open hat 4; kick 1", "as bars 1-4, but the hat on 4 is open"),
        (
            "snare 2 4; kick 1",
            "cross-stick 2 4; kick 1",
            "as bars 1-4, but the snares on 2 and 4 become cross-sticks",
        ),
        ("snare 2 2a", "snare 2; ghost snare 2a", "as bars 1-4, but the snare on 2a is ghosted"),
        ("snare 2; accent snare 4", "snare 2 4", "as bars 1-4, but the snare on 4 loses the accent"),
        ("hat every 8th", "hat 1 1& 2 2&", "as bars 1-4, but the hat stops at 3"),
        (
            GROOVE,
            FILL,
            "as bars 1-4 up to beat 3; from there snare on every 16th of beat 3; high tom on 4 and 4e; "
            "floor tom on 4& and 4a",
        ),
        (GROOVE, GROOVE, "as bars 1-4"),
        ("crash 1", "crash 1; second crash 3", "as bars 1-4, but the second crash is added on 3"),
        ("crash 1 3", "crash 1; second crash 3", "as bars 1-4, but the crash on 3 goes to the second one"),
        ("second crash 1; crash 3", "crash 3", "as bars 1-4, but the second crash on 1 is left out"),
        (
            "snare 1 3",
            "roll for:1/2 snare 1; snare 3",
            "as bars 1-4, but the snare on 1 becomes a roll for two beats",
        ),
        (
            "kick 1",
            "kick 1; roll for:3/8 snare 3",
            "as bars 1-4, but a snare roll is added on 3 for one and a half beats",
        ),
        (
            "kick 1",
            "kick 1; roll16 for:1 snare 1",
            "as bars 1-4, but a snare roll in 16ths is added on 1 for the whole bar",
        ),
        (
            "kick 1",
            "kick 1; buzz for:5/16 snare 1",
            "as bars 1-4, but a buzzed snare roll is added on 1 for five 16ths",
        ),
        ("roll for:1/4 snare 1", "roll for:1/2 snare 1", "as bars 1-4, but the snare on 1 rolls for two beats"),
        ("kick 1", "kick 1; roll for:1/16 snare 1", "as bars 1-4, but a snare roll is added on 1 for one 16th"),
        ("roll for:1/4 snare 1", "snare 1", "as bars 1-4, but the snare on 1 is no longer a roll"),
        ("roll snare 1", "tied roll snare 1", "as bars 1-4, but the snare on 1 is tied to the bar before"),
        ("snare 2", "long-ruff snare 2", "as bars 1-4, but the snare on 2 gets a long ruff"),
        ("crash 1", "ringing crash 1", "as bars 1-4, but the crash on 1 is left to ring"),
        ("ringing crash 1", "choked crash 1", "as bars 1-4, but the crash on 1 is choked"),
        (
            "hat every 8th; kick 1 3",
            "shaker every 8th; snare 1e 2& 3a; tambourine 1 4; floor tom 1& 4e; kick 2 4; china 1a; clap 3",
            "new: shaker on every 8th; tambourine on 1 and 4; china on 1a; snare on 1e, 2& and 3a; clap on 3; "
            "floor tom on 1& and 4e; kick on 2 and 4",
        ),
    ],
)
def test_how_a_difference_is_said(before: str, after: str, say: str) -> None:
    assert _tell(before, after) == say


def test_places_are_counted_in_the_meter_of_the_bar() -> None:
    assert _tell("kick 1 2", "kick 1 2&", "6/8") == "as bars 1-4, but the kick on 2 moves to 2&"


def test_the_longest_lived_change_is_said_first() -> None:
    later = RIDE.replace("kick 1 2& 3", "kick 1 2a 3")
    made = plan(
        *song([GROOVE, later, RIDE, RIDE.replace("3", "3&"), RIDE.replace("kick 1", "kick 1 1a")]),
        Kit(),
        order="song",
    )
    say = {difference.to: difference.say for difference in made.differences}
    assert say["B"] == "as bar 1, but the hat part goes to the ride; the kick on 2& moves to 2a"


@given(st.sampled_from(METERS).flatmap(lambda meter: st.tuples(contents(meter), contents(meter))))
def test_every_change_is_said_in_exactly_one_clause(pair: tuple[Content, Content]) -> None:
    changes = compare(*pair)
    clauses = clauses_of(*pair, changes)
    assert sorted(map(str, (change for clause in clauses for change in clause.changes))) == sorted(map(str, changes))
    assert len({clause.text for clause in clauses}) == len(clauses)


@given(st.sampled_from(METERS).flatmap(lambda meter: st.tuples(contents(meter), contents(meter))))
def test_sentences_are_one_plain_line(pair: tuple[Content, Content]) -> None:
    telling = tell(*pair, compare(*pair), "bar 1")
    assert "\n" not in telling.say
    assert "None" not in telling.say
    assert "_" not in telling.say
    assert not re.search(r"  |,,|; ;|;$", telling.say)
    assert telling.say.startswith("new: " if telling.new else "as bar 1")


@given(contents())
def test_a_description_names_every_piece(bar: Content) -> None:
    say = tell_new(bar).say
    assert len(say.split("; ")) == max(len({(piece, mark) for _, piece, mark in bar.notes}), 1)


@given(
    st.sampled_from(METERS), st.sets(st.integers(0, 200), min_size=1, max_size=8), st.sampled_from([8, 16, 12, 24])
)
def test_places_said_can_be_played_back(meter: str, numbers: set[int], parts: int) -> None:
    length = bar_length(meter)
    positions = sorted({F(n, parts) % length for n in numbers})
    assert _read(meter, say_places(meter, positions)) == positions


def _read(meter: str, text: str) -> list[F]:
    """Reads what `say_places` says, by its own rules and not by its code."""
    steps = {
        "4th": F(1, 4),
        "8th": F(1, 8),
        "triplet": F(1, 12),
        "16th": F(1, 16),
        "16th triplet": F(1, 24),
        "32nd": F(1, 32),
    }
    from fourlimb.model.places import beat_lengths, beat_starts

    starts, lengths = beat_starts(meter), beat_lengths(meter)
    found: set[F] = set()
    text = re.sub(r"the (triplet )?(\d+)(?:th|nd) after (\S+?)(?=,| |$)", lambda m: _after(meter, m), text)
    for part in re.split(r", | and ", text):
        row = re.fullmatch(r"every (.+?)(?: of beat (\d+)| from (\S+?)(?: to (\S+))?)?", part)
        if row is None:
            found.add(read_place(meter, part))
        elif row[1] == "beat":
            found |= set(starts)
        elif row[1] in steps:
            step = steps[row[1]]
            first = starts[int(row[2]) - 1] if row[2] else read_place(meter, row[3]) if row[3] else F(0)
            last = bar_length(meter) if not row[4] else read_place(meter, row[4]) + step
            last = starts[int(row[2]) - 1] + lengths[int(row[2]) - 1] if row[2] else last
            while first < last:
                found.add(first)
                first += step
        else:
            found |= {read_place(meter, f"{n + 1}{row[1]}") for n in range(len(starts))}
    return sorted(found)


def _after(meter: str, found: re.Match[str]) -> str:
    """The place a note after another, written out."""
    value = F(1, int(found[2])) * (F(2, 3) if found[1] else 1)
    return say_place(meter, read_place(meter, found[3]) + value)


@pytest.mark.parametrize(
    ("bars", "say"),
    [
        ([1, 2, 3, 4], "bars 1-4"),
        ([1, 2, 3, 4, 9, 10, 11, 12], "bars 1-4 and 9-12"),
        ([7], "bar 7"),
        ([0], "the pickup"),
        ([0, 3], "the pickup and bar 3"),
        ([1, 3, 5, 7], "every other bar from 1 to 7"),
        ([2, 5, 6, 9, 14, 20], "6 bars, first bar 2"),
        ([3, 8], "bars 3 and 8"),
        ([], "no bar"),
    ],
)
def test_bars_are_named_in_few_words(bars: list[int], say: str) -> None:
    assert say_bars(bars) == say


def test_small_words() -> None:
    assert listing(["a", "b", "c"]) == "a, b and c"
    assert [times(n) for n in (1, 2, 3, 12)] == ["once", "twice", "three times", "12 times"]
    assert [many(w) for w in ("kick", "crash", "ride bell")] == ["kicks", "crashes", "ride bells"]


def test_a_span_that_begins_with_the_pickup_says_so() -> None:
    assert [say_span(*span) for span in ((0, 0), (0, 1), (0, 8), (3, 3), (5, 8))] == [
        "the pickup", "the pickup and bar 1", "the pickup and bars 1-8", "bar 3", "bars 5-8",
    ]  # fmt: skip
