"""The clock of the house: SimPy's event queue, with alarms instead of processes.

What waits for a time is a function called by an `Alarm`: one event, where a SimPy process would
spend two or three, and no suspended frames that hold on to the house.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappush

import simpy
from simpy.events import NORMAL

Step = Callable[[simpy.Event], None]


class Clock(simpy.Environment):
    """Time, in days since 00:00 on the scenario's first day [d].

    `time` is the clock of the house, which also goes on without events: SimPy's own `now` is the
    time of its last event. `then` is when the next of what is known happens [d], `alarms` are
    what else waits, the next one first. Somebody who alone acts before both needs no alarm.
    """

    def __init__(self) -> None:
        super().__init__(0.0)
        self.time = 0.0
        self.alarms = self._queue
        self.then = 0.0

    def reach(self, time: float, then: float) -> None:
        """Go on to a known time [d], that of what follows being `then`; what is due before is done.

        What is due just then comes after what is known.
        """
        alarms = self.alarms
        while alarms and alarms[0][0] < time:
            self.time = alarms[0][0]
            self.step()
        self.time = time
        self.then = then

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
        delay = time - clock.time if time > clock.time else 0.0
        heappush(clock.alarms, (clock.time + delay, NORMAL, next(clock._eid), self))
