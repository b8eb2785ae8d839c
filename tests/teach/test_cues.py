"""The cue sheet, as data and as text."""

import csv
import io

import pytest
from hypothesis import given, settings

from fourlimb.model import Chart, Grid, Section
from fourlimb.model.grid import regular
from fourlimb.teach import cue_sheet, cues_csv, cues_markdown, find_landmarks
from fourlimb.teach.cautions import CAUTIONS, caution, cautions
from fourlimb.teach.families import families
from fourlimb.teach.figures import is_silent

from .written import FILL, GROOVE, RIDE, chart, sheet, song, songs

SECTIONS = [Section(name="A", from_bar=1, to_bar=8), Section(name="B", from_bar=9, to_bar=16)]


def _ferry(title: str = "Night Ferry"):
    bars = [GROOVE] * 7 + [FILL] + ["crash 1; " + RIDE] + [RIDE] * 3 + ["", ""] + [RIDE] * 2
    given_chart, grid = song(bars)
    return sheet(given_chart, grid, SECTIONS, find_landmarks(given_chart, grid), title)


def test_every_figure_is_said_before_it_is_played_slow_before_fast() -> None:
    made = _ferry()
    cues = cue_sheet(made)
    for figure in made.plan.figures:
        if figure.name == "silent":
            continue
        said = next(cue.n for cue in cues if cue.what == "say" and cue.from_bar == figure.first)
        played = next(
            cue for cue in cues if cue.what in ("play", "land") and cue.from_bar <= figure.first <= cue.to_bar
        )
        assert said < played.n
        assert played.tempo_bpm < 100


def test_a_fill_is_practised_with_the_bar_before_and_its_landing_named() -> None:
    landing = next(cue for cue in cue_sheet(_ferry()) if cue.what == "land")
    assert (landing.from_bar, landing.to_bar) == (7, 9)
    assert "crash, ride and kick on 1 of bar 9" in landing.say


def test_cues_follow_the_running_order_from_listening_to_playing_along() -> None:
    cues = cue_sheet(_ferry())
    assert [cue.n for cue in cues] == list(range(1, len(cues) + 1))
    assert cues[0].what == "listen"
    assert cues[-1].what == "along"
    assert "drums stop" in cues[-2].say


def test_seconds_are_those_of_the_bars() -> None:
    made = _ferry()
    for cue in cue_sheet(made):
        assert cue.from_s == pytest.approx(made.grid.at(cue.from_bar).start_s, abs=1e-4)
        assert cue.to_s == pytest.approx(made.grid.end(cue.to_bar), abs=1e-4)


@settings(max_examples=40, deadline=None)
@given(songs())
def test_any_song_has_a_cue_sheet_that_reads_back_from_csv(given_song: tuple[Chart, Grid]) -> None:
    cues = cue_sheet(sheet(*given_song))
    rows = list(csv.DictReader(io.StringIO(cues_csv(cues), newline="")))
    assert [(int(row["n"]), int(row["from_bar"]), row["say"]) for row in rows] == [
        (cue.n, cue.from_bar, cue.say) for cue in cues
    ]


def test_a_hostile_title_cannot_leave_its_line() -> None:
    made = _ferry("<script>alert(1)</script>\n# | **boo** [x](y) \u202e")
    first, *rest = cues_markdown(cue_sheet(made), made).split("\n")
    assert "<script" not in first
    assert "\\|" in first
    assert all("boo" not in line for line in rest)


def test_a_cell_is_never_a_formula() -> None:
    made = sheet(*song([GROOVE]), sections=[Section(name="=1+1", from_bar=1, to_bar=1)])
    cells = [cell for row in csv.reader(io.StringIO(cues_csv(cue_sheet(made)))) for cell in row]
    assert not any(cell.startswith(("=", "+", "@")) for cell in cells)


def test_the_sheet_carries_ladder_landmarks_and_cautions() -> None:
    made = _ferry()
    text = cues_markdown(cue_sheet(made), made)
    for part in (
        "## Ladder",
        "three clean in a row",
        "## If you are lost",
        "## The song in phrases",
        caution("hearing"),
        caution("rights"),
    ):
        assert part in text


