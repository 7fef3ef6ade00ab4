"""Train the net that finds named points of a face, on pictures made as it trains; write it out.

Run from the repository on a machine with PyTorch, onnx and, better, an accelerator:
``python -m builders.build_points OUT --minutes 9``. Writes OUT/points.onnx, OUT/points.pt, a log
and what it said of pictures kept out of the training. Every picture is drawn by
``builders/points_pictures.py``: no photograph of a person is in it.
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

from builders.build_parts import CHECK_SEED, LONGEST_WAIT_S, SHARED, follow, pictures_of
from builders.parts_stock import Stock, fill
from builders.points_net import PointsNet, loss_of, moments
from builders.points_pictures import FIELDS, make_points_picture, row_of
from sitwell.face.points import HIGH_PX, MIRRORED, MM_PER_PX, NAMES, WIDE_PX

STOCK, HELD_OUT = 110_000, 1500
BATCH, PEAK_RATE = 192, 3e-3
_EVERY_STEPS = 50
_CELLS_UNTIL = 0.6  # of the time: how long the true cell itself is taught beside mean and spread


class Feed:
    """The stock on the accelerator, and changed batches of it drawn at random."""

    def __init__(self, stock: Stock, device: str) -> None:
        self.stock, self.device = stock, device
        self.rgb = torch.empty(stock.rows["rgb"].shape, dtype=torch.uint8, device=device)
        self.places = torch.empty(stock.rows["places"].shape, device=device)
        self.taken = np.zeros(stock.makers, np.int64)
        self.usable = torch.empty(0, dtype=torch.int64, device=device)

    def refill(self) -> int:
        """Bring over what is new; returns how many pictures have been made so far."""
        places, made = self.stock.new_places(self.taken)
        if len(places):
            at = torch.from_numpy(places).to(self.device)
            for name, kept in (("rgb", self.rgb), ("places", self.places)):
                kept[at] = torch.from_numpy(self.stock.rows[name][places]).to(self.device)
        self.taken = made
        self.usable = torch.from_numpy(self.stock.ready_places(made)).to(self.device)
        return int(made.sum())

    def batch(self, size: int) -> tuple[Tensor, Tensor]:
        """Pictures (B, 3, H, W) of 0..1 and where the points lie in them (B, P, 2)."""
        at = self.usable[torch.randint(len(self.usable), (size,), device=self.device)]
        rgb, places = pictures_of(self.rgb[at]), self.places[at]
        mirrored = torch.rand(size, device=self.device) < 0.5
        rgb[mirrored] = rgb[mirrored].flip(-1)
        turned = places[mirrored][:, list(MIRRORED)]
        turned[..., 0] = WIDE_PX - turned[..., 0]
        places[mirrored] = turned
        rgb, places = shifted(rgb, places)
        return developed(rgb), places


def shifted(rgb: Tensor, places: Tensor) -> tuple[Tensor, Tensor]:
    """Pictures turned, grown and moved by a little, and their places with them."""
    count, device = len(rgb), rgb.device
    angle = torch.randn(count, device=device) * math.radians(3.0)
    size = torch.exp(torch.randn(count, device=device) * 0.03)
    move = torch.randn(count, 2, device=device) * 2.5
    c, s = torch.cos(angle) * size, torch.sin(angle) * size
    turn = torch.stack([torch.stack([c, -s], -1), torch.stack([s, c], -1)], dim=1)  # old = turn new
    half = torch.tensor([WIDE_PX / 2, HIGH_PX / 2], device=device)
    # grids count from -1 to 1 along each side
    scaled = turn * half[None, None, :] / half[None, :, None]
    grid = nn.functional.affine_grid(
        torch.cat([scaled, (move / half)[:, :, None]], dim=2), list(rgb.shape), align_corners=False
    )
    made = nn.functional.grid_sample(rgb, grid, padding_mode="border", align_corners=False)
    off = places - half - move[:, None]
    return made, torch.einsum("bij,bpj->bpi", torch.linalg.inv(turn), off) + half


def developed(rgb: Tensor) -> Tensor:
    """Pictures with other tones, colours, grain and softness, some with patches laid over."""
    count, device = len(rgb), rgb.device

    def drawn(*shape: int) -> Tensor:
        return torch.randn(count, *shape, device=device)

    tone = torch.exp(drawn(1, 1, 1) * 0.2)
    rgb = rgb.clamp_min(1e-4) ** tone * torch.exp(drawn(3, 1, 1) * 0.07 + drawn(1, 1, 1) * 0.1)
    grey = rgb.mean(1, keepdim=True)
    rgb = grey + (rgb - grey) * torch.exp(drawn(1, 1, 1) * 0.25)
    soft = torch.rand(1).item() * 1.5
    reach = torch.arange(-4, 5, device=device).float()
    kernel = torch.exp(-0.5 * (reach / max(soft, 0.1)) ** 2)
    kernel = (kernel / kernel.sum()).expand(3, 1, 1, -1)
    third = count // 3
    some = nn.functional.conv2d(rgb[:third], kernel, padding=(0, 4), groups=3)
    some = nn.functional.conv2d(some, kernel.transpose(2, 3), padding=(4, 0), groups=3)
    rgb = torch.cat([some, rgb[third:]])
    rgb = rgb + torch.randn_like(rgb) * 0.03 * torch.rand(count, 1, 1, 1, device=device) ** 2
    return _patched(rgb).clamp(0.0, 1.0)


def _patched(rgb: Tensor) -> Tensor:
    """One picture in eight has a box of another over it, that nothing be guessed surely there."""
    count = len(rgb) // 8
    other = rgb.flip(0)[:count]
    x = torch.arange(WIDE_PX, device=rgb.device)[None, None, None, :]
    y = torch.arange(HIGH_PX, device=rgb.device)[None, None, :, None]
    ends = torch.rand(count, 4, 1, 1, 1, device=rgb.device)
    left, top = ends[:, 0] * WIDE_PX, ends[:, 1] * HIGH_PX
    wide, high = 10 + ends[:, 2] * 70, 10 + ends[:, 3] * 70
    inside = (x > left) & (x < left + wide) & (y > top) & (y < top + high)
    return torch.cat([torch.where(inside, other, rgb[:count]), rgb[count:]])


def train(feed: Feed, net: PointsNet, seconds: float, batch: int, log: Any) -> PointsNet:
    """Train for a time; returns the running mean of the net's weights."""
    device = feed.device
    rule = torch.optim.AdamW(net.parameters(), lr=PEAK_RATE, weight_decay=1e-3)
    mean = copy.deepcopy(net)
    begun, step = time.monotonic(), 0
    made = feed.refill()
    while (share := (time.monotonic() - begun) / seconds) < 1.0:
        rate = PEAK_RATE * min(1.0, share / 0.03) * (0.5 + 0.5 * math.cos(math.pi * share))
        for group in rule.param_groups:
            group["lr"] = rate + 1e-6
        rgb, places = feed.batch(batch)
        with torch.autocast(device, dtype=torch.bfloat16):
            scores = net(rgb.contiguous(memory_format=torch.channels_last))
        loss = loss_of(scores, places, max(0.0, 1.0 - share / _CELLS_UNTIL))
        rule.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        rule.step()
        follow(mean, net, min(0.998, step / (step + 20.0)))
        step += 1
        if step % _EVERY_STEPS == 0:
            made = feed.refill()
            print(f"{time.monotonic() - begun:.0f} s, step {step}, {made} made, "
                  f"loss {float(loss.detach()):.4f}", file=log, flush=True)  # fmt: skip
    return mean


