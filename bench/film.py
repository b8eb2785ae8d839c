"""What a lesson's film costs, how true its mark is, and how surely a teacher's footage finds its place.

    python -m bench.film night-ferry.lesson [--bars 1-16] [--long 10] [--others FOLDER] [--recordings FOLDER]

- Cost: processor seconds a minute of film at full size; of the same pictures encoded alone (the reference: libx264 with
  the same settings, one still page copied and a mark painted for each frame), and of RGB pictures of which each is
  converted (as a film without the house's own planes would be); the ratios. One thread, one run, one after another.
- Truth: in the frame that is shown when a stroke is due, how far the mark seen in it stands from the middle of the head
  (pixels and frames), when the stroke is heard in the film's own sound, and how much longer picture is than sound.
- Memory: peak of a process of its own that films a song of `--long` minutes.
- Footage: the chart as a camera would hear it (a room, noise, resampled, faster and slower, other bars) and things that
  are not it: how far from its place it is found, how well the next best place fits, whether the film says it is sure.
  `--others`: a folder of recordings of other songs. `--recordings`: a folder with songs in `mix` and the same songs'
  drums alone in `drums`: a lesson is made of each mix, and its drums, which a drummer played, are the camera's sound.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import av
import numpy as np
import soxr

from fourlimb import film, lesson, listen
from fourlimb.engrave import Layout
from fourlimb.film.canvas import Canvas
from fourlimb.film.make import frames_of, shots_of
from fourlimb.film.notation import lines_of
from fourlimb.film.picture import PAPER, WASH, Zone, to_yuv, zones
from fourlimb.film.sounding import in_rounds
from fourlimb.film.stage import FRAMES_A_SECOND
from fourlimb.film.syncing import find
from fourlimb.film.walking import Walk
from fourlimb.film.writing import CODINGS
from fourlimb.model import Audio, Sheet
from fourlimb.sound import Mix, render
from fourlimb.sound.kit import RATE

FULL = 1080


def spent(work: Any) -> tuple[float, Any]:
    """Processor seconds of a piece of work, and what it gave."""
    began = time.process_time()
    given = work()
    return time.process_time() - began, given


def reference(frames: int, *, converted: bool) -> float:
    """Processor seconds to encode a still page under a moving mark, its planes ready or converted from RGB."""
    zoned = zones(FULL)
    canvas = Canvas(zoned)
    rgb = np.full((FULL, zoned.wide, 3), 250, np.uint8)
    with av.open(BytesIO(), "w", format="mp4") as out:
        stream = out.add_stream("libx264", rate=FRAMES_A_SECOND, options=CODINGS["mp4"].settings)
        stream.width, stream.height, stream.pix_fmt = zoned.wide, FULL, "yuv420p"
        stream.codec_context.thread_count = 1

        def run() -> None:
            for number in range(frames):
                patch = canvas.mark(100 + number % 1700, 200, 500)
                if converted:
                    frame = av.VideoFrame.from_ndarray(rgb, format="rgb24").reformat(format="yuv420p")
                else:
                    frame = av.VideoFrame.from_ndarray(canvas.planes, format="yuv420p")
                canvas.undo(patch)
                frame.pts = number
                out.mux(stream.encode(frame))
            out.mux(stream.encode(None))

        return spent(run)[0]


def cost(sheet: Sheet) -> bytes:
    """The table of costs; the film's bytes."""
    file = BytesIO()
    film_s, made = spent(lambda: film.make(sheet, film.played_through(sheet), file))
    frames = frames_of(made.seconds)
    ready_s, converted_s = reference(frames, converted=False), reference(frames, converted=True)
    sound_s, _ = spent(lambda: [0 for s in shots_of(sheet, film.played_through(sheet), film.Wanted()) if s.take for _ in s.take.sound()])  # fmt: skip
    minutes = made.seconds / 60
    print(f"cost, {made.seconds:.0f} s of film, {len(file.getvalue()) / 1e6 / minutes:.1f} MB a minute")
    print(f"  whole film            {film_s / minutes:6.1f} s of processor a minute")
    print(f"  its sound alone       {sound_s / minutes:6.1f}")
    print(f"  encoding alone        {ready_s / minutes:6.1f}   film over it: {film_s / ready_s:.2f}")
    print(f"  with RGB converted    {converted_s / minutes:6.1f}   film over it: {film_s / converted_s:.2f}")
    return file.getvalue()


