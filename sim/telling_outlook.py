"""What `seedbeat outlook` says, told to people."""

from __future__ import annotations

from collections.abc import Iterator

from sim.telling import Answer, Table, iso, percent, whole

MOST_WEEKS = 5  # weak weeks that get a sentence
MOST_TAKEN = 3  # things taken for granted of the benches that are told


def sentences(answer: Answer) -> Iterator[str]:
    """The whole stretch, each weak week with what still helps, and how it was worked out."""
    yield _whole(answer)
    weak = [week for week in answer["weeks"] if week["weak"]]
    if not weak:
        yield (
            f"No week is weak: each is complete in at least {percent(answer['enough'])} of the "
            "futures."
        )
    told = sorted(weak, key=lambda w: (w["share_complete"], w["week_of"]))[:MOST_WEEKS]
    for week in sorted(told, key=lambda w: str(w["week_of"])):
        yield _weak(answer, week)
    if len(weak) > len(told):
        yield f"{len(weak) - len(told)} more weeks are weak: see the table of weeks."
    yield from _taken(answer)
    yield _how(answer)


def _whole(answer: Answer) -> str:
    total, n = answer["total"], len(answer["weeks"])
    text = (
        f"From {iso(answer['day'])} to {iso(answer['last_day'], year=True)}, {n} "
        f"week{'s' if n > 1 else ''} with deliveries: about {whole(total['expected'])} of "
        f"{whole(total['ordered'])} heads are to be expected ({_range(total)} in 8 of 10 futures)."
    )
    if total["share_complete"] == 1:
        return f"COMPLETE: in all {answer['futures']:,} futures. {text}"
    often = _futures(answer, 1 - total["share_complete"])
    return f"{text} Some delivery is short in {often}."


def _range(heads: Answer) -> str:
    if heads["p10"] == heads["p90"]:
        return whole(heads["p10"])
    return f"{whole(heads['p10'])} to {whole(heads['p90'])}"


def _futures(answer: Answer, share: float) -> str:
    """A share of the futures: "7 of 10 futures", or exactly where that would round too much."""
    tens, n = round(10 * share), answer["futures"]
    if 0 < tens < 10:
        return f"{tens} of 10 futures"
    return f"{round(n * share):,} of {n:,} futures"


def _weak(answer: Answer, week: Answer) -> str:
    cause = next(iter(week["causes"]), "")
    text = (
        f"Week of {iso(week['week_of'])}: short in {_futures(answer, 1 - week['share_complete'])}, "
        f"then by about {whole(week['short_when_short'])} of {whole(week['ordered'])} heads"
    )
    text += f"; mostly {cause}. " if cause else ". "
    return text + f"{_seeding(answer, week)} {_what_helps(answer, week)}"


def _seeding(answer: Answer, week: Answer) -> str:
    """Whether a tray seeded from today on still helps."""
    last, ready = week["last_seeding_that_helps"], week["seeded_today_is_ready"]
    crop = "" if len({d["crop"] for d in answer["deliveries"]}) == 1 else f" of {week['crop']}"
    if last is not None:
        return f"A tray{crop} seeded by {iso(last)} is still ready for it at mean lengths."
    if ready is not None:
        return f"Nothing{crop} seeded today helps before {iso(ready)}."
    return f"Nothing{crop} seeded today is ready in this season."


def _what_helps(answer: Answer, week: Answer) -> str:
    told = []
    for help_ in week["helps"]:
        action = answer["actions"][help_["action"]]
        told.append(f"{_action(action)}: {whole(help_['mean'])} heads fewer short")
    if not told:
        return (
            f"Nothing that was tried helps it for sure ({answer['action_futures']} futures each)."
        )
    return f"What helps most: {'; '.join(told)}."


def _action(action: Answer) -> str:
    """An action in words, with its days and the day to decide it."""
    days = ", ".join(iso(day) for day in action["days"])
    if action["kind"] == "pause":
        days += f"; tell them by {iso(action['by'])}"
    more = f", {action['more']}" if action["more"] else ""
    return f"{action['name']}{more} ({days})"


