"""Train the net that sees a face, on pictures made as it trains, and write it out.

Run from the repository on a machine with PyTorch, onnx and, better, an accelerator:
``FACE_HEADS=second.npz FACE_PLACES=places.npz python -m builders.learned.build_face_net OUT
--minutes 20`` (``families/second_heads.py`` and ``pictures/places.py`` write those two). Writes
OUT/face.onnx, OUT/face.pt, a log and a sheet of some pictures. Every picture is drawn by
``pictures/picture.py``: no photograph of a person is in it.
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

import cv2
import numpy as np
import torch
from torch import Tensor, nn

from builders.learned.changes import Batch, changed
from builders.learned.face_net import FaceNet, calm_loss, points_loss
from builders.learned.stock import Stock, fill
from builders.pictures.picture import FIELDS, make_picture, row_of
from builders.pictures.scene import Given
from sitwell.face.features import CELL_PX, CROP_PX, JUDGED, MM_PER_PX, TRAINED_WEIGHT
from sitwell.face.parts import Part
from sitwell.face.points import NAMES

STOCK, HELD_OUT = 60_000, 1200
BATCH, PEAK_RATE = 160, 3e-3
_EVERY_STEPS = 50
_CALM_UNTIL = 0.25  # of the time: how long places alone are taught beside their spreads
_HIDDEN_WEIGHT = 0.35  # of a point that something covers
_PARTS, _JUDGED = 3.0, 1.0  # weights beside the points'
# Points that marks are made of weigh more than the others.
_FINE_STEMS, _FINER = ("nose", "ear_top", "ear_outer", "ear_lobe", "eye_", "mouth_corner"), 2.5
CHECK_SEED, LONGEST_WAIT_S = 10**6, 150.0
SHARED = Path("/dev/shm")
_KEPT_S = 40.0
KEPT = ("rgb", "label", "places", "shown", "judged")


class Feed:
    """The stock on the accelerator, and changed batches of it drawn at random."""

    def __init__(self, stock: Stock, device: str, family: str = "both") -> None:
        self.stock, self.device, self.family = stock, device, family
        self.rows = {
            name: torch.from_numpy(np.zeros((1,), stock.rows[name].dtype)).new_empty(
                stock.rows[name].shape, device=device
            )
            for name in KEPT
        }
        self.taken = np.zeros(stock.makers, np.int64)
        self.usable = torch.empty(0, dtype=torch.int64, device=device)

    def refill(self) -> int:
        """Bring over what is new; returns how many pictures have been made so far."""
        places, made = self.stock.new_places(self.taken)
        if len(places):
            at = torch.from_numpy(places).to(self.device)
            for name, kept in self.rows.items():
                kept[at] = torch.from_numpy(self.stock.rows[name][places]).to(self.device)
        self.taken = made
        ready = self.stock.ready_places(made)
        if self.family != "both":
            is_second = self.stock.rows["about"][ready, 2] > 0.5
            ready = ready[is_second == (self.family == "second")]
        self.usable = torch.from_numpy(ready).to(self.device)
        return int(made.sum())

    def batch(self, size: int) -> Batch:
        """Changed pictures and all that is true of them."""
        at = self.usable[torch.randint(len(self.usable), (size,), device=self.device)]
        rows = {name: kept[at] for name, kept in self.rows.items()}
        return changed(
            Batch(
                rgb=pictures_of(rows["rgb"]),
                label=rows["label"],
                places=rows["places"],
                shown=rows["shown"].float(),
                judged=rows["judged"],
            )
        )


def pictures_of(rgb: Tensor) -> Tensor:
    """Bytes (B, S, S, 3) as numbers (B, 3, S, S) of 0..1."""
    return rgb.permute(0, 3, 1, 2).float() / 255.0


def parts_loss(scores: Tensor, label: Tensor, weight: Tensor) -> Tensor:
    """Cross entropy against each part's share of a cell, the rarer parts weighted up."""
    shares = torch.cat(
        [
            nn.functional.avg_pool2d((label == part)[:, None].float(), CELL_PX)
            for part in range(len(Part))
        ],
        dim=1,
    )
    logs = nn.functional.log_softmax(scores.float(), dim=1)
    return -(logs * shares * weight[None, :, None, None]).sum(dim=1).mean()


def judged_loss(told: Tensor, judged: Tensor) -> Tensor:
    """Cross entropy of what is judged, where it is known."""
    known = judged >= 0.0
    each = nn.functional.binary_cross_entropy_with_logits(
        told.float(), judged.clamp_min(0.0), reduction="none"
    )
    return (each * known).sum() / known.sum().clamp_min(1)