def mark_x(planes: np.ndarray, zone: Zone, high: int) -> float:
    """The middle of what has the mark's colour in a line's zone; not a number where there is none."""
    blue = planes[high : high + high // 4].reshape(high // 2, -1).astype(float)
    middle = (to_yuv(PAPER)[1] + to_yuv(WASH)[1]) / 2
    much = np.maximum(blue[zone.y // 2 : (zone.y + zone.high) // 2] - middle, 0).sum(axis=0)
    return 2 * float((much * np.arange(len(much))).sum() / much.sum()) + 1 if much.sum() else float("nan")


def truth(sheet: Sheet, data: bytes) -> None:
    """The table of the mark."""
    shot = next(s for s in shots_of(sheet, film.played_through(sheet), film.Wanted()) if s.take is not None)
    assert shot.take is not None
    zoned = zones(FULL)
    walk = Walk(shot.take, lines_of(sheet, zoned, Layout()))
    due: dict[int, list[tuple[float, int, float]]] = {}
    for played in shot.take.bars:
        for position in {s.position for s in sheet.chart.by_bar.get(played.bar, ())}:
            at = shot.take.at(played, position)
            visit, x = walk.at(at + 1e-6)
            due.setdefault(int((shot.start_s + at) * FRAMES_A_SECOND + 1e-6), []).append((at, visit, x))
    pixels, share = [], []
    count = 0
    with av.open(BytesIO(data)) as back:
        for number, frame in enumerate(back.decode(video=0)):
            count += 1
            for at, visit, x in due.get(number, ()):
                before, after = (walk.at(at + step / FRAMES_A_SECOND) for step in (-1.0, 1.0))
                zone = zoned.lines[visit % 2]
                seen = mark_x(frame.to_ndarray(), zone, FULL)
                if before[0] == after[0] == visit and after[1] > before[1]:
                    pixels.append(abs(seen - zone.x - x))
                    share.append(2 * pixels[-1] / (after[1] - before[1]))
    late, sound_s = heard(sheet, shot, data)
    print(f"truth, {len(pixels)} places of strokes at full size")
    print(
        f"  mark from the head    median {np.median(pixels):.1f} px, 95 % {np.quantile(pixels, 0.95):.1f}, most {max(pixels):.1f}"
    )
    print(
        f"  in frames             median {np.median(share):.2f}, 95 % {np.quantile(share, 0.95):.2f}, most {max(share):.2f}"
    )
    print(
        f"  stroke heard late by  median {np.median(late):.1f} ms, 90 % within {np.quantile(np.abs(late), 0.9):.1f} ms"
    )
    print(f"  picture over sound    {(count / FRAMES_A_SECOND - sound_s) * 1000:+.1f} ms")


def heard(sheet: Sheet, shot: Any, data: bytes) -> tuple[list[float], float]:
    """How late each stroke is heard in the film, ms; seconds of sound."""
    parts = []
    with av.open(BytesIO(data)) as back:
        for frame in back.decode(audio=0):
            parts.append(frame.to_ndarray().T)
    sound = np.concatenate(parts)
    late = []
    for played in shot.take.bars:
        for position in {s.position for s in sheet.chart.by_bar.get(played.bar, ()) if not s.ghost}:
            at = shot.start_s + shot.take.at(played, position)
            step = RATE // 1000
            cut = np.abs(sound[round((at - 0.025) * RATE) :][: 50 * step]).max(axis=1)
            rise = np.diff(np.log(cut[: len(cut) // step * step].reshape(-1, step).max(axis=1) + 1e-4))
            late.append(int(rise.argmax()) + 1 - 25.0)
    return late, len(sound) / RATE


def long(folder: Path, minutes: float) -> None:
    """The peak memory of a process that films so many minutes."""
    done = subprocess.run(
        [sys.executable, "-m", "bench.film", str(folder), "--only-long", f"{minutes}"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    print(done.stdout, end="")


def only_long(sheet: Sheet, minutes: float) -> None:
    numbers = sheet.grid.numbers
    bars = max(1, numbers[0]), numbers[-1]
    once = sheet.grid.end(bars[1]) - sheet.grid.at(bars[0]).start_s
    rounds = max(1, round(minutes * 60 / once))
    song = in_rounds(sheet, film.Scene(kind="play", bars=bars, rounds=rounds)) if rounds > 1 else sheet
    with tempfile.TemporaryFile() as file:
        made = film.make(song, film.played_through(song), file)
        size = file.seek(0, 2) / 1e6
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory, {made.seconds / 60:.1f} minutes of film ({size:.0f} MB): peak {peak:.0f} MB")


def as_heard(
    sheet: Sheet, *, speed: float = 1.0, noise: float = 0.02, room: bool = False, click: bool = False
) -> tuple[Audio, float]:
    """The chart as a camera hears it from 3.217 s on at 48 kHz; where its first bar begins."""
    rng = np.random.default_rng(1)
    track = render(sheet, Mix(speed=speed, click_db=0.0 if click else None, count_in=click))
    dry = np.concatenate([np.zeros(round(3.217 * RATE)), track.audio.mono(), np.zeros(3 * RATE)])
    if room:
        tail = rng.normal(0, 1, RATE // 3) * np.exp(-np.arange(RATE // 3) / (0.12 * RATE))
        size = 1 << (len(dry) + len(tail)).bit_length()
        wet = np.fft.irfft(np.fft.rfft(dry, size) * np.fft.rfft(tail / np.linalg.norm(tail), size), size)[: len(dry)]
        dry = dry + wet
    got = dry / np.abs(dry).max() * 0.5 + rng.normal(0, noise, len(dry))
    camera = soxr.resample(got, RATE, 48_000).astype(np.float32)
    return Audio(camera[:, None], 48_000), 3.217 + track.count_in_s


def cases(sheet: Sheet, easier: Sheet) -> Iterator[tuple[str, Sheet, Audio, float | None, Sequence[float]]]:
    """Name, what is filmed, what the camera heard, where it begins there (None: nowhere), the speeds tried."""
    for name, how in {"plain": {}, "noise": {"noise": 0.1}, "room": {"room": True, "noise": 0.05}, "with click": {"click": True}, "at 80 %": {"speed": 0.8}}.items():  # fmt: skip
        yield name, sheet, *as_heard(sheet, **how), (1.0, 0.8)
    numbers = [n for n in sheet.grid.numbers if n > 0]
    for first in range(numbers[0], numbers[-1] - 6, 8):
        part = film.cut(sheet, first, first + 7)
        if part.chart.strokes:
            yield f"bars {first}-{first + 7}, room", part, *as_heard(part, room=True, noise=0.05), (1.0,)
    yield "an easier level", sheet, *as_heard(easier), (1.0,)
    half = film.cut(sheet, numbers[0], numbers[len(numbers) // 2])
    sound, _ = as_heard(film.cut(sheet, numbers[len(numbers) // 2] + 1, numbers[-1]))
    yield "other bars", half, sound, None, (1.0,)
    noise = np.random.default_rng(2).normal(0, 0.1, (60 * 48_000, 1)).astype(np.float32)
    yield "noise alone", sheet, Audio(noise, 48_000), None, (1.0,)


def footage(sheet: Sheet, easier: Sheet, others: Path | None) -> None:
    """The table of footage."""
    print(f"footage{'':22s} off by ms   next best fits   over chance   said")
    for name, filmed, sound, true_s, speeds in cases(sheet, easier):
        _row(name, filmed, sound, true_s, speeds)
    for path in sorted(others.iterdir())[:12] if others else ():
        if path.suffix in (".flac", ".ogg", ".wav", ".mp3"):
            _row(path.name, sheet, listen.read_audio(path), None, (1.0,))


def recorded(folder: Path) -> None:
    """The table of real drummers: whole songs, and nine bars of each, found in the whole song's drums."""
    rng = np.random.default_rng(0)
    for mix in sorted((folder / "mix").iterdir()):
        sheet = lesson.sheets(lesson.build(lesson.hear_song(mix)))["full"]
        played = listen.read_audio(folder / "drums" / mix.name)
        dry = np.concatenate([np.zeros(round(3.217 * played.rate)), played.mono()])
        heard = dry / np.abs(dry).max() * 0.5 + rng.normal(0, 0.01, len(dry))
        camera = Audio(heard[:, None].astype(np.float32), played.rate)
        numbers = sheet.grid.numbers
        half = len(numbers) // 2
        spans = [(numbers[0], numbers[-1]), (numbers[0], numbers[min(8, half)]), (numbers[half], numbers[-1])]
        for first, last in spans:
            part = film.cut(sheet, first, last)
            _row(f"{mix.stem}, bars {first}-{last}", part, camera, 3.217 + part.grid.at(first).start_s, (1.0,))


def _row(name: str, sheet: Sheet, sound: Audio, true_s: float | None, speeds: Sequence[float]) -> None:
    sync = find(sheet, sound, speeds)
    off = "  not it" if true_s is None else f"{(sync.start_s - true_s) * 1000:8.1f}"
    print(
        f"  {name[:26]:26s} {off} {sync.share:14.2f} {sync.fits:14.1f}        {'sure' if sync.sure else 'in doubt'}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("lesson", type=Path)
    parser.add_argument("--bars", default="1-16")
    parser.add_argument("--long", type=float, default=10.0)
    parser.add_argument("--others", type=Path)
    parser.add_argument("--recordings", type=Path)
    parser.add_argument("--only-long", type=float, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    sheets = lesson.sheets(lesson.read_lesson(asked.lesson))
    if asked.only_long:
        only_long(sheets["full"], asked.only_long)
        return
    first, _, last = asked.bars.partition("-")
    part = film.excerpt(sheets["full"], int(first), int(last or first))
    truth(part, cost(part))
    if asked.long:
        long(asked.lesson, asked.long)
    footage(sheets["full"], sheets["bones"], asked.others)
    if asked.recordings:
        recorded(asked.recordings)


if __name__ == "__main__":
    main()
