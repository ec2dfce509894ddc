"""The joint release report as PDF/A-3 with its records attached. It prints what was found and decides nothing."""

from evenpull.card.typesetting import TypesettingError
from evenpull.report.context import (
    CardIssued,
    FileReceived,
    JointTest,
    LogState,
    Person,
    ReportContext,
    Signature,
    SpecificationReceived,
)
from evenpull.report.release import release_report
from evenpull.report.tables import proof_json, records_csv, records_json

__all__ = [
    "CardIssued",
    "FileReceived",
    "JointTest",
    "LogState",
    "Person",
    "ReportContext",
    "Signature",
    "SpecificationReceived",
    "TypesettingError",
    "proof_json",
    "records_csv",
    "records_json",
    "release_report",
]
