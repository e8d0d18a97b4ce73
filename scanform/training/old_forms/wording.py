"""What old check sheets ask about, worded as different stationers would.

The points follow 30 CFR 56.14100, 49 CFR 396.11 and common walk-round practice; the words are this project's own. The
names are those of :mod:`scanform.simulate.complaints`, so that complaints fit.
"""

from __future__ import annotations

__all__ = ["ITEMS", "item", "items"]

# name: (short, usual, long-winded)
ITEMS: dict[str, tuple[str, str, str]] = {
    "leaks": ("Leaks", "Leaks under machine", "Ground below machine free of oil, coolant and fuel"),
    "tires": ("Tires", "Tires - wear and pressure", "Tires: cuts, tread, pressure, valve caps"),
    "wheels": ("Wheels", "Wheel nuts and rims", "Wheels: all nuts present and tight, rims not cracked"),
    "tracks": ("Tracks", "Track tension and pads", "Tracks: sag, pads, rollers and idlers"),
    "bucket": ("Bucket", "Bucket, teeth and edge", "Bucket: cutting edge, teeth, pins and keepers"),
    "coupler": ("Coupler", "Quick coupler locked", "Coupler: lock pin home, safety clip fitted"),
    "articulation": ("Center pin", "Articulation joint", "Articulation: pins, hoses and lock bar"),
    "lights": ("Lights", "Headlights and work lights", "Lights: head, tail, stop, turn and work lamps"),
    "reflectors": ("Beacon", "Beacon and reflectors", "Beacon turning, reflectors and marking tape clean"),
    "steps": ("Steps", "Steps and handrails", "Steps, ladders and grab rails sound and clean"),
    "mirrors": ("Mirrors", "Mirrors clean and set", "Mirrors: whole, clean, set for the driver"),
    "body": ("Body", "Dump body and tailgate", "Body: tailgate latch, hinge pins, tarp"),
    "engine-oil": ("Eng. oil", "Engine oil level", "Engine oil between the marks, color normal"),
    "hydraulic-oil": ("Hyd. oil", "Hydraulic oil level", "Hydraulic oil at sight glass, tank cap tight"),
    "coolant": ("Coolant", "Coolant level", "Coolant level and radiator cap"),
    "radiator": ("Radiator", "Radiator and fan", "Radiator fins clear, fan and shroud sound"),
    "belts": ("Belts", "Fan and drive belts", "Belts: tension, frayed edges, glazing"),
    "hoses": ("Hoses", "Hoses and fittings", "Hoses: chafing, clamps, weeping fittings"),
    "battery": ("Battery", "Battery and cables", "Battery: hold-down, terminals, cables"),
    "filter": ("Air filter", "Air filter indicator", "Air cleaner: indicator, housing clips, pre-cleaner"),
    "fuel": ("Fuel", "Fuel level and cap", "Fuel: level, cap, water drained from bowl"),
    "seat": ("Seat belt", "Seat and seat belt", "Seat locked in place, belt latches and pulls back"),
    "extinguisher": ("Fire ext.", "Fire extinguisher", "Fire extinguisher: in bracket, pinned, gauge in green"),
    "windshield": ("Glass", "Windshield and windows", "Cab glass: whole and clean on every side"),
    "wipers": ("Wipers", "Wipers and washer", "Wipers and washer work, blades sound"),
    "gauges": ("Gauges", "Gauges and warning lamps", "Gauges read normal, warning lamps go out"),
    "horn": ("Horn", "Horn", "Horn heard at a distance"),
    "backup-alarm": ("Rev. alarm", "Backup alarm", "Backup alarm sounds when reverse is engaged"),
    "camera": ("Camera", "Rear camera and screen", "Rear view camera: lens clean, picture clear"),
    "defroster": ("Heater", "Heater and defroster", "Heater, defroster and cab air"),
    "controls": ("Controls", "Levers and pedals free", "Operating controls move freely and return"),
    "hydraulics": ("Hydraulics", "Lift and tilt functions", "Hydraulics: lift, tilt, no drift"),
    "rollover": ("ROPS", "ROPS / FOPS structure", "Roll-over structure: welds, bolts, no cracks"),
    "door": ("Door", "Cab door and latch", "Cab door, latch and emergency exit"),
    "service-brake": ("Brakes", "Service brakes", "Service brakes stop the machine straight"),
    "parking-brake": ("Park brake", "Parking brake", "Parking brake holds on the test ramp"),
    "steering": ("Steering", "Steering", "Steering: no play, answers both ways"),
    "emergency-stop": ("E-stop", "Emergency stop", "Emergency stop and emergency steering"),
    "transmission": ("Gears", "Transmission", "Transmission engages smoothly in each range"),
    "greasing": ("Grease", "Greased all points", "All grease points served, central system filled"),
    "guards": ("Guards", "Guards in place", "Guards and covers over moving parts in place"),
    "air-pressure": ("Air", "Air pressure builds", "Air pressure builds, governor and low-air buzzer"),
    "chocks": ("Chocks", "Wheel chocks carried", "Wheel chocks on board and sound"),
    "radio": ("Radio", "Two-way radio", "Two-way radio answered by the office"),
    "housekeeping": ("Cab clean", "Cab clean and tidy", "Cab floor clean, nothing loose near the pedals"),
    "load-plate": ("Decals", "Plates and decals", "Capacity plate and warning decals can be read"),
}


def item(name: str, length: int = 1) -> str:
    """An item's words: ``length`` 0 short, 1 usual, 2 long-winded. KeyError for an unknown name."""
    return ITEMS[name][length]


def items(count: int, start: int = 0, step: int = 1) -> list[str]:
    """``count`` item names out of the list, every ``step``-th from ``start`` and round again, none twice."""
    names = list(ITEMS)
    order = [names[(start + k * step) % len(names)] for k in range(len(names) * step)]
    return list(dict.fromkeys(order))[:count]
