"""A teacher's own video: found by its sound, in step with the chart, whole and upright in its place."""

import struct
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soxr
from film_reading import HEIGHT

from fourlimb import film
from fourlimb.film.canvas import Canvas
from fourlimb.film.footage import Footage, fitted
from fourlimb.film.picture import PAPER, Zone, to_yuv, zones
from fourlimb.film.syncing import Sync, find
from fourlimb.model import Audio, InputError, Sheet
from fourlimb.sound.filters import convolve
from fourlimb.sound.kit import RATE
from fourlimb.sound.render import Mix, render

BEFORE_S = 1.234
RATE_OF_CAMERA = 48_000
FRAMES = Fraction(24_000, 1001)
"""A camera's own: neither the film's nor a whole number."""


def played(sheet: Sheet, *, speed: float = 1.0, noise: float = 0.02) -> tuple[Audio, float]:
    """The sound of a camera in the room where the chart is played, and the second at which its first bar begins."""
    rng = np.random.default_rng(5)
    track = render(sheet, Mix(speed=speed, click_db=None, count_in=False))
    silence = np.zeros(round(BEFORE_S * RATE), np.float32)
    dry = np.concatenate([silence, track.audio.mono()])
    tail = rng.normal(0, 1, RATE // 4) * np.exp(-np.arange(RATE // 4) / (0.05 * RATE))
    wet = convolve(dry, tail / np.linalg.norm(tail)) * 0.5 + dry
    heard = wet / np.abs(wet).max() * 0.5 + rng.normal(0, noise, len(wet))
    camera = soxr.resample(heard, RATE, RATE_OF_CAMERA).astype(np.float32)
    return Audio(camera[:, None], RATE_OF_CAMERA), len(silence) / RATE + track.count_in_s


@pytest.mark.parametrize("noise", [0.005, 0.08])
def test_the_place_is_found_to_a_hundredth_of_a_second(sheet: Sheet, noise: float) -> None:
    footage, true_s = played(sheet, noise=noise)
    sync = find(sheet, footage, [1.0])
    assert sync.start_s == pytest.approx(true_s, abs=0.01)
    assert sync.sure


def test_played_slower_is_found_too(sheet: Sheet) -> None:
    footage, true_s = played(sheet, speed=0.8)
    sync = find(sheet, footage, [1.0, 0.8])
    assert sync.speed == 0.8
    assert sync.start_s == pytest.approx(true_s, abs=0.01)


def test_footage_of_something_else_is_in_doubt(sheet: Sheet) -> None:
    rng = np.random.default_rng(6)
    other = Audio(rng.normal(0, 0.1, (20 * RATE, 1)).astype(np.float32), RATE)
    assert not find(sheet, other, [1.0]).sure


def test_a_bar_that_goes_round_and_round_is_in_doubt(sheet: Sheet) -> None:
    """The same bar eight times: a bar earlier fits nearly as well."""
    from fourlimb.film.sounding import in_rounds

    loop = in_rounds(sheet, film.Scene(kind="play", bars=(3, 3), rounds=8))
    footage, _ = played(in_rounds(sheet, film.Scene(kind="play", bars=(3, 3), rounds=16)))
    assert not find(loop, footage, [1.0]).sure


def test_silent_footage_is_told(sheet: Sheet) -> None:
    with pytest.raises(InputError, match="nothing is struck"):
        find(sheet, Audio(np.zeros((RATE * 3, 1), np.float32), RATE), [1.0])


SIZE = (64, 48)


def brightness(frame: int) -> int:
    """What frame number so-and-so of the made camera looks like."""
    return 20 + (frame * 7) % 200


@pytest.fixture(scope="module")
def camera(av: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three seconds of video, each frame of its own brightness."""
    path = tmp_path_factory.mktemp("camera") / "camera.mp4"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=FRAMES, options={"crf": "5", "g": "12"})
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        for number in range(72):
            grey = np.full((SIZE[1] * 3 // 2, SIZE[0]), 128, np.uint8)
            grey[: SIZE[1]] = brightness(number)
            frame = av.VideoFrame.from_ndarray(grey, format="yuv420p")
            frame.pts, frame.time_base = number, 1 / FRAMES
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def shown_by(camera: Path) -> tuple[Canvas, Zone, Footage]:
    """A picture with room for footage, that room, and the footage."""
    zoned = zones(HEIGHT, footage=True)
    assert zoned.footage is not None
    return Canvas(zoned), zoned.footage, Footage(camera)


def test_the_frame_shown_is_the_one_of_that_moment(camera: Path) -> None:
    canvas, zone, footage = shown_by(camera)
    footage.in_step(Sync(0.5, 1.0), 10.0)
    middle = zone.y + zone.high // 2, zone.x + zone.wide // 2
    for song_s in (9.6, 10.0, 10.02, 10.5, 11.9, 10.1, 12.3):  # backwards too: bars are played again
        footage.paint(canvas, zone, song_s)
        due = int((song_s - 10.0 + 0.5) * FRAMES + 1e-6)
        assert abs(int(canvas.luma[middle]) - brightness(due)) < 4, song_s
    for song_s in (9.4, 13.0):
        footage.paint(canvas, zone, song_s)
        assert canvas.luma[middle] == 16, "black before the camera runs and after it stopped"
    footage.close()


def test_played_slower_the_footage_runs_slower_beside_the_song(camera: Path) -> None:
    canvas, zone, footage = shown_by(camera)
    footage.in_step(Sync(0.0, 0.5), 0.0)
    footage.paint(canvas, zone, 1.0)
    shown = int(canvas.luma[zone.y + zone.high // 2, zone.x + zone.wide // 2])
    assert abs(shown - brightness(int(2.0 * FRAMES))) < 4
    footage.close()


@pytest.mark.parametrize(("turn", "corner"), [(0, (0, 0)), (90, (-1, 0)), (180, (-1, -1)), (-90, (0, -1))])
def test_a_picture_is_whole_and_upright(av: Any, turn: int, corner: tuple[int, int]) -> None:
    """The camera says how it was held; the bright corner goes where turning anticlockwise takes it."""
    grey = np.full((48 * 3 // 2, 64), 128, np.uint8)
    grey[:48] = 60
    grey[:16, :16] = 220
    frame = av.VideoFrame.from_ndarray(grey, format="yuv420p")

    class Held:
        rotation = turn
        width, height, reformat = frame.width, frame.height, frame.reformat

    luma, blue, red = fitted(Held(), Zone(0, 0, 64, 64))
    assert luma.shape == (64, 64)
    assert blue.shape == red.shape == (32, 32)
    seen = np.argwhere(luma > 16)
    (top, left), (bottom, right) = seen.min(axis=0), seen.max(axis=0)
    wide, high = (64, 48) if turn % 180 == 0 else (48, 64)
    assert (right - left + 1, bottom - top + 1) == (wide, high), "scaled whole, black beside it"
    inside = luma[top : bottom + 1, left : right + 1]
    row = 4 if corner[0] == 0 else -5
    column = 4 if corner[1] == 0 else -5
    assert inside[row, column] > 180


def test_a_phone_held_upright_is_shown_upright(av: Any, camera: Path, tmp_path: Path) -> None:
    """The file says, in its track's matrix, that it is to be turned a quarter clockwise (ISO 14496-12, tkhd)."""
    data = bytearray(camera.read_bytes())
    matrix = data.find(b"tkhd") + 44
    assert struct.unpack(">9i", data[matrix : matrix + 36])[:5] == (0x10000, 0, 0, 0, 0x10000)
    data[matrix : matrix + 36] = struct.pack(">9i", 0, 0x10000, 0, -0x10000, 0, 0, SIZE[1] << 16, 0, 1 << 30)
    phone = tmp_path / "phone.mp4"
    phone.write_bytes(data)
    with av.open(str(phone)) as film_of_it:
        luma = fitted(next(film_of_it.decode(video=0)), Zone(0, 0, 64, 64))[0]
    seen = np.argwhere(luma > 16)
    assert tuple(seen.max(axis=0) - seen.min(axis=0) + 1) == SIZE, "higher than wide"


def test_what_is_no_video_is_one_line(av: Any, tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("not a video")
    with pytest.raises(InputError, match="is no video") as refused:
        Footage(path)
    assert "\n" not in str(refused.value)


def test_the_mark_leaves_nothing_behind() -> None:
    canvas = Canvas(zones(360))
    before = canvas.planes.copy()
    patch = canvas.mark(100.5, 40, 120)
    assert (canvas.planes != before).any()
    canvas.undo(patch)
    assert (canvas.planes == before).all()
    assert canvas.luma[0, 0] == to_yuv(PAPER)[0]
