"""Train the net that names the parts of a face, on pictures made as it trains, and write it out.

Run from the repository on a machine with PyTorch, onnx and, better, an accelerator:
``python -m builders.build_parts OUT --minutes 9``. Writes OUT/parts.onnx, OUT/parts.pt and a log.
Every picture is drawn by ``builders/parts_pictures.py``: no photograph of a person is in it.
"""

import argparse
import copy
import math
import multiprocessing
import os
import shutil
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn

from builders.parts_net import PartsNet
from builders.parts_pictures import FIELDS, FINE, make_picture, row_of
from builders.parts_stock import Stock, fill
from sitwell.face.parts import CROP_PX, TRAINED_WEIGHT, Part

STOCK, HELD_OUT = 90_000, 800
BATCH, PEAK_RATE = 192, 4e-3
_EVERY_STEPS = 50
CHECK_SEED, LONGEST_WAIT_S = 10**6, 90.0
SHARED = Path("/dev/shm")


class Feed:
    """The stock on the accelerator, and batches of it drawn at random, half of them mirrored."""

    def __init__(self, stock: Stock, device: str) -> None:
        self.stock, self.device = stock, device
        self.rgb = torch.empty(stock.rows["rgb"].shape, dtype=torch.uint8, device=device)
        self.label = torch.empty(stock.rows["label"].shape, dtype=torch.uint8, device=device)
        self.taken = np.zeros(stock.makers, np.int64)
        self.usable = torch.empty(0, dtype=torch.int64, device=device)

    def refill(self) -> int:
        """Bring over what is new; returns how many pictures have been made so far."""
        places, made = self.stock.new_places(self.taken)
        if len(places):
            at = torch.from_numpy(places).to(self.device)
            for name, kept in (("rgb", self.rgb), ("label", self.label)):
                kept[at] = torch.from_numpy(self.stock.rows[name][places]).to(self.device)
        self.taken = made
        self.usable = torch.from_numpy(self.stock.ready_places(made)).to(self.device)
        return int(made.sum())

    def batch(self, size: int) -> tuple[Tensor, Tensor]:
        """Pictures (B, 3, S, S) of 0..1 and the share of each part in each pixel (B, P, S, S)."""
        at = self.usable[torch.randint(len(self.usable), (size,), device=self.device)]
        rgb, label = pictures_of(self.rgb[at]), shares_of(self.label[at])
        mirrored = torch.rand(size, device=self.device) < 0.5
        rgb[mirrored], label[mirrored] = rgb[mirrored].flip(-1), label[mirrored].flip(-1)
        return rgb, label


def pictures_of(rgb: Tensor) -> Tensor:
    """Bytes (B, S, S, 3) as numbers (B, 3, S, S) of 0..1."""
    return rgb.permute(0, 3, 1, 2).float() / 255.0


def shares_of(label: Tensor) -> Tensor:
    """Fine labels (B, FS, FS) as each part's share of each pixel (B, P, S, S)."""
    shares = [
        nn.functional.avg_pool2d((label == part)[:, None].float(), FINE)
        for part in range(len(Part))
    ]
    return torch.cat(shares, dim=1)


def loss_of(scores: Tensor, shares: Tensor, weight: Tensor) -> Tensor:
    """Cross entropy against shares, the rarer parts weighted up."""
    logs = nn.functional.log_softmax(scores.float(), dim=1)
    return -(logs * shares * weight[None, :, None, None]).sum(dim=1).mean()


def train(feed: Feed, net: PartsNet, seconds: float, batch: int, log: Any) -> PartsNet:
    """Train for a time; returns the running mean of the net's weights."""
    device = feed.device
    weight = torch.ones(len(Part), device=device)
    for part, value in TRAINED_WEIGHT.items():
        weight[part] = value
    rule = torch.optim.AdamW(net.parameters(), lr=PEAK_RATE, weight_decay=1e-3)
    mean = copy.deepcopy(net)
    begun, step, total = time.monotonic(), 0, 0.0
    made = feed.refill()
    while (share := (time.monotonic() - begun) / seconds) < 1.0:
        rate = PEAK_RATE * min(1.0, share / 0.03) * (0.5 + 0.5 * math.cos(math.pi * share))
        for group in rule.param_groups:
            group["lr"] = rate + 1e-6
        rgb, shares = feed.batch(batch)
        with torch.autocast(device, dtype=torch.bfloat16):
            scores = net(rgb.contiguous(memory_format=torch.channels_last))
        loss = loss_of(scores, shares, weight)
        rule.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        rule.step()
        follow(mean, net, min(0.998, step / (step + 20.0)))
        step += 1
        if step % _EVERY_STEPS == 0:
            total = float(loss.detach())
            made = feed.refill()
            print(f"{time.monotonic() - begun:.0f} s, step {step}, {made} made, loss {total:.4f}",
                  file=log, flush=True)  # fmt: skip
    return mean


