"""What every schema of a file is made of: a table that knows its keys, a key that explains itself."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


def key(
    meaning: str, example: str, default: Any = ..., *, allowed: str = "", unit: str = "", choices: tuple[str, ...] = (),
    alias: str | None = None,
) -> Any:
    """A key of the schema with its help; `example` is TOML."""
    return Field(
        default, alias=alias, description=meaning,
        json_schema_extra={"example": example, "allowed": allowed, "unit": unit, "choices": list(choices)},
    )


class Table(BaseModel):
    model_config = ConfigDict(extra="forbid", arbitrary_types_allowed=True)


YES_NO = ("true", "false")
