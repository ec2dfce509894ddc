"""Studies of tools and persons, the drift of a tool, and what a check of some pieces says of the rest.

study TOML and readings --read_study--> Study --judge--> StudyResult: figures with limits, what it says and does not say
"""

from evenpull.study.judge import judge
from evenpull.study.model import Study
from evenpull.study.order import drawn_order, order_of_person
from evenpull.study.read import read_study, read_study_file
from evenpull.study.result import RULES_VERSION, StudyResult
from evenpull.study.standing import Claim, Standing, standing

__all__ = [
    "RULES_VERSION", "Claim", "Standing", "Study", "StudyResult", "drawn_order", "judge", "order_of_person",
    "read_study", "read_study_file", "standing",
]  # fmt: skip
