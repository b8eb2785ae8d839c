"""Harder recordings made of the open ones: drums turned down, a poor file, no drums at all.

Where a mix is the sum of its stems, one gain for the whole song takes the drums out of it again, and what is left is
real music without drums. The original mixes were mastered as a whole, so there it doesn't work.
"""

import io

import numpy as np
import numpy.typing as npt

from fourlimb.model import Audio

Floats = npt.NDArray[np.float32]


def music_alone(mix: Audio, drums: Audio) -> Audio:
    """A sum of stems without its drums: least squares for the one gain that the drums have in it."""
    both, own = _together(mix, drums)
    return Audio((both - _gain(both, own) * own)[:, None], mix.rate)


def turned_down(mix: Audio, drums: Audio, db: float) -> Audio:
    """The same music with its drums softer by so many dB."""
    both, own = _together(mix, drums)
    less = _gain(both, own) * (1 - 10 ** (-db / 20))
    return Audio((both - less * own)[:, None], mix.rate)


def _together(mix: Audio, drums: Audio) -> tuple[Floats, Floats]:
    n = min(len(mix.samples), len(drums.samples))
    return mix.samples[:n].mean(axis=1), drums.samples[:n].mean(axis=1)


def _gain(both: Floats, own: Floats) -> np.float32:
    return np.float32((both @ own) / (own @ own + 1e-9))


def poor_file(audio: Audio, kbit: int = 48) -> Audio:
    """A mono MP3 of so many kbit/s and back."""
    import av

    mono = audio.samples.mean(axis=1)
    target = io.BytesIO()
    with av.open(target, "w", format="mp3") as box:
        stream = box.add_stream("libmp3lame", rate=44100)
        stream.layout, stream.bit_rate = "mono", kbit * 1000
        sound = np.clip(_at(mono, audio.rate, 44100), -1, 1)
        frame = av.AudioFrame.from_ndarray(sound[None].astype(np.float32), format="fltp", layout="mono")
        frame.sample_rate = 44100
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            box.mux(packet)
    target.seek(0)
    with av.open(target, "r") as box:
        parts = [f.to_ndarray().mean(axis=0) for f in box.decode(audio=0)]
        rate = box.streams.audio[0].rate
    back = np.concatenate(parts).astype(np.float32)
    return Audio(back[_lag(sound, back) :][: len(sound), None], rate)


def _at(sound: Floats, rate: int, wanted: int) -> Floats:
    import soxr

    return np.asarray(sound if rate == wanted else soxr.resample(sound, rate, wanted))


def _lag(sound: Floats, back: Floats) -> int:
    """Samples by which a decoder starts late, 0 to 4,000."""
    n = 1 << 18
    a, b = np.fft.rfft(sound[:n], 2 * n), np.fft.rfft(back[:n], 2 * n)
    return int(np.argmax(np.fft.irfft(np.conj(a) * b)[:4000]))
