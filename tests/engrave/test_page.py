"""Pages: nothing lost, nothing on top of anything else, every thing found again."""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from fractions import Fraction as F

import msgspec
import pytest
from builder import FILL, GROOVE, night_ferry, sheet, stroke
from collisions import collisions
from randomly import random_sheet

from fourlimb.engrave import Layout, cursor, excerpts, musicxml, read_musicxml, svg_pages
from fourlimb.engrave.form import lines
from fourlimb.engrave.marks import beat_unit, modulations
from fourlimb.engrave.meidoc import write_bars
from fourlimb.engrave.page import paginate, set_lines
from fourlimb.model import FeelSpan, Kit, Sheet
from fourlimb.model.codec import encode
from fourlimb.model.kit import MIDDLE_LINE_KEY

LAYOUTS = {
    "ordinary": Layout(),
    "count and hands": Layout(show_count=True, show_sticking=True, difficulty=True),
    "letter": Layout(paper="letter", landscape=True),
    "large": Layout(scale=1.5, landscape=True),
    "double": Layout(scale=2.0),
    "one voice": Layout(voices="one"),
    "two voices": Layout(voices="two", simile="never"),
    "screen": Layout(paper="screen", landscape=True),
}


def features() -> Sheet:
    """Every sign that a chart may carry."""
    return sheet(
        [
            GROOVE, FILL, "snare [flam] 1; snare [drag] 2; snare [ruff] 3; snare [buzz] 4; kick 1 2 3 4",
            "open hat 1& 3&; hat 1 2 2& 3 4 4&; kick 1 3; snare [accent] 2 4",
            "ride 1 2 2& 3 4 4&; ride bell 1&; foot hat 2 4; kick 1 3; rim 2",
            "china 1; splash 2; crash [choke] 3; cowbell 4; kick 1 2 3 4",
            "snare 1 1trip 1let; high tom 2 2trip 2let; mid tom 3 3trip 3let; floor tom 4 4trip 4let; kick 1 3",
            "hat every 16th; snare 2 4; kick 1 1a 2& 3e",
            "foot hat [foot splash] 2 4; hat [half open] 1 2 3 4; kick 1 3; snare [rimshot] 2; snare [ghost] 3e 3a",
            "shaker every 8th; tambourine 2 4; clap 2 4; kick 1 3",
        ],
        sections=[("A", 1, 4), ("B", 5, 8), ("Long name of a section", 9, 10)],
        landmarks={6: "band stops", 9: "count four"},
        doubts=[2, 7],
    )  # fmt: skip


def more_features() -> Sheet:
    """Rolls, let ring, long ruffs, second pieces, words to the rhythm, a double pedal, a note equality, two feels."""
    made = sheet(
        [
            GROOVE, "crash [let ring] 1; crash [second] [let ring] 3; hat 1& 2 2& 3& 4 4&; kick 1 3; kick [second] 2& 4&",
            "snare [roll 16] 1 2; snare [roll 32] 3; snare [buzz] 4; kick 1 3",
            "snare [roll 32] [lasts 5/8] 1& ; kick 1 3", "snare [buzz] [lasts 3/4] [tied] 1; crash 4; kick every beat",
            "snare [long ruff] 2; snare [ruff] 4; snare [drag] 3&; hat every 8th; kick 1 3",
            "hat [half open] every 8th; kick 1 1& 3 3&; snare [accent] 2 4", "snare 1 2 2& 3 4; kick 1 3",
            "tambourine every 8th; crash [choke] 1; crash [choke] [second] 3; clap 2 4; shaker 2&",
            "snare [roll 32] 1 1& 2; crash [second] 3; snare [roll 16] [accent] 4; kick every beat", FILL,
            "snare every 16th; kick 1 3",
        ],
        tempo=[132.0] * 7 + [88.0] * 5,
        sections=[("A", 1, 7), ("B much slower", 8, 12)],
        feel=[FeelSpan(from_bar=3, to_bar=4, feel="half-time", swing=0.667)],
        counts={8: "1 2 3 4"},
    )  # fmt: skip
    words = iter(["pass", "the", "bread", "and", "but-", "ter"])
    strokes = [
        msgspec.structs.replace(s, word=next(words)) if s.bar == 8 and s.piece == "snare" else s
        for s in made.chart.strokes
    ]
    strokes = [
        msgspec.structs.replace(s, limb="left foot")
        if s.bar == 7 and s.piece == "kick" and s.position.denominator == 8
        else s
        for s in strokes
    ]
    return msgspec.structs.replace(made, chart=msgspec.structs.replace(made.chart, strokes=tuple(strokes)))


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize(
    "chart", [night_ferry, features, more_features], ids=["night ferry", "features", "more features"]
)
def test_nothing_stands_on_anything_else(chart: Callable[[], Sheet], layout: Layout) -> None:
    made = chart()
    for line in set_lines(made, layout):
        assert not [(a.kind, b.kind, line.line.first) for a, b in collisions(line)]


