"""Bolted flange assembly as formulas: bolt stress on the root area, gasket stress, torque. SI; numbers or arrays."""

from __future__ import annotations

from evenpull.joint.numeric import Num, holds


def stress_for_gasket(S_g: Num, A_g: Num, A_b: Num, n_b: Num) -> Num:
    """S_b = S_g A_g/(n_b A_b) in Pa: bolt stress that presses the whole gasket area A_g with S_g (ASME PCC-1 App. O).

    Root area A_b, n_b bolts. ValueError unless areas and number are greater than zero.
    """
    if not holds((A_b > 0) & (n_b > 0) & (A_g > 0)):
        raise ValueError(f"gasket area, bolt area and number of bolts are greater than zero, not {A_g}, {A_b}, {n_b}")
    return S_g * A_g / (n_b * A_b)


def stress_for_operation(S_g: Num, A_g: Num, p: Num, A_p: Num, phi_g: Num, A_b: Num, n_b: Num) -> Num:
    """S_b = (S_g A_g + p A_p)/(phi_g n_b A_b) in Pa: bolt stress at assembly of which the share phi_g remains,
    so that the gasket still has S_g under the pressure p on A_p (ASME PCC-1 App. O). ValueError unless 0 < phi_g <= 1.
    """
    if not holds((phi_g > 0) & (phi_g <= 1)):
        raise ValueError(f"the share that remains lies above 0 and up to 1, not {phi_g}")
    return (S_g * A_g + p * A_p) / (phi_g * n_b * A_b)


def gasket_stress(S_b: Num, A_b: Num, n_b: Num, A_g: Num, phi_g: Num = 1.0, p: Num = 0.0, A_p: Num = 0.0) -> Num:
    """S_g = (phi_g S_b A_b n_b - p A_p)/A_g in Pa: the gasket stress that a bolt stress leaves."""
    return (phi_g * S_b * A_b * n_b - p * A_p) / A_g


def table_torque(torque: Num, prestress: Num, wanted: Num) -> Num:
    """Torque of the table times wanted over tabled prestress, N.m (ASME PCC-1, note to Table 1, from memory)."""
    return torque * wanted / prestress
