"""Formulas and frozen values of water, media, pumps, pipes and money."""

from filtration.base.rooms import handed_out

__all__ = [
    "CLASS_DIAMETERS_M", "DAYS_PER_YEAR", "HOURS_PER_YEAR", "LITRE_M3", "CaptureCurve", "Cooling", "Feet", "Loop",
    "Medium", "Plumbing", "Prices", "Pump", "Return", "Source", "StillWater", "Surroundings", "Tub", "Water",
    "attenuation_per_kg_m3", "capital_recovery", "caught_in_one_pass", "caught_inside", "class_shares",
    "clean_loss_pa", "cooling_kwh_year", "curve_through_betas", "dew_point_c", "fill_cooling_kwh", "flat_layers",
    "foam", "foam_rating_m", "haze_per_m", "head_curve", "held_exponent", "hose_conductance_w_m_k",
    "hose_surface_c", "hours_to_clear", "in_both_parts", "life_mean_share", "load_kg_day", "loop_of",
    "loop_of_lift_test", "permeability_m2", "plumbing_loss_pa", "present_value", "pump_heat_w", "removal_per_day",
    "return_of", "return_read", "see_through_at_end_m", "see_through_m", "sessions_held", "settling_classes",
    "spa_rule_days", "strained", "velocity_pressure_pa", "warming_k_day", "water_at",
]  # fmt: skip


def __getattr__(name: str) -> object:
    """Hand out a public name."""
    return handed_out(__name__, __all__, name)
