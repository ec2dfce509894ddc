"""A predicted procedure in a joint file: the plan pulls exactly what was predicted, what does not fit is refused."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.demo import scenario
from evenpull.plan import make_plan, read_specification, read_tools
from evenpull.prediction import Asked, RingPull, make_procedure, read_prediction
from evenpull.prediction.procedures import RingProcedure, free_procedure
from evenpull.prediction.to_plan import NotInPlanError, planned, to_plan

JOINT = scenario.joint_text("kn-cw-014")  # 16 fasteners
STAR = Asked(name="s", order="star", passes=(0.3, 0.7, 1.0), circular_passes=1)


def pulls_planned(text: str) -> list[tuple[tuple[int, ...], tuple[float, ...]]]:
    tools = read_tools(scenario.tools_text(), "tools")
    plan = make_plan(read_specification(text, "joint"), tools, date(2026, 9, 1))
    return [
        (pull.fasteners, tuple(plan.passes[pull.pass_number - 1].torque_of(f) / plan.target.torque
                               for f in pull.fasteners))
        for pull in plan.pulls
    ]  # fmt: skip


def predicted(procedure: RingProcedure) -> list[tuple[tuple[int, ...], tuple[float, ...]]]:
    return [(pull.bolts, pull.shares) for pull in procedure.pulls]


OWN = tuple(round(1 + 0.0137 * bolt, 4) for bolt in range(15, -1, -1))  # 1.2055 down to 1
HALF = tuple(round(0.4 + 0.013 * bolt, 3) for bolt in range(16))


@pytest.mark.parametrize(
    "asked",
    [
        STAR,
        Asked(name="s", order="circular", passes=(0.5, 1.0), tools_at_once=2),
        Asked(name="s", order="star", passes=(0.6, 1.0, 1.0), circular_passes=0, tools_at_once=4),
        Asked(name="s", order="grouped", groups=((1, 2, 9, 10), (5, 6, 13, 14), (3, 4, 11, 12), (7, 8, 15, 16)),
              passes=(1.0,), circular_passes=2),
        Asked(name="s", order="listed", listed=tuple(range(16, 0, -1)), passes=(0.5, 1.0), circular_passes=1),
        Asked(name="s", order="star", settings=(OWN,)),
        Asked(name="s", order="star", settings=(HALF, OWN), circular_passes=1),
        Asked(name="s", order="star", settings=(HALF, OWN), tools_at_once=2),
        Asked(name="s", order="star", settings=(HALF, (1.0,) * 16), circular_passes=1),
        Asked(name="s", order="star", settings=((0.3,) * 16, OWN)),
        Asked(name="s", steps=tuple(((b, b + 8), s) for s in (0.5, 1.0) for b in (1, 5, 3, 7, 2, 6, 4, 8))),
    ],
    ids=["star", "two tools", "check in star", "groups", "listed", "own", "own twice, check", "own, two tools",
         "own, then all", "all, then own", "steps"],
)  # fmt: skip
def test_the_plan_pulls_what_was_predicted(asked: Asked) -> None:
    made = make_procedure(asked, 16)
    found = pulls_planned(to_plan(JOINT, made))
    assert [bolts for bolts, _ in found] == [bolts for bolts, _ in predicted(made)]
    for (_, share), (_, wanted) in zip(found, predicted(made), strict=True):
        assert share == pytest.approx(wanted, abs=1e-9)


def test_everything_else_stays_and_nobody_has_approved_it() -> None:
    text = to_plan(JOINT, make_procedure(Asked(name="s", order="circular", passes=(1.0,)), 16))
    before, after = read_specification(JOINT, "joint"), read_specification(text, "joint")
    assert (after.id, after.fasteners, after.target, after.tools_allowed) == (
        before.id, before.fasteners, before.target, before.tools_allowed)  # fmt: skip
    assert after.source.approved_by == "nobody yet" != before.source.approved_by
    assert after.procedure.movement_limit == before.procedure.movement_limit
    assert after.procedure.check_passes == 0 and after.procedure.passes == (100.0,)
    for line in JOINT.splitlines():
        if line.startswith("#"):
            assert line in text


def test_rings_of_the_scenario_go_into_their_joints() -> None:
    for name in scenario.RINGS:
        found = read_prediction(scenario.ring_text(name), name)
        joint = scenario.joint_text(found.joint.lower())
        for procedure in found.procedures:
            assert [b for b, _ in pulls_planned(to_plan(joint, procedure))] == [pull.bolts for pull in procedure.pulls]


def test_known_orders_are_named_not_listed() -> None:
    star = make_procedure(STAR, 16)
    bare = free_procedure("found", star.passes[0].pulls + star.passes[2].pulls, 16)
    assert planned(bare, 16).order == "star" and planned(bare, 16).percent == (30, 100)
    assert 'order = "star"\npasses = [30, 70, 100]\ncheck_passes = 1' in planned(star, 16).toml()


def asked(**keys: object) -> RingProcedure:
    return make_procedure(Asked(name="s", **keys), 4)  # type: ignore[arg-type]


REFUSED = {
    "own settings, all low": (asked(order="star", settings=((0.9, 0.8, 0.9, 0.95),)), "at most 95 %"),
    "own settings, then less": (asked(order="star", settings=((1.1, 1.1, 1.2, 1.0), (1.0, 1.1, 1.0, 1.0))), "rise"),
    "own settings after the target": (asked(order="star", settings=((1.0,) * 4, (1.0, 1.1, 1.0, 1.0))), "rise"),
    "ends low": (asked(order="star", passes=(0.5, 0.9)), "ends at 100 %"),
    "above the target": (asked(order="star", passes=(0.5, 1.1)), "ends at 100 %"),
    "twice the same": (asked(order="star", passes=(0.5, 0.5, 1.0)), "rise"),
    "beyond 100": (asked(order="star", passes=(1.0, 1.1)), "check passes at 100 % only"),
    "eleven checks": (asked(order="star", passes=(1.0,), circular_passes=11), "at most 10"),
    "bolt again": (asked(steps=(((1,), 1.0), ((1,), 1.0), ((2, 3, 4), 1.0))), "again before every"),
    "unfinished round": (asked(steps=(((1, 2, 3, 4), 1.0), ((1,), 1.0))), "leaves bolts out"),
    "uneven steps": (asked(steps=(((1,), 1.0), ((2, 3, 4), 1.0))), "3 tools each time"),
    "two orders": (asked(steps=(*(((b,), 0.5) for b in (1, 2, 3, 4)), *(((b,), 1.0) for b in (4, 3, 2, 1)))),
                   "one order"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_does_not_fit_a_plan_is_refused(what: str) -> None:
    procedure, message = REFUSED[what]
    with pytest.raises(NotInPlanError, match=message):
        planned(procedure, 4)


def test_another_count_is_refused() -> None:
    with pytest.raises(NotInPlanError, match="for 8 bolts, KN-CW-014 has 16"):
        to_plan(JOINT, make_procedure(STAR, 8))
    with pytest.raises(NotInPlanError, match="passes and check passes have two"):
        pulls = [RingPull((b,), (1.0,)) for b in (1, 2, 4, 3)] + [RingPull((b,), (1.0,)) for b in (4, 2, 3, 1)]
        planned(free_procedure("found", pulls, 4), 4)


def test_own_settings_stand_in_the_joint_file_with_their_limit() -> None:
    text = to_plan(JOINT, make_procedure(Asked(name="s", order="star", settings=(HALF, OWN), circular_passes=1), 16))
    p = read_specification(text, "joint").procedure
    assert p.passes == (49.8, 100) and p.check_passes == 1 and p.settings_limit == 121  # highest 120.55 %
    assert p.settings == (tuple(round(100 * s, 2) for s in HALF), tuple(round(100 * s, 2) for s in OWN))
    again = to_plan(text, make_procedure(STAR, 16))  # and a plain procedure takes their place again
    assert read_specification(again, "joint").procedure.settings == () and "settings" not in again
    spread = text.replace("settings = [[", "settings = [  # by pass\n  [").replace("], [", "],\n  [")
    assert read_specification(spread, "joint").procedure.settings == p.settings
    assert read_specification(to_plan(spread, make_procedure(STAR, 16)), "joint").procedure.passes == (30, 70, 100)


def test_own_settings_do_not_go_with_a_drag_or_an_angle() -> None:
    own = make_procedure(Asked(name="s", order="star", settings=(OWN,)), 16)
    wish = 'method = "torque"'
    assert JOINT.count(wish) == 1
    with pytest.raises(NotInPlanError, match=r"drag of 12 N\.m"):
        to_plan(JOINT.replace(wish, wish + '\nprevailing_torque = "12 N.m"'), own)
    with pytest.raises(NotInPlanError, match="the method torque and angle"):
        to_plan(JOINT.replace(wish, 'method = "torque and angle"\nangle = "30 deg"\n'
                                    'angle_window = ["20 deg", "40 deg"]'), own)
