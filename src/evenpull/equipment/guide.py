"""Files of the tool keeper to start from, every key explained."""

from __future__ import annotations

from importlib.resources import files

from pydantic import BaseModel

from evenpull.equipment.certificate_schema import CertificatesFile
from evenpull.equipment.schema import EquipmentFile
from evenpull.equipment.table_schema import CertificateMappingFile
from evenpull.plan.guide import HelpRow, schema_help

SCHEMAS: dict[str, type[BaseModel]] = {
    "equipment": EquipmentFile, "certificates": CertificatesFile, "certificate-mapping": CertificateMappingFile,
}


def keeper_help(what: str) -> tuple[HelpRow, ...]:
    """Every key of one of SCHEMAS."""
    return schema_help(SCHEMAS[what])


def keeper_template(what: str) -> str:
    """A file to start from; `what` is one of SCHEMAS. It reads without error as it is. KeyError for another word."""
    SCHEMAS[what]
    return (files("evenpull.equipment") / "templates" / f"{what}.toml").read_text(encoding="utf-8")
