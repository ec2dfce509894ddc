"""Exercises: for training, nothing is kept of them."""

from __future__ import annotations

from dataclasses import dataclass
from random import SystemRandom

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods, require_safe

from evenpull.exercise import traces
from evenpull.web import curve_scenes


@dataclass(frozen=True)
class Asked:
    """One curve on the page. `said`: what the person called it."""

    trace: traces.Trace
    svg: SafeString
    closer: SafeString
    said: str


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    """A sheet of a number by chance."""
    return HttpResponseRedirect(reverse("exercise-curves", args=[SystemRandom().randint(0, traces.LARGEST_SEED)]))


@require_http_methods(["GET", "HEAD", "POST"])
def curves(request: HttpRequest, seed: int) -> HttpResponse:
    """A sheet of curves to be named; sent back, it says what each is and by what it is seen. Writes nothing."""
    count = request.POST.get("curves") or request.GET.get("curves") or str(traces.CURVES)
    try:
        sheet = traces.sheet(seed, int(count) if count.isascii() and count.isdecimal() and len(count) < 4 else -1)
        said = {trace.number: text for trace in sheet.traces if (text := request.POST.get(f"curve-{trace.number}", ""))}
        result = traces.marked(sheet, said) if request.method == "POST" else None
    except traces.ExerciseError as error:
        raise Http404(str(error)) from error
    asked = [Asked(trace, *curve_scenes.exercise(trace), said.get(trace.number, "")) for trace in sheet.traces]
    return render(
        request, "web/exercise_curves.html",
        {"sheet": sheet, "asked": asked, "result": result, "names": traces.NAMES, "look": traces.LOOK,
         "answered": len(said)},
    )  # fmt: skip
