"""Published studies and certified values through the study file: the same numbers as their sources print.

Sources stand with the data (tests/statistics/published.py) and with the tests of the statistics; all from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from evenpull.study import judge, read_study
from evenpull.study.result import StudyResult
from tests.statistics.published import AIAG, HOUF_BERMAN, MONTGOMERY, SIRSTV, smls
from tests.study.files import MACHINE, PROCESS, crossed_text, grouped_text, study_text


def judged(text: str) -> StudyResult:
    result = judge(read_study(text, "study.toml"))
    assert result.state == "judged", result.line
    return result


def figure(result: StudyResult, key: str) -> float:
    return next(one.value for one in result.outcome.figures if one.key == key)


def limits(result: StudyResult, key: str) -> tuple[float, float]:
    one = next(one for one in result.outcome.figures if one.key == key)
    assert one.low is not None and one.high is not None
    return one.low, one.high


def rows(result: StudyResult, title: str) -> dict[str, tuple[str, ...]]:
    table = next(one for one in result.outcome.tables if one.title.startswith(title))
    return {row[0]: row[1:] for row in table.rows}


def test_montgomery() -> None:
    """Printed: 1185.425 (19), 2.617 (2), 27.050 (38), 59.500 (60); components 10.2798, 0.0149, -0.1399, 0.9917."""
    result = judged(crossed_text(MONTGOMERY))
    anova = rows(result, "Analysis")
    assert [(anova[n][0], float(anova[n][1])) for n in ("part", "operator", "part x operator", "error")] == [
        ("19", pytest.approx(1185.425, abs=0.01)), ("2", pytest.approx(2.617, abs=1e-3)), ("38", 27.05), ("60", 59.5)]
    components = rows(result, "Components")
    assert components["interaction"][0] == "−0.1399 (counts as 0)"
    assert [components[n][0] for n in ("part", "operator", "repeatability")] == ["10.28", "0.01491", "0.9917"]
    assert any("Interaction: the estimate is negative (-0.1399) and counts as zero" in one
               for one in result.outcome.remarks)
    assert figure(result, "interaction") == 0.0 and limits(result, "interaction")[1] > 0
    short = judged(crossed_text(MONTGOMERY, more='[judged]\nmodel = "without interaction"'))
    assert [figure(short, n) ** 2 for n in ("part", "operator", "repeatability")] == pytest.approx(
        [10.2513, 0.0106, 0.8832], abs=6e-5)
    assert any("pooled into the error: it was tested with p = 0.861" in remark for remark in short.outcome.remarks)


def test_power_modules() -> None:
    """Houf and Berman: components 48.2926, 0.5646, 0.7280, 0.5111; limits of the part's variance 22.7 to 162."""
    result = judged(crossed_text(HOUF_BERMAN))
    assert [figure(result, n) ** 2 for n in ("part", "operator", "interaction", "repeatability")] == pytest.approx(
        [48.2926, 0.5646, 0.7280, 0.5111], abs=6e-5)
    low, high = limits(result, "part")
    assert (round(low**2, 1), round(high**2)) == (22.7, 162)
    means = HOUF_BERMAN.mean(axis=(0, 2))
    assert figure(result, "bias: O1") == pytest.approx(means[0] - means.mean())
    assert any(said.startswith("O1 reads or delivers") and "less" in said for said in result.outcome.says)


def test_aiag_with_its_window() -> None:
    """Printed, interaction pooled: EV 0.199933, AV 0.226838, GRR 0.302373, PV 1.042327, 4 categories."""
    more = '[window]\nlower = -3\nupper = 3\n[judged]\nmodel = "without interaction"\n[demand]\nprecision = 40'
    result = judged(crossed_text(AIAG, more=more))
    assert [figure(result, n) for n in ("repeatability", "reproducibility", "measurement", "part")] == pytest.approx(
        [0.199933, 0.226838, 0.302373, 1.042327], abs=2e-6)
    assert figure(result, "precision") == pytest.approx(100 * 6 * 0.302373 / 6, abs=2e-4)
    assert any(said.startswith("Parts are told apart into 4 groups") for said in result.outcome.says)
    assert [one.answer for one in result.outcome.demands] == ["not shown"]  # 30 % found, but three persons show little


def test_silicon_resistivity() -> None:
    """NIST StRD SiRstv as five persons on fasteners of one lot: certified F 1.18046237440255, sums of squares."""
    result = judged(grouped_text(SIRSTV))
    anova = rows(result, "Analysis")
    assert (anova["between persons"][:2], anova["within persons"][:2]) == (("4", "0.0511463"), ("20", "0.216637"))
    assert anova["between persons"][3] == "1.18"
    assert figure(result, "within") == pytest.approx(1.04076068334656e-1, rel=1e-11)
    assert figure(result, "between") ** 2 == pytest.approx((1.27865654e-2 - 1.08318280e-2) / 5)


