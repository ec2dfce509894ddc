"""The tool chain: what is dialled so that the fastener gets its torque."""

from evenpull.instrument.chain import (
    ToolSetting,
    adapter_ratio,
    adapter_setting,
    hand_sensitivity,
    multiplier_setting,
    round_to_resolution,
    tool_setting,
)

__all__ = [
    "ToolSetting", "adapter_ratio", "adapter_setting", "hand_sensitivity", "multiplier_setting", "round_to_resolution",
    "tool_setting",
]
