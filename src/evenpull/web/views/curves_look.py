"""Curves to look at: one, all of a joint with the odd ones on top, a ring at a glance, over time, two compared."""

from __future__ import annotations

import math

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from evenpull.curve.names import AT
from evenpull.curve.names import FEATURES as DEFINED
from evenpull.store import services
from evenpull.store.services import curves_course, curves_joint_view, curves_looking
from evenpull.store.services.curves_looking import ODD_DRAWN, RING, OneCurve
from evenpull.web import curve_scenes
from evenpull.web.views.common import found_or_404

LARGEST = 9_999_999


def _whole(request: HttpRequest, name: str) -> int | None:
    """A whole number of the address, None where it is not given. Http404 for anything else."""
    text = request.GET.get(name, "").strip()
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and int(text[:9]) <= LARGEST and len(text) < 8):
        raise Http404(f"{name}: {text[:20]!r} is not a whole number from 0 to {LARGEST}")
    return int(text)


def _angle(request: HttpRequest, name: str) -> float | None:
    text = request.GET.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not abs(value) < 1e7:
        raise Http404(f"{name}: {text[:20]!r} is no angle in deg")
    return value


def _one(seq: int, number: int) -> OneCurve:
    with found_or_404():
        return curves_looking.one(seq, number)


@require_safe
def one(request: HttpRequest, seq: int, number: int) -> HttpResponse:
    """One curve; `from` and `to` in deg look closer, drawn anew from every point there."""
    try:
        found = _one(seq, number)
    except services.Refused as error:
        return _cannot(request, str(error))
    low, high = _angle(request, "from"), _angle(request, "to")
    span = float(found.curves.angle.max() - found.curves.angle[0]) if len(found.curves.angle) else 0.0
    between = None
    if low is not None or high is not None:
        between = (0.0 if low is None else low, span if high is None else high)
        if between[0] >= between[1]:
            raise Http404(f"from {between[0]:g} to {between[1]:g} deg: nothing lies between")
    rise = _rise(found)
    if between is None and rise is not None and "all" not in request.GET:
        between = rise
    svg = curve_scenes.one(found, between) if len(found.curves.torque) > 1 else None
    return render(
        request, "web/curve.html",
        {"found": found, "svg": svg, "between": between, "rise": rise, "span": span, "joint": found.row.joint,
         "fastener": found.keys.fastener[0] if found.keys.fastener[0] >= 0 else None},
    )  # fmt: skip


def _rise(found: OneCurve) -> tuple[float, float] | None:
    """A little more than from the seat to shut-off, for a closer look."""
    origin, off = found.feature("origin"), found.feature("angle_off")
    if math.isnan(origin) or math.isnan(off) or off <= origin:
        return None
    return round(origin - 0.3 * (off - origin), 1), round(off + 0.15 * (off - origin), 1)


def _joints(joint_id: str, others: str) -> list[str]:
    named = [joint_id, *others.replace(",", " ").split()]
    known = services.described(named)
    missing = [name for name in named if services.fold(name) not in known and name not in known]
    if missing:
        raise Http404(f"no joint {missing[0][:60]!r} is described")
    return list(dict.fromkeys(known.get(services.fold(name)) or known[name] for name in named))


@require_safe
def joint(request: HttpRequest, joint_id: str) -> HttpResponse:
    """All curves of a joint, of others of its type with it, or of one fastener; the odd ones on top and listed."""
    others = request.GET.get("with", "")[:2_000]
    joints = _joints(joint_id, others)
    fastener, number, page = _whole(request, "fastener"), _whole(request, "pass"), _whole(request, "page") or 0
    try:
        found = curves_looking.overlay(joints, fastener, number, page)
        about = curves_joint_view.about(joints[0])
    except services.Refused as error:
        return _cannot(request, str(error))
    kept = request.GET.copy()
    kept.pop("page", None)
    whole = bool(kept.pop("whole", None))
    return render(
        request, "web/curves_joint.html",
        {"joint": joints[0], "others": ", ".join(joints[1:]), "found": found, "whole": whole,
         "svg": curve_scenes.overlay(found, whole=whole),
         "fastener": fastener, "number": number, "about": about, "page": page, "odd_first": page * ODD_DRAWN,
         "more": found.n_odd > (page + 1) * ODD_DRAWN, "kept": kept.urlencode(),
         "not_placed": sum(1 for line in (*found.odd, *found.rest) if not line.placed)},
    )  # fmt: skip


@require_safe
def ring(request: HttpRequest, joint_id: str) -> HttpResponse:
    (name,) = _joints(joint_id, "")
    first = _whole(request, "first") or 0
    try:
        found = curves_looking.ring(name, _whole(request, "pass"), first)
    except services.Refused as error:
        return _cannot(request, str(error))
    return render(
        request, "web/curves_ring.html",
        {"joint": name, "found": found, "pictures": curve_scenes.ring(found), "before": max(0, first - RING),
         "after": first + RING if first + RING < found.fasteners else None},
    )  # fmt: skip


@require_safe
def over_time(request: HttpRequest, joint_id: str) -> HttpResponse:
    (name,) = _joints(joint_id, "")
    feature = request.GET.get("feature", "T_off")
    fastener = _whole(request, "fastener")
    try:
        found = curves_course.course(name, feature, _whole(request, "pass"), fastener)
    except services.Unknown as error:
        raise Http404(str(error)) from error
    except services.Refused as error:
        return _cannot(request, str(error))
    watched = [DEFINED[AT[one]] for one in curves_course.WATCHED]
    return render(
        request, "web/curves_course.html",
        {"joint": name, "found": found, "svg": curve_scenes.course(found), "watched": watched, "fastener": fastener,
         "feature": DEFINED[AT[feature]]},
    )  # fmt: skip


@require_safe
def compare(request: HttpRequest) -> HttpResponse:
    """Two curves, each as file and number ("1943:7"), one over the other, and what is unlike."""
    places = [_place(request.GET.get(name, "")) for name in ("first", "second")]
    if None in places:
        return render(request, "web/curves_compare.html", {"values": request.GET})
    whole = "whole" in request.GET
    first, second = (_one(*place) for place in places if place is not None)
    rows = [
        {"name": name, "first": told, "second": other, "unlike": told != other, "definition": definition}
        for (name, told, definition), (_, other, _) in zip(first.features, second.features, strict=True)
    ]  # fmt: skip
    return render(
        request, "web/curves_compare.html",
        {"first": first, "second": second, "rows": rows, "svg": curve_scenes.pair(first, second, whole=whole),
         "whole": whole,         "values": request.GET},
    )  # fmt: skip


def _place(text: str) -> tuple[int, int] | None:
    file, _, number = text.strip().partition(":")
    good = all(part.isascii() and part.isdecimal() and len(part) < 10 for part in (file, number))
    return (int(file), int(number)) if good else None


def _cannot(request: HttpRequest, why: str) -> HttpResponse:
    return render(request, "web/curves_cannot.html", {"why": why, "back": reverse("curves")}, status=409)
