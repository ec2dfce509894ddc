"""From a TOML text to checked tables: the syntax, the schema, and the place of every fault.

What `tomllib` or pydantic find is turned into `Fault`s in plain words. Values that are right stay usable beside
values that are wrong (`Known`), so that one reading shows every fault.
"""

from __future__ import annotations

import re
import tomllib
import types
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from evenpull.plan.errors import Fault, SpecificationError
from evenpull.plan.locate import Path as Place
from evenpull.plan.locate import line_at, line_of_syntax_error, lines_of
from evenpull.plan.values import shown

Form = TypeVar("Form", bound=BaseModel)
MOST_FAULTS = 100
_LONG_KEY = re.compile(r"(?<![\w-])(?:[\w-]+[ \t]*\.[ \t]*){40}")


@dataclass
class Source:
    """One text with its file name and the faults found so far."""

    text: str
    file: str
    data: dict[str, Any]
    faults: list[Fault] = field(default_factory=list)

    @cached_property
    def places(self) -> dict[Place, int]:
        """The lines of all keys; looked for once there is a fault to be placed, which few texts have."""
        try:
            return lines_of(_body(self.text))
        except RecursionError:
            raise SpecificationError([_too_deep(self.file)]) from None

    def fault(self, place: Place, given: object, message: str, allowed: str = "") -> None:
        """Note one fault at a place; what is written there, or above it, gives the line."""
        stood = "nothing" if given is None else shown(given)
        self.faults.append(Fault(self.file, line_at(self.places, place), dotted(place), stood, message, allowed))

    def refuse_if_faulty(self) -> None:
        """Raise SpecificationError when there are faults; beyond `MOST_FAULTS` they are only counted."""
        if not self.faults:
            return
        more = len(self.faults) - MOST_FAULTS
        kept = sorted(self.faults, key=lambda fault: (fault.line is None, fault.line or 0))[:MOST_FAULTS]
        if more > 0:
            kept.append(Fault(self.file, None, "", "", f"there are {more} more faults; put these right first", ""))
        raise SpecificationError(kept)


def dotted(place: Place) -> str:
    """"clamped.0.part" for ("clamped", 0, "part"); over-long keys are cut."""
    return ".".join(str(part)[:60] for part in place)


def read_toml(text: str, file: str, *, most: int, what: str, form: str) -> Source:
    """Parse a text of at most `most` characters; `what` names it in messages ("a joint file"), `form` is its mark.

    Raises SpecificationError with the line when it is no TOML, empty, too large, or nested beyond use.
    """

    def refused(line: int | None, message: str, allowed: str = "") -> SpecificationError:
        return SpecificationError([Fault(file, line, "", "", message, allowed)])

    if len(text) > most:
        raise refused(None, f"the text has {len(text)} characters; {what} has at most {most}")
    if not text.strip("\ufeff \t\r\n"):
        raise refused(None, f"the file is empty; {what} in TOML is needed", f'it begins with form = "{form}"')
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise refused(text.count("\n", 0, error.start) + 1, "the text holds a broken character", "UTF-8 text") from None
    body = _body(text)
    if (deep := _LONG_KEY.search(body)) is not None:
        raise refused(body.count("\n", 0, deep.start()) + 1, "a key of that many parts is not used here")
    try:
        data = tomllib.loads(body)
    except tomllib.TOMLDecodeError as error:
        line = line_of_syntax_error(body, str(error))
        raise refused(line, _syntax_message(body, line, str(error)), "TOML: key = value, texts in double quotes, "
                      "tables in [brackets]") from None
    except RecursionError:
        raise SpecificationError([_too_deep(file)]) from None
    except ValueError as error:  # a number of more digits than Python converts
        raise refused(None, f"this is no TOML that can be used: {str(error)[:120]}") from None
    return Source(text, file, data)


def _body(text: str) -> str:
    return text.removeprefix("\ufeff").replace("\r\n", "\n")


def _too_deep(file: str) -> Fault:
    return Fault(file, None, "", "", "the text is nested too deeply", "tables and lists as in the template")


def _syntax_message(text: str, line: int | None, message: str) -> str:
    reason = re.sub(r"\s*\(at .*\)$", "", message)
    lines = text.split("\n")
    stands = lines[line - 1].strip() if line is not None and line <= len(lines) else ""
    return f"this is no TOML: {reason[:160]}" + (f"; the line reads {shown(stands)}" if stands else "")


def read_file(path: Path, *, most: int, what: str) -> str:
    """Text of a file in UTF-8. Raises SpecificationError for another encoding or a file too large; OSError as is."""
    size = path.stat().st_size
    if size > 4 * most:
        raise SpecificationError([Fault(str(path), None, "", "", f"the file has {size} bytes; {what} has at most "
                                        f"{most} characters", "")])
    raw = path.read_bytes()
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        marks = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"), (b"PK\x03\x04", "a ZIP or spreadsheet file"),
                 (b"%PDF", "a PDF"))
        looks = next((f"; it looks like {name}" for mark, name in marks if raw.startswith(mark)), "")
        raise SpecificationError([Fault(str(path), line, "", "", f"the file is not UTF-8 text{looks}",
                                        "UTF-8: save the file again with that encoding")]) from None


