"""The training chain, tiny: plans are sound, a few steps learn, and what is exported answers as PyTorch does."""

import json
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("torch", reason="training needs PyTorch, which is not installed")

import torch
from training.audible import hide_inaudible
from training.export import mean, read_checkpoint, write
from training.features import LogMel, filterbank
from training.losses import loss
from training.material import RATE_HZ, open_pack
from training.mixdown import Mixdown
from training.network import Network, Shape
from training.plan import Planner, batch, kernel
from training.styles import STYLES
from training.train import Settings, Team, prepare_rendering, run

from fourlimb.listen import features as numpy_features
from fourlimb.listen.network import read_network
from fourlimb.listen.song_sounds import Candidates, read_judge, write_judge
from fourlimb.model import SOUNDS, Audio
from training import calibrate, sounds

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
    assert np.abs(torch.sigmoid(theirs.pulse)[0, :, :4].numpy() - ours.pulse).max() < 2e-3


def clips(pack: Path, settings: Settings) -> tuple[torch.Tensor, dict[str, torch.Tensor], Mixdown]:
    """Pictures, targets and sound of some clips that are always the same."""
    torch.manual_seed(4)
    index, renderer = prepare_rendering(pack, settings, torch.device("cpu"))
    arrays = batch(Planner(index, settings.seconds, recipe=settings.recipe), np.random.default_rng(6), 24)
    work = {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in arrays.items()}
    mixdown = renderer(work, 1.0, (0.0, 3.0), 0.3)
    return LogMel()(mixdown.mix), work, mixdown


def test_a_tiny_chain_learns_and_can_be_resumed(pack: Path, tmp_path: Path) -> None:
    settings = Settings(
        steps=60, batch=4, seconds=3.2, workers=0, variants=1, compiled=False, log_every=20, rate=2e-2, shape=SMALL
    )
    team = Team(0, 1, torch.device("cpu"))
    seen, work, _ = clips(pack, settings)
    torch.manual_seed(1)
    with torch.no_grad():
        before = loss(Network(SMALL).eval()(seen), work)
    checkpoint = run(pack, tmp_path / "a", settings, team)
    with torch.no_grad():
        after = loss(read_checkpoint(checkpoint)(seen), work)
    assert float(after.hits) < 0.85 * float(before.hits)
    assert float(after.pulse) < 0.85 * float(before.pulse)
    again = run(pack, tmp_path / "b", Settings(**{**settings.__dict__, "steps": 2}), team, checkpoint)
    assert read_checkpoint(again).shape == SMALL


def test_strokes_that_the_band_covers_are_neither_asked_for_nor_forbidden(pack: Path) -> None:
    _, work, mixdown = clips(pack, Settings(seconds=3.2, variants=1, compiled=False))
    pictures, struck = LogMel(), work["hits"] == 255
    alone = hide_inaudible(work, *pictures.short(mixdown.drums, torch.zeros_like(mixdown.band)))
    loud = (
        torch.randn(mixdown.band.shape, generator=torch.Generator().manual_seed(0)) * mixdown.drums.abs().max() * 30
    )
    covered = hide_inaudible(work, *pictures.short(mixdown.drums, loud))
    assert float((alone[struck] > 0).float().mean()) > 0.8
    assert float((covered[struck] > 0).float().mean()) < 0.1
    assert bool((covered <= work["known"]).all())


def test_accompaniment_may_lie_in_several_files(pack: Path, tmp_path: Path) -> None:
    import soundfile

    for path in pack.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    row = {"name": "x", "start": 0, "length": 16000, "beats": [], "meter": None}
    (tmp_path / "band.json").write_text(json.dumps([row]))
    (tmp_path / "band2.json").write_text(json.dumps([{**row, "name": "y"}]))
    (tmp_path / "band2.ogg").write_bytes((pack / "band.ogg").read_bytes())
    index, sounds = open_pack(tmp_path)
    first = len(soundfile.read(pack / "band.ogg")[0])
    assert [(c.name, c.start) for c in index.clips] == [("x", 0), ("y", first)]
    assert len(sounds.band) == 2 * first


def test_thresholds_and_confidence_follow_what_proved_right() -> None:
    rng, china = np.random.default_rng(9), SOUNDS.index("china")
    odds = np.concatenate([rng.normal(2.0, 0.7, 300), rng.normal(-1.0, 0.7, 300)])
    times = np.arange(600) * 0.5
    found = Candidates(
        np.full(600, china), np.rint(times * 100).astype(np.int64), times,
        np.zeros(600, np.float32), np.zeros(600, np.float32), odds, np.zeros(600),
    )  # fmt: skip
    given = [calibrate.example(kind, found, times[:300], np.full(300, china)) for kind in ("mix", "drums", "songs")]
    judge = calibrate.fit(given)
    assert 0.0 < judge.keep[china] < 1.0
    assert judge.confidence(found)[:300].mean() > 0.97
    assert read_judge(write_judge(judge)).keep == pytest.approx(judge.keep, abs=1e-3)


def test_training_goes_on_from_the_file_that_ships(pack: Path, tmp_path: Path) -> None:
    from training import unfold

    torch.manual_seed(4)
    network = Network(SMALL).eval()
    for norm in (m for m in network.modules() if isinstance(m, torch.nn.BatchNorm1d | torch.nn.BatchNorm2d)):
        torch.nn.init.uniform_(norm.get_parameter("weight"), 0.5, 2.0)
        torch.nn.init.normal_(norm.get_buffer("running_mean"))
    write(network, tmp_path / "a.npz", "a")
    unfold.main([str(pack), str(tmp_path / "a.npz"), str(tmp_path / "b.pt")])
    again = read_checkpoint(tmp_path / "b.pt")
    assert again.shape == SMALL
    seen = torch.randn(2, 2, 64, 80)
    with torch.no_grad():
        old, new = network(seen), again(seen)
    assert torch.allclose(old.hits, new.hits, atol=0.05)
    assert torch.allclose(old.pulse[..., :4], new.pulse[..., :4], atol=0.05)
    assert bool((new.pulse[..., 4:] < -3).all()), "outputs that the file lacks are silent"
    spread = again.front[2].norm.running_var
    assert float(spread.min()) > 0.5, "what it is normalised by is what it meets"


def test_what_a_network_has_not_learned_is_left_out_of_a_mean() -> None:
    torch.manual_seed(5)
    networks = [Network(SMALL).eval() for _ in range(2)]
    with torch.no_grad():
        networks[0].head.weight[-2:] = 0
    last = networks[1].head.weight[-2:].clone()
    first = (networks[0].head.weight[:3] + networks[1].head.weight[:3]).detach() / 2
    both = mean(networks)
    assert torch.allclose(both.head.weight[-2:], last)
    assert torch.allclose(both.head.weight[:3], first)
