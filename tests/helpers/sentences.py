"""Every sentence that a program of ours can say to a keeper, read from the code, as one document.

``python tests/helpers/sentences.py`` writes the document anew. PARTS names what is read.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence
from html.parser import HTMLParser
from pathlib import Path
from typing import NamedTuple

from samples import EXAMPLES, SAMPLES

ROOT = Path(__file__).parents[2]
DOCUMENT = ROOT / "tests" / "daemon" / "wording" / "sentences.md"
HEAD = """\
# What is said to a keeper

Made by `python tests/helpers/sentences.py`; a test fails while it is not up to date. Each sentence
stands as the code has it, with a gap as {name}. Under a sentence with gaps stands an example: what
a test asserts of it, else the sentence with samples in its gaps.
"""
# What each part of the code says, in the order of reading. A folder stands for its modules.
PARTS = {
    "Messages to a phone": ("daemon/wording", "daemon/alerts", "daemon/delivery", "daemon/running"),
    "Hazards, remedies and works": (
        "rules/hazards",
        "rules/advice",
        "rules/garden",
        "rules/limits",
    ),
    "Planning": ("daemon/planning", "rules/planning"),
    "What commands show": ("daemon/views", "daemon/charts", "daemon/rehearsal", "daemon/demo"),
    "Answers to notes": ("daemon/journal", "daemon/readings"),
    "Commands and their help": ("daemon/commands",),
    "The page": ("daemon/page", "daemon/page/templates"),
    "The garden's file": ("daemon/config",),
    "The weather and the machine": ("daemon/weather", "daemon/outlook", "daemon/store"),
}
UNSPOKEN = {  # what no keeper reads: the database's own language
    "daemon/store/migrations.py",
    "daemon/store/adopt.py",
}
_LOGGED = re.compile(r"%[sd]")  # the log is for whoever keeps the machine
_SQL = re.compile(
    r"\b(SELECT|INSERT|UPDATE|DELETE|WHERE|CREATE|ALTER|PRAGMA|VACUUM|ORDER BY)\b|[=>] [?:]"
)
_WORDS = re.compile(r"[^\W\d_]{2,}(?:[’'-][^\W\d_]+)*")
_GAP = re.compile(r"\{[^{}]*\}")
_MARKUP = re.compile(r"</?\w[^>]*>|[\^\[\]\\|]\w|\(\?|xmlns|; |:\s*#|=\"")
OTHERS = (_SQL, _MARKUP, _LOGGED)
LEAST_WORDS = 2
LEAST_FIXED = 8  # letters: a sentence of fewer would take any text for its example


class Sentence(NamedTuple):
    """What is said, and an example of it where it has gaps (empty if there is none)."""

    words: str
    example: str


def sentences(path: Path) -> list[str]:
    """Return the sentences of one module or template, each once, in the order of the file."""
    text = path.read_text(encoding="utf-8")
    found = _of_template(text) if path.suffix == ".html" else _of_module(ast.parse(text))
    return list(dict.fromkeys(one for one in map(_plain, found) if _is_said(one)))


def _plain(words: str) -> str:
    return " ".join(words.replace("\b", "").split())


def _is_said(words: str) -> bool:
    fixed = _GAP.sub(" ", words)
    if len(_WORDS.findall(fixed)) < LEAST_WORDS or any(one.search(words) for one in OTHERS):
        return False
    return " " in fixed.strip() and not words.startswith(("http", "{%"))


def _of_module(tree: ast.Module) -> Iterator[str]:
    """Yield the texts of a module: constants and f-strings, and the help of commands."""
    nodes = list(ast.walk(tree))
    docs = {id(doc) for doc in map(_docstring, nodes) if doc is not None}
    inside: set[int] = set()
    for node in nodes:
        if isinstance(node, ast.FunctionDef) and _is_command(node):
            yield ast.get_docstring(node) or ""
        if isinstance(node, ast.JoinedStr):
            inside |= {id(part) for part in ast.walk(node) if part is not node}
            yield "".join(map(_piece, node.values))
        elif isinstance(node, ast.Constant) and id(node) not in inside | docs:
            yield node.value if isinstance(node.value, str) else ""


def _docstring(node: ast.AST) -> ast.AST | None:
    body = getattr(node, "body", None)
    first = body[0] if isinstance(body, list) and body else None
    return first.value if isinstance(first, ast.Expr) else None


def _is_command(node: ast.FunctionDef) -> bool:
    return any("command" in ast.unparse(one) for one in node.decorator_list)


def _piece(part: ast.AST) -> str:
    if isinstance(part, ast.Constant):
        return str(part.value)
    names = [one.id for one in ast.walk(part) if isinstance(one, ast.Name)]
    attributes = [one.attr for one in ast.walk(part) if isinstance(one, ast.Attribute)]
    return f"{{{(attributes or names or ['value'])[0]}}}"


class _Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_data(self, data: str) -> None:
        self.found.append(data)


def _of_template(text: str) -> list[str]:
    text = re.sub(r"\{#.*?#\}|\{%.*?%\}", "", text, flags=re.DOTALL)
    reader = _Texts()
    reader.feed(re.sub(r"\{\{\s*(.*?)\s*\}\}", _gap_of, text, flags=re.DOTALL))
    return reader.found


def _gap_of(found: re.Match[str]) -> str:
    names = re.findall(r"[a-z_]+", found[1])
    return f"{{{names[0] if names else 'value'}}}"


def modules(parts: Sequence[str]) -> Iterator[Path]:
    """Yield the modules and templates of some folders, in the order of their names."""
    for part in parts:
        for path in sorted((ROOT / part).glob("*.*")):
            name = path.relative_to(ROOT).as_posix()
            if path.suffix in (".py", ".html") and name not in UNSPOKEN:
                yield path


def asserted() -> list[str]:
    """Return the texts that stand in tests, for examples."""
    found: dict[str, None] = {}
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        nodes = list(ast.walk(tree))
        docs = {id(doc) for doc in map(_docstring, nodes) if doc is not None}
        for node in nodes:
            if id(node) in docs:
                continue
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value:
                found.update(dict.fromkeys(map(_plain, node.value.splitlines())))
    return [one for one in found if _is_said(one) and "{" not in one]


def example_of(words: str, texts: Sequence[str]) -> str:
    """Return the example written for a sentence with gaps, else a text that a test asserts of it,
    else the sentence with samples in its gaps; empty if there is none."""
    fixed = _GAP.split(words)
    if words in EXAMPLES or len(fixed) < 2:
        return EXAMPLES.get(words, "")
    longest = max(fixed, key=len)
    if sum(len(part.strip()) for part in fixed) >= LEAST_FIXED:
        pattern = re.compile("(.+?)".join(re.escape(part) for part in fixed))
        for text in texts:
            if longest in text and pattern.search(text):
                return text
    gaps = [gap[1:-1] for gap in _GAP.findall(words)]
    if not all(gap in SAMPLES for gap in gaps):
        return ""
    return _GAP.sub(lambda gap: SAMPLES[gap[0][1:-1]], words)


def spoken(text: str) -> list[str]:
    """Return the lines of a document without its examples, which follow the tests."""
    return [line.rstrip() for line in text.splitlines() if not line.startswith("  *")]


def document(texts: Sequence[str]) -> str:
    """Return the whole document, with examples from these texts."""
    lines = [HEAD]
    for title, parts in PARTS.items():
        lines.append(f"\n## {title}\n")
        for path in modules(parts):
            said = sentences(path)
            if said:
                lines.append(f"\n### {path.relative_to(ROOT).as_posix()}\n")
            for words in said:
                example = example_of(words, texts)
                lines.append(f"- {words}" + (f"  \n  *{example}*" if example else ""))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    DOCUMENT.write_text(document(asserted()), encoding="utf-8")
