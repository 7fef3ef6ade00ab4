"""How many of the trade's demands plans meet: ``python -m benchmarks.quality_plans``."""

import argparse
import time
from collections import Counter
from pathlib import Path

from benchmarks.plan_demands import BRIEFS, DEMANDS, HEADS, Case, make_cases, second_heads
from sitwell.head.surface import build_head


def main() -> None:
    """Make the plans, ask the demands, print what is met and what isn't."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=len(HEADS), help="of our own family")
    parser.add_argument("--skip", type=int, default=0, help="so many of them, at the beginning")
    parser.add_argument("--second", type=Path, help="arrays of a second family of heads")
    parser.add_argument("--show", action="store_true", help="print every set-up in a line")
    parser.add_argument("--only", default="", help="briefs that begin so")
    asked = parser.parse_args()
    chosen = list(HEADS.items())[asked.skip : asked.skip + asked.heads]
    heads = {name: build_head(dict(sliders)) for name, sliders in chosen}
    if asked.second is None or not asked.second.is_file():
        print("Heads of our own family only: name the second one's arrays (.npz) with --second.")
    else:
        heads |= second_heads(asked.second)
    met, said, counts = Counter[str](), Counter[str](), Counter[int]()
    began, briefs = time.process_time(), tuple(b for b in BRIEFS if b[0].startswith(asked.only))
    for name, head in heads.items():
        for case in make_cases({name: head}, briefs):
            counts[len(case.plan.stops)] += 1
            if asked.show:
                _show(case)
            for demand in DEMANDS:
                answer = demand(case)
                if answer is not None:
                    said[demand.__name__] += 1
                    met[demand.__name__] += answer
                if answer is False:
                    brief = " ".join(case.brief)
                    print(f"missed {demand.__name__}: {case.head}, {brief}", flush=True)
        # a run of an hour tells how it stands after each head
        print(f"{name}: {met.total()} of {said.total()} demands so far", flush=True)
    took_s = time.process_time() - began
    for name in said:
        print(f"{name:36s} {met[name]:3d} of {said[name]:3d}")
    print(f"{'all demands':36s} {met.total():3d} of {said.total():3d}")
    print("plans with 1, 2, 3 stops:", *(counts[n] for n in (1, 2, 3)))
    print(f"CPU seconds a plan: {took_s / counts.total():.2f}")


def _show(case: Case) -> None:
    print(case.head, "|", *case.brief)
    for one in case.plan.setups:
        s = one.setup
        gains = " ".join(f"{g.measure}:{g.gain:.1f}" for g in one.gains)
        print(
            f"   {one.name:9s} turn {s.turn_deg:.0f} chin {s.chin_deg:.0f} tilt {s.tilt_deg:.0f} "
            f"fwd {s.chin_forward_mm:.0f} cam {s.camera_height_mm:.0f} {s.focal_mm:.0f}mm "
            f"f/{s.f_number:.1f} {s.distance_mm:.0f} key {s.key_azimuth_deg:.0f}/"
            f"{s.key_elevation_deg:.0f} at {s.key_distance_mm:.0f} fill {s.fill_ratio:.1f} "
            f"bg {s.background_stops:.1f} {s.crop} | {gains}"
        )


if __name__ == "__main__":
    main()
