"""A study becomes its result: planned, incomplete, judged, or not to be judged; the same text gives the same result."""

from __future__ import annotations

from evenpull.study.capable import judge_capability
from evenpull.study.crossed import judge_crossed
from evenpull.study.exercise import judge_exercise
from evenpull.study.model import Study
from evenpull.study.order import drawn_order
from evenpull.study.planning import expect
from evenpull.study.result import RULES_VERSION, Outcome, StudyResult
from evenpull.study.words import counted, listed, place_shown

JUDGES = {
    "repeatability and reproducibility": judge_crossed, "machine capability": judge_capability,
    "process capability": judge_capability, "operator exercise": judge_exercise,
}  # fmt: skip


def judge(study: Study) -> StudyResult:
    """What the study says by the rules `RULES_VERSION`. Nothing is judged before all readings are there: who looks at
    half a study and then decides whether to go on, shows what was wished for."""
    order = drawn_order(study)
    if study.state == "planned":
        return StudyResult(study, RULES_VERSION, "planned", order, expect(study))
    if study.state == "incomplete":
        return StudyResult(study, RULES_VERSION, "incomplete", order, _incomplete(study))
    try:
        return StudyResult(study, RULES_VERSION, "judged", order, JUDGES[study.kind](study))
    except ValueError as error:
        text = str(error)
        return StudyResult(study, RULES_VERSION, "cannot be judged", order, Outcome(problem=text))


def _incomplete(study: Study) -> Outcome:
    missing = study.missing
    said = listed((place_shown(study, place) for place in missing), 8)
    unread = [one for one in study.readings if one.value is None and one.place in set(missing)]
    why = tuple(f"{place_shown(study, one.place)} could not be read: {one.remark}." for one in unread[:20])
    return Outcome(
        says=(f"{counted(len(missing), 'reading')} of {len(study.places)} missing: {said}",),
        says_not=("Nothing is judged before all readings are there. Whoever looks at half of them and then decides "
                  "whether to go on finds what was wished for. A person or part that cannot be read any more is taken "
                  "out by a new revision of the file, which says so in its notes.",),
        remarks=why,
    )  # fmt: skip
