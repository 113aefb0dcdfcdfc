"""The line that tells how far a command has come: when it is due, and how it is written over."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from formsim.pipeline.making import Progress

OFTEN, SELDOM = 0.2, 2.0
"""Time between two states of a line that is written over, and between two lines [s]."""

_CLEAR = "\r\x1b[K"


class ProgressLine:
    """One line that is written over on a terminal, a line now and then otherwise."""

    def __init__(self, over: bool, put: Callable[[str], None]) -> None:
        """``put`` shows a text as it is, without a line end of its own."""
        self.over, self.put, self.last, self.open = over, put, 0.0, False
        self.stage, self.share = 0, 0.0

    def show(self, progress: Progress) -> None:
        """Show where the run is, if there is something new."""
        now = time.perf_counter()
        if not self._is_due(progress, now - self.last):
            return
        from formsim.pipeline.progress import progress_text

        self.last, self.stage, self.share = now, progress.number, progress.fraction
        self._write(progress_text(progress))

    def tell(self, text: str) -> None:
        """Show a text, if the last one has stood long enough."""
        now = time.perf_counter()
        if now - self.last >= (OFTEN if self.over else SELDOM):
            self.last = now
            self._write(text)

    def _write(self, text: str) -> None:
        self.put(f"{_CLEAR}{text}" if self.over else f"{text}\n")
        self.open = self.over

    def _is_due(self, progress: Progress, waited: float) -> bool:
        if self.over:
            return waited >= OFTEN
        if progress.number != self.stage or waited >= SELDOM:
            return True
        return progress.fraction - self.share >= 0.05

    def end(self) -> None:
        """Clear the line."""
        if self.open:
            self.put(_CLEAR)
            self.open = False


@contextmanager
def stoppable(line: ProgressLine) -> Iterator[None]:
    """Say at once that Ctrl-C was heard: writing what was accepted takes some seconds."""
    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield
        return

    def stop(_number: int, _frame: FrameType | None) -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        line.end()
        line.put("stopping: writing what was accepted so far; Ctrl-C again leaves at once\n")
        raise KeyboardInterrupt

    signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