def test_the_collision_finder_sees_a_word_set_on_the_notes() -> None:
    from dataclasses import replace

    line = set_lines(night_ferry(), Layout())[0]
    sunk = tuple(replace(word, y=word.y + 400.0) for word in line.words)
    assert collisions(replace(line, words=sunk))


@pytest.mark.parametrize("number", range(12))
def test_every_stroke_of_any_chart_is_on_the_page(number: int) -> None:
    made = random_sheet(number)
    pages = svg_pages(made, Layout(simile="never"))
    drawn = {(box.bar, box.position, box.piece) for box in cursor(pages).strokes}
    assert drawn == {(s.bar, s.position, s.piece) for s in made.chart.strokes}


def test_the_same_sheet_gives_the_same_pages_and_names_are_unique() -> None:
    first, again = svg_pages(night_ferry()), svg_pages(night_ferry())
    assert first == again
    for page in first:
        names = re.findall(r' id="([^"]+)"', page)
        assert len(names) == len(set(names))


def test_a_page_is_plain_svg_without_scripts_links_or_clocks() -> None:
    for page in svg_pages(night_ferry()):
        tags = {element.tag.rpartition("}")[2] for element in ElementTree.fromstring(page).iter()}
        assert tags <= {"svg", "defs", "g", "path", "use", "polygon", "polyline", "ellipse", "rect", "text"}
        assert "http" not in page.replace("http://www.w3.org/2000/svg", "")


def test_the_cursor_knows_every_bar_and_beat_and_moves_right_along_a_line() -> None:
    made = night_ferry()
    found = cursor(svg_pages(made))
    assert [box.bar for box in found.bars] == list(made.grid.numbers)
    per_bar = {n: sum(box.bar == n for box in found.beats) for n in made.grid.numbers}
    assert set(per_bar.values()) == {4}
    for first, second in zip(found.beats, found.beats[1:], strict=False):
        if (first.page, first.line) == (second.page, second.line):
            assert first.x <= second.x
    assert all(0 <= box.x <= box.x + box.width <= 1.001 for box in (*found.bars, *found.strokes))
    assert encode(found) == encode(cursor(svg_pages(made)))


def test_the_cursor_stands_on_the_heads() -> None:
    made = sheet(["kick 1 3; snare 2 4; hat every 8th"])
    found = cursor(svg_pages(made))
    by_place = {(box.position, box.piece): box for box in found.strokes}
    snare, hat, kick = by_place[F(1, 4), "snare"], by_place[F(1, 4), "hat_closed"], by_place[F(0), "kick"]
    assert hat.y < snare.y < kick.y
    assert abs(snare.x - hat.x) < 0.002
    assert kick.x < snare.x


def test_the_key_is_data_and_moves_the_snare_to_the_middle_line() -> None:
    ordinary = cursor(svg_pages(sheet(["snare 1; kick 3"]))).strokes
    middle = cursor(svg_pages(sheet(["snare 1; kick 3"], kit=Kit(key=MIDDLE_LINE_KEY)))).strokes
    height = {box.piece: box.y for box in ordinary}
    assert {box.piece: box.y for box in middle}["snare"] > height["snare"]