def score(net: PointsNet, held: dict[str, Any], device: str, log: Any) -> dict[str, Any]:
    """What the net says of pictures kept out of the training; prints how far off each point is."""
    net.eval()
    means, spreads = [], []
    for start in range(0, len(held["rgb"]), 100):
        rgb = pictures_of(torch.from_numpy(held["rgb"][start : start + 100]).to(device))
        with torch.no_grad():
            mean, spread = moments(net(rgb))
        means.append(mean.cpu().numpy())
        spreads.append(spread.cpu().numpy())
    said = {"mean": np.concatenate(means), "spread": np.concatenate(spreads)}
    off = np.abs(said["mean"] - held["places"])
    sigma = np.sqrt(said["spread"][..., :2])
    for point, name in enumerate(NAMES):
        bare = ~held["covered"][:, point].astype(bool)
        mm = MM_PER_PX * np.median(off[bare, point], axis=0)
        inside = np.mean(off[bare, point] < 1.645 * sigma[bare, point], axis=0)
        wide = MM_PER_PX * np.median(sigma[bare, point], axis=0)
        print(f"{name}: median off {mm.round(2)} mm, spread {wide.round(2)}, "
              f"within {inside.round(2)}", file=log, flush=True)  # fmt: skip
    return said


def write_out(net: PointsNet, folder: Path) -> None:
    """The net as ONNX for one picture."""
    net = copy.deepcopy(net).cpu().float().eval()
    torch.onnx.export(
        net, (torch.zeros(1, 3, HIGH_PX, WIDE_PX),), str(folder / "points.onnx"),
        input_names=["rgb"], output_names=["scores"], opset_version=13, dynamo=False,
    )  # fmt: skip
    size = sum(p.numel() for p in net.parameters())
    print(f"{size} weights, {(folder / 'points.onnx').stat().st_size} bytes", flush=True)


def held_out(checks: Stock) -> dict[str, Any]:
    """All pictures made for checking."""
    places = checks.ready_places(checks.made.copy())
    return {name: rows[places].copy() for name, rows in checks.rows.items()}


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
    make_points_picture(np.random.default_rng(0))  # compiles, once for all makers
    folder = Path(tempfile.mkdtemp(dir=SHARED if SHARED.is_dir() else None))
    stock = Stock.new(folder / "stock", arguments.stock, arguments.makers, FIELDS)
    checks = Stock.new(folder / "checks", arguments.held, 1, FIELDS)
    work = multiprocessing.get_context("spawn")  # a fork of threads that draw may hang
    jobs: list[Any] = [(stock, maker, arguments.seed, None) for maker in range(arguments.makers)]
    jobs.append((checks, 0, CHECK_SEED, arguments.held))
    makers = [
        work.Process(target=fill, args=(into.folder, *rest, row_of), daemon=True)
        for into, *rest in jobs
    ]
    for maker in makers:
        maker.start()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(arguments.seed)
    net = PointsNet().to(device).to(memory_format=torch.channels_last)
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
        torch.save(mean.state_dict(), arguments.out / "points.pt")
        held = held_out(checks)
        said = score(mean, held, device, log)
        kept = {name: held[name] for name in ("places", "covered", "about")}
        np.savez_compressed(arguments.out / "held.npz", **said, **kept)
    write_out(mean, arguments.out)
    for maker in makers:
        maker.terminate()
    shutil.rmtree(folder)
    print((arguments.out / "log.txt").read_text()[-4000:])


if __name__ == "__main__":
    main()
