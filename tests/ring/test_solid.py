"""The solid reference: against the given joints, ring theory, and the whole ring without cyclic condensation."""

from __future__ import annotations

from dataclasses import replace
from math import log, pi

import numpy as np
import pytest

from evenpull.ring.case import BearingFace, Facing, Flange, RaisedFace, RingBolts, RingCase, TappedHole
from evenpull.ring.condensed import AXIAL, PORTS_OF_BOLT, TILT_RADIAL, TILT_TANGENTIAL, Condensed
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import LinearLaw
from evenpull.ring.model import ring_model
from evenpull.ring.solid import extra, whole
from evenpull.ring.solid.condense import WEAK, condense_solid, sector_system
from evenpull.ring.solid.elastic import sector_stiffness
from evenpull.ring.stepping import Pull
from evenpull.ring.stepping import run as run_condensed
from tests.ring.given import HERE, read_given

COARSE = 2.5
FEW = {"radial": 2, "circumferential": 4, "size_factor": COARSE}
CASE, LINEAR, FILE = read_given(HERE / "raised_face_4xM16.json")


@pytest.fixture(scope="module")
def coarse() -> Condensed:
    return condense_solid(CASE, **FEW)


@pytest.fixture(scope="module")
def ring() -> whole.WholeRing:
    return whole.whole_ring(CASE, **FEW)


@pytest.fixture(scope="module")
def linear_tets() -> whole.WholeRing:
    return whole.whole_ring(CASE, **FEW, order=1)


def row(condensed: Condensed, case: RingCase, gasket: float) -> np.ndarray:
    """Movement (n, ports) of every sector by 1 N in bolt 0, bolts bending, on a glued gasket of stiffness `gasket`."""
    n, areas = condensed.n, condensed.patches.areas
    springs = np.concatenate([[0.0], 2 * [case.bolts.bending], gasket * areas])
    harmonics = []
    for h in range(n):
        C = condensed.compliance[min(h, n - h)]
        C = C if h <= n // 2 else C.conj()
        harmonics.append(np.linalg.solve(np.eye(len(springs)) + C * springs, C[:, AXIAL]))
    return np.fft.ifft(harmonics, axis=0).real


def test_the_given_row_of_four_bolts() -> None:
    """Given to a few tenths of a per cent; both meshes are of about 20,000 unknowns."""
    found = row(condense_solid(CASE), CASE, LINEAR.stiffness)[:, AXIAL]
    given = np.array(FILE["approach_at_each_bolt_per_newton_in_bolt_0_linear_gasket"]) * 1e-3
    assert np.abs(found - given).max() < 0.005 * given.max()


def test_a_coarse_mesh_is_a_few_per_cent_off(coarse: Condensed) -> None:
    found = row(coarse, CASE, LINEAR.stiffness)[:, AXIAL]
    given = np.array(FILE["approach_at_each_bolt_per_newton_in_bolt_0_linear_gasket"]) * 1e-3
    assert np.abs(found - given).max() < 0.05 * given.max()


def test_whole_ring_and_condensed_ring_are_one_when_linear(coarse: Condensed, ring: whole.WholeRing) -> None:
    there = whole.port_compliance(ring, [AXIAL], LINEAR.stiffness)[:, 0].reshape(4, -1)
    here = row(coarse, CASE, LINEAR.stiffness)
    for port in range(here.shape[1]):
        assert np.abs(there[:, port] - here[:, port]).max() < 1e-6 * np.abs(here[:, port]).max(), port


