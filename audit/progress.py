"""What an audit is doing, shown to a person who has waited a second for it; nothing is shown to files and pipes."""

from __future__ import annotations

import os
import sys
import threading
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress as Bar

PATIENCE_S = 1.0
LONGEST = 48  # characters of what is told


class Progress:
    """A line on the error stream, so that the result stays alone on the output; gone when the work is done."""

    def __init__(self, wanted: bool = True):
        shown = wanted and sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._timer = threading.Timer(PATIENCE_S, self._show) if shown else None
        self._now: tuple[str, int, int] = ("starting", 0, 0)
        self._bar: Bar | None = None
        self._lock = threading.Lock()

    def __enter__(self) -> Progress:
        if self._timer:
            self._timer.daemon = True
            self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._timer:
            self._timer.cancel()
        with self._lock:
            self._timer = None
            if self._bar:
                self._bar.stop()

    def tell(self, what: str, done: int, of: int) -> None:
        """Take note of what is being done: `done` of `of` are, 0 of 0 where that isn't known."""
        self._now = (what, done, of)
        if self._bar:
            self._update(self._bar)

    def _update(self, bar: Bar) -> None:
        what, done, of = self._now
        printable = "".join(each if each.isprintable() else "?" for each in what)
        words = printable if len(printable) <= LONGEST else f"{printable[: LONGEST - 1]}…"
        bar.update(bar.task_ids[0], description=words, completed=done, total=of or None)

    def _show(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        columns = (BarColumn(16), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
        bar = Progress(*columns, console=Console(stderr=True), transient=True)
        bar.add_task("")
        with self._lock:
            if self._timer:  # the work isn't done meanwhile
                self._update(bar)
                bar.start()
                self._bar = bar
