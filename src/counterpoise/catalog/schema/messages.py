"""Plain words with line and remedy for what pydantic rejects, and the field types of files."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING, Annotated, TypeVar, get_args, get_origin

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

from counterpoise.catalog.schema.yaml_tree import Loc, Tree, spell

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

# chances are written with two or three digits; this only forgives binary fractions
SUM_TOLERANCE = 1e-6
ModelT = TypeVar("ModelT", bound=BaseModel)
# (place below the field, value as written, error); the empty place is the field itself
Mistake = tuple[Loc, object, PydanticCustomError]


class Entry(BaseModel):
    """Base of every entry of a file: unknown keys, NaN and values of another type are mistakes."""

    # strict: a number in quotes is a slip, and a silent conversion would hide it
    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


# names such as 714 come out of YAML as numbers
def as_text(value: object) -> object:
    """A whole number as text: names may be written without quotes."""
    return str(value) if type(value) is int else value


# ids become parts of addresses and commands, so nothing that needs quoting there
Word = Annotated[str, BeforeValidator(as_text), Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$")]
Text = Annotated[str, Field(min_length=1)]
# in a row of a check 0 and 1 are honest answers; priors have limits of their own
Chance = Annotated[float, Field(ge=0, le=1)]
# minutes, costs, years: nothing in a file is owed back
Amount = Annotated[float, Field(ge=0)]


def _whole_sentence(text: str) -> str:
    # it stands beside other sentences, before a hand or a customer
    if text and not text.rstrip().endswith((".", "!")):
        raise mistake(f"{show(text)} is no whole sentence", "end it with a full stop")
    return text


# why something must not be done, said as it stands; empty where it may be done
Reason = Annotated[str, AfterValidator(_whole_sentence)]


def mistake(what: str, remedy: str) -> PydanticCustomError:
    """A mistake to raise from a validator: shown as ``what; remedy``, a PydanticCustomError."""
    # what and remedy travel in one text, parted by '; ', which _note takes apart again
    return PydanticCustomError("mistake", "{text}", {"text": f"{what}; {remedy}"})


def refuse(mistakes: Iterable[Mistake]) -> None:
    """Raise all mistakes of a validator at once, each at its place below the field.

    Raises pydantic's ValidationError; nothing where there are none.
    """
    # pydantic stops a field at its first error; here all of them are told at once
    details = [InitErrorDetails(type=error, loc=loc, input=value) for loc, value, error in mistakes]
    if details:
        raise ValidationError.from_exception_data("mistakes", details)


def instead(name: object, known: Iterable[str]) -> str:
    """What to write instead of an unknown name: the nearest known one, else up to 12, sorted."""
    # a set: an id may stand in several sections
    names = sorted({str(one) for one in known})
    # 0.6: a missing letter or two swapped ones in a short word
    near = get_close_matches(str(name), names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]}?"
    return (
        "known: " + ", ".join(names[:12]) + (" ..." if len(names) > 12 else "")
        if names
        else "none is known here"
    )


def sentence(text: str) -> str:
    """A remedy as a sentence of its own: first letter a capital; empty stays empty."""
    return text[:1].upper() + text[1:]


def unknown(kind: str, name: object, known: Iterable[str]) -> PydanticCustomError:
    """The PydanticCustomError for a name that is not there, with the nearest known one."""
    return mistake(f"there is no {kind} {name}", instead(name, known))


def row_mistakes(row: Mapping[str, float], outcomes: Iterable[str] | None) -> list[Mistake]:
    """What is wrong with a row of probabilities over a check's outcomes; empty where nothing is.

    ``outcomes``: None where those are broken themselves.
    """
    # broken outcomes are told elsewhere; then every name of the row passes here
    known, total = list(row) if outcomes is None else list(outcomes), sum(row.values())
    mistakes: list[Mistake] = [
        ((name,), chance, unknown("outcome", name, known))
        for name, chance in row.items()
        if name not in known
    ]
    if total > 1 + SUM_TOLERANCE:
        mistakes.append(
            (
                (),
                total,
                mistake(f"the chances sum to {total:g}", "they must not sum to more than 1"),
            )
        )
    # the first outcome takes what is left, so a row may leave it out; a full row must add up
    elif outcomes is not None and set(row) == set(known) and abs(total - 1) > SUM_TOLERANCE:
        text = f"every outcome is named but the chances sum to {total:g}"
        mistakes.append(
            ((), total, mistake(text, "make them sum to 1, or leave the first outcome out"))
        )
    return mistakes


def read_entry(model: type[ModelT], tree: Tree, loc: Loc, context: object = None) -> ModelT | None:
    """The entry at a place of a tree as a model; None where it is wrong.

    Its mistakes go to the tree with their lines. ``context`` is handed to the validators: the names
    known to the file. Raises KeyError where the place is not there.
    """
    # the caller names a place that it has just walked to
    data = tree.data
    for part in loc:
        data = data[part]
    try:
        return model.model_validate(data, context=context)
    except ValidationError as error:
        # the address of a page about pydantic helps nobody who writes a catalog
        for detail in error.errors(include_url=False):
            _note(tree, model, loc, detail)
        return None


def _note(tree: Tree, model: type[BaseModel], loc: Loc, detail: ErrorDetails) -> None:
    # pydantic marks a key by a pseudo-part that no reader of the file has seen
    inner = tuple(part for part in detail["loc"] if part != "[key]")
    here = (*loc, *inner)
    what, _, remedy = _words(model, inner, detail).partition("; ")
    tree.add(here, f"{spell(here)}{what}", remedy)


# pydantic's kinds of errors: (key of the bound in its context, words around the bound)
LIMITS = {
    "greater_than_equal": ("ge", "or more"),
    "greater_than": ("gt", "must be more than"),
    "less_than_equal": ("le", "or less"),
    "less_than": ("lt", "must be less than"),
}
# what was expected; what to do
KINDS = {
    "string_type": "text; put it in quotes",
    "float_type": "a number; write it without a unit",
    "int_type": "a whole number; write it without a point or unit",
    "int_from_float": "a whole number; round it",
    "bool_type": "true or false; write one of them",
    "dict_type": "a table; write 'name: value' lines or {name: value}",
    "mapping_type": "a table; write 'name: value' lines or {name: value}",
    # an entry is a model inside and a table to whoever writes the file
    "model_type": "a table; write 'name: value' lines or {name: value}",
    "list_type": "a list; write [one, two] or lines that begin with a dash",
    "finite_number": "a finite number; give one",
}


def _meant(kind: str, given: object) -> str:
    """How to write a number that was written with a comma, a per cent or as whole money; or ""."""
    text = str(given).strip()
    if match := re.fullmatch(r"(\d+(?:\.\d+)?) ?%", text):
        return f"chances are from 0 to 1: write {float(match[1]) / 100:g}"
    if not (match := re.fullmatch(r"(\d+)[.,](\d+)", text)):
        return ""
    if kind == "float_type":
        return f"write {match[1]}.{match[2]}" if "," in text else ""
    if len(match[2]) == 2:
        return f"money is in minor units: write {int(match[1] + match[2])}"
    return ""


def _words(model: type[BaseModel], inner: Loc, detail: ErrorDetails) -> str:
    kind, given, context = detail["type"], show(detail["input"]), detail.get("ctx", {})
    # the commonest mistakes first: a wrong type, then a number beyond its limits
    if kind in {"float_type", "int_type"} and (meant := _meant(kind, detail["input"])):
        return f"{given} is not {KINDS[kind].partition(';')[0]}; {meant}"
    if kind in KINDS:
        return f"{given} is not {KINDS[kind]}"
    if kind in LIMITS:
        return f"{given} is outside its limits; it must be {_limit(kind, context)}"
    # a mistyped optional key would otherwise be ignored without a word
    if kind == "extra_forbidden":
        return f"unknown key {inner[-1]}; {instead(inner[-1], _fields(model, inner[:-1]))}"
    # pydantic only has the allowed values as a sentence
    if kind == "literal_error":
        allowed = [
            arg.strip("'\"") for arg in str(context["expected"]).replace(" or ", ", ").split(", ")
        ]
        return f"{given} is not allowed; {instead(detail['input'], allowed)}"
    fixed = {
        # an empty place means that the whole entry is nothing but its key
        "missing": f"{inner[-1] if inner else 'an entry'} is missing; add it",
        "string_pattern_mismatch": f"{given} is not written as it must be; {_pattern(context)}",
        "string_too_short": "is empty; write something",
        "too_short": "has too few entries; add what is missing",
    }
    message = detail["msg"]
    # own mistakes bring their remedy along; foreign messages get a general one
    return fixed.get(kind) or (message if "; " in message else f"{message}; correct it")


def _pattern(context: Mapping[str, object]) -> str:
    # the only pattern beside that of ids
    if "A-Z]{3}" in str(context.get("pattern")):
        return "write the three capitals of the currency, as in EUR"
    return "use letters, digits and _ only"


def _limit(kind: str, context: Mapping[str, object]) -> str:
    key, words = LIMITS[kind]
    # 0 rather than 0.0, as one would write it
    bound = f"{context[key]:g}"
    return (
        f"{bound} {words}"
        if words.startswith("or")
        else words.removeprefix("must be ") + f" {bound}"
    )


def show(value: object) -> str:
    """A value as it may stand in a message: short, text in quotes."""
    if value is None:
        return "nothing"
    # before numbers, since true is an int in Python; and as YAML writes it
    if isinstance(value, bool):
        return str(value).lower()
    # the whole of a table would bury the sentence
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    text = f"'{value}'" if isinstance(value, str) else str(value)
    # a message is one line of a terminal
    return text if len(text) <= 60 else text[:57] + "..."


def _fields(model: type[BaseModel], inner: Loc) -> list[str]:
    """The keys known at a place inside a model."""
    here: object = model
    for part in inner:
        # a model goes on by field, a table or list by the type of what it holds
        if isinstance(here, type) and issubclass(here, BaseModel):
            here = _bare(here.model_fields[str(part)].annotation)
        else:
            here = _bare(get_args(here)[-1]) if get_args(here) else here
    return list(here.model_fields) if isinstance(here, type) and issubclass(here, BaseModel) else []


def _bare(annotation: object) -> object:
    """An annotation without its ``Annotated`` and ``| None``."""
    # validators and limits wrap the type; several may be nested
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    # an optional field has the keys of what it may hold
    args = [arg for arg in get_args(annotation) if arg is not type(None)]
    return (
        _bare(args[0])
        if len(args) == 1 and get_origin(annotation) not in {dict, list}
        else annotation
    )
