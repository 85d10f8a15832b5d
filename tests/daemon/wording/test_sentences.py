"""The document of all that is said to a keeper is up to date, and nothing in it is unkind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sentences import DOCUMENT, ROOT, document, example_of, sentences, spoken

CODE = '''
"""A docstring is not said."""
_log.warning("%s is gone", 1)
SQL = "SELECT * FROM tree"
KEY = "leaf-frost"

def tell(tree):
    """Nor is this."""
    if tree:
        return f"Bring in {tree.name} by {when(tree)}."
    return "Nothing has to be done."

@click.command()
def carry():
    """Carry trees to SPOT."""
'''


def test_the_document_is_up_to_date() -> None:
    kept = spoken(DOCUMENT.read_text(encoding="utf-8"))
    assert kept == spoken(document([])), (
        "run: python tests/helpers/sentences.py, then read in git diff "
        f"{DOCUMENT.relative_to(ROOT)} what is said now"
    )


def test_what_is_said_is_found_and_what_is_not_said_is_left_out(tmp_path: Path) -> None:
    module = tmp_path / "telling.py"
    module.write_text(CODE, encoding="utf-8")
    assert sorted(sentences(module)) == [
        "Bring in {name} by {when}.",
        "Carry trees to SPOT.",
        "Nothing has to be done.",
    ]


def test_the_words_of_a_page_are_found_with_their_gaps(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text(
        '<h1 class="a b">{{ "x" if y }} is done</h1>{# no #}<p>{{ tree }} stays out</p>'
    )
    assert sentences(page) == ["{x} is done", "{tree} stays out"]


def test_an_example_is_what_a_test_asserts_else_samples() -> None:
    texts = ["unlike it", "Bring in Plume by Friday."]
    assert example_of("Bring in {name} by {when}.", texts) == texts[1]
    assert example_of("Carry {tree} to {spot}.", texts) == "Carry Ember to top bench."
    assert example_of("Carry {unheard_of}.", texts) == ""
    assert example_of("Nothing has to be done.", texts) == ""


@pytest.mark.parametrize(
    "word", ["invalid", "illegal", "failed to", "please enter", "oops", "user"]
)
def test_no_sentence_scolds_or_speaks_like_a_machine(word: str) -> None:
    said = DOCUMENT.read_text(encoding="utf-8")
    assert not re.search(rf"^- .*\b{word}\b", said, re.IGNORECASE | re.MULTILINE)
