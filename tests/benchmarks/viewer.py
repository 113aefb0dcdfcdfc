"""How fast the page of a result is painted and its section redrawn, in a headless Chromium.

    python tests/benchmarks/viewer.py results/canister_line

Painted: first paint and first paint with content of six openings, the first with a cold browser.
Redrawn: what one state takes until its words stand, its picture is drawn, and the next frame of the
screen begins, 16.7 ms at best, over all states shown; the slowest with its state. No pixels are
read back: that alone stops a browser for a tenth of a second. It draws in software, without a
graphics card. The load of the machine is said: on a busy one a single time means little, least of
all in the first seconds of a page, while its pictures are taken in. So every page is opened afresh
several times, and rests before it is measured: the least time of a state is what the page costs.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser import Browser, browser

OPENED, REST = 3, 4.0
PAINTED = "performance.getEntriesByType('paint').map(e => e.startTime)"
REDRAWN = """
(async () => {
  const [slider, stage] = ["state", "stage"].map(
    (name) => document.getElementById(`viewer-${name}`));
  const times = [];
  const ask = (window.askedFrame ??= window.requestAnimationFrame.bind(window));
  let waiting = null;
  window.requestAnimationFrame = (paint) => { waiting = paint; };
  for (let k = 0; k < stage.options.length; k++) {
    stage.value = k;
    stage.dispatchEvent(new Event("change"));
    for (let state = 0; state <= Number(slider.max); state++) {
      slider.value = state;
      await new Promise((done) => ask(done));
      const begin = performance.now();
      slider.dispatchEvent(new Event("input"));
      const told = performance.now();
      waiting(begin);
      const drawn = performance.now();
      await new Promise((done) => ask(done));
      times.push([told - begin, drawn - begin, performance.now() - begin, k, state]);
    }
  }
  return times;
})()
"""


def main(folder: Path) -> None:
    page = folder / "report.html"
    print(f"{page}: {1e-6 * page.stat().st_size:.1f} MB")
    with browser() as chromium:
        chromium.look()
        for number in range(6):
            chromium.open(page)
            first, content = chromium.run(PAINTED)
            print(f"opened {number + 1}: painted after {first:.0f} ms, content {content:.0f} ms")
        length = chromium.run("document.getElementById('viewer-data').textContent.length")
        print(f"data of the section: {1e-6 * length:.2f} MB")
        for name, look in (("1200 x 900", {}), ("phone", {"width": 390, "height": 844})):
            chromium.look(**look)
            sweeps = [swept(chromium, page) for _ in range(OPENED)]
            load = f"load {os.getloadavg()[0]:.1f} of {os.cpu_count()}"
            print(f"{name}, {load}, all openings: {told(np.concatenate(sweeps))}")
            print(f"{name}, least of {OPENED} openings: {told(np.min(sweeps, axis=0))}")


def swept(chromium: Browser, page: Path) -> np.ndarray:
    """Times of all states of a page just opened, (n, 5)."""
    chromium.open(page)
    chromium.settle()
    time.sleep(REST)
    return np.array(chromium.run(REDRAWN))


def told(times: np.ndarray) -> str:
    """Median and slowest of what ``REDRAWN`` measures, (n, 5)."""
    words, script, frame = np.median(times[:, :3], axis=0)
    slowest = times[times[:, 2].argmax()]
    return (
        f"{len(times)} states, median: words {words:.1f} ms, drawn {script:.1f} ms, next"
        f" frame {frame:.1f} ms; slowest {slowest[2]:.1f} ms (words {slowest[0]:.1f}, drawn"
        f" {slowest[1]:.1f}; stage {slowest[3] + 1:.0f}, state {slowest[4] + 1:.0f})"
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
