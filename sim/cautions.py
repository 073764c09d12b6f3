"""Cautions, written once and quoted wherever a page could lead to action.

They defer to local codes, labels and licensed practice; none of them replaces any.
"""

from __future__ import annotations

from sim.scenario import Scenario

ESTIMATES = (
    "All numbers are estimates from a simulation of what the scenario says. Minutes are "
    "estimates to be timed by the class, not quotas."
)
COLD = (
    "Cold store: check the thermometer daily and act at 41 degF, the cold-holding limit for cut "
    "leafy greens (FDA Food Code). Days of keeping here mean freshness, not food safety; follow "
    "your food safety plan and the local health department."
)
COLD_ROOM = (
    "Cold room: nobody works alone in it, and the door opens from inside; adults store and load."
)
STUDENTS = (
    "Students: class minutes are instruction. Age limits, tasks and hours follow state law and "
    "the district; adults do what these keep from students."
)
CHEMICALS = (
    "Sanitizer, acids and nutrient concentrates: adults mix them, one at a time and never "
    "together; the label governs, with gloves and eye protection."
)
ELECTRICITY = (
    "Electricity near water: outlets, pumps and lights are a licensed electrician's work, "
    "on ground-fault protection as the local code asks."
)
COVER_IN_CLOSURES = (
    "Cover in a closure: adults come, never one alone where the local rules want two. Students "
    "come only with the school's consent and are supervised by staff all the time; keys, alarms, "
    "insurance and working hours follow the district's rules."
)


def cautions_for(scenario: Scenario) -> list[str]:
    """The cautions that apply to what a scenario contains."""
    found = [ESTIMATES]
    if scenario.orders or scenario.surplus:
        found += [COLD, COLD_ROOM]
    if any(crew.students for crew in scenario.crews.values()):
        found.append(STUDENTS)
    if any(place.washed_by for place in scenario.places.values()):
        found.append(CHEMICALS)
    return [*found, ELECTRICITY]
