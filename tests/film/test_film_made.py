"""A film read back from its file: as long as its sound, the mark on the stroke when it sounds, chapters, captions."""

import errno
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from film_reading import HEIGHT, ReadBack, read_back

from fourlimb import film
from fourlimb.engrave import Layout
from fourlimb.film.captions import escaped
from fourlimb.film.make import SAMPLES_A_FRAME, shots_of
from fourlimb.film.notation import lines_of
from fourlimb.film.picture import PAPER, WASH, Zone, to_yuv, zones
from fourlimb.film.stage import FRAMES_A_SECOND
from fourlimb.film.walking import Walk
from fourlimb.film.writing import Container
from fourlimb.model import InputError, Sheet
from fourlimb.sound.kit import RATE

Made = tuple[film.Film, bytes]


def made(sheet: Sheet, container: Container = "mp4", **more: Any) -> Made:
    file = BytesIO()
    done = film.make(sheet, film.played_through(sheet), file, container=container, **{"height": HEIGHT, **more})
    return done, file.getvalue()


@pytest.fixture(scope="module")
def part(sheet: Sheet) -> Sheet:
    """Bars 7 to 11: two lines of music."""
    return film.cut(sheet, 7, 11)


@pytest.fixture(scope="module")
def mp4(av: Any, part: Sheet) -> tuple[film.Film, bytes, ReadBack]:
    done, data = made(part, height=2 * HEIGHT)
    return done, data, read_back(av, data)


def test_picture_and_sound_are_equally_long(mp4: tuple[film.Film, bytes, ReadBack]) -> None:
    done, _, back = mp4
    assert back.codecs == ("h264", "aac")
    assert len(back.pictures) == round(done.seconds * FRAMES_A_SECOND)
    assert abs(len(back.sound) / RATE - done.seconds) < 1 / FRAMES_A_SECOND
    assert back.times_s == pytest.approx([n / FRAMES_A_SECOND for n in range(len(back.times_s))], abs=1e-4)


def test_the_same_film_is_the_same_bytes(part: Sheet, mp4: tuple[film.Film, bytes, ReadBack]) -> None:
    assert made(part, height=2 * HEIGHT)[1] == mp4[1]


def test_chapters_and_captions_are_in_the_file(sheet: Sheet, mp4: tuple[film.Film, bytes, ReadBack]) -> None:
    done, _, back = mp4
    assert back.chapters == [pytest.approx(chapter, abs=0.002) for chapter in done.chapters]
    assert [text for _, _, text in back.captions] == [caption.text for caption in done.captions]
    assert [start for start, _, _ in back.captions] == pytest.approx([c.start_s for c in done.captions], abs=0.002)
    assert [end for _, end, _ in back.captions] == pytest.approx([c.end_s for c in done.captions], abs=0.002)
    assert any(sheet.plan.counts[8] in text for _, _, text in back.captions)


def test_webm_holds_the_same(av: Any, part: Sheet) -> None:
    done, data = made(film.cut(part, 8, 8), "webm")
    back = read_back(av, data)
    assert back.codecs[0] == "vp9"
    assert "opus" in back.codecs[1]
    assert abs(len(back.sound) / RATE - done.seconds) < 1 / FRAMES_A_SECOND
    assert len(back.pictures) == round(done.seconds * FRAMES_A_SECOND)
    assert [text for _, _, text in back.captions] == [escaped(caption.text) for caption in done.captions]
    assert [name for _, _, name in back.chapters] == [chapter.name for chapter in done.chapters]
    assert made(film.cut(part, 8, 8), "webm")[1] == data


def test_the_mark_is_on_the_stroke_when_it_sounds(part: Sheet, mp4: tuple[film.Film, bytes, ReadBack]) -> None:
    """When: heard in the film's own sound. Where: seen in the film's own picture."""
    back = mp4[2]
    shot = next(s for s in shots_of(part, film.played_through(part), film.Wanted()) if s.take is not None)
    assert shot.take is not None
    zoned = zones(2 * HEIGHT)
    walk = Walk(shot.take, lines_of(part, zoned, Layout()))
    late_ms, away = [], []
    for played in shot.take.bars:
        for position in sorted({stroke.position for stroke in part.chart.by_bar[played.bar]}):
            due_s = shot.take.at(played, position)
            heard_s = attack_near(back.sound, shot.start_s + due_s)
            late_ms.append(abs(heard_s - shot.start_s - due_s) * 1000)
            visit, head_x = walk.at(due_s + 1e-6)
            frame = int((shot.start_s + due_s) * FRAMES_A_SECOND + 1e-6)  # the one shown when it is due
            before, after = (walk.at(due_s + step / FRAMES_A_SECOND) for step in (-1, 1))
            if before[0] == after[0] == visit and after[1] > before[1]:  # not just turning to its line
                zone = zoned.lines[visit % 2]
                pixels = abs(mark_x(back.pictures[frame], zone) - zone.x - head_x)
                away.append(2 * pixels / (after[1] - before[1]))
    assert len(away) >= 20
    assert np.median(late_ms) < 2
    assert np.quantile(late_ms, 0.9) < 5, "all but what rings over a soft stroke"
    assert max(away) < 0.75, "frames that the mark is away from the stroke"
    assert np.median(away) < 0.4


