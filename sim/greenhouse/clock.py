"""The clock of the house: SimPy's event queue, with alarms instead of processes.

What waits for a time is a function called by an `Alarm`: one event, where a SimPy process would
spend two or three, and no suspended frames that hold on to the house.
"""

from __future__ import annotations

from collections.abc import Callable

import simpy

Step = Callable[[simpy.Event], None]


class Clock(simpy.Environment):
    """Time, in days since 00:00 on the scenario's first day [d].

    `time` is SimPy's `now` as a plain attribute: it is read thousands of times a year.
    """

    def __init__(self) -> None:
        super().__init__(0.0)
        self.time = 0.0
        self._then = 0.0

    def reach(self, time: float, then: float) -> None:
        """Go on to a known time [d], that of what follows being `then`; what is due before is done.

        What is due just then comes after what is known.
        """
        queue = self._queue
        while queue and queue[0][0] < time:
            self.time = queue[0][0]
            self.step()
        self.time = self._now = time
        self._then = then

    def skip_to(self, time: float) -> bool:
        """Go on to `time` [d] at once, unless something else happens before it or just then.

        Somebody who alone acts until then needs no event to wait for it.
        """
        queue = self._queue
        if time >= self._then or (queue and queue[0][0] <= time):
            return False
        self.time = self._now = time
        return True

    def close(self) -> None:
        """Let go of everything, so that the garbage collector finds no circle to break."""
        self.__dict__.clear()


class Alarm(simpy.Event):
    """Calls `step` at a time [d], now at the earliest."""

    def __init__(self, clock: Clock, time: float, step: Step) -> None:
        # as in SimPy's own Timeout: an event that is triggered when it is made
        self.env = clock
        self.callbacks = [step]
        self._ok = True
        self._value = None
        clock.schedule(self, delay=time - clock.time if time > clock.time else 0.0)