class Known:
    """The values of one table that are right: attributes by field name, None where missing or wrong."""

    def __init__(self, model: type[BaseModel], raw: object) -> None:
        self._raw: Mapping[str, Any] = raw if isinstance(raw, dict) else {}
        self._model = model
        self._values: dict[str, Any] = {}
        blank = model.model_construct()
        for name, info in model.model_fields.items():
            key = info.alias or name
            if key not in self._raw:
                self._values[name] = None if info.is_required() else info.get_default()
                continue
            try:
                model.__pydantic_validator__.validate_assignment(blank, name, self._raw[key])
                self._values[name] = getattr(blank, name)
            except ValidationError:
                self._values[name] = None

    def __getattr__(self, name: str) -> Any:
        try:
            return self.__dict__["_values"][name]
        except KeyError:
            raise AttributeError(name) from None

    def has(self, name: str) -> bool:
        """The key stands in the text, right or wrong."""
        return (self._model.model_fields[name].alias or name) in self._raw


def check_schema(source: Source, model: type[BaseModel]) -> None:
    """Note every fault of `source.data` against the schema."""
    try:
        model.model_validate(source.data)
    except ValidationError as error:
        details = error.errors(include_url=False)
        for detail in details[: 2 * MOST_FAULTS]:
            _note(source, model, detail)
        for detail in details[2 * MOST_FAULTS :]:
            source.fault(tuple(detail["loc"]), detail["input"], "is not as it should be")


def read_form(text: str, file: str, model: type[Form], *, most: int, what: str, form: str) -> tuple[Source, Form]:
    """The text and its values in the schema, for forms whose further checks look at right values alone; they end with
    `source.refuse_if_faulty()`. SpecificationError with every fault against the schema."""
    source = read_toml(text, file, most=most, what=what, form=form)
    check_schema(source, model)
    source.refuse_if_faulty()
    return source, model.model_validate(source.data)


def _note(source: Source, model: type[BaseModel], detail: ErrorDetails) -> None:
    place: Place = tuple(detail["loc"])
    kind, given = detail["type"], detail["input"]
    if kind == "value":
        context = detail["ctx"]
        source.fault(place, given, context["message"], context["allowed"])
    elif kind == "missing":
        _note_missing(source, model, place)
    elif kind == "extra_forbidden":
        _note_unknown(source, model, place, given)
    elif kind in ("model_type", "model_attributes_type", "dict_type"):
        source.fault(place, given, f"{shown(given)} stands where a table belongs", f"a table: [{dotted(place)}]")
    elif kind == "tuple_type":
        source.fault(place, given, f"{shown(given)} stands where a list of tables belongs", f"[[{dotted(place)}]]")
    elif kind == "too_short":
        if isinstance(given, list) and given:
            return  # there are some, all wrong: each has its own fault
        source.fault(place, given, "there is none; at least one is needed", f"[[{dotted(place)}]]")
    elif kind == "too_long":
        source.fault(place, given, "there are too many", str(detail["ctx"].get("max_length", "")) + " at most")
    else:
        source.fault(place, given, f"{shown(given)} does not fit: {detail['msg']}")


def _note_missing(source: Source, model: type[BaseModel], place: Place) -> None:
    owner = model_at(model, place[:-1])
    info = next((i for n, i in owner.model_fields.items() if (i.alias or n) == place[-1]), None) if owner else None
    table = model_at(model, place)
    if table is not None:
        repeated = info is not None and get_origin(info.annotation) is tuple
        mark = f"[[{dotted(place)}]]" if repeated else f"[{dotted(place)}]"
        needed = ", ".join(i.alias or n for n, i in table.model_fields.items() if i.is_required())
        source.fault(place, None, f"the table {mark} is missing", f"{mark} with {needed}")
        return
    extra = info.json_schema_extra if info is not None and isinstance(info.json_schema_extra, dict) else {}
    choices = extra.get("choices")
    allowed = ", ".join(map(str, choices)) if isinstance(choices, list) and choices else str(extra.get("allowed", ""))
    meaning = f" ({info.description})" if info is not None and info.description else ""
    source.fault(place, None, f"the key {place[-1]} is missing{meaning}",
                 f"{allowed}; for example {place[-1]} = {extra.get('example', '')}")


def _note_unknown(source: Source, model: type[BaseModel], place: Place, given: object) -> None:
    owner = model_at(model, place[:-1])
    name = str(place[-1])[:60]
    keys = [info.alias or n for n, info in owner.model_fields.items()] if owner is not None else []
    near = get_close_matches(name, keys, 1, 0.6) or [k for k in keys if k.lower() == name.lower()]
    message = f"{name!r} is not a key of " + (f"[{dotted(place[:-1])}]" if len(place) > 1 else "this file")
    if near:
        message += f"; did you mean {near[0]!r}?"
    else:
        homes = [path for path in key_paths(model) if path.rpartition(".")[2] == name]
        if homes:
            message += f"; it belongs to [{homes[0].rpartition('.')[0] or 'the top'}]"
    source.fault(place, given, message, ", ".join(keys))


def model_at(model: type[BaseModel], place: Iterable[str | int]) -> type[BaseModel] | None:
    """The table model at a path, None when a plain key stands there."""
    current: type[BaseModel] | None = model
    for part in place:
        if isinstance(part, int):
            continue
        info = next((i for n, i in current.model_fields.items() if (i.alias or n) == part), None) if current else None
        current = None if info is None else _table_in(info.annotation)
        if current is None:
            return None
    return current


def _table_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (tuple, Union, types.UnionType):
        return next((found for item in get_args(annotation) if (found := _table_in(item)) is not None), None)
    return None


def key_paths(model: type[BaseModel], above: str = "") -> tuple[str, ...]:
    """All keys of a schema as dotted paths in the order of the file; a list of tables appears once, without index."""
    paths: list[str] = []
    for name, info in model.model_fields.items():
        path = f"{above}{info.alias or name}"
        table = _table_in(info.annotation)
        paths.extend(key_paths(table, f"{path}.") if table is not None else [path])
    return tuple(paths)