def follow(mean: nn.Module, net: nn.Module, keep: float) -> None:
    """Move one net's weights a little toward another's."""
    with torch.no_grad():
        for old, new in zip(mean.state_dict().values(), net.state_dict().values(), strict=True):
            if old.dtype.is_floating_point:
                old.lerp_(new, 1.0 - keep)
            else:
                old.copy_(new)


def score(net: PartsNet, held: dict[str, Any], device: str, log: Any) -> None:
    """Print overlap by part, all and by skin tone, on pictures kept out of the training."""
    net.eval()
    tones = held["tone"]
    band = np.digitize(tones, (0.08, 0.25))
    bands = {"all": tones > 0, "deep": band == 0, "middle": band == 1, "light": band == 2}
    both = np.zeros((len(tones), len(Part), 2))
    for start in range(0, len(tones), 100):
        rgb = pictures_of(torch.from_numpy(held["rgb"][start : start + 100]).to(device))
        truth = shares_of(torch.from_numpy(held["label"][start : start + 100]).to(device)).argmax(1)
        with torch.no_grad():
            found = net(rgb).argmax(1)
        for part in range(len(Part)):
            a, b = found == part, truth == part
            both[start : start + 100, part, 0] = (a & b).sum((1, 2)).cpu()
            both[start : start + 100, part, 1] = (a | b).sum((1, 2)).cpu()
    for name, chosen in bands.items():
        shared, either = both[chosen].sum(0).T
        cells = ", ".join(f"{p.name.lower()} {shared[p] / max(either[p], 1):.3f}" for p in Part)
        print(f"overlap, {name} ({chosen.sum()}): {cells}", file=log, flush=True)


def write_out(net: PartsNet, folder: Path) -> None:
    """The net as ONNX for one picture."""
    net = copy.deepcopy(net).cpu().float().eval()
    torch.onnx.export(
        net, (torch.zeros(1, 3, CROP_PX, CROP_PX),), str(folder / "parts.onnx"),
        input_names=["rgb"], output_names=["scores"], opset_version=13, dynamo=False,
    )  # fmt: skip
    size = sum(p.numel() for p in net.parameters())
    print(f"{size} weights, {(folder / 'parts.onnx').stat().st_size} bytes", flush=True)


def held_out(stock: Stock, count: int) -> dict[str, Any]:
    """The last maker's first pictures, taken out of its share; waits until they are made."""
    maker = stock.makers - 1
    start = maker * stock.share
    while stock.made[maker] < count:
        time.sleep(0.5)
    places = slice(start, start + count)
    return {
        "rgb": stock.rows["rgb"][places].copy(),
        "label": stock.rows["label"][places].copy(),
        "tone": stock.rows["about"][places, 0].copy(),
    }


def main() -> None:
    """Make pictures, train, check and write out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=9.0)
    parser.add_argument("--makers", type=int, default=max(1, (os.cpu_count() or 2) - 1))
    parser.add_argument("--stock", type=int, default=STOCK)
    parser.add_argument("--held", type=int, default=HELD_OUT)
    parser.add_argument("--batch", type=int, default=BATCH)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights to go on from")
    arguments = parser.parse_args()
    begun = time.monotonic()
    arguments.out.mkdir(parents=True, exist_ok=True)
    make_picture(np.random.default_rng(0))  # compiles, once for all makers
    folder = Path(tempfile.mkdtemp(dir=SHARED if SHARED.is_dir() else None))
    stock = Stock.new(folder / "stock", arguments.stock, arguments.makers, FIELDS)
    checks = Stock.new(folder / "checks", arguments.held * 2, 2, FIELDS)
    work = multiprocessing.get_context("spawn")  # a fork of threads that draw may hang
    jobs = [
        (stock.folder, maker, arguments.seed, None, row_of) for maker in range(arguments.makers)
    ]
    jobs += [(checks.folder, maker, CHECK_SEED, arguments.held, row_of) for maker in range(2)]
    makers = [work.Process(target=fill, args=job, daemon=True) for job in jobs]
    for maker in makers:
        maker.start()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(arguments.seed)
    net = PartsNet().to(device).to(memory_format=torch.channels_last)
    if arguments.start:
        net.load_state_dict(torch.load(arguments.start, map_location=device))
    while stock.made.sum() < min(2000, arguments.stock // 4):
        time.sleep(0.5)
        if stock.made.sum() == 0 and time.monotonic() - begun > LONGEST_WAIT_S:
            raise SystemExit("No picture was made; look at the makers' messages.")
    print(f"begun after {time.monotonic() - begun:.0f} s on {device}", flush=True)
    with (arguments.out / "log.txt").open("w") as log:
        left_s = 60.0 * arguments.minutes - (time.monotonic() - begun)
        mean = train(Feed(stock, device), net, left_s, arguments.batch, log)
        torch.save(mean.state_dict(), arguments.out / "parts.pt")
        count = min(arguments.held, int(checks.made.min()))
        score(mean, held_out(checks, count), device, log)
    write_out(mean, arguments.out)
    for maker in makers:
        maker.terminate()
    shutil.rmtree(folder)
    print((arguments.out / "log.txt").read_text()[-4000:])


if __name__ == "__main__":
    main()
