"""What is sent to the calculators: drives, pairs of a place and a part, demands and targets, lives, months of demand."""

from typing import Any

DRIVE = {"chain": "40", "strands": 4, "driver_teeth": 17, "driven_teeth": 65, "centre_distance_mm": 381.0}
POWER = {"driver_speed_rpm": 900, "power_kw": 2.0, "service_factor": 1.0}
DRIVES = (
    {},
    {"links": 104, "centre_distance_mm": None},
    POWER,
    {**POWER, "strands": 1},
    {**POWER, "strands": 1, "lubrication": "manual"},
    {**POWER, "fixed_centres": True},
    {**POWER, "double_cut": True},
    {**POWER, "chain": "08B", "strands": 2},
    {**POWER, "chain": "16B", "centre_distance_mm": 900, "driver_speed_rpm": 60, "power_kw": 7.5},
    {**POWER, "chain": "208B", "strands": 1},
    {**POWER, "chain": "60H", "strands": 1, "driver_speed_rpm": 3_000},
    {**POWER, "driver_teeth": 9, "driven_teeth": 11},
    {"driver_teeth": 40, "driven_teeth": 20, "driver_speed_rpm": 300},
    {"chain": "09Q"},
    {"driver_teeth": 5, "driven_teeth": 401},
    {"links": 104},
    {"centre_distance_mm": 15.0},
)
DUTY = {"power_kw": 1.1, "speed_rpm": 500, "lifting": False, "service_factor": 1.4, "mating_teeth": 51} | {
    "centre_distance_mm": 500,
    "centre_adjustment_mm": [-10, 10],
    "ratio_tolerance_percent": 2,
    "links": 116,
}
PLACE = {"chain": "08B", "strands": 1, "teeth": 17, "role": "driver", "hub_style": "B", "duty": DUTY} | {
    "material": "carbon_steel",
    "hardened_teeth": False,
    "environment": ["clean_dry"],
    "shaft": {"kind": "keyed", "diameter_mm": 25, "key_width_mm": 8},
    "envelope": {"outside_diameter_mm": 90, "hub_diameter_mm": 60, "length_through_bore_mm": 30},
}
PART = {"chain": "08B", "teeth": 17, "strands": 1, "hub_style": "B", "bore_type": "plain", "bore_mm": 12} | {
    "max_bore_mm": 28,
    "hub_diameter_mm": 52,
    "length_through_bore_mm": 28,
    "material": "carbon_steel",
}
PARTS: tuple[dict[str, Any], ...] = (
    {},
    {"teeth": 18},
    {"teeth": 19},
    {"chain": "40"},
    {"chain": "10B"},
    {"strands": 2},
    {"bore_type": "finished", "bore_mm": 25, "keyway_width_mm": 8, "keyway_depth_mm": 3.3},
    {"bore_type": "finished", "bore_mm": 25.4, "keyway_width_mm": 6.35, "key_standard": "ASME B17.1"},
    {"bore_type": "tapered", "bush_size": "1108", "bore_mm": None, "max_bore_mm": None},
    {"hub_style": "C"},
    {"hub_diameter_mm": 75},
    {"length_through_bore_mm": 45},
    {"material": "stainless_steel"},
    {"outside_diameter_mm": 95},
    {"tooth_width_mm": 9.5},
    {"bore_mm": 40, "max_bore_mm": 20},
)
PLACES: tuple[dict[str, Any], ...] = (
    {"duty": {**DUTY, "lifting": True}},
    {"duty": {**DUTY, "power_kw": 30}},
    {"duty": {**DUTY, "elongation_percent": 2.6}},
    {"duty": None},
    {"environment": ["food", "washdown"], "food_contact_required": True},
    {"environment": ["abrasive"], "non_sparking_required": True},
    {"hardened_teeth": True},
    {"shaft": {"kind": "keyed", "diameter_mm": 30, "key_width_mm": 8}},
    {"shaft": {"kind": "plain", "diameter_mm": 25}},
    {"teeth": None, "shaft": None, "envelope": None},
    {"role": "idler"},
    {"colour": "blue"},
)
SERIES = [0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0]
INTERMITTENT = {"model": "intermittent", "series": SERIES, "periods_per_year": 12}
DEMANDS: tuple[dict[str, Any], ...] = (
    {"model": "poisson", "rate_per_year": 4.0},
    {"model": "poisson", "rate_per_year": 0},
    {"model": "gamma_poisson", "events": 2, "exposure_years": 3}
    | {"prior_shape": 0.8, "prior_exposure_years": 5},
    {"model": "weibull_renewal", "shape": 2.5, "scale_hours": 12_000, "hours_per_year": 6000}
    | {"ages_hours": [0, 3000, 9000, 11_000]},
    *(INTERMITTENT | {"method": method} for method in ("croston", "sba", "tsb")),
)
COST = {"kind": "cost", "unit_cost": "300.00", "holding_rate_per_year": 0.22, "order_cost": "40.00"}
TARGETS: tuple[dict[str, Any], ...] = (
    {"kind": "cycle_service_level", "value": 0.98},
    {"kind": "fill_rate", "value": 0.95},
    {"kind": "no_backorder", "value": 0.99},
    COST | {"downtime_cost_per_hour": "500", "hours_to_expedite": 8, "currency": "EUR"},
)
SUPPLIES: tuple[dict[str, Any], ...] = (
    {"lead_time_days": 45, "lead_time_sd_days": 0, "order_quantity": 1},
    {"lead_time_days": 60, "lead_time_sd_days": 15, "order_quantity": 3},
)
ENDED = [
    {"hours": hours, "ended_by": "failure", "mechanism": "wear"} for hours in (700, 900, 1000, 1100, 1300)
]
RUNNING = [{"hours": hours, "ended_by": None} for hours in (400, 800, 1300)]
LIVES: tuple[dict[str, Any], ...] = (
    {"lives": ENDED},
    {"lives": ENDED + RUNNING},
    {"lives": RUNNING},
    {"lives": []},
    {"lives": [*ENDED, {"hours": 650, "ended_by": "failure", "mechanism": "fracture"}], "mechanism": "wear"},
    {"lives": [*ENDED, {"between_hours": [500, 800], "ended_by": "failure"}], "confidence": 0.9},
    {"lives": [{"hours": hours, "ended_by": "failure"} for hours in (5, 40, 300, 2_000, 9_000)]},
    {"lives": [{"hours": 500, "ended_by": "failure", "weight": 3}, {"hours": 900, "ended_by": "preventive"}]},
    {"lives": [{"hours": 0, "ended_by": "failure"}, {"hours": -1, "ended_by": "worn"}]},
)
PERIODS = [[(row * 7 + month * 5) % 11 // 9 * (1 + row % 3) for month in range(48)] for row in range(14)]
