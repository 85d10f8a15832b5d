"""What a year of messages came to: carries, nights missed, flaps; and the rules of thumb beside."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise, zip_longest

from score_truth import Frosted, Night, Truth

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.rehearsal.replay import Heard
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Entry, Move
from underbench.rules.garden.local_time import NOON, hands_on_between, local_day, local_moment
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.weather.hourly import Weather

DAY = timedelta(days=1)
NEXT_NIGHT = timedelta(hours=25)
EVENING = time(17)


@dataclass
class Spell:
    """Nights running for which one tree is under cover: one carry, however many they are."""

    tree: str
    first: datetime
    last: datetime
    carried: bool

    def needed(self, harmed: Mapping[Night, Frosted]) -> bool:
        """Whether any night of it would have harmed the tree at home."""
        return any(t == self.tree and self.first <= n <= self.last for t, n in harmed)


@dataclass
class Score:
    """One way to go about it, by what a grower would count."""

    name: str
    carries: int = 0
    needless: int = 0
    missed: dict[Night, Frosted] = field(default_factory=dict)

    @property
    def missed_nights(self) -> int:
        """In how many nights at least one tree was missed."""
        return len({night for _, night in self.missed})


@dataclass(frozen=True, slots=True)
class Telling:
    """One tree spoken of in one frost advice that was not called off before it was due."""

    at: datetime
    advice: Advice
    job: Job

    @property
    def nights(self) -> list[datetime]:
        """The nights it was told for."""
        return sorted({f.span.start for f in frosts(self.job.findings)})

    @property
    def first(self) -> datetime:
        """From when on its help is there: it is put on by the deadline of the message, which may
        be that of another tree, nights before its own."""
        early = self.nights[0] - self.advice.do_by
        return self.advice.do_by - DAY if early > timedelta(0) else self.nights[0]

    def warns_of(self, night: datetime, onset: datetime) -> bool:
        """Whether who does as told has seen to the tree before ``onset`` in ``night``."""
        if night in self.nights:
            return self.at < onset
        return self.first < night < self._until and max(self.at, self.advice.do_by) <= onset

    @property
    def _until(self) -> datetime:
        """What is covered where it stands stays so until the return that was told; what is carried
        under cover comes back when it is told to, which is in the journal."""
        covered = self.job.choice is not None and self.job.choice.way.spot is None
        back_at = self.advice.back_at if covered else None
        return max(self.nights[-1], back_at or self.nights[-1])

    @property
    def carries(self) -> bool:
        """Whether the tree is to be carried or set down."""
        return self.job.choice is not None and self.job.choice.way.remedy.carries


def frosts(findings: Iterable[Finding]) -> list[Finding]:
    """Return the frosts among ``findings``."""
    return [finding for finding in findings if finding.hazard.is_frost]


def tellings(heard: Sequence[Heard]) -> list[Telling]:
    """Return every tree told of frost, without those called off before their deadline."""
    off = [(one.at, set(one.trees)) for one in heard if kind_of(one) is Kind.STAND_DOWN]
    return [
        Telling(one.at, one.advice, job)
        for one in heard
        if one.advice is not None and one.advice.action is Action.PROTECT
        for job in one.advice.jobs
        if frosts(job.findings)
        and not any(one.at < at <= one.advice.do_by and job.tree in trees for at, trees in off)
    ]


def kind_of(one: Heard) -> Kind:
    """Return what a message is about."""
    return Kind.ADVICE if one.advice is not None else Kind(one.told.message.kind)


def away(entries: Sequence[Entry], homes: Mapping[str, str], ends: datetime) -> list[Spell]:
    """Return the stretches that each tree stood away from home, by the journal."""
    found = []
    for tree, home in homes.items():
        moves = [entry for entry in entries if isinstance(entry, Move) and entry.tree == tree]
        moves.sort(key=lambda move: move.at)
        found += [
            Spell(tree, move.at, after.at if after else ends, carried=True)
            for move, after in zip_longest(moves, moves[1:])
            if move.spot != home
        ]
    return found


def spells(told: Sequence[Telling], stays: Sequence[Spell]) -> list[Spell]:
    """Join what was told of one tree into spells: night after night, or until it went home."""
    joined: dict[str, list[Spell]] = {}
    for one in sorted(told, key=lambda telling: (telling.first, telling.at)):
        own = joined.setdefault(one.job.tree, [])
        last = _stays_until(one, stays)
        if own and one.first - own[-1].last <= NEXT_NIGHT:
            own[-1].last = max(own[-1].last, last)
            own[-1].carried |= one.carries
        else:
            own.append(Spell(one.job.tree, one.first, last, one.carries))
    return [spell for own in joined.values() for spell in own]


def _stays_until(one: Telling, stays: Sequence[Spell]) -> datetime:
    """The last night told, or that before the tree went home, where that is later."""
    ends = [s.last for s in stays if s.tree == one.job.tree and s.first <= one.nights[-1] + DAY]
    held = [end for end in ends if end > one.nights[-1]]
    return max([one.nights[-1], *(end - DAY for end in held)])


def daemon(
    told: Sequence[Telling], stays: Sequence[Spell], truth: Truth
) -> tuple[Score, list[Spell]]:
    """Return how the daemon did, and its spells."""
    found = spells(told, stays)
    carried = [spell for spell in found if spell.carried]
    score = Score("underbench", len(carried))
    score.needless = sum(not spell.needed(truth.harmed) for spell in carried)
    words = last_words(told, truth)
    for (tree, night), frosted in truth.harmed.items():
        under = any(s.tree == tree and s.first <= frosted.first_at <= s.last for s in stays)
        if not under and (tree, night) not in words:
            score.missed[tree, night] = frosted
    return score, found


def last_words(told: Sequence[Telling], truth: Truth) -> dict[Night, Telling]:
    """Return what was last said of each damaging night before its first bad hour."""
    words: dict[Night, Telling] = {}
    by_tree: dict[str, list[Telling]] = {}
    for one in sorted(told, key=lambda telling: telling.at):
        by_tree.setdefault(one.job.tree, []).append(one)
    for (tree, night), frosted in truth.harmed.items():
        for one in by_tree.get(tree, ()):
            if one.warns_of(night, frosted.first_at):
                words[tree, night] = one
    return words


def hopeless(words: Mapping[Night, Telling]) -> set[Night]:
    """Return the nights of which the message itself said that nothing here suffices."""
    return {
        night
        for night, one in words.items()
        if not one.job.stay and (one.job.choice is None or not one.job.choice.suffices)
    }


def harmed_helped(
    words: Mapping[Night, Telling], stays: Sequence[Spell], truth: Truth
) -> dict[Night, Frosted]:
    """Return the frosts that reached a tree under the very help it was told.

    The help is tried from the deadline on, or from when the tree was carried to where it is.
    """
    found: dict[Night, Frosted] = {}
    for (tree, night), one in words.items():
        if one.job.choice is not None:
            place = one.job.choice.way.place
        elif one.job.stay:
            place = truth.place(tree, one.job.spot, one.at)
        else:
            continue
        moved = [s.first for s in stays if s.tree == tree and s.first <= one.at < s.last]
        by = max(one.at, one.advice.do_by) if one.advice.in_hand else one.at
        since = _hour(min([by, *moved]))
        felt = truth.under({tree: place}, since, night + DAY) if since < night + DAY else {}
        if (tree, night) in felt:
            found[tree, night] = felt[tree, night]
    return found


def _hour(moment: datetime) -> datetime:
    return moment.replace(minute=0, second=0, microsecond=0)


def carried_otherwise(heard: Sequence[Heard]) -> int:
    """Return how many trees were told to be carried for anything but frost, each time counted."""
    return sum(
        job.choice is not None and job.choice.way.remedy.carries and not frosts(job.findings)
        for one in heard
        if one.advice is not None
        for job in one.advice.jobs
    )


def notice_h(told: Sequence[Telling], truth: Truth) -> list[float]:
    """Return the hours between the first word of a damaging night and its first bad hour."""
    first: dict[Night, datetime] = {}
    for one in sorted(told, key=lambda telling: telling.at):
        for night in one.nights:
            first.setdefault((one.job.tree, night), one.at)
    known = truth.harmed.keys() & first.keys()
    before = (truth.harmed[night].first_at - first[night] for night in known)
    return [gap / timedelta(hours=1) for gap in before if gap > timedelta(0)]


def flaps(heard: Sequence[Heard]) -> set[tuple[str, datetime]]:
    """Return the hazards and spans that were told, stood down and told again."""
    open_: set[tuple[str, Hazard, datetime]] = set()
    off: set[tuple[str, Hazard, datetime]] = set()
    found: set[tuple[str, datetime]] = set()
    for one in heard:
        if one.advice is not None:
            keys = {(f.tree, f.hazard, f.span.start) for f in one.advice.findings}
            found |= {(hazard.key, start) for _, hazard, start in keys & off}
            open_ |= keys
        elif kind_of(one) is Kind.STAND_DOWN:
            gone = {key for key in open_ if key[0] in one.trees and key[2] + DAY > one.at}
            off |= gone
            open_ -= gone
    return found


def rule(
    below_c: float,
    forecast: Callable[[datetime], Weather],
    truth: Truth,
    span: tuple[datetime, datetime],
) -> Score:
    """Return how "carry everything in when the forecast goes below" does.

    Decided as the evening's hands-on hours begin, on the same forecasts; out again the next day,
    unless the coming night is below as well: then everything stays in, one carry for the run. What
    grows in the ground is not carried.
    """
    cold = [night for night, low_c in _evenings(forecast, truth, span) if low_c < below_c]
    trees = [t.name for t in truth.settings.trees if t.container.kind is not ContainerKind.BED]
    runs = _runs(cold)
    kept = [Spell(tree, run[0], run[-1], carried=True) for run in runs for tree in trees]
    score = Score(f"below {below_c:g} °C", len(kept))
    score.needless = sum(not spell.needed(truth.harmed) for spell in kept)
    score.missed = {key: one for key, one in truth.harmed.items() if key[1] not in cold}
    return score


def _evenings(
    forecast: Callable[[datetime], Weather], truth: Truth, span: tuple[datetime, datetime]
) -> Iterator[tuple[datetime, float]]:
    """Each hazard night with its minimum as forecast in the evening."""
    zone, hands_on = truth.settings.garden.timezone, truth.settings.hands_on
    day, last = (local_day(moment, zone) for moment in span)
    while day <= last:
        evening, midnight = local_moment(day, EVENING, zone), local_moment(day + DAY, time(0), zone)
        noons = [local_moment(at, NOON, zone) for at in (day, day + DAY)]
        hours = hands_on_between(hands_on, evening, midnight, zone)
        if hours and span[0] <= noons[0] and noons[1] <= span[1]:
            now = datetime.fromtimestamp(int(hours[0].start.timestamp()), tz=UTC)
            yield noons[0], float(forecast(now).between(now, noons[1]).air_c.min())
        day += DAY


def _runs(nights: Sequence[datetime]) -> list[list[datetime]]:
    """Split nights into runs of consecutive ones."""
    cuts = [0, *(i + 1 for i, (a, b) in enumerate(pairwise(nights)) if b - a > NEXT_NIGHT)]
    edges = [*cuts, len(nights)]
    return [list(nights[a:b]) for a, b in pairwise(edges) if a < b]