def test_a_section_starts_a_line_and_no_line_holds_one_orphan_bar() -> None:
    made = sheet([GROOVE, FILL] * 9, sections=[("A", 1, 5), ("B", 6, 14), ("C", 15, 18)])
    found = lines(made, Layout(simile="never"))
    assert {1, 6, 15} <= {line.first for line in found}
    assert all(len(line.blocks) > 1 for line in found)


def test_repeat_signs_never_start_a_line_and_their_count_says_which_bar_of_the_run_it_is() -> None:
    found = lines(sheet([GROOVE] * 12, sections=[("A", 1, 12)]), Layout())
    assert all(line.blocks[0].kind == "written" for line in found)
    runs = [(b.bar, b.run) for line in found for b in line.blocks if b.kind == "repeat"]
    assert runs == [(n, n) for n in range(2, 9)] + [(n, n - 8) for n in range(10, 13)]


def test_two_bars_in_turn_take_the_two_bar_sign_and_the_music_stands_under_it_in_the_file() -> None:
    other = "hat every 8th; kick 1 2& 3; snare 2 4"
    made = sheet([GROOVE, other] * 4, sections=[("A", 1, 8)])
    kinds = [[block.kind for block in line.blocks] for line in lines(made, Layout())]
    assert kinds == [["written", "written", "pair"]] * 2
    text = musicxml(made).decode()
    assert text.count('<measure-repeat type="start" slashes="2">2<') == 2
    assert read_musicxml(text.encode(), name="x").strokes == made.chart.strokes
    bars = [box.bar for box in cursor(svg_pages(made)).bars]
    assert bars == list(range(1, 9))


def test_long_rests_break_at_sections_and_cues() -> None:
    made = sheet([GROOVE] + [""] * 11, sections=[("A", 1, 5), ("B", 6, 12)], landmarks={9: "strings in"})
    rests = [(b.bar, b.count) for line in lines(made, Layout()) for b in line.blocks if b.kind == "rest"]
    assert rests == [(2, 4), (6, 3), (9, 4)]


def test_excerpts_show_one_bar_each() -> None:
    made = night_ferry()
    cut = excerpts(made, [2, 8], Layout(show_count=True))
    assert set(cut) == {2, 8}
    assert 'data-bars="8-8"' in cut[8]
    assert "Intro" not in cut[2]


def test_a_kick_that_nothing_is_written_for_leaves_a_bar_of_rest() -> None:
    assert "bar1" in svg_pages(sheet(["", ""]))[0]


def test_two_strokes_of_one_piece_on_one_place_are_both_named() -> None:
    doubled = sheet([""], extra_strokes=[stroke(1, F(0), "snare"), stroke(1, F(0), "crash")])
    assert len(cursor(svg_pages(doubled)).strokes) == 2


def test_pages_turn_at_a_rest_when_there_is_one_near() -> None:
    texts = [GROOVE, "hat every 8th; kick 1 2& 3; snare 2 4"] * 16
    texts[20:24] = [""] * 4
    made = sheet(texts, sections=[("A", 1, 20), ("B", 21, 24), ("C", 25, 32)])
    found = paginate(Layout(simile="never"), set_lines(made, Layout(simile="never")), 130.0)
    assert found[0][-1].line.last in (20, 24)


