//! Requests that every test of all calculations starts from.

use serde_json::{Value, json};

/// One request, or more, for every calculation; lengths in inches, with few decimals.
pub(crate) fn requests() -> Vec<(&'static str, Value)> {
    let slide = json!({"travel_per_turn": 0.05, "ratio": 0.5, "clockwise_moves": "tool_in", "backlash": 0.004, "has_stop": true});
    let height = json!({"threads": [{"per_inch": 28, "hand": "right"}], "clockwise_moves": "edge_up"});
    let taper = json!({"travel_per_turn": 0.04, "arm": 2.5, "clockwise_moves": "far_diameter_up"});
    let readings = json!([
        {"z": 0.0, "target_diameter": 0.4, "measured_diameter": 0.4021},
        {"z": 0.2, "target_diameter": 0.6, "measured_diameter": 0.6008},
        {"z": 0.4, "target_diameter": 0.5, "measured_diameter": 0.5027},
        {"z": 0.6, "target_diameter": 0.8, "measured_diameter": 0.8003},
        {"z": 0.9, "target_diameter": 0.7, "measured_diameter": 0.7032}
    ]);
    let form = |rake: f64| {
        json!({"unit": "in", "clearance_deg": 12, "rake_deg": rake, "smallest_diameter": 0.4, "readings": readings,
            "diameter_standard_uncertainty": 0.0002, "pivot_z": 0.1, "pivot_x": 2.5,
            "adjusters": {"infeed": slide, "height": height, "taper": taper}})
    };
    vec![
        (
            "approach",
            json!({"unit": "in", "bar_diameter": 0.75, "bar_shape": "hexagon", "bar_tolerance": 0.004,
            "runout": 0.006, "smallest_diameter": 0.5, "rise": 0.2, "wanted_gap": 0.01, "working_revolutions": 100}),
        ),
        (
            "bar-stock",
            json!({"unit": "in", "bar_length": 144, "remnant": 4, "part_length": 1.25, "cutoff": 0.125,
            "facing": 0.015, "pieces": 10000, "scrap_fraction": 0.02}),
        ),
        (
            "capability",
            json!({"unit": "in", "lower_limit": 0.498, "upper_limit": 0.502,
            "readings": [0.4995, 0.5001, 0.5004, 0.4999, 0.5003, 0.4997], "confidence": 0.9,
            "tolerance_interval": {"share": 0.9, "confidence": 0.95}}),
        ),
        ("capability", json!({"unit": "in", "lower_limit": 0.498, "mean": 0.5, "standard_deviation": 0.0004, "n": 40})),
        (
            "center-height-effect",
            json!({"unit": "in", "height": 0.01, "clearance_deg": 12, "rake_deg": 8,
            "smallest_diameter": 0.4, "steps": [{"diameter": 0.4}, {"diameter": 0.7}], "hold": "tool_ways",
            "diameter_limits": {"lower": -0.001, "upper": 0.0015}, "shop_height_limit": 0.0015}),
        ),
        (
            "circular-form-profile",
            json!({"unit": "in", "tool_radius": 1.25, "face_below_center": 0.2, "rake_deg": 8,
            "smallest_diameter": 0.4, "steps": [{"diameter": 0.7}]}),
        ),
        ("control-limits", json!({"chart": "individuals", "readings": [5, 6, 5, 7, 6]})),
        ("control-limits", json!({"chart": "xbar_r", "subgroups": [[1, 2, 3], [2, 3, 4], [2, 2, 5]]})),
        ("control-limits", json!({"chart": "ewma", "readings": [5, 6, 5], "parameters": {"lambda": 0.2}})),
        (
            "control-limits",
            json!({"chart": "cusum", "readings": [5, 6, 5], "parameters": {"center": 5, "k": 0.5, "h": 4}}),
        ),
        (
            "cutting",
            json!({"unit": "in", "diameter": 0.75, "rpm": 1200, "feed_per_revolution": 0.0015,
            "radial_depth": 0.125, "approach": 0.01, "idle_seconds": 1.5, "efficiency": 0.8}),
        ),
        (
            "drill-depth",
            json!({"unit": "in", "target_depth": 0.25, "cone": {"mouth_diameter": 0.25, "pilot_diameter": 0.125,
            "pilot_length": 0.125, "included_angle_deg": 60},
            "adjuster": {"travel_per_turn": 0.1, "clockwise_moves": "deeper"}}),
        ),
        (
            "flat-form-profile",
            json!({"unit": "in", "clearance_deg": 12, "rake_deg": 5, "smallest_diameter": 0.5,
            "steps": [{"diameter": 0.75}]}),
        ),
        ("form-diagnosis", form(8.0)),
        ("form-diagnosis", form(0.0)),
        (
            "gauge-conformity",
            json!({"unit": "in", "lower_limit": 0.499, "upper_limit": 0.501, "measured": 0.5004,
            "standard_uncertainty": 0.0002}),
        ),
        ("intermittent-demand", json!({"demand": [0, 3, 0, 0, 1], "alpha": 0.2})),
        (
            "lateral-correction",
            json!({"unit": "in", "target_length": 0.75, "measured_length": 0.755,
            "measured_from": "free_end", "adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "toward_collet"}}),
        ),
        ("life-distribution", json!({"failures": [10, 20, 30], "suspensions": [40], "quantiles": [0.5]})),
        ("mtbf", json!({"total_time": 1000, "failures": 3, "confidence": 0.9, "sided": "two"})),
        (
            "regrind-outlook",
            json!({"unit": "in", "kind": "flat", "height": 1.5, "minimum_height": 0.5, "wear_land": 0.008,
            "clearance_deg": 12, "rake_deg": 8, "clean_up": 0.002, "pieces_per_grind": 1600}),
        ),
        (
            "regrind-outlook",
            json!({"unit": "in", "kind": "circular", "tool_radius": 1.2, "usable_angle_deg": 240,
            "stock_per_grind": 0.02}),
        ),
        ("reorder", json!({"demand_per_day": 0.4, "lead_time_days": 10, "model": "poisson", "service": 0.95})),
        (
            "reorder",
            json!({"demand_per_day": 40, "lead_time_days": 3, "model": "normal", "standard_deviation": 9,
            "holding_cost": 0.1, "shortage_cost": 4, "ordering_cost": 8, "method": "least_cost"}),
        ),
        (
            "screw-travel",
            json!({"unit": "in", "threads": [{"per_inch": 20, "hand": "right"}, {"pitch": 0.04, "hand": "right"}],
            "arrangement": "differential", "turns": 1.5}),
        ),
        (
            "setting-adjustment",
            json!({"unit": "in", "target": 0.5, "measured": [0.504, 0.501], "applied": [-0.004, 0.0],
            "process_standard_deviation": 0.0005}),
        ),
        (
            "slide-correction",
            json!({"unit": "in", "target_diameter": 0.5, "measured_diameters": [0.504, 0.5035, 0.505],
            "adjuster": slide, "diameter_limits": {"lower": -0.002, "upper": 0.001}}),
        ),
        (
            "taper",
            json!({"unit": "in", "near_diameter": 0.5, "far_diameter": 0.504, "distance": 1.1, "adjuster": taper,
            "target_half_angle_deg": 0.05, "diameter_standard_uncertainty": 0.0001}),
        ),
        (
            "thermal",
            json!({"unit": "in", "measured_length": 4, "part_temperature_c": 30, "gauge_temperature_c": 21,
            "part_ppm_per_c": 20, "gauge_ppm_per_c": 11.5, "part_temperature_c_uncertainty": 0.5}),
        ),
        (
            "tool-life",
            json!({"points": [{"speed": 100, "minutes": 60}, {"speed": 150, "minutes": 15}], "speed": 120,
            "cut_seconds_per_piece": 4.5}),
        ),
        ("tool-life", json!({"n": 0.25, "c": 400, "speed": 120, "wanted_minutes": 90})),
        (
            "uncertainty-budget",
            json!({"unit": "in", "components": [
            {"name": "gauge", "standard_uncertainty": 0.0002, "degrees_of_freedom": 10},
            {"name": "temperature", "standard_uncertainty": 0.0003, "sensitivity": 0.8}]}),
        ),
        (
            "wear-trend",
            json!({"unit": "in", "readings": [{"pieces": 0, "value": 0.5001}, {"pieces": 500, "value": 0.5005},
            {"pieces": 1000, "value": 0.5012}, {"pieces": 1500, "value": 0.5014}], "upper_limit": 0.505}),
        ),
    ]
}
