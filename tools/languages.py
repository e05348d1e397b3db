"""The texts of every language kept in step: ``python -m tools.languages [CODE] [--check]``.

Reads every text that a page can show out of the templates and the family files, and brings
``src/counterpoise/report/languages/CODE/*.po`` up to date: new texts come in empty, those that are
gone go. ``--check`` writes nothing and fails where something is missing, left over, not looked
over (fuzzy) or has other values than the English. Without CODE all languages are read.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po
from jinja2 import nodes
from jinja2.ext import extract_from_ast
from ruamel.yaml import YAML

from counterpoise.report.languages.tongue import SOURCE
from counterpoise.report.paper import pdf
from counterpoise.web.render import environment

REPOSITORY = Path(__file__).parents[1]
LANGUAGES = REPOSITORY / "src/counterpoise/report/languages"
FAMILIES = REPOSITORY / "src/counterpoise/catalog/data"
# Texts made in Python: named in the catalog by hand, each must still stand in the code.
SENTENCES = "sentences"
# What families have in common, and what stands in their drawings: put for all of them at once.
NAMES = "names"
VALUES = re.compile(r"%\(\w+\)s|\{\w+\}")
_KEYS = {"light dark"}  # of the templates' own HTML
_LEAST_PIECE = 4  # letters
_WORD = re.compile(r"[A-Za-z]{2}")
# Keys of a family file whose texts nobody reads at the bench: where a figure is from, and names.
_UNSHOWN = {
    "id", "source", "sources", "provenance", "note", "why_figure", "basis", "picture", "drawing",
    "place", "sketch", "places", "unit", "kind", "called",
}  # fmt: skip


def template_texts() -> dict[str, list[str]]:
    """Every text of the templates and where it stands: what is between tags, and spoken values."""
    texts: dict[str, list[str]] = {}
    made = environment()
    for name in sorted(made.list_templates(extensions=["html"])):
        assert made.loader is not None
        tree = made.parse(made.loader.get_source(made, name)[0])
        for line, _, message in extract_from_ast(tree, ("_",)):
            text = message if isinstance(message, str) else (message or ("",))[0]
            texts.setdefault(str(text), []).append(f"{name}:{line}")
        for line, text in _spoken(tree):
            texts.setdefault(text, []).append(f"{name}:{line}")
    return texts


def paper_texts() -> dict[str, list[str]]:
    """Every text of the typesetter's templates, and in which of them it stands."""
    folder = REPOSITORY / "src/counterpoise/report/paper/templates"
    return {
        text: [file.name]
        for file in sorted(folder.glob("*.typ"))
        for text in pdf.template_texts(file.read_text("utf-8"))
    }


def _spoken(tree: nodes.Template) -> Iterator[tuple[int, str]]:
    """(line, text) of every text that stands in an expression, with ``{0}`` for its values."""
    inner: set[int] = set()
    for joined in tree.find_all(nodes.Concat):
        inner.update(map(id, joined.nodes))
        count = iter(range(len(joined.nodes)))
        parts = [
            str(part.value) if isinstance(part, nodes.Const) else f"{{{next(count)}}}"
            for part in joined.nodes
        ]
        if _is_text(VALUES.sub("", "".join(parts))):
            yield joined.lineno, "".join(parts).strip()
    # what is said one way or the other may be a word alone; elsewhere a word alone is a key
    shown = [call for call in tree.find_all(nodes.Call) if _named(call) in {"say", "_"}]
    either = {
        id(side)
        for call in shown
        for branch in call.find_all(nodes.CondExpr)
        for side in (branch.expr1, branch.expr2)
    }
    messages = {id(call.args[0]) for call in shown if _named(call) == "_"}
    for const in tree.find_all(nodes.Const):
        text = const.value
        if id(const) in inner | messages or not _is_text(text) or text in _KEYS:
            continue
        if id(const) in either or " " in text or text[0].isupper():
            yield const.lineno, text.strip()


def _named(call: nodes.Call) -> str:
    return call.node.name if isinstance(call.node, nodes.Name) else ""


def _is_text(value: object) -> bool:
    return (
        isinstance(value, str)
        and bool(_WORD.search(value))
        and not re.search(r"[_%=<>/]|^[a-z]+:$", value)
        and value not in {"true", "false", "none", "yes", "no", "checked"}
    )


def family_texts(file: Path) -> dict[str, list[str]]:
    """Every text of a family file that a page can show, and where it stands."""
    texts: dict[str, list[str]] = {}
    tree = YAML(typ="safe").load(file.read_text("utf-8"))
    for path, value in _leaves(tree, file.name):
        if " " in value or value[:1].isupper():
            texts.setdefault(value, []).append(path)
    return texts


def short_names() -> dict[str, list[str]]:
    """Tools, places of drawings, and complaints as they stand on a drawn machine, and where."""
    names: dict[str, list[str]] = {}
    for file in sorted(FAMILIES.glob("*.yaml")):
        if file.name.endswith(".cases.yaml") or file.stem == "sources":
            continue
        tree = YAML(typ="safe").load(file.read_text("utf-8"))
        drawn = tree.get("drawing") or {}
        places = [place.get("title", "") for place in drawn.get("places", {}).values()]
        said = [complaint.replace("_", " ").capitalize() for complaint in tree["complaints"]]
        # a caution without a short name of its own is called by its id
        cautions = tree["cautions"].items()
        marks = [key.replace("_", " ") for key, one in cautions if not one.get("mark")]
        for name in (drawn.get("title", ""), *places, *said, *marks, *_under(tree, "tools")):
            if _WORD.search(name):
                names.setdefault(name, []).append(file.name)
    return names


