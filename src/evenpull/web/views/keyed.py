"""One record typed in from a card: the form is made from the fields of typed records."""

from __future__ import annotations

from collections import defaultdict

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from evenpull.intake.keyed import KEYED_FIELDS, KeyedError
from evenpull.store import services
from evenpull.store.services.keying import key_in
from evenpull.web.context import author_of
from evenpull.web.views.common import joint_or_404, needs_author

NOT_TYPED = ("joint", "keyed by")  # known from the page itself


@require_http_methods(["GET", "HEAD", "POST"])
def one(request: HttpRequest, joint_id: str) -> HttpResponse:
    spec = joint_or_404(joint_id).spec
    faults: dict[str, list[str]] = defaultdict(list)
    if request.method == "POST":
        try:
            return _write(request, spec.id)
        except KeyedError as error:
            for fault in error.faults:
                faults[fault.field].append(f"{fault.message}; allowed: {fault.allowed}")
        except services.Refused as error:
            faults[""].append(str(error))
    start = {"torque unit": "N.m", "zone": "UTC", "basis": ""}
    fields = [
        {"name": f.name, "id": f.name.replace(" ", "-"), "label": f.meaning.capitalize(), "needed": f.needed,
         "allowed": f.allowed, "value": request.POST.get(f"k:{f.name}", start.get(f.name, "")),
         "choices": tuple(f.allowed.split(", ")) if f.name in ("event", "basis") else (),
         "errors": faults.pop(f.name, [])}
        for f in KEYED_FIELDS if f.name not in NOT_TYPED
    ]  # fmt: skip
    values = {"joint_id": spec.id, "fields": fields, "other_errors": [t for texts in faults.values() for t in texts]}
    return render(request, "web/keyed.html", values, status=422 if request.method == "POST" else 200)


@needs_author
def _write(request: HttpRequest, joint_id: str) -> HttpResponse:
    row = {key.removeprefix("k:"): value for key, value in request.POST.items() if key.startswith("k:")}
    done = key_in([row | {"joint": joint_id}], author_of(request))
    again = done.already or not done.new
    said = "It was there already; nothing was written." if again else "Written as a typed record."
    messages.success(request, said)
    return HttpResponseRedirect(reverse("joint", args=[joint_id]) + "#records")
