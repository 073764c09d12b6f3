"""The clock of the house: SimPy's event queue, with alarms instead of processes.

A step that waits for a time is a function called by an `Alarm`: one event, where a SimPy process
would spend two or three, and no suspended frames that hold on to the house.
"""

from __future__ import annotations

from collections.abc import Callable

import simpy
from simpy.events import NORMAL, URGENT

Step = Callable[[simpy.Event], None]


class Clock(simpy.Environment):
    """Time, in days since 00:00 on the scenario's first day [d]."""

    def __init__(self) -> None:
        super().__init__(0.0)

    def skip_to(self, time: float) -> bool:
        """Go on to `time` [d] at once, unless something else happens before it or just then.

        Somebody who alone acts until then needs no event to wait for it.
        """
        if self._queue[0][0] <= time:
            return False
        self._now = time
        return True

    def close(self) -> None:
        """Let go of everything, so that the garbage collector finds no circle to break."""
        self.__dict__.clear()


class Alarm(simpy.Event):
    """Calls `step` at a time [d]; of what happens just then, `first` ones come first."""

    def __init__(self, clock: Clock, time: float, step: Step, *, first: bool = False) -> None:
        # as in SimPy's own Timeout: an event that is triggered when it is made
        self.env, self.callbacks = clock, [step]
        self._ok, self._value = True, None
        clock.schedule(self, URGENT if first else NORMAL, max(0.0, time - clock.now))