def _under(value: object, wanted: str, *, here: bool = False) -> Iterator[str]:
    """Every text that stands under a key of this name."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _under(inner, wanted, here=name == wanted)
    elif isinstance(value, list):
        for inner in value:
            yield from _under(inner, wanted, here=here)
    elif isinstance(value, str) and here:
        yield value


def _leaves(value: object, path: str) -> Iterator[tuple[str, str]]:
    """(path, text) of every text of a family file but those that nobody reads at the bench."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, list):
        for inner in value:
            yield from _leaves(inner, path)
    elif isinstance(value, dict):
        for name, inner in value.items():
            if name not in _UNSHOWN:
                yield from _leaves(inner, f"{path}.{name}")


def code_texts() -> str:
    """All that stands in the code, as one text: strings that were parted over lines joined."""
    here = REPOSITORY / "src/counterpoise"
    # the small drawings carry their titles in a file of their own
    files = sorted([*here.rglob("*.py"), *(here / "report/drawings").glob("*.toml")])
    return re.sub(r'"\s*\n\s*f?"', "", "\n".join(file.read_text("utf-8") for file in files))


@cache
def expected() -> dict[str, dict[str, list[str]]]:
    """Texts and where they stand, by catalog; each in the first catalog that needs it."""
    # the frame first: what it shares with a family is put once
    sources = {"pages": template_texts() | paper_texts()}
    for file in sorted(FAMILIES.glob("*.yaml")):
        if not file.name.endswith(".cases.yaml") and file.stem != "sources":
            sources[file.stem] = family_texts(file)
    # last: what a family says in its own texts is put there
    sources[NAMES] = short_names()
    had: set[str] = set()
    for name, texts in sources.items():
        sources[name] = {text: places for text, places in texts.items() if text not in had}
        had |= set(texts)
    return sources


def read(code: str, name: str) -> Catalog:
    """A catalog of a language; an empty one where there is none."""
    file = LANGUAGES / code / f"{name}.po"
    if not file.exists():
        return Catalog(locale=code)
    with file.open("rb") as opened:
        return read_po(opened, locale=code)


def write(code: str, name: str, texts: dict[str, str]) -> None:
    """A catalog of a language from its texts, English to its own."""
    catalog = Catalog(locale=code)
    for text, own in texts.items():
        catalog.add(text, own)
    folder = LANGUAGES / code
    folder.mkdir(exist_ok=True)
    with (folder / f"{name}.po").open("wb") as file:
        # no head: it would hold the day and change with every update
        write_po(file, catalog, width=98, no_location=True, omit_header=True)


def strings(catalog: Catalog) -> dict[str, str]:
    """The texts of a catalog, English to its own; what was not looked over counts as empty."""
    return {
        str(message.id): "" if message.fuzzy else str(message.string)
        for message in catalog
        if message.id
    }


def update(code: str) -> None:
    """Bring the catalogs of a language into step with the texts there are now.

    A text stays put where it moves to another catalog.
    """
    catalogs = expected()
    had: dict[str, str] = {}
    for name in catalogs:
        had |= {text: own for text, own in strings(read(code, name)).items() if own}
    for name, texts in catalogs.items():
        write(code, name, {text: had.get(text, "") for text in texts})


def problems(code: str) -> list[str]:
    """What is wrong with a language, a line each; the frame and every family must be whole."""
    lines = []
    for name, texts in expected().items():
        own = strings(read(code, name))
        lines += [f"{code}/{name}: not put: {text}" for text in texts if not own.get(text)]
        lines += [f"{code}/{name}: left over: {text}" for text in own if text not in texts]
        lines += _values(f"{code}/{name}", own)
    spoken, code_now = strings(read(code, SENTENCES)), code_texts()
    lines += [f"{code}/{SENTENCES}: not put: {text}" for text, own in spoken.items() if not own]
    lines += [
        f"{code}/{SENTENCES}: no longer said: {text}"
        for text in spoken
        if not all(_stands(part, code_now) for part in VALUES.split(text))
    ]
    return lines + _values(f"{code}/{SENTENCES}", spoken)


def _stands(part: str, code: str, pieces: int = 3) -> bool:
    """Whether the code says a part of a sentence, put together of so many pieces at most."""
    # quotes inside a text are escaped where others stand round it
    if part in code or part.replace('"', '\\"') in code:
        return True
    ends = [at for at, letter in enumerate(part) if letter == " "] if pieces > 1 else []
    # the longest beginning that stands: a short one is found anywhere
    first = next((at for at in reversed(ends) if at >= _LEAST_PIECE and part[:at] in code), 0)
    return bool(first) and _stands(part[first:], code, pieces - 1)


def _values(where: str, texts: dict[str, str]) -> list[str]:
    """A line for each text that has other values in the other language."""
    return [
        f"{where}: other values than in English: {text}"
        for text, own in texts.items()
        if own and sorted(VALUES.findall(text)) != sorted(VALUES.findall(own))
    ]


def main(arguments: list[str] | None = None) -> int:
    """Update or check; 1 where a check fails."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("code", nargs="*", help="languages (ISO 639-1); all where none is named")
    parser.add_argument("--check", action="store_true", help="write nothing, fail on what is wrong")
    asked = parser.parse_args(arguments)
    codes = asked.code or [entry.name for entry in sorted(LANGUAGES.iterdir()) if entry.is_dir()]
    codes = [code for code in codes if code != SOURCE and not code.startswith("_")]
    if not asked.check:
        for code in codes:
            update(code)
    lines = [line for code in codes for line in problems(code)]
    sys.stdout.writelines(f"{line}\n" for line in lines)
    return int(bool(lines) and asked.check)


if __name__ == "__main__":
    sys.exit(main())
