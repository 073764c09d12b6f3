"""A week's work list as one page of HTML: to print, to pin up, to open on a phone.

It needs nothing but itself: no script, no font, no picture from elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from itertools import groupby
from math import ceil

from sim.telling import Answer, iso, whole, years_of
from sim.telling_worklist import (
    HOW_TO,
    clock,
    come_over,
    comes_up,
    day_title,
    delivery,
    fits,
    hours,
    how_sure,
    minutes,
    period,
    shortages,
    start_with,
    too_much,
    what,
    who,
)

_PAGE = 726.0  # height of print on a page of Letter, the lower of the two [pt]
_SMALLEST, _LARGEST = 5.8, 8.5  # sizes of print [pt]
_STYLE = """
:root { color: #000; background: #fff; font: 15px/1.35 "Helvetica Neue", Arial, sans-serif; }
body { margin: 1em auto; max-width: 62em; padding: 0 0.8em; overflow-wrap: break-word; }
h1 { font-size: 1.5em; margin: 0 0 0.3em; }
h2 { font-size: 1em; margin: 0.8em 0 0.2em; }
p { margin: 0 0 0.4em; }
table { border-collapse: collapse; width: 100%; margin-top: 0.6em; }
th, td { text-align: left; vertical-align: top; padding: 0.15em 0.4em; }
thead th { border-bottom: 1.5px solid #000; font-size: 0.87em; vertical-align: bottom; }
tbody { border-bottom: 1.5px solid #000; }
.day th { font-size: 1.1em; padding-top: 0.5em; }
.when { font-weight: normal; width: 23%; }
.task td { border-top: 1px dotted #777; }
.first > * { border-top: 1px solid #000 !important; }
.what { padding-left: 1.8em; position: relative; }
.what i { position: absolute; left: 0.4em; top: 0.25em; width: 0.8em; height: 0.8em; }
.what i { border: 1.2px solid #000; }
.number { text-align: right; width: 6%; }
.often { white-space: nowrap; width: 12%; }
.counted { width: 7%; }
.counted i { display: block; border-bottom: 1px solid #000; height: 1.05em; }
.flag { display: block; font-weight: bold; border: 1.5px solid #000; padding: 0 0.3em; }
.more td { font-size: 0.9em; border-top: 1px dotted #777; }
ol { margin: 0; padding-left: 1.4em; }
.small { font-size: 0.87em; }
@media screen and (max-width: 48em) {
  table, tbody, tr, th, td { display: block; width: auto; }
  thead { display: none; }
  .task { padding: 0.3em 0; border-top: 1px dotted #777; }
  .task > td { border: 0 !important; padding: 0 0 0 1.8em; }
  .task > * { width: auto; }
  .first { border-top: 0; }
  .number { text-align: left; }
  [data-says]:not(:empty)::before { content: attr(data-says) " "; }
  .counted i { display: inline-block; width: 7em; }
}
@media print {
  @page { margin: 8mm 9mm; }
  :root { font-size: PRINTpt; line-height: 1.2; }
  body { margin: 0; padding: 0; max-width: none; }
  p { margin-bottom: 0.25em; }
  th, td { padding-top: 0.1em; padding-bottom: 0.1em; }
  .day th { padding-top: 0.25em; }
  tr, li { break-inside: avoid; }
  .day { break-after: avoid; }
  .cautions { columns: 2; column-gap: 2em; }
}
"""


def page(answer: Answer) -> str:
    """The page of a week as HTML."""
    title = f"{answer['scenario']}: work of the week of {iso(answer['week_of'], year=True)}"
    lead = [
        start_with(answer),
        HOW_TO,
        how_sure(answer),
        " ".join([fits(answer), *shortages(answer)]),
    ]
    style = _STYLE.replace("PRINT", f"{_print_size(answer, lead):.1f}")
    cautions = "".join(f"<li>{escape(c)}</li>" for c in answer["cautions"])
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="data:,">
<title>{escape(title)}</title>
<style>{style}</style>
</head>
<body>
<main>
<h1>{escape(title)}</h1>
<p><b>{escape(lead[0])}</b></p>
{"".join(f"<p>{escape(text)}</p>" for text in lead[1:])}
{_table(answer)}
<h2>Cautions: a number in brackets, such as [1], points to one of these</h2>
<ol class="cautions small">{cautions}</ol>
<p class="small">{escape(_source(answer))}</p>
</main>
</body>
</html>
"""


def _source(answer: Answer) -> str:
    return (
        f"seedbeat worklist {answer['file']}, {years_of(answer)}, seed {answer['seed']}, "
        f"scenario {answer['scenario_hash']}"
    )


def _print_size(answer: Answer, lead: list[str]) -> float:
    """The largest print with which the week fits one page of A4 or Letter, within limits [pt]."""
    sizes = (_LARGEST - step / 10 for step in range(int(10 * (_LARGEST - _SMALLEST))))
    return next((s for s in sizes if s * _height(answer, lead, s) <= _PAGE), _SMALLEST)


def _height(answer: Answer, lead: list[str], size: float) -> float:
    """Height of the page in the size of its print, from the characters that fit on a line."""

    def lines(text: str, width: float) -> float:
        return 1.2 * ceil(len(text) * size / width) + 0.1 + 0.8 / size if text else 0.0

    height = 8.4 + sum(lines(text, 1100) for text in lead)
    height += 0.9 * sum(lines(text, 570) for text in answer["cautions"]) / 2
    for day in filter(_shown, answer["days"]):
        height += 1.75 + (0.9 * lines(come_over(day), 1180) if day["busy"] else 0.0)
        height += sum(lines(delivery(d), 545) for d in day["deliveries"])
        for shift in day["shifts"] if day["busy"] else ():
            tasks = sum(lines(what(t, day) + _points(t), 545) for t in shift["tasks"])
            name = lines(period(shift) + _points(shift), 282) + 1.6 * shift["over"]
            height += max(tasks, name + 1.2 if shift["tasks"] else name)
    return height


def _table(answer: Answer) -> str:
    days = "".join(_day(day, answer["years"]) for day in answer["days"] if _shown(day))
    if not days:
        return ""
    return f"""<table>
<thead><tr><th>When and who</th><th>What to do (numbers are averages); tick when done</th>
<th class="number">Person-minutes</th><th>Comes up in</th><th>Counted</th></tr></thead>
{days}</table>"""


def _shown(day: Answer) -> bool:
    return bool(day["busy"] or day["closure"])


def _day(day: Answer, years: int) -> str:
    title = day_title(day) if day["busy"] else f"{day_title(day)}; nothing to do"
    rows = [f'<tr class="day"><th colspan="5" scope="rowgroup">{escape(title)}</th></tr>']
    for shift in day["shifts"]:
        if day["busy"]:
            rows += _beside(_when(shift), [_task(t, day, years) for t in shift["tasks"]])
    for at, leaving in groupby(day["deliveries"], key=lambda d: clock(d["leaves"])):
        rows += _beside(f"<b>{at}</b> leaves", map(_delivery, leaving))
    if more := come_over(day):
        rows.append(f'<tr class="more"><td colspan="5">{escape(more)}</td></tr>')
    return "\n".join(["<tbody>", *rows, "</tbody>\n"])


def _beside(name: str, tasks: Iterable[str]) -> Iterator[str]:
    """Rows of tasks, the name of their shift beside them."""
    listed = list(tasks) or [_NOTHING]
    first = f'<th class="when" scope="row" rowspan="{len(listed)}">{name}</th>'
    yield f'<tr class="task first">{first}{listed[0]}</tr>'
    for task in listed[1:]:
        yield f'<tr class="task">{task}</tr>'


_COUNTED = '<td class="counted" data-says="Counted:"><i></i></td>'
_NOTHING = '<td colspan="4">Nothing of its own to be expected: do what is left over.</td>'


def _when(shift: Answer) -> str:
    told = f"<b>{escape(hours(shift))}</b> {escape(who(shift))}{_points(shift)}"
    if shift["over"]:
        return f'{told} <span class="flag">{escape(too_much(shift))}</span>'
    if shift["crew"] and shift["tasks"]:
        used, there = whole(shift["wanted"]), whole(shift["staffed"])
        return f"{told}<br>{used} of {there} person-minutes"
    return told


def _points(thing: Answer) -> str:
    """Where the cautions of a task, a shift or a delivery stand: " [2, 3]"."""
    numbers = ",\u00a0".join(str(place + 1) for place in thing["cautions"])
    return f" [{numbers}]" if numbers else ""


def _task(task: Answer, day: Answer, years: int) -> str:
    return (
        f'<td class="what"><i></i>{escape(what(task, day))}{_points(task)}</td>'
        f'<td class="number" data-says="Person-minutes:">{minutes(task)}</td>'
        f'<td class="often" data-says="Comes up in">{escape(comes_up(task, years))}</td>{_COUNTED}'
    )


def _delivery(d: Answer) -> str:
    told = f"{escape(delivery(d))}{_points(d)}"
    return f'<td class="what" colspan="3"><i></i>{told}</td>{_COUNTED}'