def train(
    feed: Feed, net: FaceNet, seconds: float, batch: int, rate: float, out: Path, log: Any, *,
    begun_anew: bool,
) -> FaceNet:  # fmt: skip
    """Train for a time; returns the running mean of the net's weights."""
    device = feed.device
    weight = torch.ones(len(Part), device=device)
    for part, value in TRAINED_WEIGHT.items():
        weight[part] = value
    told_more = torch.tensor(
        [_FINER if name.startswith(_FINE_STEMS) else 1.0 for name in NAMES], device=device
    )
    rule = torch.optim.AdamW(net.parameters(), lr=rate, weight_decay=2e-3, fused=device == "cuda")
    mean = copy.deepcopy(net)
    begun, step, kept = time.monotonic(), 0, time.monotonic()
    made = feed.refill()
    while (share := (time.monotonic() - begun) / seconds) < 1.0:
        now = rate * min(1.0, share / 0.03) * (0.5 + 0.5 * math.cos(math.pi * share))
        for group in rule.param_groups:
            group["lr"] = now + 1e-6
        drawn = feed.batch(batch)
        told_weight = (_HIDDEN_WEIGHT + (1.0 - _HIDDEN_WEIGHT) * drawn.shown) * told_more
        with torch.autocast(device, dtype=torch.bfloat16):
            scores, points, judged = net(drawn.rgb.contiguous(memory_format=torch.channels_last))
        calm = max(0.0, 1.0 - share / _CALM_UNTIL) if begun_anew else 0.0
        likely = points_loss(points, drawn.places, told_weight)
        loss = (1.0 - 0.8 * calm) * likely + _PARTS * parts_loss(scores, drawn.label, weight)
        loss = loss + _JUDGED * judged_loss(judged, drawn.judged)
        if calm > 0.0:
            loss = loss + 0.5 * calm * calm_loss(points, drawn.places, told_weight)
        rule.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 3.0)
        rule.step()
        follow(mean, net, min(0.998, step / (step + 20.0)))
        step += 1
        if step % _EVERY_STEPS == 0:
            made = feed.refill()
            print(f"{time.monotonic() - begun:.0f} s, step {step}, {made} made, "
                  f"loss {float(loss.detach()):.3f}, points {float(likely.detach()):.3f}",
                  file=log, flush=True)  # fmt: skip
            if time.monotonic() - kept > _KEPT_S:
                torch.save(mean.state_dict(), out / "face.pt")
                kept = time.monotonic()
    return mean


def follow(mean: nn.Module, net: nn.Module, keep: float) -> None:
    """Move one net's weights a little toward another's."""
    with torch.no_grad():
        for old, new in zip(mean.state_dict().values(), net.state_dict().values(), strict=True):
            if old.dtype.is_floating_point:
                old.lerp_(new, 1.0 - keep)
            else:
                old.copy_(new)


def score(net: FaceNet, held: dict[str, Any], device: str, log: Any) -> dict[str, Any]:
    """What the net says of pictures kept out of the training; prints how often it is right."""
    net.eval()
    told: dict[str, list[Any]] = {"points": [], "judged": [], "found": []}
    for start in range(0, len(held["rgb"]), 100):
        rgb = pictures_of(torch.from_numpy(held["rgb"][start : start + 100]).to(device))
        with torch.no_grad():
            scores, points, judged = net(rgb)
        told["points"].append(points.float().cpu().numpy())
        told["judged"].append(judged.float().cpu().numpy())
        told["found"].append(scores.argmax(1).to(torch.uint8).cpu().numpy())
    said = {name: np.concatenate(rows) for name, rows in told.items()}
    shown, second = held["shown"].astype(bool), held["about"][:, 2] > 0.5
    off = np.abs(said["points"][..., :2] - held["places"]) * MM_PER_PX
    spread = np.exp(said["points"][..., 2:4]) * MM_PER_PX
    for name in ("nose_tip", "nose_base", "hairline", "chin", "head_top", "eye_outer_own_left",
                 "mouth_corner_own_left", "ear_top_own_left", "ear_outer_own_left",
                 "ear_lobe_own_left", "jaw_5_own_left"):  # fmt: skip
        point = NAMES.index(name)
        cells = []
        for kind in (~second, second):
            own = shown[:, point] & kind
            inside = (off[own, point] < 1.645 * spread[own, point]).mean(axis=0)
            cells.append(f"{np.median(off[own, point], axis=0).round(2)} mm, within "
                         f"{inside.round(2)} of {own.sum()}")  # fmt: skip
        print(f"{name}: {'; '.join(cells)}", file=log, flush=True)
    for index, name in enumerate(JUDGED):
        cells = []
        for kind in (~second, second):
            truth, value = held["judged"][kind, index], said["judged"][kind, index] > 0.0
            there, absent = truth == 1.0, truth == 0.0
            cells.append(f"named {value[there].sum()} of {there.sum()}, falsely "
                         f"{value[absent].sum()} of {absent.sum()}")  # fmt: skip
        print(f"{name}: {'; '.join(cells)}", file=log, flush=True)
    truth = held["label"][:, ::CELL_PX, ::CELL_PX]
    for part in Part:
        a, b = said["found"] == part, truth == part
        cells = [
            f"{(a[kind] & b[kind]).sum() / max((a[kind] | b[kind]).sum(), 1):.3f}"
            for kind in (~second, second)
        ]
        print(f"overlap, {part.name.lower()}: {'; '.join(cells)}", file=log, flush=True)
    return said


