"""What a grower can say of an unlisted plant leads to a class that exists, and is as described."""

from __future__ import annotations

import pytest

from underbench.rules.plants.likeness import LIKENESSES, Likeness
from underbench.rules.plants.species import Kind, catalogue

TURNS = {
    "sheds its leaves": Kind.BROADLEAF_DECIDUOUS,
    "sheds its needles": Kind.CONIFER_DECIDUOUS,
    "needles all year": Kind.CONIFER_EVERGREEN,
    "scales all year": Kind.CONIFER_EVERGREEN,
    "leaves all year": Kind.BROADLEAF_EVERGREEN,
    "kept": Kind.TROPICAL,
}


@pytest.mark.parametrize("like", LIKENESSES, ids=lambda like: like.hardiness)
def test_a_likeness_is_of_the_kind_that_its_words_say(like: Likeness) -> None:
    kind = catalogue().classes[like.hardiness].kind
    assert kind is next(kind for words, kind in TURNS.items() if like.words.startswith(words))


def test_no_class_is_offered_twice() -> None:
    offered = [like.hardiness for like in LIKENESSES]
    assert len(set(offered)) == len(offered)
