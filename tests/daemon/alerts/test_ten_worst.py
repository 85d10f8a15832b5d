"""The ten worst situations: every tree told, the deed and its deadline first, parts that fit.

The text is read here as a keeper would: a tree is told by its name, or by a bench of which all are
asked for but those named after "but". What the composer says that it names is not asked.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
import ten_worst
from ten_worst import Situation, all_ten, neighbours

from underbench.daemon.alerts.compose import Told
from underbench.daemon.alerts.push_room import room_for
from underbench.daemon.charts.png import png
from underbench.daemon.wording.vocabulary import the_spot

WHOLE = re.compile(r"all of (.+?)(?: but (.+?))? \((\d+)\)")
ENDS = re.compile("\nBy |\nTwo people|\nThe best there is|\nIf nobody")  # of the deeds
FIRST = 100  # characters that hold the deed and its deadline


@pytest.fixture(scope="module")
def situations(tmp_path_factory: pytest.TempPathFactory) -> list[Situation]:
    return all_ten(neighbours(tmp_path_factory.mktemp("gardens")))


def told_in(body: str, situation: Situation) -> set[str]:
    """The trees of a situation that somebody finds in the garden by this text."""
    deeds = ENDS.split(body)[0]
    found = set()
    for where, but, _ in WHOLE.findall(deeds):
        left = set(re.split(", | and ", but)) if but else set()
        for spot, bench in situation.benches.items():
            found |= set(bench) - left if the_spot(spot) == where else set()
        deeds = deeds.replace(f" but {but}", "")
    trees = {tree for bench in situation.benches.values() for tree in bench}
    return found | {tree for tree in trees if re.search(rf"{re.escape(tree)}\b(?! \d)", deeds)}


def missed(situation: Situation, told: Sequence[Told]) -> list[set[str]]:
    """Of each part the trees that it means and its text does not tell, or the other way round."""
    return [
        {job.tree for job in one.advice.jobs} ^ told_in(one.message.body, situation) for one in told
    ]


def test_every_tree_is_told(situations: Sequence[Situation]) -> None:
    for one in situations:
        assert not any(missed(one, one.told)), one.name
        named = [tree for part in one.told for tree in part.trees]
        assert sorted(named) == sorted(job.tree for job in one.advice.jobs), one.name


def test_a_text_that_drops_a_tree_is_caught(situations: Sequence[Situation]) -> None:
    """Each name that stands in the deeds is taken out in turn."""
    for one in situations:
        for number, part in enumerate(one.told):
            for tree in part.trees:
                less = re.sub(rf"(, )?{re.escape(tree)}\b(?! \d)", "", part.message.body)
                if ENDS.split(less)[0] == ENDS.split(part.message.body)[0]:
                    continue  # it is told by its bench
                told = list(one.told)
                told[number] = replace(part, message=replace(part.message, body=less))
                assert any(missed(one, told)), (one.name, tree)


def test_a_bench_asked_for_as_a_whole_without_its_exception_is_caught(
    situations: Sequence[Situation],
) -> None:
    crowd = situations[0]
    (part,) = crowd.told
    assert "all of Long Table but Argo (5)" in part.message.body
    wrong = part.message.body.replace("all of Long Table but Argo", "all of Long Table")
    wrong = wrong.replace("from Long Table: Argo", "from Long Table:")
    wrong = replace(part, message=replace(part.message, body=wrong))
    assert not any(missed(crowd, [wrong]))  # Argo is told, though not as heavy
    more = {**crowd.benches, "Long Table": [*crowd.benches["Long Table"], "Stranger"]}
    assert missed(replace(crowd, benches=more), [wrong]) == [{"Stranger"}]


def test_the_deed_and_its_deadline_come_first(situations: Sequence[Situation]) -> None:
    for one in situations:
        for part in one.told:
            first = f"{part.message.title}\n{part.message.body}"[:FIRST]
            assert re.match(r"(PROTECT|BRING|SET|OPEN|SHADE) ", first), one.name
            assert re.search(r" (by \d|now|\d+:\d\d–\d+:\d\d)", first), one.name
            danger = part.advice.strength == "danger"
            assert ("(danger)" in first) == danger, one.name
            assert len(part.message.title) <= 130, one.name


def test_no_text_points_to_a_terminal(situations: Sequence[Situation]) -> None:
    for one in situations:
        assert not any("underbench" in part.message.body for part in one.told), one.name
        assert not any(" more" in part.message.body for part in one.told), one.name


def test_parts_fit_their_service_and_are_complete_and_in_order(
    situations: Sequence[Situation],
) -> None:
    (crowd,) = [one for one in situations if len(one.told) > 1]
    many = len(crowd.told)
    assert many == 3
    room = room_for(ten_worst.telling_of(ten_worst.SHORT).urls)
    for number, part in enumerate(crowd.told, start=1):
        assert len(part.message.body.encode()) <= room
        assert part.message.title.endswith(f" ({number} of {many})")
        ground = "SET " in part.message.title
        back = "up" if ground else "out"
        assert f"\nBy 20:00 today. Back {back} 17:00 tomorrow.\n" in part.message.body
        assert "chance 85%" in part.message.body
        assert part.message.key.endswith(f"#{number}")
    assert len({part.message.whole for part in crowd.told}) == 1
    assert len({part.message.queued_at for part in crowd.told}) == 1  # they expire together
    told = [key for part in crowd.told for key in part.message.tells.episodes]
    assert sorted(told) == sorted(finding.key for finding in crowd.advice.findings)


def test_a_job_of_many_trees_has_its_list_as_a_picture(situations: Sequence[Situation]) -> None:
    for one in situations:
        for part in one.told:
            drawn = part.message.picture
            assert (len(part.advice.jobs) > 6) == bool(drawn), one.name
            if drawn:
                assert all(f">{tree}</text>" in drawn for tree in part.trees)
                assert (png(drawn) or b"").startswith(b"\x89PNG")


def test_a_garden_that_has_a_neighbour_says_its_name(
    situations: Sequence[Situation], tmp_path: Path
) -> None:
    (two,) = [one for one in situations if one.name.startswith("two gardens")]
    assert two.told[0].message.title.endswith(", Reed End")
    (alone,) = ten_worst.two_gardens(tmp_path).told
    assert "Reed End" not in alone.message.title


def test_the_texts_are_those_that_were_read(situations: Sequence[Situation]) -> None:
    """`tests/helpers/ten_worst.py` writes them anew; read them aloud before they are kept."""
    texts = "\n\n\n".join(one.text for one in situations) + "\n"
    assert ten_worst.WRITTEN.read_text(encoding="utf-8") == texts
