"""Instruments: what is dialled, what a certificate says, whether a tool is fit, and what follows when it was wrong.

Only the setting is exported here, because every plan needs it. The modules beside it load scipy and are imported by
name: `certificate`, `deviation`, `validity`, `interval`, `acceptance`, `failure` (certificates), `budget`, `iso6789`,
`conformity`, `risk` (uncertainty), `parts`, `assembly`, `candidate`, `fitness`, `ranking` (chains), `period`, `review`,
`review_load` (found out).
"""

from evenpull.instrument.chain import (
    ToolSetting,
    adapter_ratio,
    adapter_setting,
    hand_sensitivity,
    multiplier_setting,
    pressure_setting,
    round_to_resolution,
    tool_setting,
)

__all__ = [
    "ToolSetting", "adapter_ratio", "adapter_setting", "hand_sensitivity", "multiplier_setting", "pressure_setting",
    "round_to_resolution", "tool_setting",
]
