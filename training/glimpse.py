"""Trains the network of src/fish/heads/glimpse.rs that says at a glance in which cells of a tray fish may lie.

    cargo test --release --test training -- --ignored        draws the trays into target/training/
    python training/glimpse.py --minutes 15                  writes src/fish/heads/glimpse.bin, and prints what it sees on trays
                                                             that it was not taught on
    python training/glimpse.py --check                       writes what PyTorch says with these weights, for the program's tests

Needs what heads.py needs.
"""

import argparse
import glob
import os
import time

import numpy as np
import torch
import torch.nn.functional as F
from torch import nn

import heads
from heads import convolution

WEIGHTS = os.path.join(heads.HERE, "..", "src", "fish", "heads", "glimpse.bin")
SAID = os.path.join(heads.HERE, "..", "tests", "fixtures", "heads", "glimpsed.txt")
COARSER = 3  # of the larger network's places a place of this one's input
CELL = 6  # of a drawn tray's owners a cell
CROP = 16  # cells a side of what is learnt at once
HELD = 0.25  # share of a cell from which it holds fish; with less it is not asked
BATCH = 48
CHANNELS = (8, 16)


class Glimpse(nn.Module):
    """How sure it is of fish in each cell of four by four places (logit)."""

    def __init__(self):
        super().__init__()
        a, b = CHANNELS
        self.layers = nn.Sequential(
            convolution(3, a, 2), convolution(a, a), convolution(a, b, 2), convolution(b, b), convolution(b, b)
        )
        self.said = nn.Conv2d(b, 1, 1)

    def forward(self, picture):
        return self.said(self.layers(picture))

    def folded(self):
        """As the larger network's."""
        yield from heads.folded(self.layers)
        yield self.said.weight, self.said.bias


def reduced(seen, how):
    """Every third place of a picture, the mean of four of nine, or of all nine: cameras and trays reduce it differently."""
    if how == 0:
        return seen[1::COARSER, 1::COARSER]
    if how == 1:
        return sum(seen[y::COARSER, x::COARSER] for y in (0, 1) for x in (0, 1)) / 4
    height, width, channels = seen.shape
    return seen.reshape(height // COARSER, COARSER, width // COARSER, COARSER, channels).mean((1, 3))


def part(tray, corner, size, how):
    """Of `size` cells (down, across) of a tray from a corner on, in places of its owners: the picture and how much of each is fish."""
    (x, y), (down, across) = corner, size
    seen = tray["seen"][2 * y : 2 * (y + CELL * down), 2 * x : 2 * (x + CELL * across)].astype(np.float32) - 128
    picture = reduced(seen, how).transpose(2, 0, 1) / heads.SCALES[:, None, None]
    fish = tray["owners"][y : y + CELL * down, x : x + CELL * across] > 0
    return picture, fish.reshape(down, CELL, across, CELL).mean((1, 3), dtype=np.float32)[None]


def crop(trays, rng):
    """A piece of a tray: every third about a fry, every fourth about any fish; turned, in another camera's light and colours."""
    tray, n = trays[rng.integers(len(trays))], CROP * CELL
    height, width = tray["owners"].shape
    fry = [one for one in tray["fish"] if one["mm"] < 14]
    about = rng.random()
    among = fry if about < 0.35 else tray["fish"] if about < 0.6 else []
    place = among[rng.integers(len(among))]["head"] + rng.normal(0, 22, 2) if among else rng.uniform(0, (width, height))
    x, y = (int(np.clip(v - n // 2, 0, most - n)) for v, most in zip(place, (width, height)))
    every = part(tray, (x, y), (CROP, CROP), rng.integers(3))
    if rng.random() < 0.5:
        every = [v[..., ::-1] for v in every]
    if rng.random() < 0.5:
        every = [v[..., ::-1, :] for v in every]
    if rng.random() < 0.5:
        every = [v.swapaxes(-1, -2) for v in every]
    picture, fish = every
    picture = heads.as_another_camera(picture, rng) / heads.UNIT
    return [np.ascontiguousarray(v, np.float32) for v in (picture, fish)]


def loss(said, fish):
    """Cross entropy of cells that hold fish and cells without."""
    asked = ((fish == 0) | (fish >= HELD)).float()
    return (F.binary_cross_entropy_with_logits(said, (fish >= HELD).float(), reduction="none") * asked).mean()


def train(trays, minutes):
    rng, net = np.random.default_rng(), Glimpse()
    optimiser = torch.optim.AdamW(net.parameters(), weight_decay=1e-4)
    made = heads.batches(lambda: crop(trays, rng), BATCH)
    start, step, mean = time.time(), 0, 0.0
    while (done := (time.time() - start) / 60 / minutes) < 1:
        for group in optimiser.param_groups:
            group["lr"] = 5e-3 * min(1, step / 100 + 0.02) * (0.5 + 0.5 * np.cos(np.pi * done)) + 1e-5
        picture, fish = next(made)
        value = loss(net(picture), fish)
        optimiser.zero_grad()
        value.backward()
        optimiser.step()
        step, mean = step + 1, 0.98 * mean + 0.02 * value.item()
        if step % 500 == 0:
            print(f"{step} steps, {100 * done:.0f} %: {mean / (1 - 0.98**step):.4f}", flush=True)
    return net.eval()


def judge(net, trays):
    """Prints the shares of cells with fish and without that it takes for fish, by how sure it must be."""
    here, there = [], []
    for tray in trays:
        size = [n // CELL for n in tray["owners"].shape]
        picture, fish = part(tray, (0, 0), size, 0)
        with torch.no_grad():
            said = net(torch.from_numpy(np.ascontiguousarray(picture / heads.UNIT, np.float32))[None])[0].numpy()
        here.append(said[fish >= HELD])
        there.append(said[fish == 0])
    here, there = np.concatenate(here), np.concatenate(there)
    for least in (-5, -4, -3, -2, -1, 0):
        print(f"from {least} on: {(here > least).mean():.4f} of the cells with fish, {(there > least).mean():.4f} of the others")


def main():
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--minutes", type=float, default=15)
    asked.add_argument("--check", action="store_true")
    asked = asked.parse_args()
    if not asked.check:
        trays = [heads.read(path) for path in sorted(glob.glob(os.path.join(heads.TRAYS, "*.json")))]
        net = train([tray for i, tray in enumerate(trays) if i % 11], asked.minutes)
        judge(net, trays[::11])
        heads.write(net, WEIGHTS)
    heads.check(heads.learnt(Glimpse(), WEIGHTS), SAID)


if __name__ == "__main__":
    main()