def attack_near(sound: np.ndarray, time_s: float) -> float:
    """Where the sound rises most within 25 ms of a time."""
    step = RATE // 1000
    first = round((time_s - 0.025) * RATE)
    cut = np.abs(sound[first : first + 50 * step]).max(axis=1)
    loud = cut[: len(cut) // step * step].reshape(-1, step).max(axis=1)
    rise = np.diff(np.log(loud + 1e-4))
    return time_s - 0.025 + (int(rise.argmax()) + 1) / 1000


def mark_x(picture: np.ndarray, zone: Zone) -> float:
    """The middle of what has the mark's colour in a line's zone."""
    high, wide = len(picture) * 2 // 3, picture.shape[1]
    blue = picture[high : high + high // 4].reshape(high // 2, wide // 2).astype(float)
    paper, wash = to_yuv(PAPER)[1], to_yuv(WASH)[1]
    much = np.maximum(blue[zone.y // 2 : (zone.y + zone.high) // 2] - (paper + wash) / 2, 0).sum(axis=0)
    assert much.sum() > 0, "no mark in the picture"
    return 2 * float((much * np.arange(len(much))).sum() / much.sum()) + 1


def test_lines_take_turns_and_the_next_bar_is_always_seen(av: Any, part: Sheet) -> None:
    zoned = zones(HEIGHT)
    lines = lines_of(part, zoned, Layout())
    take = shots_of(part, film.played_through(part), film.Wanted())[1].take
    assert take is not None
    walk = Walk(take, lines)
    assert walk.visits == list(range(len(lines)))
    assert len(lines) > 1
    assert sorted(bar for line in lines for bar in line.places) == [7, 8, 9, 10, 11]
    for line in lines:
        assert line.ink.shape[1] <= zoned.lines[0].wide
        assert line.ink.shape[0] <= zoned.lines[0].high
        for places in line.places.values():
            assert [x for _, x in places] == sorted(x for _, x in places)


def test_a_disk_that_is_full_is_one_line(av: Any, part: Sheet) -> None:
    class Full(BytesIO):
        def write(self, data: Any, /) -> int:
            if self.tell() + len(data) > 20_000:
                raise OSError(errno.ENOSPC, "No space left on device")
            return super().write(data)

    bar = film.cut(part, 8, 8)
    with pytest.raises(InputError, match=r"No space left on device.*free some space") as refused:
        film.make(bar, film.played_through(bar), Full(), height=HEIGHT)
    assert "\n" not in str(refused.value)


def test_a_taught_film_has_a_chapter_for_every_step(av: Any, sheet: Sheet) -> None:
    two = film.excerpt(sheet, 2, 4)
    scenes = [scene for scene in film.taught(two) if scene.kind == "look" or scene.rounds == 1][:6]
    file = BytesIO()
    done = film.make(two, scenes, file, height=HEIGHT)
    back = read_back(av, file.getvalue())
    assert [name for _, _, name in back.chapters] == [scene.chapter for scene in scenes if scene.chapter]
    assert abs(len(back.sound) - len(back.pictures) * SAMPLES_A_FRAME) < SAMPLES_A_FRAME
    assert done.chapters[0].start_s == 0.0


def test_silence_in_the_sound_where_a_bar_is_only_looked_at(av: Any, sheet: Sheet) -> None:
    file = BytesIO()
    look = film.Scene(kind="look", bars=(2, 2), say="hat on every 8th", seconds=1.0)
    film.make(sheet, [look], file, height=HEIGHT)
    back = read_back(av, file.getvalue())
    assert np.abs(back.sound).max() < 1e-4
    assert len(back.pictures) == FRAMES_A_SECOND
