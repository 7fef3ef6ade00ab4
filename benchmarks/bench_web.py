"""How quick the pages are in headless Chromium: first useful paint, a moving control, progress.

Run from the repository: ``python -m benchmarks.bench_web``. A moving control is timed from the
input event to the frame in which the new view, its measures and guards are on the screen, and held
against the floor: the same work (picture and judgement) done in this process without any page.
"""

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from builders.docs.web_stage import CHROMIUM, FLAGS, prepare_sitting, serving
from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.ui.web.example_sitting import draw_frames
from sitwell.ui.web.setup_in_hand import MOVING_PX

MOVES, LOADS = 40, 5
PAINT_MS, MOVE_MS, PROGRESS_MS = 1500.0, 80.0, 300.0

# A page is useful when its heading and its first control can be seen.
PAINTED = """() => new Promise((done) => {
  const look = () => {
    const heading = document.querySelector("#work h1");
    if (!heading || !document.querySelector("#work input, #work .btn")) setTimeout(look, 5);
    else requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now())));
  };
  look();
})"""
MOVED = """async (moves) => {
  const input = document.querySelector(".slider input[type=range]");
  const image = document.querySelector(".seen img");
  const low = Number(input.min), wide = Number(input.max) - low, times = [];
  for (let i = 0; i < moves; i++) {
    const shown = new Promise((done) => {
      const watch = new MutationObserver(() => {
        watch.disconnect();
        image.decode().then(() => requestAnimationFrame(() => done(performance.now())));
      });
      watch.observe(image, { attributes: true, attributeFilter: ["src"] });
    });
    input.value = low + ((i * 7) % wide);
    const began = performance.now();
    input.dispatchEvent(new Event("input", { bubbles: true }));
    times.push((await shown) - began);
    await new Promise((go) => setTimeout(go, 60));
  }
  return times;
}"""
TOLD = """() => {
  window.gaps = [];
  let last = performance.now();
  new MutationObserver(() => {
    const now = performance.now();
    window.gaps.push(now - last);
    last = now;
  }).observe(document.querySelector(".progress"),
    { attributes: true, subtree: true, childList: true, characterData: true });
}"""


def main() -> None:
    """Print the three figures beside their goals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--moves", type=int, default=MOVES)
    moves = parser.parse_args().moves
    floor_ms = work_alone_ms(moves)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        folder = Path(name)
        with serving(folder) as url:
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            sitting = prepare_sitting(browser, url, draw_frames(folder))
            paints_ms = [paint(browser, f"{sitting}/talk") for _ in range(LOADS)]
            control_ms = control(browser, sitting, moves)
            told_ms = progress(browser, sitting)
            browser.close()
    move_ms, paint_ms = statistics.median(control_ms), statistics.median(paints_ms)
    print(f"first useful paint   median {paint_ms:6.0f} ms (goal {PAINT_MS:.0f}; {LOADS} loads)")
    print(f"control to new view  median {move_ms:6.0f} ms (goal {MOVE_MS:.0f}; {moves} moves), "
          f"p90 {percentile(control_ms, 90):.0f} ms")  # fmt: skip
    print(f"  the same work alone median {floor_ms:5.0f} ms, ratio {move_ms / floor_ms:.2f}")
    print(f"progress            longest {max(told_ms):6.0f} ms (goal {PROGRESS_MS:.0f}), "
          f"p90 {percentile(told_ms, 90):.0f} ms")  # fmt: skip


def work_alone_ms(moves: int) -> float:
    """Median time of one picture and one judgement, one after the other, without a page."""
    head = build_head()
    sculpture, evaluator = Sculpture(head), Evaluator(head)
    times = []
    for index in range(moves + 3):
        setup = Setup(turn_deg=float(index % 30))
        began = time.perf_counter()
        sculpture.render(setup, round(MOVING_PX * 0.8), MOVING_PX)
        evaluator.evaluate(setup)
        times.append(1000.0 * (time.perf_counter() - began))
    return statistics.median(times[3:])


def paint(browser: Any, address: str) -> float:
    """Milliseconds from navigation to a useful page, in a browser that has seen nothing."""
    context = browser.new_context(viewport={"width": 1366, "height": 900})
    page = context.new_page()
    page.goto(address, wait_until="commit")
    time_ms = float(page.evaluate(PAINTED))
    context.close()
    return time_ms


def control(browser: Any, sitting: str, moves: int) -> list[float]:
    """Milliseconds from each input event to the frame that shows the new view."""
    page = browser.new_page(viewport={"width": 1366, "height": 900})
    page.goto(f"{sitting}/plan")
    page.wait_for_selector(".hand .curve-grid")
    page.wait_for_timeout(1000)
    times = [float(value) for value in page.evaluate(MOVED, moves)]
    page.close()
    return times


def progress(browser: Any, sitting: str) -> list[float]:
    """Milliseconds between the changes a person sees while set-ups are searched."""
    page = browser.new_page(viewport={"width": 1366, "height": 900})
    page.goto(f"{sitting}/plan")
    page.wait_for_selector(".hand .curve-grid")
    page.evaluate(TOLD)
    page.click("text=Search again with what is held")
    page.wait_for_selector(".progress", state="visible")
    page.wait_for_selector(".progress", state="hidden", timeout=120_000)
    # the first gap is the wait before the click
    gaps = [float(value) for value in page.evaluate("window.gaps")][1:]
    page.close()
    return gaps


def percentile(values: list[float], share: float) -> float:
    """The value that ``share`` per cent of the others do not pass."""
    return sorted(values)[min(int(len(values) * share / 100.0), len(values) - 1)]


if __name__ == "__main__":
    main()
