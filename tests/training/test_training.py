"""The training chain, tiny: plans are sound, a few steps learn, and what is exported answers as PyTorch does."""

import json
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("torch", reason="training needs PyTorch, which is not installed")

import torch
from training.export import read_checkpoint, write
from training.features import LogMel, filterbank
from training.material import RATE_HZ, open_pack
from training.network import Network, Shape
from training.patterns import STYLES
from training.plan import Planner, kernel
from training.train import Settings, Team, run

from fourlimb.listen import features as numpy_features
from fourlimb.listen.network import read_network
from fourlimb.model import SOUNDS, Audio
from training import sounds

SMALL = Shape(front=(4, 6, 8), width=24, before=(1, 2), attention=1, heads=2, after=(1, 4))


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A pack of our own: decaying sines and noises for strokes, sines for notes, no recorded sound at all."""
    import soundfile

    folder = tmp_path_factory.mktemp("pack")
    rng = np.random.default_rng(0)
    strokes, groups, at = [], [], 0
    for k, sound in enumerate(SOUNDS):
        t = np.arange(8000) / RATE_HZ
        tone = np.sin(2 * np.pi * (50 + 40 * k) * t) if k % 2 == 0 else rng.normal(0, 0.3, len(t))
        strokes.append(tone * np.exp(-t / 0.06))
        sample = {"start": at, "length": 8000, "onset_s": 0.0}
        groups.append({"kit": "ours", "sound": sound, "held": False, "recorded": True, "samples": [sample]})
        at += 8000
    tone = np.sin(2 * np.pi * 110 * np.arange(RATE_HZ) / RATE_HZ) * 0.3
    notes = [
        {"program": 33, "role": role, "samples": [{"start": 0, "length": RATE_HZ, "note": 45, "rms": 0.2}]}
        for role in ("bass", "chord", "lead")
    ]
    soundfile.write(folder / "oneshots.flac", np.concatenate(strokes) * 0.8, RATE_HZ)
    for name in ("notes", "speech", "band"):
        with soundfile.SoundFile(folder / f"{name}.ogg", "w", RATE_HZ, 1, format="OGG", subtype="VORBIS") as f:
            for _ in range(8):
                f.write(tone[:16000])
    np.savez(
        folder / "grooves.npz",
        quarters=np.arange(0, 16, 0.5, dtype=np.float32),
        sound=np.tile([0, 4, 1, 4], 8).astype(np.uint8),
        velocity=np.full(32, 100, np.uint8),
    )
    groove = {"start": 0, "length": 32, "tempo_bpm": 100.0, "numerator": 4, "denominator": 4, "style": "rock"}
    for name, rows in (
        ("oneshots", groups),
        ("notes", notes),
        ("band", []),
        ("grooves", [{**groove, "fill": False, "split": "train"}]),
    ):
        (folder / f"{name}.json").write_text(json.dumps(rows))
    return folder


def test_sounds_are_in_the_packages_order() -> None:
    assert sounds.SOUNDS == SOUNDS


def test_plans_put_every_stroke_inside_and_mark_beats(pack: Path) -> None:
    planner = Planner(open_pack(pack)[0], seconds=6.4)
    rng = np.random.default_rng(5)
    plans = [planner.draw(rng) for _ in range(30)]
    assert all(p.hits.shape == (640, 18) for p in plans)
    assert sum(int((p.hits == 255).sum()) for p in plans) > 300
    assert all((p.pulse[:, 0] >= p.pulse[:, 1]).all() for p in plans)


def test_the_same_seed_gives_the_same_plan(pack: Path) -> None:
    planner = Planner(open_pack(pack)[0], seconds=6.4)
    first, second = (planner.draw(np.random.default_rng(8)) for _ in range(2))
    assert np.array_equal(first.hits, second.hits)
    assert first.events.rows == second.events.rows


@pytest.mark.parametrize("style", sorted(STYLES))
def test_every_style_writes_bars_that_hold_its_strokes(style: str) -> None:
    for seed in range(8):
        bar = STYLES[style][0](np.random.default_rng(seed))
        assert bar.matrix.shape == (bar.beats * bar.per_beat, 18)
        assert bar.matrix.min() >= 0
        assert bar.matrix.max() > 0


def test_the_target_kernel_keeps_the_place_between_frames() -> None:
    curve = np.zeros(20, np.uint8)
    kernel(curve, 10.3, 0.9)
    assert curve[10] == 255
    assert curve[11] > curve[9]


def test_pictures_agree_with_the_packages() -> None:
    sound = np.random.default_rng(2).normal(0, 0.1, RATE_HZ * 2).astype(np.float32)
    ours = LogMel()(torch.from_numpy(sound)[None])[0].permute(1, 0, 2).numpy()
    theirs = np.concatenate(list(numpy_features.pictures(Audio(sound[:, None], RATE_HZ))))
    assert np.abs(ours - theirs).max() < 1e-3
    assert np.array_equal(filterbank(1024), numpy_features.filterbank(1024))


def test_exported_weights_answer_as_the_network_does(tmp_path: Path) -> None:
    torch.manual_seed(1)
    network = Network(SMALL)
    network.train()
    network(torch.randn(2, 2, 80, 80))
    network.eval()
    write(network, tmp_path / "w.npz", "small")
    picture = torch.randn(1, 2, 160, 80)
    with torch.no_grad():
        theirs = network(picture)
    ours = read_network(tmp_path / "w.npz").window(picture[0].permute(1, 0, 2).numpy())
    assert np.abs(torch.sigmoid(theirs.hits)[0].numpy() - ours.hits).max() < 2e-3
    assert np.abs(torch.sigmoid(theirs.pulse)[0].numpy() - ours.pulse).max() < 2e-3


def test_a_tiny_chain_learns_and_can_be_resumed(pack: Path, tmp_path: Path) -> None:
    settings = Settings(
        steps=60, batch=4, seconds=3.2, workers=0, variants=1, compiled=False, log_every=1, rate=2e-2, shape=SMALL
    )
    team = Team(0, 1, torch.device("cpu"))
    checkpoint = run(pack, tmp_path / "a", settings, team)
    rows = np.genfromtxt(tmp_path / "a" / "curve.csv", delimiter=",", names=True)
    assert rows["hits"][-10:].mean() < 0.8 * rows["hits"][:5].mean()
    again = run(pack, tmp_path / "b", Settings(**{**settings.__dict__, "steps": 2}), team, checkpoint)
    assert read_checkpoint(again).shape == SMALL
