"""Sections, landmarks and doubts of made songs with known form."""

from fractions import Fraction as F

import msgspec
from listen_material import ROCK, performance

from fourlimb import demo
from fourlimb.listen import form
from fourlimb.listen.form import again
from fourlimb.model import Hit, Sound
from fourlimb.model.grid import regular

RIDE: dict[Sound, tuple[str, ...]] = {
    "kick": ("0", "3/8", "1/2"),
    "snare": ("1/4", "3/4", "15/16"),
    "ride": ("0", "1/4", "1/2", "3/4"),
    "crash": ("0",),
}
BPM = 120.0


def song(*parts: tuple[int, dict[Sound, tuple[str, ...]]]) -> tuple[int, tuple[Hit, ...]]:
    """Bars in all, and the hits of (bars, pattern) one after the other; an empty pattern is silence."""
    hits: list[Hit] = []
    bar = 0
    for bars, pattern in parts:
        for hit in performance(bars, BPM, pattern) if pattern else ():
            hits.append(
                msgspec.structs.replace(
                    hit, id=len(hits) + 1, bar=(hit.bar or 0) + bar, time_s=round(hit.time_s + bar * 240 / BPM, 4)
                )
            )
        bar += bars
    return bar, tuple(hits)


def test_verse_and_chorus_come_back_under_their_letters() -> None:
    bars, hits = song((8, ROCK), (8, RIDE), (8, ROCK), (8, RIDE))
    sections, _, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert [(s.name, s.from_bar, s.like) for s in sections] == [("A", 1, None), ("B", 9, None), ("A'", 17, "A"), ("B'", 25, "B")]  # fmt: skip


def test_sections_cover_every_bar_once() -> None:
    bars, hits = song((5, ROCK), (7, RIDE), (3, {}), (9, ROCK))
    sections, _, _ = form(regular(["4/4"] * bars, BPM), hits)
    covered = [bar for s in sections for bar in range(s.from_bar, s.to_bar + 1)]
    assert covered == list(range(1, bars + 1))


def test_silence_is_tacet_and_its_edges_are_landmarks() -> None:
    bars, hits = song((8, ROCK), (4, {}), (8, ROCK))
    sections, marks, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert [(s.from_bar, s.to_bar) for s in sections if s.tacet] == [(9, 12)]
    assert {(m.bar, m.what) for m in marks} >= {(9, "drums stop"), (13, "drums come in")}


def test_the_silence_that_ends_a_song_is_no_landmark() -> None:
    bars, hits = song((8, ROCK), (4, {}), (8, ROCK), (1, {}))
    _, marks, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert [m.bar for m in marks if m.what == "drums stop"] == [9]


def test_kick_alone_is_a_landmark() -> None:
    bars, hits = song((8, ROCK), (2, {"kick": ("0", "1/4", "1/2", "3/4")}), (8, ROCK))
    _, marks, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert (9, "kick alone") in {(m.bar, m.what) for m in marks}


def test_one_fill_does_not_start_a_section() -> None:
    fill: dict[Sound, tuple[str, ...]] = {"snare": ("0", "1/8", "1/4"), "tom_high": ("3/8", "1/2"), "tom_floor": ("5/8", "3/4", "7/8")}  # fmt: skip
    bars, hits = song((7, ROCK), (1, fill), (8, ROCK))
    sections, _, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert [s.from_bar for s in sections] in ([1], [1, 9])


def test_the_least_sure_bar_is_doubted_first() -> None:
    bars, hits = song((8, ROCK))
    weak = tuple(msgspec.structs.replace(h, confidence=0.5) if h.bar == 6 else h for h in hits)
    _, _, doubts = form(regular(["4/4"] * bars, BPM), weak)
    assert doubts[0].bar == 6
    assert 0.3 < doubts[0].share < 0.7


def test_a_bar_that_lacks_what_all_its_likes_have_is_doubted() -> None:
    bars, hits = song((8, ROCK))
    lacking = tuple(h for h in hits if not (h.bar == 4 and h.sound == "hat_closed" and h.position != F(0)))
    _, _, doubts = form(regular(["4/4"] * bars, BPM), lacking)
    assert doubts
    assert doubts[0].bar == 4
    assert "hat" in doubts[0].why


def test_no_hits_give_one_silent_section() -> None:
    sections, marks, doubts = form(regular(["4/4"] * 4, BPM), ())
    assert [(s.tacet, s.from_bar, s.to_bar) for s in sections] == [(True, 1, 4)]
    assert marks == () == doubts


def test_a_pickup_belongs_to_the_section_it_leads_into() -> None:
    heard = demo.truth()
    assert heard.grid.numbers[0] == 0
    sections, _, _ = form(heard.grid, heard.hits)
    assert sections[0].from_bar == 0
    assert sections[0].to_bar > 0


def test_a_last_stroke_before_silence_is_no_section_of_its_own() -> None:
    bars, hits = song((8, ROCK), (1, {"crash": ("0",), "kick": ("0",)}), (7, {}))
    sections, _, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert [(s.from_bar, s.to_bar, s.tacet) for s in sections] == [(1, 9, False), (10, 16, True)]
    assert float(str(sections[0].extra["confidence"])) > 0.5


def test_a_whole_bar_before_silence_may_be_a_section() -> None:
    bars, hits = song((8, ROCK), (4, {}), (1, RIDE), (7, {}))
    sections, _, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert (13, 13, False) in [(s.from_bar, s.to_bar, s.tacet) for s in sections]


def test_a_shaker_in_place_of_the_hat_is_time_kept_like_any_other() -> None:
    plain: dict[Sound, tuple[str, ...]] = {"kick": ("0", "1/4", "1/2", "3/4"), "snare": ("1/8", "3/8")}
    shaken: dict[Sound, tuple[str, ...]] = {**plain, "shaker": tuple(f"{n}/16" for n in range(16))}
    bars, hits = song((8, plain), (8, shaken))
    sections, _, _ = form(regular(["4/4"] * bars, BPM), hits)
    assert [s.name for s in sections] == ["A", "B"]


def test_the_fourth_of_a_section_is_numbered() -> None:
    assert [again("A", times) for times in (1, 2, 3, 4)] == ["A'", "A''", "A4", "A5"]
