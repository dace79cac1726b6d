"""Trains the network of src/fish/heads/ that says where the heads of fish lie and which pixel belongs to which fish.

    cargo test --release --test training -- --ignored        draws the trays into target/training/
    python training/heads.py --minutes 60                    goes on from src/fish/heads/weights.bin and writes it again;
                                                             --anew starts from nothing
    python training/heads.py --check                         writes what PyTorch says with these weights, for the program's tests

Needs torch, numpy and Pillow. The trays are drawn by the tests' renderer with seeds of their own; none of them is a tuning or a
held-out one. What is trained depends on the machine's time and arithmetic in its last digits, so weights are kept with the program.
"""

import argparse
import glob
import json
import os
import queue
import threading
import time

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image
from torch import nn

import strewn

HERE = os.path.dirname(os.path.abspath(__file__))
TRAYS = os.path.join(HERE, "..", "target", "training")
WEIGHTS = os.path.join(HERE, "..", "src", "fish", "heads", "weights.bin")
SAID = os.path.join(HERE, "..", "tests", "fixtures", "heads", "said.txt")
FINE = 6.0  # places a millimetre of what the network sees
UNIT = 30.0  # L*a*b* units that are one to it
LENGTH = 15.0  # millimetres of a fish whose length it calls one
WAY = 5.0 * FINE / 2  # places of a way that it calls one
SCALES = np.array([1.2, 1.5, 1.2], np.float32)  # of L*, a*, b* in the drawn pictures
CROP = 160  # places a side of what is learnt at once
BATCH = 24
CHANNELS = (12, 24, 32)


def convolution(inputs, outputs, stride=1, side=3):
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, side, stride, side // 2, bias=False), nn.BatchNorm2d(outputs), nn.ReLU(inplace=True)
    )


class Heads(nn.Module):
    """Channels out, at half the resolution: head (logit), direction to the tail (2), logarithm of the length, fish (logit), fry
    (logit), the way from a place of a fish to its middle (2, in 5 mm). What is fish and fry helps it learn; the program asks the
    others."""

    def __init__(self):
        super().__init__()
        a, b, c = CHANNELS
        self.to_half = nn.Sequential(convolution(3, a, 2), convolution(a, a), convolution(a, a))
        self.to_quarter = nn.Sequential(convolution(a, b, 2), convolution(b, b), convolution(b, b))
        self.to_eighth = nn.Sequential(
            convolution(b, c, 2), *(convolution(c, c) for _ in range(5)), convolution(c, b, 1, 1)
        )
        self.back = nn.Sequential(convolution(b, b), convolution(b, a, 1, 1))
        self.last = convolution(a, a)
        self.said = nn.Conv2d(a, 8, 1)
        nn.init.zeros_(self.said.bias)
        self.said.bias.data[0] = -4.0

    def forward(self, picture):
        half = self.to_half(picture)
        quarter = self.to_quarter(half)
        quarter = quarter + F.interpolate(self.to_eighth(quarter), scale_factor=2, mode="nearest")
        half = half + F.interpolate(self.back(quarter), scale_factor=2, mode="nearest")
        return self.said(self.last(half))

    def folded(self):
        """Weights and biases in the order in which the program reads them."""
        yield from folded([*self.to_half, *self.to_quarter, *self.to_eighth, *self.back, self.last])
        yield self.said.weight, self.said.bias


def folded(convolutions):
    """Weights and biases, batch normalisation folded in."""
    for convolve, norm, _ in convolutions:
        gain = norm.weight / torch.sqrt(norm.running_var + norm.eps)
        yield convolve.weight * gain[:, None, None, None], norm.bias - norm.running_mean * gain