def _taken(answer: Answer) -> Iterator[str]:
    """What had to be taken for granted of the benches."""
    taken = [a for a in answer["assumed"] if str(a["key"]).startswith(answer["source"])]
    told = "; ".join(f"{a['key']}: {a['value']} ({a['why']})" for a in taken[:MOST_TAKEN])
    if taken:
        more = f"; and {len(taken) - MOST_TAKEN} more" if len(taken) > MOST_TAKEN else ""
        yield f"Taken for granted: {told}{more}."


def _how(answer: Answer) -> str:
    text = (
        f"A future is a simulated run from these benches; {answer['futures']:,} were simulated, "
        f"and {answer['action_futures']} with each action, which meet the same chances as those "
        "without it. A delivery is complete if all heads ordered leave."
    )
    return f"{text} Few futures: read the ranges as rough." if answer["rough"] else text


def tables(answer: Answer) -> list[Table]:
    """The weeks, each delivery, and what can be done."""
    found = [_weeks(answer), _deliveries(answer), _actions(answer)]
    return [table for table in found if table.rows]


def _weeks(answer: Answer) -> Table:
    rows = tuple(
        (
            iso(w["week_of"]), whole(w["ordered"]), whole(w["expected"]), _range(w),
            percent(w["share_complete"]), "weak" if w["weak"] else "",
        )
        for w in answer["weeks"]
    )  # fmt: skip
    headers = ("week of", "ordered", "expected", "8 of 10", "complete", "")
    under = (
        "8 of 10: heads in eight of ten futures, from the 10th to the 90th percent; complete: "
        "share of the futures in which every delivery of the week is."
    )
    return Table("Heads by week", headers, rows, under, text_columns=(0, 5))


def _deliveries(answer: Answer) -> Table:
    several = len({d["crop"] for d in answer["deliveries"]}) > 1
    rows = tuple(
        (
            iso(d["day"]), f"{d['customer']}, {d['crop']}" if several else d["customer"],
            whole(d["ordered"]), whole(d["expected"]), _range(d), percent(d["share_complete"]),
        )
        for d in answer["deliveries"]
    )  # fmt: skip
    headers = ("leaves", "customer", "ordered", "expected", "8 of 10", "complete")
    return Table("Heads by delivery", headers, rows, text_columns=(0, 1))


def _actions(answer: Answer) -> Table:
    rows = tuple(
        (
            a["name"], ", ".join(iso(day)[4:] for day in a["days"]), _takes(a), *_less(a["heads"]),
            f"{a['weeks']['mean']:.1f}", a["heads"]["verdict"],
        )
        for a in answer["actions"]
    )  # fmt: skip
    headers = ("what is done", "on", "takes", "heads", "95 %", "weeks", "verdict")
    under = (
        f"{answer['action_futures']} futures each, against nothing done. takes: person-hours, "
        "trays, or heads that are no longer ordered; heads: fewer short in all these weeks, with "
        "a 95 % interval; weeks: complete more; verdict: whether the heads are real or could be "
        "noise."
    )
    return Table("What can be done", headers, rows, under, text_columns=(0, 1, 2, 6))


def _takes(action: Answer) -> str:
    """What an action takes, in words."""
    told = [f"{action['person_hours']:g} h"] if action["person_hours"] else []
    if trays := action["trays"]:
        told.append(f"{trays} tray{'s' if trays > 1 else ''}")
    if paused := action["heads_paused"]:
        told.append(f"{whole(paused)} heads")
    return ", ".join(told)


def _less(change: Answer) -> tuple[str, str]:
    """A mean and its interval."""
    mean, low, high = (whole(round(change[k]) or 0) for k in ("mean", "low", "high"))
    return mean, "-" if low == high else f"{low} to {high}"
