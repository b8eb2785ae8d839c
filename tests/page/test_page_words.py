"""What the page says beside the music."""

import msgspec
from hypothesis import given
from hypothesis import strategies as st
from page_songs import ferry, groove, song, stroke

from fourlimb.model import Plan, Section
from fourlimb.page import words


def test_count_words_stand_where_they_are_said() -> None:
    sheet = song(groove(1), [("4/4", 100.0)])
    assert words.count_marks(sheet, 1) == [
        ["1", 0], ["&", 0.5], ["2", 1], ["&", 1.5], ["3", 2], ["&", 2.5], ["4", 3], ["&", 3.5],
    ]  # fmt: skip


def test_a_silent_place_keeps_its_brackets_and_its_place() -> None:
    sheet = song([stroke(1, "0", "kick"), stroke(1, "3/16", "kick")], [("2/4", 100.0)])
    assert words.count_marks(sheet, 1) == [["1", 0], ["(e)", 0.25], ["(&)", 0.5], ["a", 0.75], ["(2)", 1]]


def test_triplets_are_counted_at_thirds_of_the_beat() -> None:
    sheet = song([stroke(1, place, "snare") for place in ("0", "1/12", "1/6")], [("1/4", 100.0)])
    assert [word for word, _ in words.count_marks(sheet, 1)] == ["1", "trip", "let"]
    assert [round(float(at), 3) for _, at in words.count_marks(sheet, 1)] == [0, 0.333, 0.667]


def test_a_pickup_keeps_its_real_numbers_and_drops_those_not_played() -> None:
    assert words.count_marks(ferry(), 0) == [["4", 0], ["&", 0.5]]


@given(st.text(alphabet="1234&ea() trplt", max_size=40))
def test_a_teacher_s_own_count_line_never_breaks_the_page(line: str) -> None:
    sheet = song(groove(1), [("4/4", 100.0)])
    plan = Plan(figures=(), differences=(), running_order=(), counts={1: line})
    marks = words.count_marks(msgspec.structs.replace(sheet, plan=plan), 1)
    assert all(0 <= float(at) < 4 for _, at in marks)
    assert [at for _, at in marks] == sorted(at for _, at in marks)


def test_every_figure_has_a_sentence_and_is_told_where_it_is_met_first() -> None:
    sheet = ferry()
    said = {bar.bar: entry for bar, entry in zip(sheet.grid.bars, words.said(sheet), strict=True)}
    firsts = [entry["figure"] for entry in said.values() if entry["first"]]
    names = ["" if figure.name == "silent" else figure.name for figure in sheet.plan.figures]
    assert "" in names  # bar 8
    assert sorted(firsts) == sorted(names)
    assert all(entry["say"] for entry in said.values())


def test_a_song_without_sections_is_one_section() -> None:
    road = words.road(ferry(sections=()))
    assert [(part["from"], part["to"]) for part in road["sections"]] == [(0, 8)]


def test_sections_and_landmarks_are_told_by_bar() -> None:
    road = words.road(ferry(sections=(Section(name="quay", from_bar=1, to_bar=8, like="harbour", tacet=True),)))
    assert road["sections"] == [{"name": "quay", "from": 1, "to": 8, "like": "harbour", "tacet": True}]
    assert road["landmarks"] == [{"bar": 8, "what": "drums stop"}]
