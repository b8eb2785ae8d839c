"""Corrections as a teacher types them."""

import contextlib
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.lesson import corrections as c
from fourlimb.lesson import orders as o
from fourlimb.lesson import rhythm_orders as r
from fourlimb.model import CorrectionError
from fourlimb.model.count import Way
from fourlimb.model.grid import from_tempi, regular

GRID = regular(["4/4"] * 16 + ["3/4"], 100.0)


@pytest.mark.parametrize(
    ("text", "order"),
    [
        (
            "bar 12: kick 1 2&; snare 2 4",
            o.Exactly((12,), (("kick", (F(0), F(3, 8))), ("snare", (F(1, 4), F(3, 4))))),
        ),
        ("Bars 9-10: hat every quarter", o.Exactly((9, 10), (("hat_closed", (F(0), F(1, 4), F(1, 2), F(3, 4))),))),
        ("bars 1-2, 5: no crash", o.Exactly((1, 2, 5), (("crash", ()),))),
        ("bar 12: as bar 8", o.AsBar((12,), 8)),
        ("Bar 12: Kick on 1 and 3", o.Exactly((12,), (("kick", (F(0), F(1, 2))),))),
        ("measure 12 kick 1 3", o.Exactly((12,), (("kick", (F(0), F(1, 2))),))),
        ("bones bars 9-10 as full", o.AsLevel((9, 10), "full", "bones")),
        ("bar 12: ghost 2a", o.Exactly((12,), (("snare", (F(7, 16),)),), None, (Way(stress="ghost"),))),
        (
            "bar 12: kick 1; accented rimshot 2; snare flam 4",
            o.Exactly(
                (12,),
                (("kick", (F(0),)), ("snare", (F(1, 4),)), ("snare", (F(3, 4),))),
                None,
                (Way(), Way(struck="rimshot", stress="accent"), Way(grace="flam")),
            ),
        ),
        ("full bar 12: plain snare 2", o.Exactly((12,), (("snare", (F(1, 4),)),), "full", (Way(stress="plain"),))),
        ("bar 12: silent", o.Silent((12,))),
        ("steady bar 12: kick 1", o.Exactly((12,), (("kick", (F(0),)),), "steady")),
        ("bones bars 9-10: as full", o.AsLevel((9, 10), "full", "bones")),
        ("bars 9-10: the crash is the ride", o.IsSound((9, 10), "crash", "ride")),
        ("alike: the crash is the ride", o.Alike("crash", "ride")),
        ("tempo x2", o.TempoTimes(F(2))),
        ("tempo ÷2", o.TempoTimes(F(1, 2))),
        ("bar line at 12.34", o.BarLineAt(12.34)),
        ("bar 3 beat 2 is the one", o.TheOne(3, 2)),
        ("meter 3/4", o.MeterIs("3/4")),
        ("bars 9-10: meter 6/8", o.MeterIs("6/8", (9, 10))),
        ("bars 1-2: half-time", o.FeelIs((1, 2), "half-time", None)),
        ("bars 1-2: double time feel", o.FeelIs((1, 2), "double-time", None)),
        ("bars 1-2: swing 0.6", o.FeelIs((1, 2), None, 0.6)),
        ("bars 1-2: straight", o.FeelIs((1, 2), "straight", 0.5)),
        ("bars 9-10: section Chorus", o.SectionIs((9, 10), "Chorus")),
        ("title Night Ferry", o.TitleIs("Night Ferry")),
    ],
)
def test_every_kind_of_correction_is_understood(text: str, order: o.Order) -> None:
    assert c.read(text, GRID) == order


PICKUP = from_tempi([("2/4", 100.0), *[("4/4", 100.0)] * 8], first_bar=0)


def test_a_pickup_is_named_and_counted_as_the_chart_counts_it() -> None:
    order = o.Exactly((0,), (("snare", (F(0), F(3, 8))),))
    assert c.read("pickup: snare 3 4&", PICKUP) == c.read("bar 0: snare 3 4&", PICKUP) == order
    assert c.read("the pickup: snare roll 3-4", PICKUP) == r.Rolled((0,), "snare", F(0), F(1, 2), 32)
    with pytest.raises(CorrectionError, match="this pickup has beats 3 to 4"):
        c.read("pickup: snare 1", PICKUP)
    with pytest.raises(CorrectionError, match="no bar 9: the song has a pickup and bars 1 to 8"):
        c.read("bar 9: snare 1", PICKUP)
    with pytest.raises(CorrectionError, match="there is no pickup: the song has bars 1 to 17"):
        c.read("pickup: snare 1", GRID)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "empty"),
        ("bar 99: kick 1", "no bar 99"),
        ("bar 9-3: kick 1", "runs backwards"),
        ("bar 3: kick 7", "beats 1 to 4"),
        ("bar 3: kik 1", "did you mean"),
        ("bars 16-17: kick 1", "different meters"),
        ("bars 1-2: swing 0.95", "0.5 (straight) to 0.8"),
        ("bar 10: this is the one", "which beat"),
        ("tempo 120", "tempo x2"),
        ("bar 3: ghosted hat 1", "only the snare"),
        ("bar 3: accented kick 1", "no accent"),
        ("bar 3: accent 2", "names no piece"),
        ("bar 3: as chorus", "not understood"),
        ("bars 3: as bars 1-2", "one bar"),
        ("full bar 3: as full", "two levels"),
        ("make it groove", "not understood"),
        ("meter 4/5", "meter"),
        ("bar 3 beat 9 is the one", "no bar 3 beat 9"),
        ("bar 3: ;", "nothing is said"),
        ("kick " * 1000, "at most 2000"),
    ],
)
def test_what_is_not_understood_is_told_in_one_line(text: str, part: str) -> None:
    with pytest.raises(CorrectionError) as caught:
        c.read(text, GRID)
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=80) | st.from_regex(r"bars? [0-9,\- ]{1,8}: [a-z0-9&;/ ]{0,30}", fullmatch=True))
def test_no_text_ever_crashes(text: str) -> None:
    with contextlib.suppress(CorrectionError):
        c.read(text, GRID)
