"""The page form of a joint: the same fields, the same reader and the same errors as the TOML file.

Either the fields or the text is edited. The text is always what is checked and kept: form -> TOML -> reader.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from evenpull.plan import SpecificationError, form_to_toml, schema_help, toml_to_form

REPEATED = {"clamped": "clamped part", "second_source": "second source", "follow_up": "follow-up"}
MOST_PARTS = 50  # rows of clamped parts that the form shows; a longer list is edited as text


@dataclass
class Field:
    name: str
    label: str
    hint: str
    value: str
    choices: tuple[str, ...]
    errors: list[str]


@dataclass
class Group:
    title: str
    fields: list[Field]


@dataclass
class JointForm:
    """`values` by dotted field name ("fasteners.thread", "clamped.0.part"); `text` the TOML that is checked."""

    values: dict[str, str]
    text: str
    as_text: bool
    errors: list[tuple[str, str]] = field(default_factory=list)  # (field, message)

    @classmethod
    def from_text(cls, text: str) -> JointForm:
        return cls(toml_to_form(text), text, as_text=False)

    @classmethod
    def from_post(cls, post: Mapping[str, str]) -> JointForm:
        if post.get("way") == "text":
            text = post.get("text", "").replace("\r\n", "\n")
            try:
                values = toml_to_form(text)
            except SpecificationError:
                values = {}  # the text itself is shown again with its errors; the reader names them
            return cls(values, text, as_text=True)
        values = {key.removeprefix("f:"): value for key, value in post.items() if key.startswith("f:")}
        return cls(values, form_to_toml({k: v for k, v in values.items() if v.strip()}), as_text=False)

    @property
    def joint_id(self) -> str:
        return self.values.get("joint.id", "")

    def refuse(self, name: str, message: str) -> None:
        self.errors.append((name, message))

    def take_errors(self, error: SpecificationError) -> None:
        for item in error.errors:
            place = f"line {item.line}: " if self.as_text and item.line else ""
            allowed = f" Allowed: {item.allowed}" if item.allowed else ""
            self.errors.append((item.field, f"{place}{item.message}{allowed}"))

    def groups(self) -> Iterator[Group]:
        """The fields in the order of the file, one group a table; as many clamped parts, second sources
        and follow-ups as there are, plus one of each."""
        by_field: dict[str, list[str]] = {}
        for name, message in self.errors:
            by_field.setdefault(name, []).append(message)
        groups: dict[str, Group] = {}
        for row in schema_help():
            table, _, key = row.field.rpartition(".")
            if table in REPEATED:
                for index in range(self._rows(table) + 1):
                    name = f"{table}.{index}.{key}"
                    self._add(groups, f"{REPEATED[table]} {index + 1}", row, name, by_field)
            else:
                self._add(groups, table, row, row.field, by_field)
        yield from groups.values()

    def _rows(self, table: str) -> int:
        filled = [name for name, value in self.values.items() if name.startswith(f"{table}.") and value]
        taken = [int(part) for name in filled if (part := name.split(".")[1]).isdecimal() and len(part) < 4]
        return min(max(taken, default=-1) + 1, MOST_PARTS)

    def _add(
        self, groups: dict[str, Group], title: str, row: object, name: str, by_field: Mapping[str, list[str]]
    ) -> None:
        group = groups.setdefault(title, Group(title, []))
        choices = tuple(getattr(row, "choices", ()) or ())
        hint = " · ".join(part for part in (row.meaning, row.allowed if not choices else "") if part)  # type: ignore[attr-defined]
        example = f" (e.g. {row.example})" if row.example and not choices else ""  # type: ignore[attr-defined]
        key = name.rpartition(".")[2]
        label = key if key in ("mu_G", "mu_K", "K") else key.replace("_", " ").capitalize()
        group.fields.append(
            Field(name, label, hint + example, self.values.get(name, ""), choices, by_field.get(name, []))
        )

    def other_errors(self) -> list[str]:
        """Errors that belong to no single field shown, and all errors when the text was edited."""
        shown = {f.name for group in self.groups() for f in group.fields}
        return [
            f"{name}: {message}" if name else message
            for name, message in self.errors
            if self.as_text or name not in shown
        ]
