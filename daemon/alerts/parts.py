"""A message too long for a phone's service, in parts: each complete in itself, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from underbench.daemon.wording.deeds import Benches, in_walking_order
from underbench.daemon.wording.vocabulary import Words
from underbench.rules.advice.advice import Advice


def advice_in_parts(
    advice: Advice, words: Callable[[Advice], Words], benches: Benches, room: int
) -> list[tuple[Advice, Words]]:
    """Return an advice in as few parts as fit into ``room`` bytes, by destination and bench, each
    with its message. ``words`` writes the message of an advice."""

    def some(trees: Sequence[str]) -> Advice:
        chosen = set(trees)
        return replace(advice, jobs=tuple(job for job in advice.jobs if job.tree in chosen))

    order = in_walking_order(advice.jobs, benches)
    groups = [[job.tree for job in group] for group in order]
    parts = in_parts(groups, lambda trees: words(some(trees)), room)
    return [(some(part.trees), part) for part in parts]


def in_parts(
    groups: Iterable[Sequence[str]], words: Callable[[Sequence[str]], Words], room: int
) -> list[Words]:
    """Return the message on all trees of ``groups``, in as few parts as fit into ``room`` bytes.

    ``words`` writes the message for some of the trees. A group, such as the trees of one bench,
    stays together if it fits into one part.
    """
    shares: list[list[str]] = [[]]

    def fits(trees: Sequence[str]) -> bool:
        return len(words(trees).body.encode()) <= room

    for group in groups:
        if fits([*shares[-1], *group]):
            shares[-1] += group
            continue
        if shares[-1]:
            shares.append([])
        for tree in group:
            if shares[-1] and not fits([*shares[-1], tree]):
                shares.append([])
            shares[-1].append(tree)
    parts = [words(trees) for trees in shares]
    if len(parts) == 1:
        return parts
    return [
        part._replace(title=f"{part.title} ({number} of {len(parts)})")
        for number, part in enumerate(parts, start=1)
    ]
