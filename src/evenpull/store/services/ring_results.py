"""What comes out of a kept prediction besides its own procedures: intervals, found procedures, paper, draft of a plan.

What takes long is asked for as `Work` (ring_work); its results are kept in memory by the text of the file.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Literal

from evenpull import __version__
from evenpull.card.layout import layout
from evenpull.card.typesetting import TypesettingError
from evenpull.plan import SpecificationError
from evenpull.prediction import Prediction, ProcedureOutcome, RingProcedure
from evenpull.prediction.found import FoundProcedure, find_procedures
from evenpull.prediction.scatter import TorqueOutcome, by_torque_control
from evenpull.prediction.to_plan import NotInPlanError, to_plan
from evenpull.report.prediction import Paper
from evenpull.report.prediction import prediction_pdf as typeset
from evenpull.report.ring_svg import Numbering, plain_numbering
from evenpull.ring.stepping import SteppingError
from evenpull.store.services.calculating import PAPERS
from evenpull.store.services.errors import Refused, UnknownJoint
from evenpull.store.services.predicting import PredictionView, kept_text, prediction, result_of
from evenpull.store.services.register import joint_ids, specification
from evenpull.store.services.ring_work import Work, quick, slow


def result_work(prediction_id: str, number: int | None = None) -> Work:
    """The work that makes a revision ready to be looked at (`prediction`), begun now if nobody has begun it."""
    text, file, digest = kept_text(prediction_id, number)
    return quick.ask((digest, file, "result"), f"every procedure of {prediction_id}", lambda: result_of(text, file))


def has_scatter(found: Prediction) -> bool:
    """Whether the file states what intervals follow from: scatter and a nut factor."""
    return found.scatter is not None and found.K is not None


def intervals_work(view: PredictionView, procedure: RingProcedure) -> Work:
    """One procedure on many assemblies by torque control: a TorqueOutcome. Refused when the file states no scatter."""
    found = view.result.prediction
    if found.scatter is None or found.K is None:
        raise Refused(f"{found.id}: the file states no [scatter] with a nut factor K, so there are no intervals")
    what = f"{found.scatter.assemblies} assemblies of “{procedure.name}”"
    return slow.ask((found.digest, "intervals", procedure.name), what,
                    lambda: by_torque_control(view.result, procedure))  # fmt: skip


def found_work(view: PredictionView) -> Work:
    """The search for procedures with the fewest pulls: a tuple of FoundProcedure, empty when no evenness is wanted."""
    found = view.result.prediction
    return slow.ask((found.digest, "found"), f"procedures with the fewest pulls for {found.id}",
                    lambda: find_procedures(view.result))  # fmt: skip


def found_now(view: PredictionView) -> tuple[FoundProcedure, ...]:
    """The found procedures if the search has ended well, else none."""
    work = slow.known((view.result.prediction.digest, "found"))
    return work.value if work is not None and work.state == "done" else ()


def intervals_now(view: PredictionView) -> tuple[TorqueOutcome, ...]:
    """The intervals that have been computed so far, in the order of the procedures."""
    names = [one.procedure.name for one in outcomes(view)]
    works = [slow.known((view.result.prediction.digest, "intervals", name)) for name in names]
    return tuple(work.value for work in works if work is not None and work.state == "done")


def outcomes(view: PredictionView) -> tuple[ProcedureOutcome, ...]:
    """Interaction only: the procedures of the file, then those found so far."""
    return (*view.result.outcomes, *(one.outcome for one in found_now(view)))


def numbering_of(found: Prediction) -> Numbering:
    """Where the bolts are drawn: as the joint numbers them when the file names one that fits, else from the top on."""
    count = found.case.bolts.count
    if not found.joint:
        return plain_numbering(count)
    try:
        spec = specification(found.joint)
    except (UnknownJoint, Refused):  # said on the page of the joint; the drawing can do without
        return plain_numbering(count)
    if spec.fasteners.count != count or spec.fasteners.grid is not None:
        return plain_numbering(count)
    angles = tuple(spot.angle for spot in layout(spec).spots)
    return Numbering(angles, f"Numbered as joint {spec.id} numbers them, seen from {spec.viewed_from}: fastener 1 is "
                             f"{spec.first_fastener}, counted {spec.numbering}.")  # fmt: skip


def joints_that_fit(found: Prediction) -> list[str]:
    """Joints of the dossier with as many fasteners, that of the file first."""
    fitting = []
    for joint_id in joint_ids():
        try:
            spec = specification(joint_id)
        except Refused:  # its own page says why; it cannot be taken as a start
            continue
        if spec.fasteners.count == found.case.bolts.count:
            fitting.append(joint_id)
    return sorted(fitting, key=lambda joint_id: (joint_id != found.joint, joint_id))


def draft_plan(procedure: RingProcedure, joint_id: str) -> str:
    """The text of the joint's file with this procedure in place of its own. Nothing is written; nobody has approved it.

    UnknownJoint; Refused with the reason when the procedure cannot stand in a joint file.
    """
    spec = specification(joint_id)
    try:
        return to_plan(spec.text, procedure, f"{joint_id}.toml")
    except (NotInPlanError, SpecificationError) as error:
        raise Refused(f"“{procedure.name}” cannot be made the plan of {joint_id}: {error}") from error


def prediction_pdf(prediction_id: str, number: int | None = None, paper: str = "a4") -> bytes:
    """The prediction as PDF, computed by this version and dated now; waits for intervals when the file states scatter.
    Found procedures stand in it when the search has ended. Refused for a paper that is none.
    """
    if paper not in PAPERS:
        raise Refused(f"{paper!r} is no paper; there are: {', '.join(PAPERS)}")
    view = prediction(prediction_id, number)
    found = view.result.prediction
    torque: list[TorqueOutcome] = []
    if has_scatter(found):
        works = [intervals_work(view, one.procedure) for one in view.result.outcomes]
        try:
            torque = [work.result() for work in works]
        except SteppingError as error:
            raise Refused(f"no intervals of {prediction_id}: {error}") from error
    form: Literal["a4", "us-letter"] = "us-letter" if paper == "us-letter" else "a4"
    content = Paper(view.result, numbering_of(found), found_now(view), tuple(torque), form)
    try:
        return typeset(content, made_at=datetime.now(UTC).replace(microsecond=0), version=__version__)
    except TypesettingError as error:
        raise Refused(f"no paper of {prediction_id}: {error}") from error
