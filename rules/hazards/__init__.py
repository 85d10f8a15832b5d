"""What can go wrong: one file for each hazard, and findings where a limit is crossed."""

from __future__ import annotations

from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.cold_air import COLD_AIR
from underbench.rules.hazards.darkness import DARK
from underbench.rules.hazards.dry_freeze import DRY_FREEZE
from underbench.rules.hazards.dry_moss import DRY_MOSS
from underbench.rules.hazards.dry_pot import DRY_POT
from underbench.rules.hazards.dry_wind import DRY_WIND
from underbench.rules.hazards.first_sun import FIRST_SUN
from underbench.rules.hazards.flower_frost import FLOWER_FROST
from underbench.rules.hazards.frozen_drying import FROZEN_DRYING
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.hot_bag import HOT_BAG
from underbench.rules.hazards.hot_roots import HOT_ROOTS
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.moving_sap import MOVING_SAP
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.hazards.scorch import SCORCH
from underbench.rules.hazards.sodden import SODDEN

# Limits and hazards stand in this order wherever they are listed.
HAZARDS: dict[str, Hazard] = {
    hazard.key: hazard
    for hazard in (
        FLOWER_FROST,
        LEAF_FROST,
        MOVING_SAP,
        ROOT_FROST,
        COLD_AIR,
        CHILL,
        GALE,
        DRY_WIND,
        FROZEN_DRYING,
        SCORCH,
        FIRST_SUN,
        HOT_ROOTS,
        HOT_BAG,
        DRY_POT,
        DRY_FREEZE,
        DRY_MOSS,
        SODDEN,
        DARK,
    )
}


def hazard_of(key: str) -> Hazard:
    """Return the hazard of a key. Raises ValueError for a key that no hazard has."""
    if key not in HAZARDS:
        raise ValueError(f"no hazard {key!r}; there are: {', '.join(HAZARDS)}")
    return HAZARDS[key]
