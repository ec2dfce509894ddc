"""Settings of single fasteners in a joint file: what they have to fit."""

from __future__ import annotations

from evenpull.plan.toml_text import Known, Source

NO_LIMIT_STATED = 100.0  # percent of the target: above it a limit has to be stated


def check_settings(source: Source, p: Known, target: Known, count: int | None) -> None:
    """Note what is wrong between `settings`, the passes, the count of fasteners and the limit of the settings."""
    place = ("procedure", "settings")
    if p.has("settings_limit") and not p.has("settings"):
        source.fault(("procedure", "settings_limit"), p.settings_limit, "it limits settings, and there are none",
                     "settings = a list for each pass, or leave the key out")
    rows: tuple[tuple[float, ...], ...] | None = p.settings
    if rows is None:
        return
    if target.method is not None and target.method != "torque":
        source.fault(place, list(rows), f"settings of single fasteners go with the method torque, the method is "
                     f"{target.method}", 'method = "torque", or leave the key out')
    passes: tuple[float, ...] | None = p.passes
    if passes is not None and len(rows) != len(passes):
        source.fault(place, list(rows), f"{len(rows)} lists of settings for {len(passes)} passes",
                     "a list for each pass; one percent alone, that of passes, where all fasteners get the same")
        return
    limit: float | None = p.settings_limit if p.has("settings_limit") else NO_LIMIT_STATED
    for number, row in enumerate(rows, start=1):
        _row(source, number, row, passes, count)
        if limit is not None and max(row) > limit:
            at = row.index(max(row))
            source.fault((*place, number - 1, at), row[at], f"{row[at]:g} % of the target is above settings_limit "
                         f"{limit:g} (pass {number}, fastener {at + 1})",
                         f"at most {limit:g}; a higher limit has to be stated: settings_limit = ...")
    if max(rows[-1]) < 100:
        source.fault((*place, len(rows) - 1), list(rows[-1]), f"the highest setting of the last pass is "
                     f"{max(rows[-1]):g} %, so the target would never be reached", "at least one of 100 or more")


def _row(source: Source, number: int, row: tuple[float, ...], passes: tuple[float, ...] | None,
         count: int | None) -> None:
    place = ("procedure", "settings", number - 1)
    if count == 1 and number == 1:
        source.fault(place, list(row), "a joint of one fastener has no settings beside those of passes",
                     "leave the key out")
    elif len(row) == 1:
        if passes is not None and row[0] != passes[number - 1]:
            source.fault((*place, 0), row[0], f"pass {number} has one setting for all fasteners, {row[0]:g} %, and "
                         f"passes says {passes[number - 1]:g} %", f"{passes[number - 1]:g}, or one for each fastener")
    elif count is not None and len(row) != count:
        source.fault(place, list(row), f"pass {number} has {len(row)} settings for {count} fasteners",
                     f"{count} percents, from fastener 1 on, or one alone for all")