def test_as_few_pages_as_hold_the_lines_and_no_line_lost() -> None:
    made = sheet([GROOVE, FILL] * 40)
    lines_ = set_lines(made, Layout(simile="never"))
    pages = paginate(Layout(simile="never"), lines_)
    assert [line for page in pages for line in page] == lines_
    high = Layout().text_mm[1] * Layout().units_per_mm
    assert len(pages) == -(-sum(line.height for line in lines_) // high) or len(pages) <= len(lines_) // 5


@pytest.mark.parametrize(
    ("meter", "unit"),
    [("4/4", (4, False)), ("6/8", (4, True)), ("7/8", (4, False)), ("2/2", (2, False)), ("3/8", (8, False))],
)
def test_a_tempo_mark_counts_the_beat_that_is_felt(meter: str, unit: tuple[int, bool]) -> None:
    assert beat_unit(meter) == unit


@pytest.mark.parametrize(
    ("meters", "tempi", "bar", "equal"),
    [
        # Wikipedia, *Metric modulation*: dotted quarter = quarter takes 132 to 88
        (["4/4"] * 10, [132.0] * 5 + [88.0] * 5, 6, ((4, True), (4, False))),
        (["4/4"] * 10, [100.0] * 5 + [150.0] * 5, 6, ((4, False), (4, True))),
        (["4/4"] * 10, [120.0] * 5 + [60.0] * 5, 6, ((2, False), (4, False))),
        (["4/4"] * 5 + ["6/8"] * 5, [120.0] * 5 + [180.0] * 5, 6, ((4, False), (4, True))),  # the beat goes on
        (["4/4"] * 5 + ["6/8"] * 5, [120.0] * 10, 6, ((8, False), (8, False))),  # the eighth goes on
    ],
)
def test_a_note_that_stays_equal_over_a_change_is_said(
    meters: list[str], tempi: list[float], bar: int, equal: tuple[tuple[int, bool], tuple[int, bool]]
) -> None:
    made = sheet(["snare 1"] * 10, meters=meters, tempo=tempi)
    assert modulations(made) == {bar: equal}
    text = musicxml(made).decode()
    names = {2: "half", 4: "quarter", 8: "eighth"}
    units = "".join(
        f"<beat-unit>{names[value]}</beat-unit>{'<beat-unit-dot />' if dotted else ''}" for value, dotted in equal
    )
    assert f"<metronome>{units}</metronome>" in text
    assert len([word for line in set_lines(made, Layout()) for word in line.words if word.text == "\u2009="]) == 1


def test_after_a_silence_no_note_is_equal_to_another() -> None:
    bars = ["snare 1"] * 3 + [""] * 2 + ["snare 1"] * 5
    made = sheet(bars, tempo=[128.0] * 5 + [96.0] * 5)
    assert modulations(sheet(["snare 1"] * 10, tempo=[128.0] * 5 + [96.0] * 5))
    assert not modulations(made)
    assert "= 96" in "".join(word.text for line in set_lines(made, Layout()) for word in line.words)


def test_the_tempo_of_a_song_with_a_pickup_counts_the_beats_of_its_bars() -> None:
    made = sheet(["snare 1"] * 9, meters=["1/8", *["6/8"] * 8], first_bar=0, tempo=66.0)
    said = [word for line in set_lines(made, Layout()) for word in line.words if word.kind == "tempo"]
    assert [word.text for word in said] == ["\u2009= 44"]
    assert [len(word.signs) for word in said] == [2], "a dotted quarter"
    assert b"<beat-unit>quarter</beat-unit><beat-unit-dot /><per-minute>44</per-minute>" in musicxml(made)


def test_an_unrelated_tempo_is_no_modulation() -> None:
    assert not modulations(sheet(["snare 1"] * 10, tempo=[120.0] * 5 + [139.0] * 5))


def test_a_triplet_of_the_feet_alone_is_written_with_its_rests() -> None:
    """A kick on 2let under quarters of the hat: a lone eighth with a 3 would say nothing."""
    made = sheet(["hat 1 2 3 4; snare 2 4; kick 1 2let 3", "hat 1 1let 2 2let 3 3let 4 4let; kick 1 2let"])
    alone, shared = (write_bars(made, Layout())[bar].voices[1] for bar in (1, 2))
    assert [e.hidden for e in alone.events if e.slot.tuplet and not e.heads] == [False]
    assert all(e.hidden for e in shared.events if not e.heads), "the hands show the triplet"
    (line,) = set_lines(made, Layout(simile="never"))
    assert not collisions(line)
    rests = [box for box in line.boxes if box.kind == "rest"]
    snares = [box for box in line.boxes if box.kind == "notehead"]
    assert rests
    assert not any(rest.meets(head) for rest in rests for head in snares)


@pytest.mark.parametrize("low", ["floor tom", "snare", "high tom"])
def test_rests_of_feet_stand_clear_of_the_hands(low: str) -> None:
    made = sheet([f"hat 1 2 3 4; {low} 2; kick 1 2let 3"] * 2)
    (line,) = set_lines(made, Layout(simile="never"))
    assert not collisions(line)
