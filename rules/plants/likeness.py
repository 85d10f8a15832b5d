"""What a grower can say of a plant that the table lacks, and the hardiness class that follows."""

from __future__ import annotations

from typing import NamedTuple


class Likeness(NamedTuple):
    """One answer to "what is it most like": in a grower's words, with the class it means."""

    words: str
    hardiness: str


# Common practice, no source. Where a description fits several classes, the tenderest of them is
# named. A few classes of near kin are left out, so that the list fits a phone.
LIKENESSES = (
    Likeness("sheds its leaves, hardy: elm, lime, field maple", "hardy broadleaf"),
    Likeness("sheds its leaves, tender ones: Japanese maple", "japanese maple"),
    Likeness("sheds its leaves, tender roots: trident maple, ginkgo", "tender-rooted"),
    Likeness("sheds its leaves, late: oak, beech, chestnut", "oak and beech"),
    Likeness("sheds its leaves, for its blossom: apple, quince", "apple"),
    Likeness("sheds its leaves, for its blossom: cherry, apricot", "stone fruit"),
    Likeness("sheds its leaves, from the south: pomegranate, fig", "tender deciduous"),
    Likeness("sheds its needles: larch, dawn redwood", "larch"),
    Likeness("needles all year: pine", "pine"),
    Likeness("needles all year: spruce, fir", "spruce"),
    Likeness("scales all year: juniper, cypress, cedar, yew", "yew and cypress"),
    Likeness("leaves all year, hardy: box, holly, privet", "hardy evergreen"),
    Likeness("leaves all year, acid soil: azalea", "azalea"),
    Likeness("leaves all year, from the south: olive, myrtle", "mediterranean evergreen"),
    Likeness("kept cool but free of frost: serissa, bougainvillea", "subtropical"),
    Likeness("kept warm in winter: weeping fig, banyan", "tropical"),
    Likeness("kept warm in winter, thick stems: dwarf jade, baobab", "succulent"),
)