def read(path):
    """A drawn tray: what differs from its floor at FINE places a millimetre, whose each place is at half of that, and its fish."""
    with open(path) as file:
        told = json.load(file)
    base = path[: -len(".json")]
    k = told["mm_per_px"] * FINE
    picture = Image.open(base + ".png").convert("RGB")
    width, height = int(picture.width * k), int(picture.height * k)
    seen = np.asarray(picture.resize((width, height), Image.BILINEAR))
    owner = np.asarray(Image.open(base + ".owner.png").convert("L"))
    at = lambda n, limit: np.clip(((np.arange(n // 2) * 2 + 1) / k).astype(int), 0, limit - 1)
    owners = owner[np.ix_(at(height, owner.shape[0]), at(width, owner.shape[1]))]
    fish = []
    for number, one in enumerate(told["fish"], 1):
        snout, tail = np.array(one["snout"]), np.array(one["tail"])
        head = snout + 0.1 * (tail - snout)
        reach = max(2.0, 0.04 * one["length_mm"] / told["mm_per_px"])
        y, x = np.mgrid[int(head[1] - reach) : int(head[1] + reach) + 1, int(head[0] - reach) : int(head[0] + reach) + 1]
        near = (x >= 0) & (y >= 0) & (x < owner.shape[1]) & (y < owner.shape[0])
        near &= (x - head[0]) ** 2 + (y - head[1]) ** 2 <= reach * reach
        visible = float((owner[y[near], x[near]] == number).mean()) if near.any() else 0.0
        way = (tail - snout) / max(1e-6, np.hypot(*(tail - snout)))
        fish.append({"head": head * k / 2, "way": way, "mm": one["length_mm"], "visible": visible, "touching": one["touching"]})
    return {"seen": seen, "owners": owners, "fish": fish}


def targets(owners, fish):
    """What should be said of each place."""
    height, width = owners.shape
    heat, best = np.zeros((2, height, width), np.float32)
    unsure, fry = np.zeros((2, height, width), bool)
    size, way = np.zeros((4, height, width), np.float32), np.zeros((3, height, width), np.float32)
    for number, one in enumerate(fish, 1):
        x, y = one["head"]
        spread = max(0.45, 0.05 * one["mm"]) * FINE / 2
        reach = int(3 * spread) + 2
        about = lambda at, limit: np.arange(max(0, int(at) - reach), min(limit, int(at) + reach + 1))
        rows, columns = np.meshgrid(about(y, height), about(x, width), indexing="ij")
        if rows.size and one["visible"] >= 0.4:
            bell = np.exp(-((columns + 0.5 - x) ** 2 + (rows + 0.5 - y) ** 2) / (2 * spread * spread)).astype(np.float32)
            bell[(rows == int(y)) & (columns == int(x))] = 1.0
            nearest = bell > best[rows, columns]
            for channel, value in enumerate((*one["way"], np.log(one["mm"] / LENGTH))):
                size[channel, rows[nearest], columns[nearest]] = value
            size[3, rows, columns] = np.maximum(size[3, rows, columns], bell > 0.3)
            best[rows, columns] = np.maximum(best[rows, columns], bell)
            heat[rows, columns] = np.maximum(heat[rows, columns], bell)
        elif rows.size and one["visible"] > 0:
            # Half hidden: neither a head nor none.
            unsure[rows, columns] |= (columns - x) ** 2 + (rows - y) ** 2 < (1.5 * spread) ** 2
        own = owners == number
        fry |= own & (one["mm"] < 14)
        y_own, x_own = np.nonzero(own)
        middle = one["head"] + one["way"] * (0.4 * one["mm"] * FINE / 2)
        way[:2, y_own, x_own] = (middle[0] - x_own - 0.5) / WAY, (middle[1] - y_own - 0.5) / WAY
        # What counts is how far the way misses in lengths of the fish.
        way[2, y_own, x_own] = 10 / one["mm"]
    return {"heat": heat, "unsure": unsure, "size": size, "fish_here": owners > 0, "fry": fry, "way": way}


def crop(trays, kinds, rng):
    """A piece of a tray, turned, and its light and colour changed as cameras do and more."""
    chosen = kinds[rng.choice(4, p=(0.35, 0.15, 0.3, 0.2))]
    t, i = chosen[rng.integers(len(chosen))]
    tray, n = trays[t], CROP // 2
    height, width = tray["owners"].shape
    if i is None:
        x, y = rng.integers(width), rng.integers(height)
    else:
        x, y = tray["fish"][i]["head"] + rng.normal(0, 15, 2)
    x, y = int(np.clip(x - n // 2, 0, width - n)), int(np.clip(y - n // 2, 0, height - n))
    picture = (tray["seen"][2 * y : 2 * y + CROP, 2 * x : 2 * x + CROP].astype(np.float32) - 128).transpose(2, 0, 1)
    picture = picture / SCALES[:, None, None]
    owners, fish = here(tray, (x, y), n)
    if i is not None and rng.random() < 0.55:
        for _ in range(rng.integers(1, 4)):
            laid = kinds[rng.integers(4, 6)]
            t, i = laid[rng.integers(len(laid))]
            strewn.lay(trays[t], i, SCALES, picture, owners, fish, rng)
    told = targets(owners, fish)
    every = [picture, *(told[name].astype(np.float32) for name in ("heat", "unsure", "size", "fish_here", "fry", "way"))]
    size, way = 3, 6
    if rng.random() < 0.5:
        every = [v[..., ::-1] for v in every]
        every[size], every[way] = every[size] * flip(-1, 1, 4), every[way] * flip(-1, 1, 3)
    if rng.random() < 0.5:
        every = [v[..., ::-1, :] for v in every]
        every[size], every[way] = every[size] * flip(1, -1, 4), every[way] * flip(1, -1, 3)
    if rng.random() < 0.5:
        every = [v.swapaxes(-1, -2) for v in every]
        every[size], every[way] = every[size][[1, 0, 2, 3]], every[way][[1, 0, 2]]
    every[0] = as_another_camera(every[0], rng) / UNIT
    return [np.ascontiguousarray(v, np.float32) for v in every]


def here(tray, corner, side):
    """Owners and fish of a square piece of a tray, numbered anew."""
    x, y = corner
    part = tray["owners"][y : y + side, x : x + side]
    owners, fish = np.zeros(part.shape, np.int32), []
    for number, one in enumerate(tray["fish"], 1):
        head, own = one["head"] - (x, y), part == number
        if own.any() or ((head > -12) & (head < side + 12)).all():
            fish.append({**one, "head": head})
            owners[own] = len(fish)
    return owners, fish


def flip(x, y, channels):
    return np.array([x, y, 1, 1][:channels], np.float32)[:, None, None]


def as_another_camera(picture, rng):
    turn = rng.normal(0, 0.25) if rng.random() < 0.6 else rng.uniform(-np.pi, np.pi)
    light, tint = np.exp(rng.normal(0, 0.25)), np.exp(rng.normal(0, 0.4))
    cos, sin = np.cos(turn) * tint, np.sin(turn) * tint
    out = np.stack([picture[0] * light, cos * picture[1] - sin * picture[2], sin * picture[1] + cos * picture[2]])
    if rng.random() < 0.2:
        out[0] *= -1
    for _ in range(rng.integers(1, 4) if rng.random() < 0.6 else 0):
        soft, wide = rng.uniform(0.2, 0.9), np.pad(out, ((0, 0), (1, 1), (1, 1)), mode="edge")
        about = wide[:, 1:-1, :-2] + wide[:, 1:-1, 2:] + wide[:, :-2, 1:-1] + wide[:, 2:, 1:-1]
        out = (1 - soft) * out + soft * about / 4
    if rng.random() < 0.5:
        out = out + rng.standard_normal(out.shape, dtype=np.float32) * rng.uniform(0, 4)
    return out


def loss(said, heat, unsure, size, here, fry, way):
    """Focal loss of the heads (Law & Deng 2018), absolute errors of direction, length and way, cross entropy of fish and fry."""
    sure = torch.sigmoid(said[:, 0]).clamp(1e-4, 1 - 1e-4)
    peak = (heat >= 0.999).float()
    there = torch.log(sure) * (1 - sure) ** 2 * peak
    elsewhere = torch.log(1 - sure) * sure**2 * (1 - heat) ** 4 * (1 - peak) * (1 - unsure)
    heads = -(there.sum() + elsewhere.sum()) / peak.sum().clamp(min=1)
    sizes = ((said[:, 1:4] - size[:, :3]).abs().sum(1) * size[:, 3]).sum() / size[:, 3].sum().clamp(min=1)
    ways = ((said[:, 6:8] - way[:, :2]).abs().sum(1) * way[:, 2]).sum() / (way[:, 2] > 0).sum().clamp(min=1)
    kinds = 2 * F.binary_cross_entropy_with_logits(said[:, 4], here) + 4 * F.binary_cross_entropy_with_logits(said[:, 5], fry)
    return heads + 0.3 * sizes + kinds + 0.7 * ways


def batches(one, size):
    """Batches of what `one` makes, without end, made while others are learnt from."""
    made = queue.Queue(4)

    def feed():
        while True:
            made.put([torch.from_numpy(np.stack(v)) for v in zip(*(one() for _ in range(size)))])

    threading.Thread(target=feed, daemon=True).start()
    while True:
        yield made.get()


def train(trays, minutes, anew):
    every = [(t, i) for t, tray in enumerate(trays) for i in range(len(tray["fish"]))]
    touching = [(t, i) for t, i in every if trays[t]["fish"][i]["touching"]]
    fry = [(t, i) for t, i in touching if trays[t]["fish"][i]["mm"] < 14]
    whole = [(t, i) for t, tray in enumerate(trays) for i in strewn.whole(tray)]
    small = [(t, i) for t, i in whole if trays[t]["fish"][i]["mm"] < 14]
    kinds = [fry, touching, every, [(t, None) for t in range(len(trays))], small, whole]
    rng, net = np.random.default_rng(), Heads() if anew else learnt(Heads(), WEIGHTS)
    if not anew:
        some = [crop(trays, kinds, rng)[0] for _ in range(4 * BATCH)]
        normalise(net, torch.from_numpy(np.stack(some)))
    net.train()
    optimiser = torch.optim.AdamW(net.parameters(), weight_decay=1e-4)
    made = batches(lambda: crop(trays, kinds, rng), BATCH)
    start, step, mean = time.time(), 0, 0.0
    while (done := (time.time() - start) / 60 / minutes) < 1:
        for group in optimiser.param_groups:
            group["lr"] = 4e-3 * min(1, step / 200 + 0.02) * (0.5 + 0.5 * np.cos(np.pi * done)) + 1e-5
        picture, *wanted = next(made)
        value = loss(net(picture), *wanted)
        optimiser.zero_grad()
        value.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step, mean = step + 1, 0.98 * mean + 0.02 * value.item()
        if step % 100 == 0:
            print(f"{step} steps, {100 * done:.0f} %: {mean / (1 - 0.98**step):.3f}", flush=True)
    return net.eval()


def halves(values):
    """The upper halves of 32-bit floats, rounded to the nearest."""
    bits = values.astype("<f4").view("<u4").astype(np.uint64)
    return ((bits + 0x7FFF + ((bits >> 16) & 1)) >> 16).astype("<u2")


def write(net, path):
    parts = [v.reshape(-1) for weights, bias in net.folded() for v in (weights.permute(2, 3, 1, 0), bias)]
    halves(torch.cat(parts).detach().numpy()).tofile(path)


def read_weights(net, path):
    """The weights and biases that the program has for such a network, as PyTorch wants them."""
    values = torch.from_numpy((np.fromfile(path, "<u2").astype(np.uint32) << 16).view(np.float32))
    for weights, bias in net.folded():
        out, into, rows, columns = weights.shape
        kernel, values = values[: weights.numel()], values[weights.numel() :]
        yield kernel.reshape(rows, columns, into, out).permute(3, 2, 0, 1), values[: bias.numel()]
        values = values[bias.numel() :]


def learnt(net, path):
    """Such a network with the program's weights; its batch normalisation only adds."""
    net.eval()
    convolutions = [m for m in net.modules() if isinstance(m, nn.Conv2d)]
    norms = [m for m in net.modules() if isinstance(m, nn.BatchNorm2d)]
    for convolve, (weights, bias), norm in zip(convolutions, list(read_weights(net, path)), [*norms, None]):
        convolve.weight.data.copy_(weights)
        if norm is None:
            convolve.bias.data.copy_(bias)
        else:
            norm.bias.data.copy_(bias)
            norm.weight.data.fill_(np.sqrt(1 + norm.eps))
    return net


def normalise(net, pictures):
    """Makes a network whose batch normalisation only adds say the same while it normalises, so that it can be taught further."""

    def settle(norm, inputs):
        middle, spread = inputs[0].mean((0, 2, 3)), inputs[0].var((0, 2, 3))
        norm.bias.data += middle
        norm.running_mean.copy_(middle)
        norm.running_var.copy_(spread)
        norm.weight.data.copy_(torch.sqrt(spread + norm.eps))

    hooks = [m.register_forward_pre_hook(settle) for m in net.modules() if isinstance(m, nn.BatchNorm2d)]
    with torch.no_grad():
        net(pictures)
    for hook in hooks:
        hook.remove()


def check(net, path):
    """Writes what a network says of a picture that the program's tests draw by the same formula."""
    y, x = np.mgrid[:16, :24].astype(np.float32)
    picture = np.stack([np.sin(0.9 * x) * np.cos(0.4 * y), 0.05 * x - 0.07 * y, np.sin(0.3 * x * y)])
    with torch.no_grad():
        said = net(torch.from_numpy(picture[None]))[0].permute(1, 2, 0).flatten(0, 1)
    with open(path, "w") as file:
        file.writelines(" ".join(f"{v:.5f}" for v in place) + "\n" for place in said.tolist())


def main():
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--minutes", type=float, default=60)
    asked.add_argument("--anew", action="store_true")
    asked.add_argument("--check", action="store_true")
    asked = asked.parse_args()
    if not asked.check:
        paths = sorted(glob.glob(os.path.join(TRAYS, "*.json")))
        write(train([read(path) for path in paths], asked.minutes, asked.anew), WEIGHTS)
    check(learnt(Heads(), WEIGHTS), SAID)


if __name__ == "__main__":
    main()
