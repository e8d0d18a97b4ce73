"""What the forms of set I ask about in ports, warehouses and farmyards: item names, each with its words.

The points follow common pre-use practice for the machines named; the words are this project's own.
"""

from __future__ import annotations

__all__ = ["REACH_TRUCK", "STACKER", "TELEHANDLER", "TUG"]

STACKER: dict[str, dict[str, str]] = {
    "Walk round": {
        "tyres": "Tyres and rims",
        "wheel-nuts": "Wheel nuts",
        "leaks": "Oil and water leaks",
        "boom": "Boom, wear pads and pins",
        "lift-rams": "Lift and extension rams",
        "hoses": "Hoses and cable chain",
        "ladders": "Ladders, decks, handrails",
        "extinguisher": "Fire extinguisher",
    },
    "Spreader": {
        "twistlocks": "Twistlocks turn and seat",
        "flippers": "Landing pins and lamps",
        "telescope": "20 / 40 ft telescoping",
        "rotation": "Rotation and side shift",
    },
    "Levels": {
        "engine-oil": "Engine oil",
        "transmission-oil": "Transmission oil",
        "hydraulic-oil": "Hydraulic oil",
        "coolant": "Coolant",
        "fuel": "Fuel above a quarter",
    },
    "Cab and running": {
        "windows": "Windows, wipers, washers",
        "mirrors": "Mirrors and cameras",
        "seat": "Seat and seat belt",
        "load-display": "Load moment display",
        "lights": "Work and travel lights",
        "alarm": "Horn and reversing alarm",
        "brakes": "Service and park brakes",
        "steering": "Steering",
        "radio": "Radio to control",
    },
}
REACH_TRUCK: dict[str, str] = {
    "forks": "Forks - cracks, heels, locating pins",
    "mast": "Mast, chains and rollers",
    "carriage": "Reach carriage and side shift",
    "backrest": "Load backrest secure",
    "tyres": "Wheels and tyres",
    "battery": "Battery charged, lock fitted, leads sound",
    "leaks": "Hydraulic leaks",
    "overhead-guard": "Overhead guard",
    "seat": "Seat, belt and dead man's pedal",
    "controls": "Levers return to neutral",
    "horn": "Horn",
    "lights": "Blue spot lamp and beacon",
    "steering": "Steering",
    "brakes": "Brakes - foot and parking",
    "emergency-stop": "Emergency isolator",
    "plate": "Capacity plate legible",
}
TELEHANDLER: dict[str, str] = {
    "engine-oil": "Engine oil",
    "coolant": "Coolant",
    "hydraulic-oil": "Hydraulic oil",
    "fuel": "Fuel / AdBlue",
    "air-filter": "Air filter blown out",
    "tyres": "Tyres & wheel nuts",
    "boom": "Boom, pads & chains",
    "carriage": "Carriage & locking pin",
    "forks": "Forks / bucket / grab",
    "hoses": "Hoses & couplings",
    "brakes": "Foot & hand brake",
    "steering": "Steering, all modes",
    "lights": "Lights & beacon",
    "horn": "Horn & reverse bleeper",
    "mirrors": "Mirrors & windows",
    "seat-belt": "Seat belt",
    "load-indicator": "Load indicator test",
    "pick-up-hitch": "Pick-up hitch",
    "greased": "Greased",
}
TUG: dict[str, dict[str, str]] = {
    "Outside": {
        "tyres": "Tyres, wheel nuts",
        "fifth-wheel": "Fifth wheel, jaws and lock pin",
        "air-lines": "Air lines and electric suzie",
        "lift-rams": "Fifth wheel lift rams",
        "leaks": "Leaks - oil, water, air",
        "lights": "Lights, beacon, reflectors",
        "steps": "Rear door, deck and steps",
    },
    "Levels": {
        "engine-oil": "Engine oil",
        "coolant": "Coolant",
        "fuel": "Diesel",
        "washer": "Screen wash",
    },
    "In the cab": {
        "mirrors": "Mirrors and windows",
        "wipers": "Wipers",
        "seat": "Turning seat and belt",
        "horn": "Horn, reversing bleeper",
        "gauges": "Gauges, air pressure above 6 bar",
        "radio": "Yard radio / data terminal",
    },
    "Moving off": {
        "steering": "Steering",
        "brakes": "Service brake",
        "parking-brake": "Parking brake",
        "trailer-brake": "Trailer brake test",
    },
}
