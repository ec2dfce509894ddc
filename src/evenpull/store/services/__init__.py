"""The services of the dossier: the only way in which pages, commands and the demo reach the facts.

Every call that writes is one transaction and names its author; a refusal has written nothing.
"""

from evenpull.proof import ACTIONS
from evenpull.store.services.backing_up import BackupRow, back_up
from evenpull.store.services.calculating import (
    CalculationRow,
    CalculationView,
    add_calculation,
    calculation,
    calculation_pdf,
    calculations,
)
from evenpull.store.services.entering import add_entry, entries
from evenpull.store.services.errors import Refused, Unknown, UnknownJoint
from evenpull.store.services.facts import fold
from evenpull.store.services.findings import joint_page, joints, refresh
from evenpull.store.services.judging import comparisons, dispose, dispose_of, joint
from evenpull.store.services.log import latest_facts, log_status
from evenpull.store.services.papers import card_pdf
from evenpull.store.services.place import checked_raw, home, prepare, raw_damage, raw_path
from evenpull.store.services.predicting import (
    PredictionRow,
    PredictionView,
    add_prediction,
    prediction,
    predictions,
)
from evenpull.store.services.received import file, file_names, files, readings_of, unplaced, unplaced_count
from evenpull.store.services.register import (
    add_joint,
    add_joints,
    add_mapping,
    add_tools,
    described,
    joint_ids,
    mapping,
    mappings,
    specification,
    tools,
    tools_in_force,
)
from evenpull.store.services.releasing import export_bundle, issue_card, release_pdf, sign_release
from evenpull.store.services.renewing import renew_key
from evenpull.store.services.restoring import Restored, try_backup
from evenpull.store.services.ring_results import (
    draft_plan,
    found_now,
    found_work,
    has_scatter,
    intervals_now,
    intervals_work,
    joints_that_fit,
    numbering_of,
    outcomes,
    prediction_pdf,
    result_work,
)
from evenpull.store.services.ring_work import Work
from evenpull.store.services.rows import (
    READY,
    CardRow,
    FactRow,
    FileRow,
    FileView,
    Imported,
    JointPage,
    JointRow,
    JointSummary,
    JointView,
    LogStatus,
    MappingRow,
    Preview,
    ReleaseRow,
    RevisionRow,
    UnplacedRow,
    WithdrawalPlan,
)
from evenpull.store.services.stamping import StampRow, keep_stamp, request_stamp, stamps
from evenpull.store.services.suggesting import commit_suggested, fitting_mappings, preview_suggested, suggest_mapping
from evenpull.store.services.taking import commit_file, preview_file
from evenpull.store.services.withdrawing import named as file_named
from evenpull.store.services.withdrawing import plan_withdrawal, withdraw_reading
from evenpull.store.services.witness import check_log, compare_receipt, keys_of_log, last_checkpoint

__all__ = [
    "ACTIONS",
    "READY",
    "BackupRow",
    "CalculationRow",
    "CalculationView",
    "CardRow",
    "FactRow",
    "FileRow",
    "FileView",
    "Imported",
    "JointPage",
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
    "Restored",
    "RevisionRow",
    "StampRow",
    "Unknown",
    "UnknownJoint",
    "UnplacedRow",
    "WithdrawalPlan",
    "Work",
    "add_calculation",
    "add_entry",
    "add_joint",
    "add_joints",
    "add_mapping",
    "add_prediction",
    "add_tools",
    "back_up",
    "calculation",
    "calculation_pdf",
    "calculations",
    "card_pdf",
    "check_log",
    "checked_raw",
    "commit_file",
    "commit_suggested",
    "compare_receipt",
    "comparisons",
    "described",
    "dispose",
    "dispose_of",
    "draft_plan",
    "entries",
    "export_bundle",
    "file",
    "file_named",
    "file_names",
    "files",
    "fitting_mappings",
    "fold",
    "found_now",
    "found_work",
    "has_scatter",
    "home",
    "intervals_now",
    "intervals_work",
    "issue_card",
    "joint",
    "joint_ids",
    "joint_page",
    "joints",
    "joints_that_fit",
    "keep_stamp",
    "keys_of_log",
    "last_checkpoint",
    "latest_facts",
    "log_status",
    "mapping",
    "mappings",
    "numbering_of",
    "outcomes",
    "plan_withdrawal",
    "prediction",
    "prediction_pdf",
    "predictions",
    "prepare",
    "preview_file",
    "preview_suggested",
    "raw_damage",
    "raw_path",
    "readings_of",
    "refresh",
    "release_pdf",
    "renew_key",
    "request_stamp",
    "result_work",
    "sign_release",
    "specification",
    "stamps",
    "suggest_mapping",
    "tools",
    "tools_in_force",
    "try_backup",
    "unplaced",
    "unplaced_count",
    "withdraw_reading",
]
