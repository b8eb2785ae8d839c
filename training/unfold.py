"""Go on from the weight file that ships, when no checkpoint is left: a network to train, from folded 16-bit weights.

    python -m training.unfold PACK src/fourlimb/listen/weights/ears.npz OUT.pt

`export` folds every normalisation into the convolution before it. Here each gets its own mean and spread back,
measured on a few clips, so that the network answers as the file does and trains as it did. Outputs that the file
lacks start silent.
"""

import argparse
from pathlib import Path

import numpy as np
import torch
from torch import nn

from training.export import fold
from training.features import BANDS, LogMel
from training.network import Network, Shape
from training.plan import Planner, Recipe, batch
from training.train import Settings, augment, prepare_rendering

CLIPS = 24
SEED = 5
SILENT = -4.0
"""Bias of an output that the file lacks."""


def main(argv: list[str] | None = None) -> None:
    """Write the checkpoint."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("pack", type=Path)
    p.add_argument("weights", type=Path)
    p.add_argument("out", type=Path)
    a = p.parse_args(argv)
    network = unfolded(a.weights)
    give_spread(network, seen(a.pack))
    print(f"largest difference from the file: {difference(network, a.weights):.4f} of any weight")
    half = {k: v.half() if v.is_floating_point() else v for k, v in network.state_dict().items()}
    torch.save({"average": half, "shape": network.describe()}, a.out)


def seen(pack: Path) -> torch.Tensor:
    """Pictures of a few clips as the network sees them in training."""
    torch.manual_seed(SEED)
    index, renderer = prepare_rendering(pack, Settings(variants=1, compiled=False), torch.device("cpu"))
    recipe = Recipe()
    arrays = batch(Planner(index, recipe=recipe), np.random.default_rng(SEED), CLIPS)
    work = {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in arrays.items()}
    mix = renderer(work, recipe.effects, recipe.balance_db, recipe.drums_alone).mix
    return augment(LogMel()(mix, torch.ones(len(mix))))


@torch.no_grad()
def unfolded(path: Path) -> Network:
    """The network of a weight file; its normalisations do nothing but add their bias."""
    with np.load(path) as stored:
        w = {k: torch.from_numpy(stored[k].astype(np.float32)) for k in stored.files if "." in k}
        shape = _shape(w, *(stored[k].tolist() for k in ("before", "after", "heads")))
    network = Network(shape).eval()
    for i, layer in enumerate(network.front):
        kernel = w[f"front{i}.weight"]
        _plain(
            layer.conv, layer.norm, kernel.view(3, 3, -1, kernel.shape[1]).permute(3, 2, 0, 1), w[f"front{i}.bias"]
        )
    join = w["join.weight"].view(BANDS // 8, -1, shape.width).permute(2, 1, 0).reshape(shape.width, -1, 1)
    _plain(network.join[0], network.join[1], join, w["join.bias"])
    for part in ("before", "after"):
        for i, layer in enumerate(getattr(network, part)):
            wide = w[f"{part}{i}.wide.weight"].view(3, shape.width, shape.width).permute(2, 1, 0)
            _plain(layer.wide, layer.norm, wide, w[f"{part}{i}.wide.bias"])
            _copy(layer.back, w, f"{part}{i}.back")
    for i, layer in enumerate(network.attention):
        for name in ("norm1", "norm2"):
            getattr(layer, name).weight.copy_(w[f"attention{i}.{name}.weight"])
            getattr(layer, name).bias.copy_(w[f"attention{i}.{name}.bias"])
        for name in ("ask", "out", "wide", "narrow"):
            _copy(getattr(layer, name), w, f"attention{i}.{name}")
    assert network.down.bias is not None
    assert network.up.bias is not None
    network.down.weight.copy_(w["down.weight"].view(4, shape.width, shape.width).permute(2, 1, 0))
    network.down.bias.copy_(w["down.bias"])
    network.up.weight.copy_(w["up.weight"].view(shape.width, 4, shape.width).permute(0, 2, 1))
    network.up.bias.copy_(w["up.bias"][: shape.width])
    _copy(network.head, w, "head")
    _copy(network.near, w, "near")
    return network


def _shape(w: dict[str, torch.Tensor], before: list[int], after: list[int], heads: int) -> Shape:
    a, b, c = (len(w[f"front{i}.bias"]) for i in (0, 2, 4))
    attention = sum(k.endswith("norm1.weight") for k in w)
    return Shape((a, b, c), len(w["near.weight"]), tuple(before), attention, heads, tuple(after))


def _plain(conv: nn.Module, norm: nn.Module, kernel: torch.Tensor, bias: torch.Tensor) -> None:
    conv.get_parameter("weight").copy_(kernel)
    norm.get_parameter("bias").copy_(bias)
    norm.get_parameter("weight").fill_(1.0)
    norm.get_buffer("running_mean").zero_()
    norm.get_buffer("running_var").fill_(1.0 - 1e-5)


def _copy(layer: nn.Module, w: dict[str, torch.Tensor], name: str) -> None:
    """A linear layer or a convolution of one frame; further outputs than stored start silent."""
    weight, bias = layer.get_parameter("weight"), layer.get_parameter("bias")
    stored = w[f"{name}.weight"].T
    weight.zero_()
    bias.fill_(SILENT)
    weight[: len(stored)].copy_(stored.reshape(len(stored), *weight.shape[1:]))
    bias[: len(stored)].copy_(w[f"{name}.bias"])


@torch.no_grad()
def give_spread(network: Network, pictures: torch.Tensor) -> None:
    """Let every normalisation have the mean and spread it meets in these pictures, and answer as before."""
    pairs = [(layer.conv, layer.norm) for layer in network.front]
    pairs += [(network.join[0], network.join[1])]
    pairs += [(layer.wide, layer.norm) for part in (network.before, network.after) for layer in part]
    met: dict[nn.Module, torch.Tensor] = {}

    def note(norm: nn.Module, inputs: tuple[torch.Tensor, ...]) -> None:
        met[norm] = inputs[0].detach().transpose(0, 1).flatten(1)

    hooks = [norm.register_forward_pre_hook(note) for _, norm in pairs]
    network(pictures)
    for hook in hooks:
        hook.remove()
    for conv, norm in pairs:
        mean, spread = met[norm].mean(1), met[norm].std(1).clamp_min(1e-3)
        kernel = conv.get_parameter("weight")
        kernel.div_(spread.view(-1, *[1] * (kernel.dim() - 1)))
        norm.get_parameter("weight").copy_(spread)
        norm.get_parameter("bias").add_(mean)
        norm.get_buffer("running_mean").copy_(mean / spread)


def difference(network: Network, path: Path) -> float:
    """How far the network, folded again, is from the file."""
    again = fold(network)
    with np.load(path) as stored:
        return max(float(np.abs(again[k] - stored[k].astype(np.float32)).max()) for k in stored.files if "." in k)


if __name__ == "__main__":
    main()
