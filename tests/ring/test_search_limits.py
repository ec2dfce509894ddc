"""Limits on the way: every breach named with pull, bolt, value and limit; nothing named where all is kept."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from evenpull.plan.orders import star
from evenpull.ring import measures
from evenpull.ring.case import RingCase
from evenpull.ring.condensed import Patches
from evenpull.ring.flange.model import condense
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.search.crew import in_kinds, on_scale, simplified
from evenpull.ring.search.limits import Limits, violations, worst_states
from evenpull.ring.search.settings import even_settings
from evenpull.ring.search.trajectory import follow
from evenpull.ring.stepping import Pull, patch_pressures, start
from tests.ring.given import given_paths, read_given


@pytest.fixture(scope="module")
def ring() -> tuple[RingCase, RingModel, Patches]:
    case, _, _ = read_given(next(path for path in given_paths() if path.stem == "raised_face_8xM20"))
    condensed = condense(case, radial=2, circumferential=4)
    return case, ring_model(condensed, case.bolts, case.facing.law), condensed.patches


def test_tilt_is_the_slope_of_the_plane(ring: tuple[RingCase, RingModel, Patches]) -> None:
    _, model, patches = ring
    angles = np.concatenate([2 * np.pi * s / model.n + patches.angles for s in range(model.n)])
    radii = np.tile(patches.radii, model.n)
    plane = 1e-4 + 3e-4 * radii * np.cos(angles) - 4e-4 * radii * np.sin(angles)
    Y = np.zeros_like(model.Y)
    Y[:, 0] = plane + 1e-5 * np.cos(4 * angles)  # a wave with four crests is no tilt
    state = start(model)
    z = state.z.copy()
    z[0] = 1.0
    assert measures.tilt(replace(model, Y=Y), patches, replace(state, z=z)) == pytest.approx(5e-4, rel=1e-9)


def test_one_bolt_alone_tilts_all_together_do_not(ring: tuple[RingCase, RingModel, Patches]) -> None:
    case, model, patches = ring
    T = case.bolts.target
    alone = follow(model, [Pull((0,), (T,))])
    half = follow(model, [Pull((0,), (0.5 * T,))])
    together = follow(model, [Pull(tuple(range(8)), (T,) * 8)])
    tilt = measures.tilt(model, patches, alone.states[-1])
    assert 0 < measures.tilt(model, patches, half.states[-1]) < tilt
    assert measures.tilt(model, patches, together.states[-1]) < 1e-6 * tilt


def test_every_breach_is_named_and_limits_that_are_kept_are_not(ring: tuple[RingCase, RingModel, Patches]) -> None:
    case, model, patches = ring
    T = case.bolts.target
    pulls = even_settings(model, tuple((b - 1,) for (b,) in star(8)), T).pulls
    path = follow(model, pulls)
    worst = worst_states(model, patches, path)
    value, pull, bolt = worst.bolt_load
    assert (value, path.loads[pull, bolt]) == (path.loads.max(), value)
    pressures = [patch_pressures(model, state) for state in path.states[1:]]
    assert worst.gasket_stress[0] == max(p.max() for p in pressures)
    assert worst.least_gasket_stress_at_end[0] == pressures[-1].min()

    kept = Limits(
        bolt=value, gasket_most=worst.gasket_stress[0], gasket_least=pressures[-1].min(), tilt=worst.tilt[0], kinds=8
    )
    assert violations(model, patches, pulls, kept) == ()

    found = violations(model, patches, pulls, Limits(bolt=0.99 * value))
    assert ("bolt load", pull, bolt, value, 0.99 * value) in [(v.what, v.pull, v.bolt, v.value, v.limit) for v in found]
    assert {v.pull for v in found if v.what == "bolt load"} == set(
        np.flatnonzero(path.loads.max(axis=1) > 0.99 * value)
    )
    assert {v.pull for v in found if v.what == "setting"} == {
        k for k, p in enumerate(pulls) if p.loads[0] > 0.99 * value
    }
    assert f"pull {pull + 1}, bolt {bolt + 1}: bolt load" in "\n".join(v.text for v in found)

    (stress,) = violations(model, patches, pulls, Limits(gasket_most=worst.gasket_stress[0] * 0.9999))
    assert (stress.what, stress.pull, stress.value) == ("gasket stress", worst.gasket_stress[1], worst.gasket_stress[0])
    (low,) = violations(model, patches, pulls, Limits(gasket_least=pressures[-1].min() * 1.001))
    assert (low.what, low.pull) == ("least gasket stress", 7)
    (tilt,) = violations(model, patches, pulls, Limits(tilt=worst.tilt[0] * 0.9999))
    assert (tilt.what, tilt.pull, tilt.bolt) == ("flange tilt", worst.tilt[1], None)


def test_what_a_crew_cannot_follow_is_named(ring: tuple[RingCase, RingModel, Patches]) -> None:
    _, model, patches = ring
    pulls = [Pull((0,), (100e3,)), Pull((4, 0), (100e3, 98e3)), Pull((2,), (96e3,))]
    found = violations(model, patches, pulls, Limits(scale=5e3, kinds=2, rest=True))
    assert [(v.what, v.pull, v.bolt, v.value) for v in found] == [
        ("settings", None, None, 3),
        ("scale", 1, 0, 98e3),
        ("twice running", 1, 0, 2),
        ("scale", 2, 2, 96e3),
    ]
    assert found[0].text == "3 different settings, at most 2"
    assert found[1].text == "pull 2, bolt 1: setting 98.00 kN is no multiple of 5.00 kN"
    assert violations(model, patches, pulls, Limits(scale=1e3, kinds=3)) == ()
    with pytest.raises(ValueError, match="limit tilt"):
        Limits(tilt=0.0)
    with pytest.raises(ValueError, match="bolts 0 to 7"):
        violations(model, patches, [Pull((8,), (1.0,))], Limits())


def test_groups_of_settings_are_the_best_ones() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        values = np.round(rng.uniform(1, 2, 7), 1)  # with equal ones among them
        group = in_kinds(values, 3)
        found = sum(((values[group == g] - values[group == g].mean()) ** 2).sum() for g in set(group))
        every = []
        for trial in product(range(3), repeat=7):
            t = np.array(trial)
            every.append(sum(((values[t == g] - values[t == g].mean()) ** 2).sum() for g in set(trial)))
        assert found == pytest.approx(min(every), abs=1e-12)
        assert len(set(group)) <= 3


def test_settings_stay_on_the_scale_and_under_the_limit(ring: tuple[RingCase, RingModel, Patches]) -> None:
    assert list(on_scale(np.array([12.4e3, 12.6e3, 19e3, 0.1e3]), 1e3, 15.5e3)) == [12e3, 13e3, 15e3, 1e3]
    with pytest.raises(ValueError, match="no setting is left"):
        on_scale(np.array([1.0]), 10.0, 9.0)
    case, model, patches = ring
    T = case.bolts.target
    free = even_settings(model, tuple((b - 1,) for (b,) in star(8)), T)
    limits = Limits(bolt=1.01 * free.highest, scale=2e3, kinds=4)
    pulls = simplified(model, free.pulls, T, scale=2e3, kinds=4, limit=limits.bolt)
    assert violations(model, patches, pulls, limits) == ()
    assert [pull.bolts for pull in pulls] == [pull.bolts for pull in free.pulls]
    uneven = np.abs(follow(model, pulls).final / T - 1).max()
    assert free.deviation < uneven < 0.1  # costs evenness, but far less than one setting for all
    one = follow(model, simplified(model, free.pulls, T, kinds=1)).final
    assert np.abs(one / T - 1).max() > 0.15
