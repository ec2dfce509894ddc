"""Addresses of the pages, in the order of the job."""

from django.urls import path, register_converter

from evenpull.api.routes import api
from evenpull.web.views import (
    accounts,
    audit,
    audit_answers,
    calculations,
    carriers,
    curves,
    curves_look,
    entries,
    equipment,
    exercises,
    files,
    intake,
    joint_tools,
    joints,
    keyed,
    packs,
    paper,
    paper_keying,
    prediction_plan,
    predictions,
    release,
    reviews,
    studies,
    studies_more,
    suggest,
    tools,
)


class JointId:
    """Joint ids as the specification allows them."""

    regex = r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class Serial:
    """Serials as the registers of tools allow them."""

    regex = r"[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(JointId, "joint")
register_converter(Serial, "serial")

handler404 = "evenpull.web.refusals.not_here"
handler400 = "evenpull.web.refusals.bad_request"
handler500 = "evenpull.web.refusals.failed"

urlpatterns = [
    path("api/1/", api.urls),
    path("", joints.listing, name="joints"),
    path("who/", joints.who, name="who"),
    path("log-in/", accounts.log_in, name="log-in"),
    path("log-out/", accounts.log_out, name="log-out"),
    path("password/", accounts.password, name="password"),
    path("accounts/", accounts.listing, name="accounts"),
    path("new-joint/", joints.new, name="new-joint"),
    path("joints/<joint:joint_id>/", joints.one, name="joint"),
    path("joints/<joint:joint_id>/change/", joints.change, name="change-joint"),
    path("joints/<joint:joint_id>/cards/", release.issue_card, name="issue-card"),
    path("joints/<joint:joint_id>/decide/", release.decide_together, name="decide-together"),
    path("joints/<joint:joint_id>/dispositions/", release.dispose, name="dispose"),
    path("joints/<joint:joint_id>/release/", release.sign, name="sign"),
    path("joints/<joint:joint_id>/report.pdf", release.report, name="report"),
    path("joints/<joint:joint_id>/bundle.zip", release.bundle, name="bundle"),
    path("joints/<joint:joint_id>/typed/", keyed.one, name="typed-record"),
    path("joints/<joint:joint_id>/entry/", entries.of_joint, name="new-entry"),
    path("joints/<joint:joint_id>/alike/", audit.siblings, name="siblings"),
    path("joints/<joint:joint_id>/tools/", joint_tools.one, name="joint-tools"),
    path("joints/<joint:joint_id>/curves/", curves_look.joint, name="joint-curves"),
    path("joints/<joint:joint_id>/curves/ring/", curves_look.ring, name="joint-curves-ring"),
    path("joints/<joint:joint_id>/curves/over-time/", curves_look.over_time, name="joint-curves-time"),
    path("curves/", curves.start, name="curves"),
    path("exercises/curves/", exercises.start, name="exercise-start"),
    path("exercises/curves/<int:seed>/", exercises.curves, name="exercise-curves"),
    path("curves/take/", curves.take, name="curves-take"),
    path("curves/learn/", curves.learn, name="curves-learn"),
    path("curves/again/", curves.again, name="curves-again"),
    path("curves/compare/", curves_look.compare, name="curves-compare"),
    path("curves/changed/<int:seq>/", curves.changed, name="curves-changed"),
    path("curves/changed/<int:seq>/changes.csv", curves.changed_csv, name="curves-changed-csv"),
    path("curves/<int:seq>/withdraw/", curves.withdraw, name="curves-withdraw"),
    path("curves/<int:seq>/<int:number>/", curves_look.one, name="curve"),
    path("joints/<joint:joint_id>/revisions/", audit_answers.history, name="history"),
    path("entry/", entries.other, name="new-entry-other"),
    path("audit/", audit.start, name="audit"),
    path("audit/find/", audit.find, name="audit-find"),
    path("audit/draw/<str:what>/", audit.draw, name="audit-draw"),
    path("audit/changes/", audit.changes, name="audit-changes"),
    path("audit/recurrences/", audit.recurrences, name="audit-recurrences"),
    path("audit/lists/<str:which>/", audit_answers.listed, name="audit-list"),
    path("audit/read/", audit_answers.read, name="audit-read"),
    path("audit/facts/<int:seq>/", audit_answers.fact, name="audit-fact"),
    path("audit/revisions/", audit_answers.revisions, name="audit-revisions"),
    path("audit/counters/", audit_answers.counters, name="audit-counters"),
    path("audit/clocks/", audit_answers.clocks, name="audit-clocks"),
    path("audit/drift/", studies_more.drifts, name="audit-drift"),
    path("audit/training/", audit_answers.training, name="audit-training"),
    path("audit/inspections/", audit_answers.inspections, name="audit-inspections"),
    path("audit/barred/", audit_answers.barred, name="audit-barred"),
    path("audit/cards/", audit_answers.cards, name="audit-cards"),
    path("audit/keeping/", audit_answers.kept, name="audit-keeping"),
    path("audit/terms/", audit_answers.terms, name="audit-terms"),
    path("calculations/", calculations.listing, name="calculations"),
    path("new-calculation/", calculations.new, name="new-calculation"),
    path("calculations/<joint:calculation_id>/", calculations.one, name="calculation"),
    path("calculations/<joint:calculation_id>/change/", calculations.change, name="change-calculation"),
    path("calculations/<joint:calculation_id>/sheet.pdf", calculations.paper, name="calculation-pdf"),
    path("predictions/", predictions.listing, name="predictions"),
    path("new-prediction/", predictions.new, name="new-prediction"),
    path("predictions/<joint:prediction_id>/", predictions.one, name="prediction"),
    path("predictions/<joint:prediction_id>/change/", predictions.change, name="change-prediction"),
    path("predictions/<joint:prediction_id>/intervals/", predictions.intervals, name="prediction-intervals"),
    path("predictions/<joint:prediction_id>/found/", predictions.found, name="prediction-found"),
    path("predictions/<joint:prediction_id>/plan/", prediction_plan.draft, name="prediction-plan"),
    path("predictions/<joint:prediction_id>/prediction.pdf", predictions.paper, name="prediction-pdf"),
    path("studies/", studies.listing, name="studies"),
    path("new-study/", studies.new, name="new-study"),
    path("studies/<joint:study_id>/", studies.one, name="study"),
    path("studies/<joint:study_id>/change/", studies.change, name="change-study"),
    path("studies/<joint:study_id>/run/", studies.run, name="run-study"),
    path("studies/<joint:study_id>/cards/", studies.issue_card, name="study-cards"),
    path("study-cards/", studies.find_card, name="type-study-card"),
    path("study-cards/<str:serial>.pdf", studies.card, name="study-card"),
    path("study-planning/", studies_more.plan, name="plan-study"),
    path("sampling/", studies_more.sampling, name="sampling"),
    path("drift/", studies_more.drift, name="drift"),
    path("cards/<str:serial>.pdf", release.card, name="card"),
    path("packs/", packs.packs, name="packs"),
    path("packs/<str:serial>.pdf", packs.pack, name="pack-pdf"),
    path("carriers/", carriers.carriers, name="carriers"),
    path("carriers/look/", carriers.look, name="look-carrier"),
    path("carriers/take/", carriers.take, name="take-carrier"),
    path("carriers/<str:sha256>.zip", carriers.made, name="carrier-file"),
    path("paper/", paper.start, name="paper"),
    path("paper/drop/", paper.drop, name="drop-scan"),
    path("paper/cards/<joint:serial>/", paper.card, name="paper-card"),
    path("paper/cards/<joint:serial>/admit/", paper.admit, name="admit-card"),
    path("paper/cards/<joint:serial>/aside/", paper.set_aside, name="set-page-aside"),
    path("paper/cards/<joint:serial>/write/", paper.write, name="write-paper"),
    path("paper/pages/<str:scan>/<int:picture>/key/", paper_keying.key, name="key-page"),
    path("paper/pages/<str:scan>/<int:picture>/check/", paper_keying.check, name="check-keying"),
    path("paper/pages/<str:scan>/<int:picture>/settle/", paper_keying.settle, name="settle-page"),
    path("paper/pages/<str:scan>/<int:picture>/<str:box>.png", paper_keying.crop, name="paper-crop"),
    path("intake/", intake.start, name="intake"),
    path("intake/preview/", intake.preview, name="preview"),
    path("intake/commit/", intake.commit, name="commit"),
    path("intake/suggest/", suggest.suggest, name="suggest"),
    path("intake/suggest/confirm/", suggest.confirm, name="confirm-suggested"),
    path("intake/mappings/", intake.add_mapping, name="add-mapping"),
    path("files/<str:sha256>/", files.one, name="file"),
    path("files/<str:sha256>/withdraw/", files.withdraw, name="withdraw"),
    path("files/<str:sha256>/raw", files.raw, name="raw-file"),
    path("reviews/", reviews.listing, name="reviews"),
    path("new-review/", reviews.new, name="new-review"),
    path("reviews/<int:number>/", reviews.one, name="review"),
    path("reviews/<int:number>/joint/", reviews.joint, name="review-joint"),
    path("reviews/<int:number>/decide/", reviews.decide, name="review-decide"),
    path("reviews/<int:number>/said/", reviews.say, name="review-say"),
    path("reviews/<int:number>/close/", reviews.close, name="review-close"),
    path("reviews/<int:number>/review.pdf", reviews.paper, name="review-pdf"),
    path("reviews/<int:number>/tightenings.csv", reviews.listed, {"form": "csv"}, name="review-csv"),
    path("reviews/<int:number>/tightenings.xlsx", reviews.listed, {"form": "xlsx"}, name="review-xlsx"),
    path("tools/", tools.listing, name="tools"),
    path("equipment/", equipment.listing, name="equipment"),
    path("equipment/due/", equipment.due, name="equipment-due"),
    path("equipment/new-certificate/", equipment.new_certificate, name="new-certificate"),
    path("equipment/certificate-table/", equipment.table, name="certificate-table"),
    path("equipment/certificate-table/commit/", equipment.commit, name="commit-certificates"),
    path("equipment/mappings/", equipment.add_mapping, name="add-certificate-mapping"),
    path("equipment/withdraw-certificate/", equipment.withdraw, name="withdraw-certificate"),
    path("instruments/<serial:serial>/", equipment.one, name="instrument"),
    path("log/", files.log, name="log"),
]
