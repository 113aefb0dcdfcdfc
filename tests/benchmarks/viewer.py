"""How fast the page of a result is painted and its section redrawn, in a headless Chromium.

    python tests/benchmarks/viewer.py results/canister_line

Painted: first paint and first paint with content of six openings, the first with a cold browser.
Redrawn: what one state takes until its words stand, its picture is drawn, and the page is laid out
and its pixels are done, over all states shown; the slowest with its state. The browser draws in
software, without a graphics card. The load of the machine is said: on a busy one times mean little.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser import browser

PAINTED = "performance.getEntriesByType('paint').map(e => e.startTime)"
REDRAWN = """
(async () => {
  const [slider, stage, canvas] = ["state", "stage", "canvas"].map(
    (name) => document.getElementById(`viewer-${name}`));
  const pen = canvas.getContext("2d"), times = [];
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
      document.body.getBoundingClientRect();
      pen.getImageData(0, 0, 1, 1);
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
            chromium.open(page)
            chromium.settle()
            times = np.array(chromium.run(REDRAWN))
            print(f"{name}, load {os.getloadavg()[0]:.1f} of {os.cpu_count()}: {told(times)}")


def told(times: np.ndarray) -> str:
    """Median and slowest of what ``REDRAWN`` measures, (n, 5)."""
    words, script, pixels = np.median(times[:, :3], axis=0)
    slowest = times[times[:, 2].argmax()]
    return (
        f"{len(times)} states, median: words {words:.1f} ms, drawn {script:.1f} ms, pixels done"
        f" {pixels:.1f} ms; slowest {slowest[2]:.1f} ms (words {slowest[0]:.1f}, drawn"
        f" {slowest[1]:.1f}; stage {slowest[3] + 1:.0f}, state {slowest[4] + 1:.0f})"
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
