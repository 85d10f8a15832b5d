"""Works and the time of year: which get a caution, and which are not scolded.

Facts of the trade: common practice, no source.
"""

from __future__ import annotations

from datetime import date

import pytest

from underbench.rules.garden.journal import Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.planning.misgivings import Misgiving, misgiving, possible_stages
from underbench.rules.plants.species_lookup import find

NORTH, SOUTH = 50.0, -37.8


def doubt(
    work: WorkKind,
    species: str,
    stage: Stage | None,
    day: date,
    latitude: float = NORTH,
    roots_pct: float | None = None,
) -> Misgiving | None:
    known = find(species)
    assert known is not None
    stages = possible_stages(known.limits, day, latitude) if stage is None else (stage,)
    return misgiving(work, roots_pct, known.limits, stages, day, latitude)


@pytest.mark.parametrize(
    ("work", "species", "stage", "day", "said"),
    [
        # Pines divided into small pots in late summer often die.
        (WorkKind.DIVIDE, "Pinus sylvestris", Stage.DORMANT, (11, 20), "ROOTS_OUT_OF_SEASON"),
        (WorkKind.DIVIDE, "Pinus thunbergii", Stage.HARDENED, (7, 25), "ROOTS_OUT_OF_SEASON"),
        # A tropical cut to bare trunk while it hardly grows.
        (WorkKind.CHOP, "Ficus microcarpa", Stage.HARDENED, (1, 15), "CHOP_OUT_OF_SEASON"),
        # A repot in full leaf.
        (WorkKind.REPOT, "Acer palmatum", Stage.HARDENED, (6, 20), "ROOTS_OUT_OF_SEASON"),
        (WorkKind.REPOT, "Fagus sylvatica", Stage.LEAFING_OUT, (5, 1), "ROOTS_OUT_OF_SEASON"),
        # A conifer bagged, a hard chop on a conifer, a conifer stripped.
        (WorkKind.BAG, "Larix decidua", Stage.DORMANT, (3, 1), "BAG_NEVER"),
        (WorkKind.CHOP, "Pinus sylvestris", Stage.DORMANT, (3, 1), "CHOP_NEVER"),
        (WorkKind.DEFOLIATE, "Juniperus chinensis", Stage.HARDENED, (6, 20), "DEFOLIATE_NEVER"),
        # A severe chop belongs to a deciduous tree when sap rises, not to autumn.
        (WorkKind.CHOP, "Acer palmatum", Stage.COLOURING, (10, 20), "CHOP_OUT_OF_SEASON"),
        (WorkKind.DEFOLIATE, "Acer palmatum", Stage.LEAFING_OUT, (4, 25), "DEFOLIATED_SOFT"),
        (WorkKind.START_LAYER, "Acer palmatum", Stage.DORMANT, (1, 20), "LAYER_AT_REST"),
        # A severed layer with few roots is at risk until it has rooted: eight weeks without frost.
        (WorkKind.SEVER_LAYER, "Acer palmatum", Stage.COLOURING, (10, 1), "SEVERED_LATE"),
    ],
)
def test_a_work_at_a_bad_time_is_answered(
    work: WorkKind, species: str, stage: Stage, day: tuple[int, int], said: str
) -> None:
    assert doubt(work, species, stage, date(2027, *day)) is Misgiving[said]


@pytest.mark.parametrize(
    ("work", "species", "stage", "day"),
    [
        # Normal summer work: a chop on hardened leaves, layers once leaves have hardened.
        (WorkKind.CHOP, "Acer palmatum", Stage.HARDENED, (6, 20)),
        (WorkKind.START_LAYER, "Acer palmatum", Stage.HARDENED, (6, 10)),
        (WorkKind.SEVER_LAYER, "Acer palmatum", Stage.HARDENED, (7, 30)),
        (WorkKind.DEFOLIATE, "Acer palmatum", Stage.HARDENED, (6, 10)),
        (WorkKind.REPOT, "Acer palmatum", Stage.BUD_SWELL, (3, 20)),
        # In a late spring buds are still shut in April.
        (WorkKind.REPOT, "Acer palmatum", Stage.DORMANT, (4, 10)),
        (WorkKind.CHOP, "Carpinus betulus", Stage.BUD_SWELL, (3, 20)),
        (WorkKind.BAG, "Carpinus betulus", Stage.DORMANT, (3, 1)),
        (WorkKind.SLIP_POT, "Acer palmatum", Stage.HARDENED, (7, 1)),
        (WorkKind.WIRE, "Pinus sylvestris", Stage.DORMANT, (11, 1)),
        (WorkKind.REPOT, "Ficus microcarpa", Stage.HARDENED, (6, 20)),
    ],
)
def test_ordinary_work_is_not_scolded(
    work: WorkKind, species: str, stage: Stage, day: tuple[int, int]
) -> None:
    assert doubt(work, species, stage, date(2027, *day)) is None


def test_too_many_roots_are_told_by_what_the_species_bears() -> None:
    day = date(2027, 3, 20)
    pine, maple = "Pinus sylvestris", "Acer palmatum"
    assert doubt(WorkKind.REPOT, pine, Stage.DORMANT, day, roots_pct=45) is Misgiving.ROOTS_TOO_MANY
    assert doubt(WorkKind.REPOT, maple, Stage.BUD_SWELL, day, roots_pct=45) is None


def test_the_south_has_its_spring_in_september() -> None:
    maple = "Acer palmatum"
    assert doubt(WorkKind.REPOT, maple, Stage.DORMANT, date(2027, 8, 20), SOUTH) is None
    assert doubt(WorkKind.REPOT, maple, Stage.DORMANT, date(2027, 8, 20), NORTH)
    assert doubt(WorkKind.SEVER_LAYER, maple, Stage.HARDENED, date(2027, 1, 20), SOUTH) is None
    assert doubt(WorkKind.SEVER_LAYER, maple, Stage.COLOURING, date(2027, 4, 20), SOUTH)


def test_where_the_stage_is_not_known_the_month_says_what_it_may_have_been() -> None:
    maple = "Acer palmatum"
    assert doubt(WorkKind.REPOT, maple, None, date(2019, 3, 20)) is None
    assert doubt(WorkKind.REPOT, maple, None, date(2019, 7, 20))
    assert doubt(WorkKind.CHOP, "Pinus sylvestris", None, date(2019, 3, 20))
    assert doubt(WorkKind.START_LAYER, maple, None, date(2019, 1, 18)) is Misgiving.LAYER_AT_REST
    assert doubt(WorkKind.START_LAYER, maple, None, date(2019, 6, 10)) is None
    assert doubt(WorkKind.CHOP, maple, None, date(2019, 4, 20), SOUTH)  # Melbourne's autumn
    assert doubt(WorkKind.REPOT, "Ficus microcarpa", None, date(2019, 6, 10)) is None
