"""A whole scenario, and what its parts must agree on."""

from __future__ import annotations

from datetime import date

from sim.parts import Cadence, ColdStore, Crew, Crop, Dates, Model, Name, Order, Place, School, Surplus, Task


class Scenario(Model):
    """A whole greenhouse, its people, its orders and its cadence."""

    name: Name = "greenhouse"
    school: School
    places: dict[str, Place]
    crops: dict[str, Crop]
    tasks: dict[str, Task] = {}
    crews: dict[str, Crew] = {}
    daily_checks_by: str | None = None
    orders: tuple[Order, ...] = ()
    surplus: tuple[Surplus, ...] = ()
    cold_store: ColdStore = ColdStore()
    cadence: Cadence = Cadence()
    window: Dates | None = None
    run_first_day: date | None = None

    @property
    def start(self) -> date:
        """First simulated day."""
        return self.run_first_day or self.school.first_day
