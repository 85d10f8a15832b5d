"""What ``windows`` prints: which coming days suit which work, why not, and the usual season."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.journal.lookup import first_name, named, plain
from underbench.daemon.planning.windows import Planner, Window
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.rules.garden.journal import Stage
from underbench.rules.planning.misgivings import Misgiving
from underbench.rules.planning.past_years import DateRange
from underbench.rules.planning.work_season import Against, DryWork, Planned, Suit, Why, bleeds
from underbench.rules.planning.work_windows import PLANNED, USUAL_WORKS, Verdict
from underbench.rules.plants.species import HardinessClass

LIME_SULPHUR = (
    "Lime sulphur on dead wood: outdoors or well aired, gloves and eye protection; keep it off "
    "soil, roots and living bark. Follow the label and the local rules."
)
KEY = "good: nothing speaks against it.  (poor): it can be done, see why.  -: leave it."
NO_GOOD_DAY = "No coming day is a good one for what was asked about."
MARKS = {Suit.GOOD: "good", Suit.POOR: "(poor)", Suit.NO: "-"}
IN_LEAF, OUT_OF_SEASON, NAMED = "in leaf", "not its season", 5
MOST_REASONS = 3
SEEN_FOR = timedelta(days=60)  # a sighting of this spring
NOT_IN_LEAF = (
    "A tree counts as in leaf from the first day that it may be. Buds still shut? Note the "
    "stage{how}."
)
BY_COMMAND = ": underbench seen bud-swell TREE"

_WHY: dict[Why | Misgiving, str] = {
    Misgiving.ROOTS_TOO_MANY: "too many roots",
    Misgiving.CHOP_NEVER: "it seldom buds from bare wood",
    Misgiving.BAG_NEVER: "never bagged",
    Misgiving.DEFOLIATED_SOFT: "leaves not hard",
    Misgiving.DEFOLIATE_NEVER: "never stripped",
    Misgiving.LAYER_AT_REST: "at rest: it makes no roots now",
    Misgiving.SEVERED_LATE: "fewer than eight weeks left before the frosts",
    Why.NO_LAYER: "no layer is on it",
    Why.IN_GROUND: "it grows in the ground",
    Why.IN_CONTAINER: "it grows in a container",
    Why.NOT_DIVIDED: "a conifer is not divided",
    Why.LAYER_ON: "a layer is on it",
    Why.BAG_ON: "a bag is on it",
    Why.YEARS_UNKNOWN: "no earlier year known here: mind frosts for eight weeks",
    Why.BAG_SUN: "day to {value}: the bag in shade only",
    Why.BLEEDS: "it bleeds at sap rise",
    Why.COLD_NIGHT: "nights too cold: {value}",
    Why.ROOT_FROST: "frost at the roots: {value} within two nights, {chance}",
    Why.LATER_ROOT_FROST: "frost at the roots later: {value}, {chance}; only with shelter",
    Why.USUAL_ROOT_FROST: (
        "frost at the roots within {weeks} weeks in {share} of the years here; only with shelter"
    ),
    Why.USUAL_LAST_FROST: (
        "no earlier year known: frost at the roots until some {until}, by latitude and height; "
        "only with shelter"
    ),
    Why.HOT: "hot: {value}",
    Why.SOFT: "new growth is soft",
    Why.EARLY: "too early in its year",
    Why.LATE: "too late in its year",
    Why.IN_LEAF: "not between sap rise and leaves",
    Why.BRITTLE: "frost, branches are brittle: {value}",
    Why.AIR_FROST: "frost: {value}, {chance}",
    Why.WET: "rain, {chance}",
    Why.ONE_DRY_DAY: "only one dry day",
}


def asked_for(
    settings: Settings, words: Sequence[str]
) -> tuple[tuple[Planned, ...], tuple[int, ...]]:
    """Return the works and the numbers of the trees that ``[WORK] [TREE]`` names. A tree alone
    means all works; nothing means the usual works on all trees. Raises Fault."""
    whole_garden = tuple(range(len(settings.trees)))
    if not words:
        return USUAL_WORKS, whole_garden
    works = {work.value: work for work in PLANNED}
    trees = {tree.name: number for number, tree in enumerate(settings.trees)}
    name, rest = first_name(words, lambda name: plain(name).casefold() in works)
    whole, names = " ".join(words), {tree.casefold() for tree in trees}
    if whole.casefold() not in names and (rest or plain(name).casefold() in works):
        work = named("work to plan", plain(name), works)
        return (work,), (named("tree", " ".join(rest), trees),) if rest else whole_garden
    # Works stand beside the trees only for what is said of an unknown name.
    return PLANNED, (named("work to plan or tree", whole, dict.fromkeys(works, -1) | trees),)


class WindowsView:
    """Windows in words. ``whole``: works without a good coming day are shown too."""

    def __init__(self, planner: Planner, windows: Sequence[Window], *, whole: bool) -> None:
        self._units = Units(planner.outlook.settings.units)
        self._planner, self._whole = planner, whole
        shown = [one for one in windows if whole or one.good_days]
        self._windows = sorted(shown, key=lambda one: PLANNED.index(one.work))

    def text(self) -> str:
        """A row for each work and tree, a column for each day."""
        if not self.days:
            return NO_GOOD_DAY
        heads = ["work", "tree", *self.days, "why, and usually"]
        rows = [
            [work, names, *(MARKS[one] for one in suits), why]
            for work, names, suits, why in self.rows()
        ]
        return "\n".join([table(heads, rows), "", KEY, *self.notes()])

    @property
    def days(self) -> list[str]:
        """The days that are judged; none if no coming day is a good one."""
        known = self._windows[0].days if self._windows else ()
        return [f"{verdict.day:%a} {verdict.day.day}" for verdict in known]

    def notes(self, how: str = BY_COMMAND) -> list[str]:
        """Return the cautions, and whose weather it is. ``how``: the way to note a stage."""
        cautions = [LIME_SULPHUR] if self._dead_wood_offered() else []
        cautions += [NOT_IN_LEAF.format(how=how)] if self._leaves_guessed() else []
        return [*cautions, f"{self._planner.outlook.supplied.attribution}."]

    def _leaves_guessed(self) -> bool:
        """Whether a tree is taken to be in leaf though its keeper has noted no stage lately."""
        standing = {at.tree.name: at for at in self._planner.outlook.standing}
        guessed = (one for one in self._windows if self._just_open(one))
        seen = (standing[one.tree].sighting for one in guessed)
        now = self._planner.outlook.now
        return any(one is None or now - one.at > SEEN_FOR for one in seen)

    def _just_open(self, window: Window) -> bool:
        return any(
            day.stage is Stage.LEAFING_OUT
            and day.against is not None
            and day.against.why is Misgiving.ROOTS_OUT_OF_SEASON
            for day in window.days
        )

    def rows(self) -> list[tuple[str, str, tuple[Suit, ...], str]]:
        """Return each work, its trees, how its days suit, and why. Trees with the same work, days
        and reasons share a row."""
        trees: dict[tuple[str, tuple[Suit, ...], str], list[str]] = {}
        for one in self._windows:
            suits = tuple(day.suit for day in one.days)
            trees.setdefault((one.work, suits, self._remark(one)), []).append(one.tree)
        return [
            (work, self._names(names), suits, why) for (work, suits, why), names in trees.items()
        ]

    def _names(self, names: Sequence[str]) -> str:
        if self._whole or len(names) <= NAMED:
            return ", ".join(names)
        return f"{', '.join(names[: NAMED - 1])} and {len(names) - NAMED + 1} more"

    def _dead_wood_offered(self) -> bool:
        return any(one.work is DryWork.TREAT_DEAD_WOOD and one.offered for one in self._windows)

    def _remark(self, window: Window) -> str:
        usual = usual_words(window)
        return "; ".join(part for part in (*self._reasons(window), usual) if part)

    def _reasons(self, window: Window) -> list[str]:
        """The reasons against days. If there are several, each has its days in front."""
        days: dict[Why | Misgiving, list[Verdict]] = {}
        for day in window.days:
            if day.against is not None:
                days.setdefault(day.against.why, []).append(day)
        several = list(days.values())[:MOST_REASONS]
        words = [self._why(window.tree, one[0]) for one in several]
        if len(several) == 1:
            return words
        dated = (" ".join(f"{day.day:%a}" for day in one) for one in several)
        return [f"{when}: {why}" for when, why in zip(dated, words, strict=True)]

    def _why(self, tree: str, verdict: Verdict) -> str:
        limits = self._planner.outlook.setting.species[tree].limits
        return why_words(verdict, limits, self._units)

    def as_json(self) -> str:
        """Everything for programs, in °C and local days."""
        return document({"windows": [self._one_json(one) for one in self._windows]})

    def _one_json(self, window: Window) -> dict[str, Any]:
        return {
            **part(window, "work", "tree"),
            "days": [self._day_json(window.tree, day) for day in window.days],
            "usually_opens": window.opens,
            "usually_closes": window.closes,
        }

    def _day_json(self, tree: str, day: Verdict) -> dict[str, Any]:
        against = {"why": None, "value": None, "chance": None}
        if day.against:
            against = part(day.against, *against)
        return {**part(day, "day", "suit", "stage"), **against, "words": self._why(tree, day)}


def why_words(verdict: Verdict, limits: HardinessClass, units: Units) -> str:
    """Return in a few words what speaks against a day, for a tree of a class. Empty for a good
    day."""
    against = verdict.against
    if against is None:
        return ""
    if against.why is Misgiving.ROOTS_OUT_OF_SEASON:
        return _roots_words(verdict.stage, limits)
    if against.why is Misgiving.CHOP_OUT_OF_SEASON:
        return _chop_words(limits)
    if against.work is not None:
        return _since_work(against)
    if against.why is Why.FROST_WITHIN_WEEKS:
        return _frosts(against, units)
    value = "" if against.value is None else units.temp(against.value)
    chance = "" if against.chance is None else f"{against.chance:.0%} chance"
    until = _day(against.until) if against.until else ""
    words = {"value": value, "chance": chance, "until": until, "weeks": against.weeks}
    return _WHY[against.why].format(**words, share=f"{against.chance or 0:.0%}")


def _roots_words(stage: Stage, limits: HardinessClass) -> str:
    if not limits.leafless:
        return OUT_OF_SEASON  # it is always in leaf
    return IN_LEAF if stage.in_leaf else f"{stage}: {OUT_OF_SEASON}"


def _chop_words(limits: HardinessClass) -> str:
    if not limits.leafless:
        return OUT_OF_SEASON
    if bleeds(limits):
        return f"{OUT_OF_SEASON}: on hard summer leaves, as it bleeds at sap rise"
    return f"{OUT_OF_SEASON}: at sap rise, or on hard summer leaves"


def _since_work(against: Against) -> str:
    work = against.work
    assert work is not None
    dated = f"{work.work} of {work.at.day} {work.at:%B}"
    if against.why is Why.ROOTS_OPEN:
        return f"recovering from the {dated}"
    if against.why is Why.SECOND_JOB:
        return f"one major job a year, after the {dated}"
    if against.why is Why.LAYER_YOUNG:
        weeks = f"{against.value or 0:.0f}"
        since = f"{weeks} week{'' if weeks == '1' else 's'} since the {dated}"
        return f"{since}: look for roots from week six"
    return f"{_WHY[against.why]}: {dated}"


def _frosts(against: Against, units: Units) -> str:
    if against.value is not None:
        return f"frost ahead: {units.temp(against.value)}, {against.chance:.0%} chance"
    return f"frost within eight weeks in {against.chance:.0%} of the years here"


def usual_words(window: Window) -> str:
    """Return when a work usually comes into season, as a range of days. Empty if that is not known,
    or if a coming day is in season."""
    opens, closes = window.opens, window.closes
    if opens is None or closes is None or any(day.in_season for day in window.days):
        return ""
    years = "one year" if opens.years == 1 else f"{opens.years} years"
    return f"usually opens {_span(opens)} here ({years})"


def _span(found: DateRange) -> str:
    if found.first == found.last:
        return f"on {_day(found.first)}"
    return f"{_day(found.first)} to {_day(found.last)}"


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"