@pytest.mark.parametrize(("constant", "digits"), [(1.0, 13), (1e6, 8.5), (1e12, 2.5)])
@pytest.mark.parametrize(
    ("repeats", "between", "within"), [(21, 1.68, 1.80), (201, 16.08, 18.0), (2001, 160.08, 180.0)]
)
def test_hard_sets(constant: float, digits: float, repeats: int, between: float, within: float) -> None:
    """NIST StRD SmLs01 to SmLs09, values read from text: certified sums of squares, as far as doubles hold them."""
    result = judged(grouped_text(smls(constant, repeats)))
    MS = between / 8, within / (9 * (repeats - 1))
    assert figure(result, "within") ** 2 == pytest.approx(MS[1], rel=10**-digits)
    assert figure(result, "between") ** 2 == pytest.approx((MS[0] - MS[1]) / repeats, rel=10**-digits)


def exact(mean: float, s: float, n: int) -> list[float]:
    x = stats.norm.ppf((np.arange(n) + 0.5) / n)
    return list(mean + s * (x - x.mean()) / x.std(ddof=1))


def test_handbook_capability() -> None:
    """NIST/SEMATECH handbook 6.1.6 (from memory): limits 8 and 20, mean 16, s 2: Cp 1.0, Cpk 0.6667. Values are written
    with 12 decimals, so that mean and s are those to some 1e-12."""
    values = [(1, f"{v:.12f}") for v in exact(16, 2, 60)]
    result = judged(study_text(MACHINE, replicates=60, rows=[(n, v) for n, (_, v) in enumerate(values, start=1)],
                               columns="replicate;value", more="[window]\nlower = 8\nupper = 20\n[demand]\nindex = 1"))
    assert (figure(result, "Cm"), figure(result, "Cmk")) == pytest.approx((1.0, 2 / 3))
    assert [one.answer for one in result.outcome.demands] == ["not so"]
    assert figure(result, "outside") == pytest.approx(100 * float(stats.norm.sf(2) + stats.norm.sf(4)))


def test_montgomery_capability() -> None:
    """Introduction to Statistical Quality Control (from memory): 38 to 62, n = 20, s = 1.75: 2.29."""
    values = [(n, f"{v:.12f}") for n, v in enumerate(exact(50, 1.75, 20), start=1)]
    result = judged(study_text(MACHINE, replicates=20, rows=values, columns="replicate;value",
                               more="[window]\nlower = 38\nupper = 62"))
    assert round(figure(result, "Cm"), 2) == 2.29
    assert limits(result, "Cm") == pytest.approx((1.57, 3.01), abs=0.01)


def test_a_process_that_wanders_is_told() -> None:
    """Groups with means one apart and scatter 0.1: the test of their means sees it, and Pp is what counts."""
    rng = np.random.default_rng(4)
    groups = [m + 0.1 * rng.normal(size=5) for m in (0.0, 1.0, 0.0, 1.0, 0.5)]
    rows_ = [(f"G{g}", n, f"{v:.6f}") for g, group in enumerate(groups) for n, v in enumerate(group, start=1)]
    result = judged(study_text(PROCESS, parts=[(f"G{g}", None) for g in range(5)], replicates=5, rows=rows_,
                               columns="group;replicate;value",
                               more="[window]\nlower = -3\nupper = 3\n[demand]\nindex = 1.2"))
    assert figure(result, "Cpk") > 3 * figure(result, "Ppk") > 0
    assert any("the process is not stable" in said for said in result.outcome.says)
    assert result.line.startswith("Ppk "), "what it did, not what it could do"
    (demand,) = result.outcome.demands
    assert demand.answer in ("not shown", "not so") and demand.what == "Ppk of at least 1.2"
    values = np.concatenate([[float(f"{v:.6f}") for v in group] for group in groups])
    assert figure(result, "Pp") == pytest.approx(6 / (6 * values.std(ddof=1)))


def test_limits_that_do_not_hold_show_nothing() -> None:
    """Two clumps far inside a wide window: the index is large, and no demand is shown by limits that take the values as
    normal. Groups with other means: nor by the limits of Ppk."""
    rng = np.random.default_rng(6)
    values = [(n, f"{(1 if n % 2 else -1) + 0.05 * rng.normal():.4f}") for n in range(1, 61)]
    more = "[window]\nlower = -40\nupper = 40\n[demand]\nindex = 1.67"
    result = judged(study_text(MACHINE, replicates=60, rows=values, columns="replicate;value", more=more))
    (demand,) = result.outcome.demands
    assert figure(result, "Cmk") > 5 and demand.answer == "not shown" and "do not look normal" in demand.words
    rows_ = [(f"G{g}", n, f"{g % 2 + 0.1 * rng.normal():.4f}") for g in range(6) for n in range(1, 6)]
    result = judged(study_text(PROCESS, parts=[(f"G{g}", None) for g in range(6)], replicates=5, rows=rows_,
                               columns="group;replicate;value", more=more))
    (demand,) = result.outcome.demands
    assert figure(result, "Ppk") > 5 and demand.answer == "not shown" and "is not stable" in demand.words
    close = [(n, f"{v:.6f}") for n, v in enumerate(exact(0, 1, 60), start=1)]
    (demand,) = judged(study_text(MACHINE, replicates=60, rows=close, columns="replicate;value",
                                  more=more)).outcome.demands
    assert demand.answer == "shown"


def test_the_same_text_gives_the_same_result() -> None:
    text = crossed_text(AIAG)
    one, two = judged(text), judged(text)
    assert one == two and not any(math.isnan(figure.value) for figure in one.outcome.figures)
