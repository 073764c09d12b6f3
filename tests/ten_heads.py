"""A greenhouse whose year can be worked out by hand."""

from __future__ import annotations

# A tray of ten on Mondays, a week in the tray and two in the channel, ten heads each Friday.
# No losses, no spread. The two weeks from November 2 to 13 are closed, and nobody comes.
TINY = """
name = "ten heads a week"

[school]
first_day = 2026-08-31
last_day = 2027-01-29
closed = [{ first_day = 2026-11-02, last_day = 2026-11-13, name = "Long Break" }]

[places.nursery]
container = "tray"
count = "unlimited"
sites_each = 10

[places.channels]
count = "unlimited"
sites_each = 10

[[crops.lettuce.stages]]
name = "nursery"
place = "nursery"
days = 7
days_sd = 0
loss_percent = 0
moved_in_by = "seeding"
keep_days = 5

[[crops.lettuce.stages]]
name = "channels"
place = "channels"
days = 14
days_sd = 0
loss_percent = 0
moved_in_by = "transplant"
keep_days = 5

[tasks.seeding]
minutes_each = 1
[tasks.transplant]
minutes_each = 1
[tasks.harvest]
minutes_each = 1

[crews.class]
people = 12
students = true
absent_percent = 0
[[crews.class.shifts]]
starts = "9:00 am"
ends = "10:00 am"

[[orders]]
customer = "kitchen"
heads = { Fri = 10 }
first_day = 2026-09-25
leaves = "3:00 pm"

[cold_store]
holds_heads = 1000
keep_days = 2

[cadence]
break_rule = "if staffed"
late_days = 2
[[cadence.lines]]
crop = "lettuce"
trays = { Mon = 1 }

[window]
first_day = 2026-09-21
last_day = 2027-01-31
"""
