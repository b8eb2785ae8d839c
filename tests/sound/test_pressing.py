"""A level's sound is made piece by piece; what has not changed is taken from the file before."""

from io import BytesIO

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from sound_sheets import GROOVE, sheet, stroke

from fourlimb.model import Audio, Sheet, Stroke
from fourlimb.sound import encode, loudness, pressed, pressing, render
from fourlimb.sound.frames import FRAME, frames_of, laid, tag_of, titled
from fourlimb.sound.kit import RATE, Voices, built_in

BARS = 10


def song(*more: Stroke, without: tuple[int, str] = (0, "")) -> Sheet:
    """Ten bars of a groove, with a crash on 1 and an open hat now and then."""
    strokes = [
        stroke(bar, str(s.position), s.piece, velocity=s.velocity)
        for bar in range(1, BARS + 1)
        for s in GROOVE
        if s.bar == 1 and (bar, s.piece) != without
    ]
    colours = [stroke(1, "0", "crash"), stroke(4, "7/8", "hat_open"), stroke(9, "0", "crash")]
    return sheet([*strokes, *colours, *more], bars=BARS)


def heard(data: bytes) -> np.ndarray:
    samples, rate = soundfile.read(BytesIO(data), always_2d=True)
    assert rate == RATE
    return np.asarray(samples)


@pytest.fixture
def coded(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Lengths in seconds of all that is given to the encoder."""
    lengths: list[int] = []

    def counting(audio: Audio, form: str) -> bytes:
        lengths.append(round(len(audio.samples) / RATE, 1))
        return encode(audio, form)

    monkeypatch.setattr(pressing, "encode", counting)
    return lengths


CHANGES = {
    "a kick more": song(stroke(5, "3/8", "kick")),
    "no snare in a bar": song(without=(6, "snare")),
    "a crash that rings on": song(stroke(8, "1/2", "crash")),
    "a hat that closes another": song(stroke(4, "15/16", "hat_pedal")),
    "a flam at the very start": song(stroke(1, "0", "snare", grace="flam")),
    "the last stroke": song(stroke(BARS, "15/16", "tom_floor")),
    "nothing": song(),
}


@pytest.mark.parametrize("change", CHANGES)
def test_with_the_file_before_it_is_the_file_made_from_nothing(change: str) -> None:
    before = pressed(song())
    assert pressed(CHANGES[change], before) == pressed(CHANGES[change])


@given(st.lists(st.tuples(st.integers(1, BARS), st.integers(0, 15)), min_size=1, max_size=6, unique=True))
@settings(max_examples=8)
def test_corrected_again_and_again_it_is_still_the_file_made_from_nothing(places: list[tuple[int, int]]) -> None:
    data, more = pressed(song()), []
    for bar, sixteenth in places:
        more.append(stroke(bar, f"{sixteenth}/16", "tom_high"))
        data = pressed(song(*more), data)
    assert data == pressed(song(*more))


def test_a_kick_more_costs_a_few_seconds_of_sound(coded: list[int]) -> None:
    before = pressed(song())
    whole = sum(coded)
    coded.clear()
    pressed(CHANGES["a kick more"], before)
    assert sum(coded) <= 2 * (pressing.FRAMES + pressing.WARM + pressing.COOL) * FRAME / RATE + 0.3 < whole / 2
    coded.clear()
    pressed(song(), before)
    assert sum(coded) < 0.1


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: b"",
        lambda data: data[: len(data) // 2],
        lambda data: data[:200] + bytes(100) + data[300:],
        lambda data: data.replace(b"fourlimb pieces", b"somebody pieces"),
        lambda data: b"ID3\x04\x00\x00" + data[30:],
        lambda data: encode(render(song()).audio, "mp3"),
    ],
    ids=["none", "half", "spoiled", "another's", "cut", "plain"],
)
def test_a_file_that_is_not_ours_or_not_whole_is_not_used(spoil: object) -> None:
    assert callable(spoil)
    wanted = CHANGES["a kick more"]
    assert pressed(wanted, spoil(pressed(song()))) == pressed(wanted)


def test_it_sounds_as_the_same_chart_played_in_one_go() -> None:
    """By a kit of one recorded stroke a layer: in pieces, strokes take their turns otherwise."""
    layers = {sound: tuple((v, takes[:1]) for v, takes in rows) for sound, rows in built_in().layers.items()}
    written, kit = song(), Voices(layers)
    one_go, data = render(written, kit=kit).audio, heard(pressed(written, kit=kit))
    assert len(data) == len(one_go.samples)
    assert loudness(Audio(data.astype(np.float32), RATE)) == pytest.approx(loudness(one_go), abs=0.3)
    plain = heard(encode(one_go, "mp3"))
    edges = [at * FRAME for at in range(pressing.FRAMES, len(data) // FRAME, pressing.FRAMES)]
    for name, samples in (("in pieces", data), ("in one go", plain)):
        error = ((samples - one_go.samples) ** 2).mean(axis=1)
        share = error.sum() / (one_go.samples**2).mean(axis=1).sum()
        assert share < 0.03, name
    error = ((data - one_go.samples) ** 2).mean(axis=1)
    usual = ((plain - one_go.samples) ** 2).mean(axis=1)
    near = [slice(edge - FRAME, edge + FRAME) for edge in edges]
    assert np.mean([error[s].mean() for s in near]) < 2 * np.mean([usual[s].mean() for s in near]) + 1e-8


def test_neighbours_cut_their_blocks_alike_where_they_meet() -> None:
    """A joint is clean when both encoders chose the same windows there."""
    written = song(*[stroke(bar, f"{n}/16", "snare", velocity=60) for bar in (3, 7) for n in (3, 7, 10)])
    press = pressing.Press(written, built_in())
    frames = press.count // FRAME
    for first in range(pressing.FRAMES, frames - 1, pressing.FRAMES):
        before = _windows(press, first - pressing.FRAMES, pressing.FRAMES + 1)[-1]
        after = _windows(press, first, 1)[0]
        assert before == after, f"at frame {first}"


def _windows(press: pressing.Press, first: int, length: int) -> list[tuple[int, ...]]:
    return [frame.windows for frame in frames_of(_tagged(press._coded(first, length, 1.0)))]


def _tagged(frames: bytes) -> bytes:
    return tag_of(encode(Audio(np.zeros((FRAME, 2), dtype=np.float32), RATE), "mp3")) + frames


def test_frames_laid_anew_sound_the_same() -> None:
    audio = render(song()).audio
    stream = encode(audio, "mp3")
    frames = frames_of(stream)
    pieces = [(laid(frames[at : at + 50]), len(frames[at : at + 50])) for at in range(0, len(frames), 50)]
    tag = titled(tag_of(stream), pieces, len(audio.samples))
    again = heard(tag + b"".join(data for data, _ in pieces))
    assert np.array_equal(again, heard(stream))


def test_a_player_finds_its_way_by_the_table_in_front() -> None:
    data = pressed(song())
    file = soundfile.SoundFile(BytesIO(data))
    file.seek(10 * RATE)
    assert np.allclose(file.read(RATE, always_2d=True), heard(data)[10 * RATE : 11 * RATE], atol=2e-3)
