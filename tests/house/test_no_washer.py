"""No word or number of a washing machine outside the catalog's data, the measurements and the dynamics."""

import ast
import re
from pathlib import Path

import pytest

SRC = Path(__file__).parents[2] / "src" / "counterpoise"
# what may know one machine: its data, what is measured on it by hand, its physics and what was rehearsed with it; and the
# invented workshop of the demonstration, which takes in such machines
ROOMS = (
    "catalog/data", "bench", "cli/measure", "report/views/measures", "dynamics", "spin/training", "workshop/demo",
)  # fmt: skip
WASHER = re.compile(
    r"washing.?machine|\bwasher|front.?load|top.?load|family_words|\b1600\b|\b70 kg\b|\bfour feet\b",
    re.IGNORECASE,
)
# each with the reason why it may
EXCEPTIONS = {
    "catalog/schema/cross_checks.py": "only four feet that screw can be levelled: the measurement's own rule",
    "spin/kind.py": "the pace of washers has a name, so that it stays theirs",
    "spin/reading.py": "says that washers are read as before",
    "spin/causes/verdict.py": "says that groups of washers are not named for others",
    "spin/speed/harmonics.py": "names the pace of washers as what is usual",
    "spin/speed/steady_lines.py": "the same",
    "spin/speed/uniform.py": "the same",
    "spin/speed/speed_tracking.py": "the same",
    "spin/speed/best_path.py": "the same",
    "spin/features/interharmonics.py": "features were learned from washers",
    "spin/audio/tones.py": "where its tones were set from",
    "spin/audio/sound_features.py": "the same",
    "money/worth.py": "the published life of washers has a name, for who weighs a machine of no family",
    "workshop/store/migrations/versions/r0004_money_by_family.py": "older stores knew these two families",
}
# a drum and a door are said in words of the family: pages of the model in motion, and texts that Body.spoken turns into them
SPOKEN = {
    "report/figures/dynamics.py", "report/views/twin.py", "report/views/fit.py", "report/words/machine_figures.py",
    "report/views/phone_recording.py", "report/views/sound.py", "web/pages/job/twin.py", "cli/twin/command.py",
    "cli/twin/question.py", "cli/job/fit.py", "cli/spin.py",
}  # fmt: skip
SHOWN = re.compile(r"\b(drums?|doors?)\b", re.IGNORECASE)
TEMPLATES_OF_THE_MODEL = {"job/twin.html", "job/fit.html"}


def outside():
    kinds = {".py", ".html", ".js", ".css", ".typ"}
    for file in sorted(SRC.rglob("*")):
        name = str(file.relative_to(SRC))
        if file.suffix in kinds and "__pycache__" not in name and not name.startswith(ROOMS):
            yield name, file.read_text("utf-8")


def test_no_word_or_number_of_a_washer_stands_elsewhere():
    hits = {
        f"{name}:{number}": line.strip()
        for name, text in outside()
        if name not in EXCEPTIONS
        for number, line in enumerate(text.splitlines(), 1)
        if WASHER.search(line)
    }
    assert hits == {}


@pytest.mark.parametrize("name", [name for name in EXCEPTIONS if not name.startswith(ROOMS)])
def test_every_exception_is_still_needed(name):
    assert WASHER.search((SRC / name).read_text("utf-8"))


def strings(text):
    """The texts of a program that somebody may read: no docstrings, no names of things."""
    tree = ast.parse(text)
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node)
    }
    for node in ast.walk(tree):
        text_of = node.value if isinstance(node, ast.Constant) else None
        # one word alone is a key or the name of a column
        if isinstance(text_of, str) and id(node) not in docs and " " in text_of:
            yield text_of


def test_what_is_shown_speaks_of_a_drum_only_where_it_is_put_into_words_of_the_family():
    rooms = ("report/", "web/", "cli/", "workshop/")
    hits = {
        name: text
        for name, source in outside()
        if name.endswith(".py") and name.startswith(rooms) and name not in SPOKEN
        for text in strings(source)
        if SHOWN.search(text)
    }
    assert hits == {}


def test_pages_speak_of_a_drum_only_where_the_model_in_motion_does():
    folder = SRC / "web" / "templates"
    hits = {
        str(file.relative_to(folder))
        for file in folder.rglob("*.html")
        if SHOWN.search(re.sub(r"{[{%].*?[%}]}", "", file.read_text("utf-8")))
    }
    assert hits <= TEMPLATES_OF_THE_MODEL
