"""Hot roots, at the edge of the root ball."""

from __future__ import annotations

from underbench.rules.hazards.heat import heat_hazard, hotter
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import from_species, own
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species

# Hours in a day above the limit before roots are hurt, or die. The chamber work had five to six
# hours at 40-42 °C (Martin, Ingram & Nell 1989, read in abstract). Harm is taken a little sooner.
HOT_ROOT_HOURS = (3, 6)


def _limit(species: Species, condition: Condition) -> Limit:
    return own(from_species(species, "roots_hot", MeasuredOn.SHELL), condition, "root_hot_c")


HOT_ROOTS = heat_hazard(
    key="hot-roots",
    words="Hot roots",
    short="hot roots",
    limit_words="heat at the root ball's edge",
    measured_on=MeasuredOn.SHELL,
    limit=_limit,
    judge=lambda scene: hotter(scene, scene.exposure.shell_c, HOT_ROOT_HOURS),
)
