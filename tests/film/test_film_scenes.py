"""A film's scenes are the lesson's own: the cue sheet's order, the ladder's tempi, bars under their own numbers."""

import numpy as np
import pytest

from fourlimb import film, teach
from fourlimb.film.scenes import HEADING_LEAST, LOOK_LEAST_S, LOOK_MOST_S
from fourlimb.film.sounding import RATE, PlayedBar, Take, in_rounds, recorded_rounds
from fourlimb.film.telling import section_words
from fourlimb.model import Audio, InputError, Section, Sheet
from fourlimb.teach.cues import goal_bpm, three_rungs


def test_played_through_is_the_whole_song_once_at_its_tempo(sheet: Sheet) -> None:
    scenes = film.played_through(sheet, care=("Ask the owners.",))
    assert [scene.kind for scene in scenes] == ["card", "play", "card"]
    assert scenes[1].bars == (sheet.grid.numbers[0], sheet.grid.numbers[-1])
    assert scenes[1].speed == 1.0
    assert "set your own volume" in " ".join(scenes[0].lines)
    assert "Ask the owners." in scenes[2].lines


def test_a_slower_film_says_both_tempi(sheet: Sheet) -> None:
    scene = film.played_through(sheet, bpm=66.0)[1]
    assert scene.speed == pytest.approx(0.5, abs=0.01)
    assert scene.heading == "66 beats a minute (the song: 132)"


def test_the_lesson_is_filmed_in_the_order_of_its_cue_sheet(sheet: Sheet) -> None:
    cues = [cue for cue in teach.cue_sheet(sheet) if cue.what != "say"]
    played = [scene.bars for scene in film.taught(sheet) if scene.kind == "play"]
    in_order = [bars for n, bars in enumerate(played) if n == 0 or bars != played[n - 1]]
    wanted = [(cue.from_bar, cue.to_bar) for cue in cues]
    assert in_order == [bars for n, bars in enumerate(wanted) if n == 0 or bars != wanted[n - 1]]


def test_every_bar_is_said_before_it_is_played_and_slowly_before_it_is_fast(sheet: Sheet) -> None:
    scenes = film.taught(sheet)
    goal = goal_bpm(sheet, 1)
    slow = three_rungs(goal)[0]
    looks = [n for n, scene in enumerate(scenes) if scene.kind == "look"]
    assert len(looks) == sum(1 for d in sheet.plan.differences)
    for n in looks:
        assert LOOK_LEAST_S <= scenes[n].seconds <= LOOK_MOST_S
        following = scenes[n + 1]
        if following.kind == "play" and following.rounds > 1:
            assert following.bpm == slow
            assert scenes[n + 3].bpm == goal
            assert scenes[n + 3].speed == 1.0
    assert any(scene.rounds == teach.LADDER.clean for scene in scenes)
    assert any(scene.heading.startswith("Joined up") for scene in scenes)


def test_a_part_keeps_its_bar_numbers_and_its_times(sheet: Sheet) -> None:
    part = film.cut(sheet, 5, 8)
    assert part.grid.numbers == (5, 6, 7, 8)
    assert part.grid.at(6) == sheet.grid.at(6)
    assert part.grid.end_s == sheet.grid.end(8)
    assert {stroke.bar for stroke in part.chart.strokes} == {5, 6, 7, 8}
    with pytest.raises(InputError, match="bars 5-99 are not in the song"):
        film.cut(sheet, 5, 99)


def test_round_and_round_every_round_is_the_bar_itself(sheet: Sheet) -> None:
    scene = film.Scene(kind="play", bars=(5, 6), rounds=3, speed=0.6)
    looped = in_rounds(sheet, scene)
    assert len(looped.grid.bars) == 6
    take = Take(sheet, scene, film.Wanted())
    assert [played.bar for played in take.bars] == [5, 6] * 3
    one = sheet.grid.end(6) - sheet.grid.at(5).start_s
    assert take.bars[4].start_s - take.bars[2].start_s == pytest.approx(one / 0.6)
    own = [s.position for s in sheet.chart.by_bar[6]]
    assert [s.position for s in looped.chart.by_bar[4]] == own
    assert take.song_at(take.bars[3].start_s + 0.1) == pytest.approx(sheet.grid.at(6).start_s + 0.06)
    assert sum(map(len, take.sound())) == round(take.seconds * RATE)


def test_round_and_round_the_recording_is_the_bar_itself_every_time(sheet: Sheet) -> None:
    rng = np.random.default_rng(3)
    recording = Audio(rng.normal(0, 0.1, (round(sheet.grid.end_s * RATE), 2)).astype(np.float32), RATE)
    start_s, end_s = sheet.grid.at(5).start_s, sheet.grid.end(6)
    long_s = end_s - start_s
    scene = film.Scene(kind="play", bars=(5, 6), rounds=3)
    looped, attacks = recorded_rounds(sheet, scene, recording, (start_s - 1, start_s + 0.5, end_s + 1))
    assert attacks == pytest.approx((0.5, 0.5 + long_s, 0.5 + 2 * long_s))
    first, some = round(start_s * RATE), RATE // 10
    for number in range(3):
        at = round(number * long_s * RATE)
        own, heard = recording.samples[first + some : first + 5 * some], looped.samples[at + some : at + 5 * some]
        assert np.array_equal(own, heard)
    assert np.abs(looped.samples).max() <= 1.5 * np.abs(recording.samples).max(), "no jump where rounds meet"


def test_a_long_silence_says_how_long_it_still_lasts(sheet: Sheet) -> None:
    tacet = Section(name="intro", from_bar=1, to_bar=HEADING_LEAST, tacet=True)
    sections = dict.fromkeys(range(1, HEADING_LEAST + 1), tacet)
    assert section_words(sections, PlayedBar(1, 0.0, 1.0, 0.0)) == f"intro\nno drums, {HEADING_LEAST} more"
    assert section_words(sections, PlayedBar(HEADING_LEAST, 0.0, 1.0, 0.0)) == "intro\nno drums, 1 more"
    assert section_words({3: Section(name="stop", from_bar=3, to_bar=4, tacet=True)}, PlayedBar(3, 0, 1, 0)) == (
        "stop\nno drums"
    )
    assert section_words({}, PlayedBar(1, 0.0, 1.0, 0.0)) == ""


def test_the_count_in_is_counted_up_to_the_first_bar(sheet: Sheet) -> None:
    take = Take(sheet, film.Scene(kind="play", bars=(5, 6), speed=1.0), film.Wanted())
    assert [word for _, word in take.counted] == ["1", "2", "3", "4"]
    beat_s = (take.bars[0].end_s - take.bars[0].start_s) / 4
    assert take.counted[-1][0] == pytest.approx(take.bars[0].start_s - beat_s)
    slow = Take(sheet, film.Scene(kind="play", bars=(5, 5), rounds=2, speed=0.6), film.Wanted())
    assert [word for _, word in slow.counted] == ["1", "-", "2", "-", "1", "2", "3", "4"]
