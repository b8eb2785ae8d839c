"""Forty-five short parts by stage of learning, written by us after the order in which things are usually met.

The order is common practice; its first column also stands in a school's published first-year plan, and the words
of the grades in published exam material (Trinity College London, *Musical knowledge, parameters for drum kit*; a
published list of grade 3 technical exercises). Grades 6 to 8 are from memory. The first weights stood before
these parts were written. Parts 1, 3 and 5 of each stage were then looked at, and one weight (dynamics) and the
knots of the grades were changed; parts 2 and 4 were looked at only afterwards, and nothing was changed after
them. All were written by one hand that knew the factors: the order they give is no proof of how students fare.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Part:
    """`stage` 0 (start) to 8; `bpm` counts quarter notes."""

    stage: int
    bpm: float
    meter: str
    bars: tuple[str, ...]


def _p(stage: int, bpm: float, *bars: str, meter: str = "4/4") -> Part:
    return Part(stage, bpm, meter, bars)


PARTS: tuple[Part, ...] = (
    # start: quarters and eighths, kick 1 3, snare 2 4
    _p(0, 80, "kick 1 3; snare 2 4; hat every 4th"),
    _p(0, 70, "kick 1 3; snare 2 4; hat every 8th"),
    _p(0, 90, "snare 1 2 3 4", "kick 1 2 3 4"),
    _p(0, 85, "kick 1; snare 3; hat every 4th"),
    _p(0, 80, "kick 1 2 3 4; hat every 4th", "snare 1 2 3 4"),
    # grade 1: sixteenths on one drum, 3/4, flams, open and closed hat, crash on 1, one-bar fills
    _p(1, 90, "kick 1 3; snare 2 4; hat every 8th", "snare 1 1& 2 2& 3 3& 4 4&"),
    _p(1, 80, "kick 1 3; snare 2 4; hat every 8th", "snare 1 1e 1& 1a 2 3 3e 3& 3a 4"),
    _p(1, 96, "kick 1; snare 2 3; hat every 8th", meter="3/4"),
    _p(1, 90, "crash 1; kick 1 3; snare 2 4; hat 1& 2 2& 3 3& 4 4&", "kick 1 3; snare 2; flam snare 4; hat every 8th"),
    _p(1, 90, "kick 1 3; snare 2 4; hat 1 1& 2 2& 3 3& 4; open hat 4&", "kick 1 3; snare 2 4; hat every 8th"),
    # grade 2: kick on &s, rests, triplets, ride, cross-stick, accents
    _p(2, 100, "kick 1 2& 3; snare 2 4; hat every 8th"),
    _p(2, 100, "kick 1 1& 3&; snare 2 4; hat every 8th", "kick 1 2& 3; snare 2 4; ride every 8th"),
    _p(2, 96, "kick 1 3 3&; cross-stick 2 4; ride every 8th", "kick 1 2& 3; snare 2 4; ride every 8th; crash 1"),
    _p(2, 90, "kick 1 3; snare 2 4; hat every 8th", "snare 1 1trip 1let 2 2trip 2let 3 3trip 3let 4"),
    _p(2, 104, "kick 1 2& 3&; snare 2 4; hat every 8th", "snare 1 1& 2; high tom 2& 3; floor tom 3& 4; kick 1 3"),
    # grade 3: sixteenth kick or snare placements, 12/8 or shuffle, drags, five-stroke roll, tom fills
    _p(3, 92, "kick 1 2a 3; snare 2 4; hat every 8th", "kick 1 1a 3 3&; snare 2 4; hat every 8th"),
    _p(3, 88, "kick 1 2& 2a 3; snare 2 4; hat every 8th", "kick 1 3; snare 2 4 4a; hat every 8th"),
    _p(3, 180, "kick 1 3; snare 2 4; hat every 8th", meter="12/8"),
    _p(3, 84, "kick 1 2& 3; drag snare 2 4; hat every 8th", "snare 1 1e 1& 1a; high tom 2 2e 2& 2a; floor tom 3 3& 4"),
    _p(3, 90, "kick 1 2& 3; snare 2 4; hat every 8th", "snare 1 1e 1& 1a; high tom 2 2&; mid tom 3 3&; floor tom 4 4&"),
    # grade 4: two-handed sixteenth hats, open hats on &s, 6/8, swing ride with hat foot on 2 and 4
    _p(4, 92, "kick 1 2& 3; snare 2 4; hat every 16th"),
    _p(4, 100, "kick 1 1a 3 3&; snare 2 4; hat 1 2 3 4; open hat 1& 2& 3& 4&"),
    _p(4, 150, "ride 1 2 2let 3 4 4let; foot hat 2 4; kick 1 3; snare 4let", "ride 1 2 2let 3 4 4let; foot hat 2 4; snare 2let"),
    _p(4, 96, "kick 1 2a 3 3&; snare 2 4; hat every 16th", "kick 1 3; snare 2 4; hat every 8th; open hat 4&"),
    _p(4, 150, "kick 1; snare 2; hat every 16th", "kick 1 1a 2a; snare 2; hat every 8th; open hat 2a", meter="6/8"),
    # grade 5: ghost notes, linear fills, paradiddle on the kit, bossa or songo feel
    _p(5, 96, "kick 1 2& 3; snare 2 4; soft snare 1a 2e 3e 4a; hat every 8th"),
    _p(5, 92, "kick 1 2a 3&; snare 2 4; soft snare 1e 2& 3a; hat every 8th; open hat 4&"),
    _p(5, 100, "ride every 8th; foot hat 2 4; kick 1 1a 3 3a; cross-stick 1 2& 4", "ride every 8th; foot hat 2 4; kick 1 1a 2a 3 3a; cross-stick 2 3&"),
    _p(5, 100, "hat 1 1& 1a 2e 3 3& 3a 4e; snare 1e 2 2& 3e 4 4&; kick 1 2a 4a", "kick 1 2& 3; snare 2 4; soft snare 2a 3e; hat every 8th"),
    _p(5, 96, "kick 1 1a 2&; snare 2 4; soft snare 1& 2e 3e; hat every 8th", "snare 1 1e 2 2e; high tom 1&; floor tom 2&; kick 1a 2a 3; snare 3e 3&; kick 3a; floor tom 4 4e; kick 4& 4a"),
    # grade 6: half-time shuffle, sixteenth syncopation, 5/4, hat foot independence, setups
    _p(6, 92, "hat 1 1let 2 2let 3 3let 4 4let; soft snare 1trip 2trip 3trip 4trip; snare 3; kick 1 2let 4let"),
    _p(6, 108, "kick 1 1a 2& 3e 3a; snare 2 4; soft snare 2a 4e; hat every 8th; open hat 2&"),
    _p(6, 120, "kick 1 2& 4 5&; snare 3 5; soft snare 1a 3e; hat every 8th", meter="5/4"),
    _p(6, 104, "ride every 8th; foot hat 1& 2& 3& 4&; kick 1 1a 2a 3e 4&; snare 2 4; soft snare 2e 3a"),
    _p(6, 100, "kick 1 1e 2& 2a 3e 4&; snare 2 4; soft snare 1& 2e 3& 3a; hat every 16th; open hat 4&"),
    # grade 7: 7/8, metric changes, fast singles and doubles on the kit, samba feet
    _p(7, 132, "kick 1 2& 3a; snare 2 3; soft snare 1& 3&; hat every 16th", meter="7/8"),
    _p(7, 120, "kick 1 1a 2 2a 3 3a 4 4a; foot hat 1& 2& 3& 4&; ride 1 1& 1a 2 2& 2a 3 3& 3a 4 4& 4a; snare 1a 2& 3e 4 4a"),
    _p(7, 132, "snare 1 1e 1& 1a 2 2e 2& 2a; high tom 3 3e 3& 3a; floor tom 4 4e 4& 4a; kick 1 2 3 4", "kick 1 1a 2& 3e 3a; snare 2 4; soft snare 1& 2a 3& 4e; hat every 8th; open hat 2& 4&"),
    _p(7, 126, "kick 1 1e 2& 2a 3e 3a 4&; snare 2 4; soft snare 1& 1a 2e 3& 4e 4a; ride every 8th; foot hat 1 2 3 4"),
    _p(7, 120, "snare 1 1+1/8 1e 1+3/8 1& 1a 2 2e; high tom 2& 2a; mid tom 3 3e; floor tom 3& 3a; snare 4 4e; kick 4& 4a", "kick 1 2a 3e 4; snare 2 3& 4&; hat every 16th; soft snare 1e 1a"),
    # grade 8: polyrhythm, odd meters, wide dynamics
    _p(8, 144, "kick 1 1a 2& 3+1/6 3a; loud snare 2 3&; soft snare 1& 2e 3 3+1/2; ride every 16th; open hat 2a", meter="7/8"),
    _p(8, 132, "kick 1 1e 1a 2& 2a 3e 3& 4 4a; loud snare 2 4e; soft snare 1& 2e 3 3a 4&; hat every 16th; open hat 1& 3a", "snare 1 1e 1& 1a; high tom 2 2e; floor tom 2& 2a; kick 3 3e; snare 3& 3a; mid tom 4 4e; kick 4& 4a; crash 4"),
    _p(8, 126, "ride 1 1a 2& 3e 4 4a; foot hat 1 2 3 4; kick 1 1trip 2let 3trip 4 4let; snare 1let 2 3 4trip; soft snare 2e 3a"),
    _p(8, 138, "kick 1 1e 2& 2a 3e 4 4& 5e 5a; loud snare 2 4a; soft snare 1& 2e 3 3a 4e 5&; ride every 16th; foot hat 1& 2& 3& 4& 5&", meter="5/4"),
    _p(8, 152, "snare 1 1e; high tom 1&; kick 1a 2; snare 2e; floor tom 2& 2a; kick 3 3e; snare 3& 3a; mid tom 4 4e; kick 4& 4a", "kick 1 1a 2& 2a 3e 4&; loud snare 2 3a; soft snare 1& 2e 3& 4e 4a; hat every 16th; open hat 2& 4a"),
)  # fmt: skip
PER_STAGE = 5
TUNED_ON = tuple(part for index, part in enumerate(PARTS) if index % PER_STAGE % 2 == 0)
SET_ASIDE = tuple(part for index, part in enumerate(PARTS) if index % PER_STAGE % 2 == 1)