def write_out(net: FaceNet, folder: Path) -> None:
    """The net as ONNX for a picture and its mirror image."""
    net = copy.deepcopy(net).cpu().float().eval()
    torch.onnx.export(
        net, (torch.zeros(2, 3, CROP_PX, CROP_PX),), str(folder / "face.onnx"),
        input_names=["rgb"], output_names=["scores", "points", "judged"], opset_version=13,
        dynamo=False,
    )  # fmt: skip
    size = sum(p.numel() for p in net.parameters())
    print(f"{size} weights, {(folder / 'face.onnx').stat().st_size} bytes", flush=True)


def sheet(stock: Stock, folder: Path) -> None:
    """Some of the pictures made, side by side."""
    places = stock.ready_places(stock.made.copy())[:: max(1, int(stock.made.sum()) // 48)][:48]
    made = stock.rows["rgb"][places]
    rows = [np.hstack(list(made[k : k + 8])) for k in range(0, len(made) - 7, 8)]
    cv2.imwrite(str(folder / "sheet.jpg"), np.vstack(rows)[..., ::-1])


def held_out(checks: Stock) -> dict[str, Any]:
    """All pictures made for checking."""
    places = checks.ready_places(checks.made.copy())
    return {name: rows[places].copy() for name, rows in checks.rows.items()}


def begin(stock: Stock, checks: Stock, told: argparse.Namespace) -> list[Any]:
    """Processes that fill both stocks."""
    work = multiprocessing.get_context("spawn")  # a fork of threads that draw may hang
    jobs: list[Any] = [(stock, maker, told.seed, None) for maker in range(told.makers)]
    jobs.append((checks, 0, CHECK_SEED, told.held))
    makers = [
        work.Process(target=fill, args=(into.folder, *rest, row_of), daemon=True)
        for into, *rest in jobs
    ]
    for maker in makers:
        maker.start()
    return makers


def main() -> None:
    """Make pictures, train, check and write out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--makers", type=int, default=max(1, (os.cpu_count() or 2) - 1))
    parser.add_argument("--stock", type=int, default=STOCK)
    parser.add_argument("--held", type=int, default=HELD_OUT)
    parser.add_argument("--batch", type=int, default=BATCH)
    parser.add_argument("--first", type=int, default=2500, help="pictures before training begins")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights to go on from")
    parser.add_argument("--rate", type=float, default=PEAK_RATE)
    parser.add_argument("--family", choices=("both", "first", "second"), default="both")
    parser.add_argument("--stocks", type=Path, help="a folder for pictures, kept and used again")
    arguments = parser.parse_args()
    begun = time.monotonic()
    arguments.out.mkdir(parents=True, exist_ok=True)
    folder = arguments.stocks or Path(tempfile.mkdtemp(dir=SHARED if SHARED.is_dir() else None))
    kept = (folder / "stock").exists()
    if kept:
        stock, checks, makers = Stock.open(folder / "stock"), Stock.open(folder / "checks"), []
    else:
        make_picture(np.random.default_rng(0), Given.from_environment())  # compiles, once for all
        print(f"compiled after {time.monotonic() - begun:.0f} s", flush=True)
        folder.mkdir(exist_ok=True)
        stock = Stock.new(folder / "stock", arguments.stock, arguments.makers, FIELDS)
        checks = Stock.new(folder / "checks", arguments.held, 1, FIELDS)
        makers = begin(stock, checks, arguments)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(arguments.seed)
    torch.backends.cudnn.benchmark = True
    net = FaceNet().to(device).to(memory_format=torch.channels_last)
    if arguments.start:
        net.load_state_dict(torch.load(arguments.start, map_location=device))
    while stock.made.sum() < (0 if kept else arguments.first):
        time.sleep(0.5)
        if stock.made.sum() == 0 and time.monotonic() - begun > LONGEST_WAIT_S:
            raise SystemExit("No picture was made; look at the makers' messages.")
    print(f"begun after {time.monotonic() - begun:.0f} s on {device}", flush=True)
    sheet(stock, arguments.out)
    with (arguments.out / "log.txt").open("w") as log:
        left_s = 60.0 * arguments.minutes - (time.monotonic() - begun)
        feed = Feed(stock, device, arguments.family)
        mean = train(
            feed, net, left_s, arguments.batch, arguments.rate, arguments.out, log,
            begun_anew=arguments.start is None,
        )  # fmt: skip
        torch.save(mean.state_dict(), arguments.out / "face.pt")
        write_out(mean, arguments.out)
        sheet(stock, arguments.out)
        for maker in makers:
            maker.terminate()
        held = held_out(checks)
        said = score(mean, held, device, log)
        truth = {name: held[name] for name in ("places", "shown", "judged", "about")}
        np.savez_compressed(
            arguments.out / "held.npz", points=said["points"], judged_told=said["judged"], **truth
        )
    if arguments.stocks is None:
        shutil.rmtree(folder)
    print((arguments.out / "log.txt").read_text()[-4000:])
    (arguments.out / "done").touch()


if __name__ == "__main__":
    main()