@settings(max_examples=40, deadline=None)
@given(songs())
def test_every_figure_stands_once_on_the_short_sheet(given_song: tuple[Chart, Grid]) -> None:
    made = sheet(*given_song)
    found = families(made)
    listed = [f.name for family in found.grooves for f in (family.head, *family.variants)]
    listed += [f.name for f in (*found.fills, *found.alone)]
    assert sorted(listed) == sorted(f.name for f in made.plan.figures if not is_silent(f.name))
    told = {difference.to: difference.from_ for difference in made.plan.differences}
    place = {f.name: n for n, family in enumerate(found.grooves) for f in (family.head, *family.variants)}
    for number, family in enumerate(found.grooves):
        assert place.get(told[family.head.name], -1) < number, "a groove is told from one that comes later"
    text = cues_markdown(cue_sheet(made), made)
    assert len(text.split("\n")) <= 70 + 4 * len(listed)


def test_variants_stand_under_their_groove_without_naming_it_again() -> None:
    more = GROOVE + "; snare 4&"
    made = sheet(*song([GROOVE] * 3 + [more] + [GROOVE] * 4))
    text = cues_markdown(cue_sheet(made), made)
    head, _, variants = text.partition("## 1. Bars 1-3 and 5-8")[2].partition("\n- ")
    assert "snare on 2 and 4" in head
    assert variants.startswith("4: a snare is added on 4&\n")


def test_no_variant_is_told_from_a_line_further_down() -> None:
    more = GROOVE + "; snare 2 4 4&"
    most = GROOVE + "; snare 2 4 4&; crash 1 3"
    made = sheet(*song([most, GROOVE, GROOVE, GROOVE, more, GROOVE]))
    lines = cues_markdown(cue_sheet(made), made).split("\n")
    told = next(line for line in lines if line.startswith("- 1: as bar 5, but"))
    assert lines.index(told) == next(n for n, line in enumerate(lines) if line.startswith("- 5:")) + 1


def test_songs_without_strokes_or_bars_have_a_sheet_too() -> None:
    silent = sheet(chart([]), regular(["4/4"] * 2, 100))
    assert [cue.what for cue in cue_sheet(silent)] == ["listen"]
    empty = sheet(chart([]), Grid(beats=(), bars=()))
    assert cue_sheet(empty) == ()
    assert "nothing to teach yet" in cues_markdown((), empty)


def test_a_cue_sheet_is_the_same_each_time() -> None:
    assert cues_markdown(cue_sheet(_ferry()), _ferry()) == cues_markdown(cue_sheet(_ferry()), _ferry())


def test_cautions_promise_nothing() -> None:
    assert len({row.id for row in CAUTIONS}) == len(CAUTIONS)
    for row in CAUTIONS:
        assert not any(word in row.say.lower() for word in ("is safe", "safe level", "you are allowed", "is legal"))
    assert caution("warm up") in cautions("ladder")
    with pytest.raises(KeyError):
        caution("no such")


def test_a_roll_is_a_fill_and_the_landing_says_which_crash() -> None:
    bars = [*[GROOVE] * 7, "roll for:1/2 snare 3; hat 1 1& 2 2&; kick 1", "ringing second crash 1; hat 2 3 4; kick 1"]
    made = sheet(*song(bars))
    (landing,) = (cue for cue in cue_sheet(made) if cue.what == "land")
    assert "ringing second crash and kick on 1 of bar 9" in landing.say
    assert any("snare roll" in cue.say and "for two beats" in cue.say for cue in cue_sheet(made))


def _fills(bars: list[str]) -> list[tuple[int, ...]]:
    return [figure.bars for figure in families(sheet(*song(bars))).fills]


def test_a_fill_that_comes_back_is_still_a_fill() -> None:
    bars = ([GROOVE] * 7 + [FILL]) * 2 + [GROOVE]
    assert _fills(bars) == [(8, 16)]
    assert "\n- 8, 16 (" in cues_markdown(cue_sheet(sheet(*song(bars))), sheet(*song(bars)))


def test_every_other_bar_with_toms_is_a_groove() -> None:
    assert _fills([GROOVE, FILL] * 4 + [GROOVE]) == []


def test_toms_that_go_on_after_a_crash_are_no_fill() -> None:
    toms = "floor tom every 8th; snare 2 4; kick 1 3"
    assert _fills([GROOVE] * 4 + ["crash 1; floor tom 1& 2 2& 3 3& 4 4&; snare 2 4; kick 1 3"] + [toms] * 3) == []
