"""What to do, tree by tree: destination by destination, bench by bench, heavy pots last.

Every tree is named, or stands on a bench that is asked for as a whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby
from typing import Protocol, TypeVar

from underbench.daemon.wording.vocabulary import Teller, chance_words, joined, the_spot
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.hazards.hazard import Action

HEAVY_CAUTION = "Two people for {trees}: straight back, or leave it and cover it."
WHOLE = "all of"
WHOLE_FROM = 4  # fewer trees are named even if they are all of a bench
MOST_LEFT = 2  # a bench of which more trees stay is not asked for as a whole


class Placed(Protocol):
    """Something to do with a tree: at which spot it stands, and what is done where."""

    @property
    def spot(self) -> str:
        """The spot at which it stands."""

    @property
    def into(self) -> str | None:
        """The spot to which it goes."""

    @property
    def words(self) -> str:
        """What is done."""

    @property
    def last(self) -> bool:
        """Whether it is lifted last."""


_Placed = TypeVar("_Placed", bound=Placed)
Benches = Mapping[str, Sequence[str]]  # which trees stand where, in the order that one walks


def in_walking_order(jobs: Sequence[_Placed], benches: Iterable[str]) -> list[list[_Placed]]:
    """Return the jobs of each bench for each destination, in the order in which they are done.

    The destinations are the garden's spots in walking order, then what is done on the spot. Heavy
    pots come last.
    """
    walk = {spot: place for place, spot in enumerate(benches)}
    remedies = list(dict.fromkeys(job.words for job in jobs))

    def order(job: _Placed) -> tuple[bool, int, int, int]:
        to = walk.get(job.into or "", len(walk))
        return job.last, to, remedies.index(job.words), walk.get(job.spot, len(walk))

    groups = groupby(sorted(jobs, key=order), key=order)
    return [list(group) for _, group in groups]


def deed_lines(advice: Advice, benches: Benches, teller: Teller, now: datetime) -> list[str]:
    """Return what to do: a line for each destination, below it one for each bench."""
    lines = []
    groups = in_walking_order(advice.jobs, benches)
    for (last, words), found in groupby(groups, key=lambda g: (g[0].last, g[0].words)):
        own = list(found)
        head = f"Last, {words[0].lower()}{words[1:]}" if last and len(groups) > len(own) else words
        wait = not_before([job for group in own for job in group], teller, now)
        head += f" ({wait})" if wait else ""
        lines += _of_one(head, [_from_bench(group, benches) for group in own], own)
    return lines


def _of_one(head: str, phrases: Sequence[str], groups: Sequence[Sequence[Job]]) -> list[str]:
    """The lines of one destination; one bench stands on the same line."""
    many = sum(len(group) for group in groups)
    counted = f"{head} ({many})" if many > 1 else head
    if len(phrases) > 1:
        return [f"{counted}:", *(f"• {phrase}" for phrase in phrases)]
    (phrase,) = phrases
    return [f"{head}: {phrase}" if phrase.startswith(WHOLE) else f"{counted}, {phrase}"]


def _from_bench(jobs: Sequence[Job], benches: Benches) -> str:
    """The trees of one bench: all of it, all but one or two, or by their names."""
    spot, own = jobs[0].spot, [job.tree for job in jobs]
    there = benches.get(spot, ())
    left = [tree for tree in there if tree not in own]
    whole = set(own) <= set(there) and len(own) >= WHOLE_FROM and len(left) <= MOST_LEFT
    if whole and not left:
        return f"{WHOLE} {the_spot(spot)} ({len(own)})"
    if whole and len(", ".join(left)) < len(", ".join(own)):
        return f"{WHOLE} {the_spot(spot)} but {joined(left)} ({len(own)})"
    moves = jobs[0].remedy.carries or jobs[0].worst.action is Action.LIGHT
    way = "from" if moves and not jobs[0].stay else "at"
    where = the_spot(spot)
    standing = where if way == "at" and where.startswith("under") else f"{way} {where}"
    return f"{standing}: {', '.join(own)}"


def not_before(jobs: Sequence[Job], teller: Teller, now: datetime) -> str:
    """Return when bags may be opened that stand in frost till then; empty if at any time."""
    waits = [job.not_before for job in jobs if job.not_before]
    return f"not before {teller.when(max(waits), now)}: frost till then" if waits else ""


def cautions(advice: Advice) -> Iterator[str]:
    """Yield what goes with the deeds: two people for heavy pots, and what does not suffice."""
    heavy = [job.tree for job in advice.jobs if job.heavy]
    if heavy:
        yield HEAVY_CAUTION.format(trees=joined(heavy))
    short = [job for job in advice.jobs if job.short]
    if short:
        most = chance_words(max(job.taken.chance for job in short if job.taken))
        yield f"The best there is: chance of harm still {most} for {_all_but(advice, short)}."


def _all_but(advice: Advice, jobs: Sequence[Job]) -> str:
    """Some of an advice's trees: all, all but a few, or by their names."""
    names = [job.tree for job in jobs]
    others = [job.tree for job in advice.jobs if job.tree not in names]
    if len(names) > 1 and not others:
        return "all of them"
    few = others and len(names) > 2 * len(others)
    return f"all but {joined(others)}" if few else joined(names)


def out_of_early_sun(advice: Advice) -> str:
    """Return what is asked for trees that stay out, frosted, in the sun of the next morning."""
    frosted = [
        job
        for job in advice.jobs
        if not job.remedy.carries and any(finding.early_sun for finding in job.findings)
    ]
    if not frosted:
        return ""
    until = "it has" if len(frosted) == 1 else "they have"
    return f"Keep {_all_but(advice, frosted)} out of early sun until {until} thawed."
