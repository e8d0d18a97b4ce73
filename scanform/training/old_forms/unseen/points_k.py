"""What set K's forms in HTML ask about: item names, each with its words, as firms of those trades would put them.

The points follow common practice of the trades and the rules that :mod:`scanform.training.old_forms.trades` names; the
words are this project's own.
"""

from __future__ import annotations

__all__ = ["AMBULANCE", "BAKKIE", "MOBILE_CRANE", "SCISSOR"]

MOBILE_CRANE: dict[str, dict[str, str]] = {
    "A.  Around the crane": {
        "leaks": "Oil, fuel and water leaks",
        "tires": "Tyres, rims and wheel nuts",
        "outriggers": "Outriggers, floats and locking pins",
        "boom": "Boom sections and wear pads",
        "hoist-rope": "Hoist rope, broken wires and reeving",
        "hook": "Hook block and safety latch",
        "slew-bolts": "Slew ring bolts",
        "counterweight": "Counterweight pins",
    },
    "B.  Engine and fluids": {
        "engine-oil": "Engine oil",
        "coolant": "Coolant",
        "hydraulic-oil": "Hydraulic oil",
        "battery": "Battery and terminals",
    },
    "C.  Cabin": {
        "load-chart": "Load chart in cabin",
        "safe-load": "Safe load indicator, self test",
        "level": "Level gauge",
        "windshield": "Glass and wipers",
        "extinguisher": "Fire extinguisher",
        "seat": "Seat and belt",
    },
    "D.  Trial run, no load": {
        "limit-hoist": "Hoist limit switch",
        "limit-boom": "Boom angle limit switch",
        "slew-brake": "Slew brake and lock",
        "service-brake": "Travel and parking brakes",
        "horn": "Horn and slew alarm",
        "lights": "Lamps and beacon",
    },
}
AMBULANCE: dict[str, dict[str, str]] = {
    "Outside": {
        "tires": "Tires and wheel nuts",
        "body": "Body damage, doors latch",
        "lights": "Head, tail and signal lights",
        "beacon": "Emergency lights, all sides",
        "siren": "Siren and air horn",
        "block-heater": "Block heater cord",
        "mirrors": "Mirrors and glass",
    },
    "Under the hood": {
        "engine-oil": "Engine oil",
        "coolant": "Coolant",
        "washer": "Washer fluid",
        "battery": "Batteries and cables",
        "belts": "Belts and hoses",
    },
    "Cab": {
        "service-brake": "Service brake",
        "parking-brake": "Parking brake",
        "steering": "Steering",
        "heater": "Heater, defrost, wipers",
        "backup-alarm": "Back-up alarm and camera",
        "radio": "Mine radio, two channels",
        "seat": "Seats and seat belts",
        "fuel": "Fuel over half",
    },
    "Patient compartment": {
        "stretcher": "Stretcher, straps, floor mount",
        "oxygen": "Oxygen, main and portable",
        "suction": "Suction unit runs",
        "defibrillator": "Defibrillator, ready light on",
        "trauma-bag": "Trauma bag sealed",
        "splints": "Splints and collars",
        "spine-board": "Spine board and straps",
        "blankets": "Blankets",
        "gloves": "Gloves and masks",
        "sharps": "Sharps container below line",
        "extinguisher": "Fire extinguisher",
    },
}
BAKKIE: dict[str, dict[str, str]] = {
    "Outside": {
        "licence-disc": "Licence disc valid",
        "tires": "Tyres, incl. spare",
        "wheels": "Wheel nuts, all on",
        "lights": "Head, brake and tail lights",
        "indicators": "Indicators and hazards",
        "windshield": "Windscreen and wipers",
        "mirrors": "Mirrors",
        "buggy-whip": "Buggy whip and flag",
        "beacon": "Amber beacon",
    },
    "Under the bonnet": {
        "engine-oil": "Engine oil",
        "coolant": "Radiator water",
        "brake-fluid": "Brake and clutch fluid",
        "battery": "Battery clamped",
        "belts": "Fan belt",
    },
    "Inside": {
        "seat": "Safety belts, every seat",
        "horn": "Hooter",
        "backup-alarm": "Reverse alarm",
        "parking-brake": "Handbrake holds",
        "service-brake": "Foot brake",
        "steering": "Steering play",
        "gauges": "Warning lights go out",
    },
    "Carried": {
        "jack": "Jack and wheel spanner",
        "triangles": "Two triangles",
        "extinguisher": "Fire extinguisher",
        "first-aid": "First aid box",
        "chocks": "Stop blocks, two",
        "load-straps": "Load straps and net",
    },
}
SCISSOR: dict[str, str] = {
    "plate": "Compliance plate, six-monthly inspection in date",
    "manual": "Operator's manual on machine",
    "leaks": "Oil leaks",
    "tires": "Tyres and wheel nuts",
    "battery": "Batteries charged, water level, leads",
    "scissor-arms": "Scissor arms, pins and welds",
    "guard-rails": "Guard rails and gate latch",
    "deck": "Deck and extension lock",
    "harness-point": "Harness anchor points",
    "pothole-guards": "Pothole guards drop",
    "tilt-alarm": "Tilt alarm",
    "ground-controls": "Ground controls",
    "platform-controls": "Platform controls",
    "emergency-stop": "Emergency stops, both",
    "emergency-lower": "Emergency lowering",
    "brakes": "Brakes hold on ramp",
    "horn": "Horn and beacon",
}
