"""The sections of a justification in their order, and the summary that stands before them."""

from __future__ import annotations

from collections.abc import Iterator

from sim.grant_capacity import largest_told
from sim.grant_change import change, proposal_told
from sim.grant_methods import methods
from sim.grant_parts import Boxed, Part, Section
from sim.grant_plan import cautions, evaluation, inputs_table, rebuild
from sim.grant_present import bottleneck, capacity, need, need_told
from sim.grant_results import costs, labor, losses, throughput, timeline
from sim.grant_words import assumed_told, ceiling_told, finding
from sim.telling import Answer, iso

MOST_WORDS = 250  # of the summary


def sections(answer: Answer) -> list[Section]:
    """All sections, each to be pasted by itself."""
    parts = (
        ("Summary", summary(answer)),
        ("Need: orders not met today", need(answer)),
        ("Present capacity", capacity(answer)),
        ("Bottleneck", bottleneck(answer)),
        ("Proposed change and expected output", change(answer)),
        ("Throughput and service", throughput(answer)),
        ("Losses by cause", losses(answer)),
        ("Labor and student contact hours", labor(answer)),
        ("Cost per head", costs(answer)),
        ("Timeline by month", timeline(answer)),
        ("Risks and cautions", cautions(answer)),
        ("Evaluation plan", evaluation(answer)),
        ("Methods", methods(answer)),
        ("Assumptions and inputs", inputs_table(answer)),
        ("How to rebuild the figures", rebuild(answer)),
    )
    return [Section(n, title, tuple(found)) for n, (title, found) in enumerate(parts, 1)]


def title(answer: Answer) -> str:
    """The title of the documents."""
    return f"{answer['scenario']}: capacity justification"


def summary(answer: Answer) -> Iterator[Part]:
    """At most 250 words."""
    case, window = answer["present"], answer["present"]["window"]
    if answer["not_like_for_like"]:
        yield Boxed(
            "Not like for like: orders, measured weeks or calendar differ (section 5). Do not read "
            "the differences as effects of the change."
        )
    yield (
        f"{answer['scenario']} was simulated for {answer['years']:,} school years as it is, over "
        f"{window['weeks']} weeks from {iso(window['first_day'], year=True)} to "
        f"{iso(window['last_day'], year=True)}. All numbers are estimates."
    )
    yield need_told(case)
    yield f"{ceiling_told(case)} {finding(case)}"
    yield proposal_told(answer)
    if told := largest_told(answer):
        yield told
    told = f"The estimates rest on {len(answer['inputs'])} inputs"
    if answer["assumed"]:
        yield (
            f"{told}; {assumed_told(answer)}, to be replaced by your own counts before this is "
            "handed in (section 14)."
        )
    else:
        yield f"{told}, none of them assumed (section 14)."
