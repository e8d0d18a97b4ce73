"""The sets of blank forms, by the letter that stands for each."""

from __future__ import annotations

from collections.abc import Mapping

from scanform.training.old_forms.catalogue import FITTING, Listed
from scanform.training.old_forms.unseen import (
    c_html,
    c_office,
    c_pads,
    c_typed,
    d_html,
    d_office,
    d_pads,
    d_typed,
    e_html,
    e_office,
    e_pads,
    f_forms,
    g_html,
    g_office,
    g_pads,
    h_forms,
    h_office,
    k_html,
    k_pads,
)

__all__ = ["SETS"]

# Once a set is measured it is worked out on, so that all are for fitting.
SETS: Mapping[str, tuple[Listed, ...]] = {
    "c": (
        Listed("chairlift-opening", "chromium", FITTING, c_html.chairlift_opening),
        Listed("council-gully", "chromium", FITTING, c_html.council_gully),
        Listed("hire-condition", "chromium", FITTING, c_html.hire_condition),
        Listed("mowing-crew", "chromium", FITTING, c_html.mowing_crew),
        Listed("harbour-crane", "reportlab", FITTING, c_pads.harbour_crane),
        Listed("quarry-week", "reportlab", FITTING, c_pads.quarry_week, covers="week"),
        Listed("digger-sections", "reportlab", FITTING, c_pads.digger_sections),
        Listed("loader-typeset", "groff", FITTING, c_typed.loader_typeset),
        Listed("tipper-by-hand", "matplotlib", FITTING, c_typed.tipper_by_hand),
        Listed("tractor-week", "libreoffice", FITTING, c_office.tractor_week, covers="week"),
        Listed("compressor-month", "libreoffice", FITTING, c_office.compressor_month, covers="month"),
        Listed("harvester-list", "libreoffice", FITTING, c_office.harvester_list),
    ),
    "d": (
        Listed("mine-loader", "chromium", FITTING, d_html.mine_loader),
        Listed("airport-tug", "chromium", FITTING, d_html.airport_tug),
        Listed("drill-tiles", "chromium", FITTING, d_html.drill_tiles),
        Listed("hoist-log", "chromium", FITTING, d_html.hoist_log, covers="month"),
        Listed("pocket-book", "chromium", FITTING, d_html.pocket_book),
        Listed("plough-card", "reportlab", FITTING, d_pads.plough_card),
        Listed("crusher-shifts", "reportlab", FITTING, d_pads.crusher_shifts),
        Listed("bus-week", "libreoffice", FITTING, d_office.bus_week, covers="week"),
        Listed("bowser-list", "libreoffice", FITTING, d_office.bowser_list),
        Listed("roller-letter", "libreoffice", FITTING, d_office.roller_letter),
        Listed("ramp-typeset", "groff", FITTING, d_typed.ramp_typeset),
        Listed("pump-by-hand", "matplotlib", FITTING, d_typed.pump_by_hand),
    ),
    "e": (
        Listed("sawmill-questions", "chromium", FITTING, e_html.sawmill_questions),
        Listed("dairy-tanker", "chromium", FITTING, e_html.dairy_tanker),
        Listed("kiln-scores", "chromium", FITTING, e_html.kiln_scores),
        Listed("depot-sidebar", "chromium", FITTING, e_html.depot_sidebar),
        Listed("tunnel-week", "chromium", FITTING, e_html.tunnel_week, covers="week"),
        Listed("dredger-card", "reportlab", FITTING, e_pads.dredger_card),
        Listed("telehandler-picture", "reportlab", FITTING, e_pads.telehandler_picture),
        Listed("chainsaw-table", "matplotlib", FITTING, e_pads.chainsaw_table),
        Listed("gravel-blocks", "libreoffice", FITTING, e_office.gravel_blocks),
        Listed("garage-week", "libreoffice", FITTING, e_office.garage_week, covers="week"),
        Listed("ranch-letter", "libreoffice", FITTING, e_office.ranch_letter),
        Listed("mill-typeset", "groff", FITTING, e_office.mill_typeset),
    ),
    "f": (
        Listed("heath-shaded", "chromium", FITTING, f_forms.heath_shaded),
        Listed("grain-groups", "chromium", FITTING, f_forms.grain_groups),
        Listed("van-week", "chromium", FITTING, f_forms.van_week, covers="week"),
        Listed("tower-light", "chromium", FITTING, f_forms.tower_light),
        Listed("depot-letters", "reportlab", FITTING, f_forms.depot_letters),
        Listed("beach-rake", "libreoffice", FITTING, f_forms.beach_rake),
    ),
    "g": (
        Listed("lift-truck-turns", "chromium", FITTING, g_html.lift_truck_turns),
        Listed("genset-tinted", "chromium", FITTING, g_html.genset_tinted, covers="week"),
        Listed("excavator-striped", "chromium", FITTING, g_html.excavator_striped),
        Listed("hire-register", "chromium", FITTING, g_html.hire_register),
        Listed("lorry-pad", "reportlab", FITTING, g_pads.lorry_pad),
        Listed("water-cart-lamps", "matplotlib", FITTING, g_pads.water_cart_lamps),
        Listed("tower-crane-clauses", "libreoffice", FITTING, g_office.tower_crane_clauses),
        Listed("pump-docket", "libreoffice", FITTING, g_office.pump_docket),
        Listed("dozer-pairs", "groff", FITTING, g_office.dozer_pairs),
    ),
    "h": (
        Listed("bucket-truck-buttons", "chromium", FITTING, h_forms.bucket_truck_buttons),
        Listed("concrete-pump-card", "chromium", FITTING, h_forms.concrete_pump_card),
        Listed("barge-crane-strip", "reportlab", FITTING, h_forms.barge_crane_strip, covers="week"),
        Listed("quad-by-hand", "matplotlib", FITTING, h_forms.quad_by_hand),
        Listed("coach-three-blocks", "libreoffice", FITTING, h_office.coach_three_blocks),
        Listed("compactor-rings", "libreoffice", FITTING, h_office.compactor_rings),
        Listed("rock-drill-typed", "groff", FITTING, h_office.rock_drill_typed),
    ),
    "k": (
        Listed("mobile-crane-remarks", "chromium", FITTING, k_html.mobile_crane_remarks),
        Listed("works-ambulance", "chromium", FITTING, k_html.works_ambulance),
        Listed("works-bakkie", "chromium", FITTING, k_html.works_bakkie),
        Listed("scissor-week", "chromium", FITTING, k_html.scissor_week, covers="week"),
        Listed("excavator-upright", "reportlab", FITTING, k_pads.excavator_upright),
        Listed("water-cart-combs", "reportlab", FITTING, k_pads.water_cart_combs),
        Listed("lift-truck-columns", "reportlab", FITTING, k_pads.lift_truck_columns),
    ),
}
