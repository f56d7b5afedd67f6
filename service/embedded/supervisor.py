"""Starts the programs in order, starts again those that die, and ends all of them, leaving nothing behind."""

import signal
import time
from collections.abc import Callable
from types import FrameType

from service.embedded.child import Child

TICK_S = 0.2
READY_WITHIN_S = 90.0
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class NotReady(Exception):
    """A program did not come up; the text says which and what it said last."""


class Supervisor:
    """Runs children until a signal asks it to stop. The first child is the last to be ended (the broker)."""

    def __init__(self, children: list[Child], say: Callable[[str], None]) -> None:
        self.children = children
        self.say = say
        self.stop_requests = 0

    def obey_signals(self) -> None:
        """Ctrl-C, SIGTERM and a closed terminal end everything in order; a second time, at once.

        A signal that our starter told us to ignore (as `nohup` does) stays ignored.
        """
        for number in STOP_SIGNALS:
            if signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, self._on_signal)

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        self.stop_requests += 1

    def start(self) -> None:
        """Start each child and wait until it is ready; NotReady if one does not come up."""
        for child in self.children:
            if self.stop_requests:
                return
            child.start(time.monotonic())
            self._await_ready(child)

    def _await_ready(self, child: Child) -> None:
        until = time.monotonic() + READY_WITHIN_S
        while not self.stop_requests and not child.program.is_ready():
            ended = child.how_it_ended()
            if ended or time.monotonic() > until:
                raise NotReady(
                    f"The {child.program.name} did not come up ({ended or f'no answer in {READY_WITHIN_S:g} s'}). "
                    f"The end of {child.program.log}:\n{child.last_words()}"
                )
            time.sleep(TICK_S)

    def watch(self) -> None:
        """Until asked to stop: start again what died, and keep the logs short."""
        while not self.stop_requests:
            for child in self.children:
                self._look_after(child, time.monotonic())
            time.sleep(TICK_S)

    def _look_after(self, child: Child, now: float) -> None:
        child.keep_log_short()
        ended = child.how_it_ended()
        if ended:
            wait = child.retry_later(now)
            self.say(
                f"The {child.program.name} stopped ({ended}); starting it again in {wait:g} s. See {child.program.log}"
            )
        elif child.start_again_at is not None and now >= child.start_again_at:
            self._start_again(child, now)

    def _start_again(self, child: Child, now: float) -> None:
        try:
            child.start(now)
        except OSError as problem:
            wait = child.retry_later(now)
            self.say(f"The {child.program.name} cannot start yet ({problem}); trying again in {wait:g} s.")
        else:
            self.say(f"The {child.program.name} runs again.")

    def stop(self) -> None:
        """End all: first those that use the broker, side by side, then the broker."""
        first, others = self.children[:1], self.children[1:]
        for group in (others, first):
            for child in group:
                child.ask_to_stop()
            began = time.monotonic()
            while any(self._still_stopping(child, began) for child in group):
                time.sleep(TICK_S / 4)
            for child in group:
                child.kill()

    def _still_stopping(self, child: Child, began: float) -> bool:
        running = child.process is not None and child.process.poll() is None
        return running and self.stop_requests < 2 and time.monotonic() - began < child.program.grace_s
