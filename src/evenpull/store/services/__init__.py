"""The services of the dossier: the only way in which pages, commands and the demo reach the facts.

Every call that writes is one transaction and names its author; a refusal has written nothing.
"""

from evenpull.proof import ACTIONS
from evenpull.store.services.calculating import (
    CalculationRow,
    CalculationView,
    add_calculation,
    calculation,
    calculation_pdf,
    calculations,
)
from evenpull.store.services.errors import Refused, Unknown, UnknownJoint
from evenpull.store.services.judging import comparisons, dispose, joint, joints
from evenpull.store.services.log import check_log, latest_facts, log_status
from evenpull.store.services.papers import card_pdf
from evenpull.store.services.place import checked_raw, home, prepare, raw_damage, raw_path
from evenpull.store.services.predicting import (
    PredictionRow,
    PredictionView,
    add_prediction,
    prediction,
    predictions,
)
from evenpull.store.services.register import (
    add_joint,
    add_mapping,
    add_tools,
    ids_by_capitals,
    joint_ids,
    mapping,
    mappings,
    specification,
    tools,
    tools_in_force,
)
from evenpull.store.services.releasing import export_bundle, issue_card, release_pdf, sign_release
from evenpull.store.services.rows import (
    READY,
    CardRow,
    FactRow,
    FileRow,
    FileView,
    Imported,
    JointRow,
    JointSummary,
    JointView,
    LogStatus,
    MappingRow,
    Preview,
    ReleaseRow,
    RevisionRow,
    UnplacedRow,
)
from evenpull.store.services.taking import commit_file, file, files, preview_file, unplaced, unplaced_count

__all__ = [
    "ACTIONS",
    "READY",
    "CalculationRow",
    "CalculationView",
    "CardRow",
    "FactRow",
    "FileRow",
    "FileView",
    "Imported",
    "JointRow",
    "JointSummary",
    "JointView",
    "LogStatus",
    "MappingRow",
    "PredictionRow",
    "PredictionView",
    "Preview",
    "Refused",
    "ReleaseRow",
    "RevisionRow",
    "Unknown",
    "UnknownJoint",
    "UnplacedRow",
    "add_calculation",
    "add_joint",
    "add_mapping",
    "add_prediction",
    "add_tools",
    "calculation",
    "calculation_pdf",
    "calculations",
    "card_pdf",
    "check_log",
    "checked_raw",
    "commit_file",
    "comparisons",
    "dispose",
    "export_bundle",
    "file",
    "files",
    "home",
    "ids_by_capitals",
    "issue_card",
    "joint",
    "joint_ids",
    "joints",
    "latest_facts",
    "log_status",
    "mapping",
    "mappings",
    "prediction",
    "predictions",
    "prepare",
    "preview_file",
    "raw_damage",
    "raw_path",
    "release_pdf",
    "sign_release",
    "specification",
    "tools",
    "tools_in_force",
    "unplaced",
    "unplaced_count",
]
