"""The list of joints, one joint, and describing a joint on a page (same schema as the TOML file)."""

from __future__ import annotations

from datetime import UTC, datetime

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_safe

from evenpull.card import joint_map_svg
from evenpull.card.paper import VERSIONS
from evenpull.catalogue.cautions import cautions_for
from evenpull.joint.target import NO_LOAD
from evenpull.ledger.words import render as line_of
from evenpull.plan import SpecificationError, make_plan, read_specification, template
from evenpull.plan.model import JOINT_KINDS, Plan, Specification
from evenpull.proof import standing_of_follow_ups
from evenpull.report.words import fastener_states, standing_alike
from evenpull.store import services
from evenpull.store.services import card_register, fitting
from evenpull.study.sampled import checks_of_some
from evenpull.web import present
from evenpull.web.context import AUTHOR_KEY, author_of
from evenpull.web.drawing import load_window_svg
from evenpull.web.joint_form import JointForm
from evenpull.web.views.common import joint_or_404, needs_author


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    wanted, state = request.GET.get("q", "").strip(), request.GET.get("state", "")
    number = request.GET.get("page", "1")
    found = services.joint_page(wanted, state, int(number) if number.isascii() and number.isdecimal() else 1)
    counts = {name: found.counts.get(name, 0) for name in STATES}
    page = "web/parts/joint_rows.html" if request.headers.get("hx-request") else "web/joints.html"
    values = {"found": found, "rows": found.rows, "q": wanted, "state": state, "counts": counts}
    return render(request, page, values | {"total": sum(found.counts.values())})


FLAGS_ON_A_PAGE = 25
MOST_STATES = 400
STATES = ("not released", services.READY, "released with follow-up", "released")


@require_http_methods(["GET", "HEAD", "POST"])
def who(request: HttpRequest) -> HttpResponse:
    back = request.GET.get("next") or request.POST.get("next") or "/"
    if not url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}):
        back = "/"
    if getattr(request, "guarded", False):
        return HttpResponseRedirect(back)  # with accounts the account says who writes
    if request.method == "POST":
        name = " ".join(request.POST.get("name", "").split())
        if 2 <= len(name) <= 80 and name.isprintable():
            request.session[AUTHOR_KEY] = name
            return HttpResponseRedirect(back)
        words = "A name has 2 to 80 characters, none of them invisible; a shared or empty name proves nothing later."
        messages.error(request, words)
    return render(request, "web/who.html", {"back": back})


@require_safe
def one(request: HttpRequest, joint_id: str) -> HttpResponse:
    view = joint_or_404(joint_id)
    spec, plan, proof = view.spec, view.plan, view.proof
    tools = {tool.serial: tool for tool in plan.tools}
    used = [tools[s] for s in spec.tools_allowed if s in tools]
    open_flags, settled, notes = present.flags_by_state(proof)
    cards = card_register.of_joint(spec.id)
    page = Paginator(open_flags, FLAGS_ON_A_PAGE).get_page(request.GET.get("open"))
    several = present.several(open_flags, spec.joint_class)
    limits = []
    for symbol, name in (("F_p", "proof load"), ("F_02", "yield in tension")):
        if any(step.symbol == symbol for step in plan.target.chain):
            limits.append((name, plan.target.by_symbol(symbol).value))
    required = spec.target.required_preload
    return render(
        request,
        "web/joint.html",
        {
            "view": view,
            "spec": spec,
            "plan": plan,
            "proof": proof,
            "decision": view.decision,
            "problems": (*plan.problems, *services.comparisons(spec.id)),
            "calculations": services.calculations(spec.id),
            "releases": [(release, view.covers(release)) for release in view.releases],
            "fit": fitting.table_of(plan, datetime.now(UTC).date(), others=False),
            "map": joint_map_svg(plan, states=fastener_states(proof), title=f"Map of {spec.id}"),
            "window": load_window_svg(
                plan.target, required=required.si if required else None, limits=tuple(limits)
            ) if plan.target.load else "",
            "no_load": NO_LOAD,
            "matrix": present.matrix(plan, proof),
            "open_page": page,
            "open_flags": [
                (flag, present.actions_for(flag, spec.joint_class), flag.code in several) for flag in page
            ],
            "several": several.items(),
            "settled": settled,
            "entries": [(line_of(entry), entry) for entry in reversed(view.around.entries)],
            "follow_ups": standing_of_follow_ups(plan, proof, view.around),
            "cards": cards,
            "versions": VERSIONS,
            "open_cards": any(card.open for card in cards),
            "stray_cards": card_register.strangers(spec.id),
            "kept": view.kept(datetime.now(UTC).date()),
            "states": standing_alike(proof.states[:MOST_STATES]),
            "notes": notes,
            "samples": checks_of_some(spec.fasteners.count, view.around.entries, view.tightenings),
            "damaged": [(f.name, damage) for f in view.files if (damage := services.raw_damage(f.sha256))],
            "cautions": cautions_for(
                spec.kind,
                {tool.kind for tool in used},
                spec.fasteners.strength_class,
                spec.fasteners.tapped_material,
                "plan",
            ),
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    kind = request.GET.get("kind", JOINT_KINDS[0])
    if kind not in JOINT_KINDS:
        kind = JOINT_KINDS[0]
    return _describe(request, start=template(kind), kind=kind, heading="New joint", joint_id=None)


@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, joint_id: str) -> HttpResponse:
    """A new revision of a known joint; the old one stays readable in its history."""
    view = joint_or_404(joint_id)
    heading = f"New revision of {joint_id}"
    return _describe(request, start=view.spec.text, kind=view.spec.kind, heading=heading, joint_id=joint_id)


def _describe(
    request: HttpRequest, *, start: str, kind: str, heading: str, joint_id: str | None
) -> HttpResponse:
    """Form or text to TOML, checked by the same reader as a file; `save` writes, `check` only shows the target."""
    form = JointForm.from_post(request.POST) if request.method == "POST" else JointForm.from_text(start)
    status, plan = 200, None
    if request.method == "POST":
        name = f"{form.joint_id or 'joint'}.toml"
        try:
            spec = read_specification(form.text, name)
            if joint_id is not None and spec.id != joint_id:
                form.refuse("joint.id", f"A revision keeps its joint id {joint_id}; a new id is a new joint.")
            else:
                plan = _plan_of(spec)
        except SpecificationError as error:
            form.take_errors(error)
        if request.POST.get("do") == "save" and not form.errors:
            try:
                return _save(request, form.text, name)
            except services.Refused as error:  # what was typed is shown again with the reason
                form.refuse("joint.id", str(error))
        if form.errors:
            status = 422
    context = {"form": form, "kinds": JOINT_KINDS, "kind": kind, "heading": heading, "plan": plan, "joint_id": joint_id}
    context["no_load"] = NO_LOAD
    return render(request, "web/describe.html", context, status=status)


def _plan_of(spec: Specification) -> Plan:
    today = datetime.now(UTC).date()
    return make_plan(spec, services.tools_in_force(today), today)


@needs_author
def _save(request: HttpRequest, text: str, name: str) -> HttpResponse:
    row = services.add_joint(text, name, author_of(request))
    messages.success(request, f"{row.id}: revision {row.revision} written.")
    return HttpResponseRedirect(reverse("joint", args=[row.id]))
