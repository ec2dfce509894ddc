"""The schema of typed certificates: keys, what they mean, what is allowed."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field, PlainValidator

from evenpull.equipment.schema import IntervalTable, LimitTable
from evenpull.instrument.budget import DIVISORS
from evenpull.instrument.certificate import DIRECTIONS, STAGES
from evenpull.instrument.conformity import RULES
from evenpull.plan.keys import Table, key
from evenpull.plan.schema import Serial
from evenpull.plan.values import (
    Day,
    Note,
    Share,
    Text,
    Texts,
    choice,
    finite,
    number_within,
    refuse,
    shown,
    whole_within,
)

CERTIFICATES_FORM = "evenpull certificates 1"
GUARDED_BY = "guard band of r U"  # with the agreed r in `guard`
RULE_NAMES = (*(rule.name for rule in RULES), GUARDED_BY)
MOST_POINTS = 500
ISO_6789_SYMBOLS = {
    "w_md": "torque measurement device", "w_r": "resolution", "w_rep": "reproducibility", "w_od": "output drive",
    "w_int": "interface", "w_l": "loading point", "w_re": "repeatability",
}


def _readings(value: object) -> tuple[float, ...]:
    allowed = "two to a hundred numbers in the unit of the certificate: [99.2, 99.6, 99.4]"
    if not isinstance(value, list) or not 2 <= len(value) <= 100:
        raise refuse(f"{shown(value)} is not a list of readings", allowed)
    found = tuple(finite(one) for one in value)
    if any(not 0 < one < math.inf for one in found):
        raise refuse(f"{shown(value)} holds a reading that is not greater than zero", allowed)
    return found


def _value(value: object) -> float:
    return finite(value, "a number in the unit of the certificate")


Value = Annotated[float, PlainValidator(_value)]
Variation = Annotated[float, number_within(0, 1e9, "a variation this can be")]
_IN_UNIT = "a number in the unit of the certificate"


class PointTable(Table):
    stage: Annotated[str, choice(*STAGES)] = key("before any adjustment, or after it", '"as found"', choices=STAGES)
    direction: Annotated[str, choice(*DIRECTIONS)] = key(
        "which way it was turned; either for a device that does not turn", '"clockwise"', choices=DIRECTIONS)
    nominal: Value = key("the point that was asked for", "100", allowed=_IN_UNIT)
    indicated: Value | None = key("what it showed or was set to; left out: the nominal value", "100", None,
                                  allowed=_IN_UNIT)
    reference: Value | None = key("what the standard showed; left out: the mean of the readings", "98.2", None,
                                  allowed=_IN_UNIT)
    uncertainty: Share | None = key("expanded relative uncertainty W; left out: by ISO 6789-2 from the readings",
                                    '"1.1 %"', None, allowed='share such as "1.1 %"')
    k: Annotated[float, number_within(1, 10, "a coverage factor this can be")] | None = key(
        "coverage factor of this point; left out: that of the certificate", "2.0", None, allowed="1 to 10")
    readings: Annotated[tuple[float, ...], PlainValidator(_readings)] | None = key(
        "single readings of the standard", "[97.2, 97.6, 98.0, 98.4, 98.8]", None, allowed="two or more numbers")
    resolution: Annotated[float, number_within(0, 1e9, "a resolution this can be")] | None = key(
        "r, smallest step; needed with readings", "0.5", None, allowed=_IN_UNIT)
    b_rep: Variation | None = key("reproducibility, largest less smallest mean", "0.6", None, allowed=_IN_UNIT)
    b_od: Variation | None = key("variation with the output drive", "0.4", None, allowed=_IN_UNIT)
    b_int: Variation | None = key("variation with the interface", "0.3", None, allowed=_IN_UNIT)
    b_l: Variation | None = key("variation with the loading point", "0.8", None, allowed=_IN_UNIT)
    W_md: Share | None = key("expanded relative uncertainty (k = 2) of the torque measurement device; needed with "
                             "readings", '"0.5 %"', None, allowed='share such as "0.5 %"')
    b_ep: Annotated[float, number_within(-0.3, 0.3, "a deviation of a device this can be")] | None = key(
        "known relative deviation of the device that was not corrected", "0.002", None, allowed="a share, signed")


class ContributionTable(Table):
    symbol: Text = key("symbol; those of ISO 6789-2 are " + ", ".join(ISO_6789_SYMBOLS), '"w_md"', allowed="text")
    name: Text | None = key("what it is; left out for a symbol of ISO 6789-2", '"torque measurement device"', None,
                            allowed="text")
    value: Annotated[float, number_within(0, 1, "a contribution this can be")] = key(
        "the estimate as a share of the reading", "0.005", allowed="0 to 1")
    distribution: Annotated[str, choice(*DIVISORS)] = key("its distribution, which gives the divisor",
                                                          '"normal, k = 2"', choices=tuple(DIVISORS))
    divisor: Annotated[float, number_within(0.01, 1000, "a divisor this can be")] | None = key(
        "a divisor of its own, where that of the distribution is another", "2.13", None, allowed="0.01 to 1000")
    sensitivity: Annotated[float, number_within(-1000, 1000, "a sensitivity this can be")] = key(
        "sensitivity coefficient c", "1.0", 1.0, allowed="a number")
    degrees: Annotated[int, whole_within(1, 1_000_000, "degrees of freedom cannot be")] | None = key(
        "degrees of freedom; left out: not from readings", "4", None, allowed="1 or more")


class CertificateTable(Table):
    serial: Serial = key("serial of the item that was calibrated", '"TW-0301"',
                         allowed="a serial of the register of equipment or of tools")
    number: Text = key("number printed on the certificate", '"KNC-26-0412"', allowed="text")
    calibrated: Day = key("day of the calibration", "2026-03-02", allowed="date, no quotes")
    valid_from: Day | None = key("first day of validity; left out: the day of the calibration", "2026-03-02", None,
                                 allowed="date, no quotes")
    valid_until: Day | None = key("last day of validity; left out: by the months of the interval", "2027-03-01", None,
                                  allowed="date, no quotes; needed without months")
    laboratory: Text = key("who calibrated it: laboratory or company", '"Tidewater Metrology"', allowed="text")
    by: Text | None = key("person who calibrated", '"E. Brandvold"', None, allowed="text")
    standards: Texts = key("ids of the reference standards", '["RS-01"]', allowed="a list of texts, one or more")
    replaces: Text | None = key("number of the certificate that ends with this one", '"KNC-25-0301"', None,
                                allowed="text")
    unit: Text = key("unit of all values of its points and limits", '"N.m"', allowed="N.m, lbf.ft, bar, deg, mm ...")
    permissible: Share | None = key("permissible deviation either way that it was judged by", '"4 %"', None,
                                    allowed='share such as "4 %"; left out: that of the register')
    rule: Annotated[str, choice(*RULE_NAMES)] = key("decision rule that was agreed", '"simple acceptance"',
                                                    choices=RULE_NAMES)
    guard: Annotated[float, number_within(0, 3, "a guard band factor this can be")] | None = key(
        f'r of "{GUARDED_BY}"', "0.83", None, allowed=f'0 to 3; with rule "{GUARDED_BY}" only')
    k: Annotated[float, number_within(1, 10, "a coverage factor this can be")] = key(
        "coverage factor of the stated uncertainties", "2.0", 2.0, allowed="1 to 10")
    adjusted: Text | None = key("what was done between as found and as left", '"spring set anew"', None,
                                allowed="text")
    counter: Annotated[int, whole_within(0, 2**53 - 1, "is no reading of a counter")] | None = key(
        "reading of its counter at the calibration", "1840", None, allowed="whole number")
    conditions: Text | None = key("temperature and what else matters", '"21.3 degC to 21.9 degC"', None,
                                  allowed="text")
    note: Note | None = key("remarks on the certificate", '"Dial glass scratched."', None, allowed="text")
    interval: IntervalTable | None = None
    limit: Annotated[tuple[LimitTable, ...], Field(max_length=10)] = ()
    contribution: Annotated[tuple[ContributionTable, ...], Field(max_length=50)] = ()
    point: Annotated[tuple[PointTable, ...], Field(min_length=1, max_length=MOST_POINTS)]


class CertificatesFile(Table):
    form: Annotated[str, choice(CERTIFICATES_FORM)] = key("mark of the file", f'"{CERTIFICATES_FORM}"',
                                                          choices=(CERTIFICATES_FORM,))
    certificate: Annotated[tuple[CertificateTable, ...], Field(min_length=1, max_length=1000)]