def test_whole_ring_steps_as_the_condensed_one(linear_tets: whole.WholeRing) -> None:
    """The given star for two pulls, then two tools at once: gasket with memory, nuts come loose and catch again."""
    target, n = CASE.bolts.target, CASE.bolts.count
    pulls = [Pull((0,), (target,)), Pull((2,), (target,)), Pull((1, 3), (0.9 * target, 0.6 * target))]
    condensed = condense_solid(CASE, **FEW, order=1)
    inverse = np.linalg.inv(condensed.compliance)
    state = whole.start(linear_tets)
    for number, pull in enumerate(pulls):
        past = state.past
        state = whole.step(linear_tets, state, pull)
        y = np.asarray(linear_tets.ports.T @ state.u)
        pressure, _ = CASE.facing.law.pressure(y.reshape(n, -1)[:, PORTS_OF_BOLT:].reshape(-1), past)
        tilts = y.reshape(n, -1)[:, 1:PORTS_OF_BOLT]
        forces = linear_tets.of_ports(state.loads, -CASE.bolts.bending * tilts, -linear_tets.areas * pressure)
        waves = np.fft.fft(y.reshape(n, -1), axis=0)
        there = [inverse[h] @ waves[h] if h <= n // 2 else inverse[n - h].conj() @ waves[h] for h in range(n)]
        by_harmonics = np.fft.ifft(there, axis=0).real.reshape(-1)
        size = np.tile([1.0, 0.01, 0.01] + condensed.patches.count * [1.0], n)  # a moment over about the bolt's radius
        assert np.abs((by_harmonics - forces) / size).max() < 1e-6 * target, number
    assert state.factorisations > len(pulls)
    assert whole.step(linear_tets, state, Pull((0,), (0.2 * target,))) is state, "found above: left alone"


def test_both_ways_of_stepping_agree(linear_tets: whole.WholeRing) -> None:
    target = CASE.bolts.target
    pulls = [Pull((bolt,), (target,)) for bolt in (0, 2, 1, 3)]
    direct, _ = whole.run(linear_tets, pulls)
    condensed = condense_solid(CASE, **FEW, order=1)
    loads, _ = run_condensed(ring_model(condensed, CASE.bolts, CASE.facing.law), pulls)
    assert np.abs(direct - loads).max() < 2e-4 * target
    assert direct[0, 0] == target and direct[1, [1, 3]].tolist() == [0.0, 0.0], "nuts that carry nothing never pull"


def test_the_first_given_pull_in_the_whole_ring(ring: whole.WholeRing) -> None:
    given = next(r for r in FILE["results"] if r["gasket_law"].startswith("loading"))
    assert given["steps"][0] == [[0], 1.0]
    loads, _ = whole.run(ring, [Pull((0,), (CASE.bolts.target,))])
    assert np.abs(loads[0] / CASE.bolts.target - given["loads_after_each_step_over_target"][0]).max() < 0.02


def test_compliance_is_hermitian_positive_and_mirrored(coarse: Condensed) -> None:
    patches = coarse.patches
    mirror = np.arange(PORTS_OF_BOLT + patches.count)
    mirror[PORTS_OF_BOLT:] = PORTS_OF_BOLT + np.arange(patches.count).reshape(patches.radial, -1)[:, ::-1].reshape(-1)
    sign = np.ones(len(mirror))
    sign[TILT_TANGENTIAL] = -1.0
    assert coarse.compliance.shape == (3, 11, 11)
    for C in coarse.compliance:
        assert np.abs(C - C.conj().T).max() <= 1e-12 * np.abs(C).max()
        scale = 1 / np.sqrt(np.diag(C).real)
        assert np.linalg.eigvalsh(C * scale * scale[:, None]).min() > 0.0
        turned = sign[:, None] * C[np.ix_(mirror, mirror)] * sign
        assert np.abs(turned - C.conj()).max() < 1e-9 * np.abs(C).max()


def test_a_free_sector_moves_as_a_rigid_body_without_force() -> None:
    mesh, K, _, _ = sector_system(CASE.flanges[0], CASE, **FEW, order=2)
    sector = sector_stiffness(mesh, K)
    x, y, z = mesh.points.T
    zero, one = np.zeros_like(x), np.ones_like(x)
    support = WEAK * CASE.flanges[0].E * CASE.flanges[0].end.d_w
    moves = [(one, zero, zero), (zero, one, zero), (zero, zero, one), (-y, x, zero), (zero, -z, y), (z, zero, -x)]
    for number, move in enumerate(moves):
        u = np.stack(move, axis=1).reshape(-1)
        force = np.asarray(sector @ u)
        energy = float(u @ force)
        expected = support * float((u**2).sum()) / len(x)
        assert energy == pytest.approx(expected, rel=1e-4), f"only the weak support holds movement {number}"


def test_loads_are_units_and_patches_leave_out_the_hole() -> None:
    one = Flange(bore=0.2, outside_diameter=0.4, thickness=0.02, end=BearingFace(d_w=0.036, d_h=0.022))
    case = replace(
        CASE,
        bolts=replace(CASE.bolts, count=8, bolt_circle=0.31, d=0.02),
        flanges=(one, one),
        facing=replace(CASE.facing, inside_diameter=0.2, outside_diameter=0.4),
    )
    mesh, _, B, patches = sector_system(one, case, radial=2, circumferential=4, size_factor=1.0, order=2)
    down = -B.reshape(len(mesh.points), 3, -1)[:, 2]
    assert np.abs(B.reshape(len(mesh.points), 3, -1)[:, :2]).max() == 0.0
    out, across = mesh.points[:, 0] - 0.155, mesh.points[:, 1]
    total, moment_out, moment_across = down.sum(axis=0), out @ down, across @ down
    assert total[AXIAL] == pytest.approx(1.0) and total[PORTS_OF_BOLT:] == pytest.approx(np.ones(8))
    assert total[[TILT_RADIAL, TILT_TANGENTIAL]] == pytest.approx([0.0, 0.0], abs=1e-2 / 0.018)
    assert moment_out[TILT_RADIAL] == pytest.approx(1.0) and moment_across[TILT_TANGENTIAL] == pytest.approx(1.0)
    assert patches.areas.sum() == pytest.approx(pi / 4 * ((0.4**2 - 0.2**2) / 8 - 0.022**2), rel=1e-4)


def test_a_tapped_hole_takes_the_load_in_its_thread() -> None:
    """Against the fast model, which spreads the load over the same thread: two ways to one number, within 3 %."""
    through = CASE.flanges[0]
    tapped = replace(through, end=TappedHole(d=0.016, engagement=0.014, depth=0.002))
    mesh, _, B, _ = sector_system(tapped, CASE, radial=1, circumferential=2, size_factor=1.5, order=2)
    down = -B.reshape(len(mesh.points), 3, -1)[:, 2]
    loaded = np.abs(down[:, AXIAL]) > 0.0
    assert mesh.points[loaded, 2].min() > 0.002 - 1e-9 and mesh.points[loaded, 2].max() < 0.016 + 1e-9
    assert down[:, AXIAL].sum() == pytest.approx(1.0)
    assert (mesh.points[:, 0] - 0.06) @ down[:, TILT_RADIAL] == pytest.approx(1.0)
    assert mesh.points[:, 1] @ down[:, TILT_TANGENTIAL] == pytest.approx(1.0)
    case = replace(CASE, flanges=(through, tapped))
    solid = row(condense_solid(case, size_factor=1.3), case, LINEAR.stiffness)[:, AXIAL]
    fast = row(condense(case, radial=3, circumferential=8), case, LINEAR.stiffness)[:, AXIAL]
    assert np.abs(solid - fast).max() < 0.03 * solid.max()


def test_a_thread_that_begins_in_the_air_is_refused() -> None:
    tapped = replace(CASE.flanges[0], end=TappedHole(d=0.016, engagement=0.016, depth=0.0))
    with pytest.raises(ValueError, match="in the air beside the raised face"):
        condense_solid(replace(CASE, flanges=(CASE.flanges[0], tapped)), **FEW)


def test_a_flat_ring_turns_as_ring_theory_says() -> None:
    """A ring under couples m per length all round at radius a turns by 12 m a / (E t^3 ln(r_o/r_i)).

    Its section stays a plane that turns by phi: hoop strain phi y / r, so the half ring's equilibrium is
    m a = integral of E phi y^2 / r over the section = E phi t^3 / 12 ln(r_o / r_i)."""
    inner, outer, t, E, n = 0.45, 0.55, 0.03, 205e9, 8
    one = Flange(bore=2 * inner, outside_diameter=2 * outer, thickness=t, end=BearingFace(d_w=0.03, d_h=0.0125), E=E)
    case = RingCase(
        name="flat ring",
        bolts=RingBolts(count=n, bolt_circle=1.0, d=0.012, stiffness=1e8, bending=1e4, target=1e4),
        flanges=(one, one),
        facing=Facing(inside_diameter=2 * inner, outside_diameter=2 * outer, law=LinearLaw(1e11)),
    )
    condensed = condense_solid(case, radial=3, circumferential=4, size_factor=1.5)
    radii = condensed.patches.radii.reshape(3, 4)[:, 0]
    share = condensed.patches.areas.reshape(3, 4)
    force = np.zeros((3, 4))
    force[0], force[2] = -share[0] / share[0].sum(), share[2] / share[2].sum()
    loads = np.concatenate([np.zeros(PORTS_OF_BOLT), force.reshape(-1)])  # n of them: a couple all round
    tilt = float((condensed.compliance[0, TILT_RADIAL] @ loads).real) / 2  # of one flange
    couple = n * (radii[2] - radii[0]) / (2 * pi)  # m a
    assert tilt == pytest.approx(12 * couple / (E * t**3 * log(outer / inner)), rel=0.03)


def test_two_different_flanges_add_up() -> None:
    thick = replace(CASE.flanges[0], thickness=0.03)
    both = condense_solid(replace(CASE, flanges=(CASE.flanges[0], thick)), **FEW).compliance
    alike = [condense_solid(replace(CASE, flanges=(f, f)), **FEW).compliance for f in (CASE.flanges[0], thick)]
    assert both == pytest.approx(0.5 * (alike[0] + alike[1]))


def test_two_different_flanges_in_the_whole_ring() -> None:
    case, linear, _ = read_given(HERE / "raised_face_8xM20.json")
    other = replace(case.flanges[0], thickness=0.03, raised_face=RaisedFace(outside_diameter=0.25, height=0.003))
    case = replace(case, flanges=(case.flanges[0], other))
    here = row(condense_solid(case, **FEW, order=1), case, linear.stiffness)
    ring = whole.whole_ring(case, **FEW, order=1)
    there = whole.port_compliance(ring, [AXIAL], linear.stiffness)[:, 0].reshape(8, -1)
    assert np.abs(here - there).max() < 1e-6 * np.abs(here).max()


def test_without_the_extra_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise ImportError(f"No module named '{name}'")

    monkeypatch.setattr(extra, "import_module", missing)
    with pytest.raises(extra.ExtraMissingError, match=r"pip install 'evenpull\[fe\]'"):
        condense_solid(CASE)
