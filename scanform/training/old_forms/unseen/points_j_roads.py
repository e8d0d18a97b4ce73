"""What the forms of set J ask about in pits and on roads: item names, each with its words.

The points follow common practice of the trades and the rules that :mod:`scanform.training.old_forms.trades` names; the
words are this project's own.
"""

from __future__ import annotations

__all__ = ["BACKHOE", "BUCKET_TRUCK", "DUMP_TRUCK", "GRADER", "HAUL_TRUCK", "PIT_LOADER"]

PIT_LOADER: tuple[dict[str, dict[str, str]], dict[str, dict[str, str]]] = (
    {
        "WALK AROUND": {
            "tires": "Tires, cuts and pressure",
            "wheels": "Rims and lug nuts",
            "bucket": "Bucket, teeth, cutting edge",
            "pins": "Loader linkage and pins",
            "articulation": "Center joint",
            "hydraulics": "Cylinders and hoses",
            "leaks": "Leaks on ground",
            "steps": "Ladders and handrails",
            "lights": "Work lights, tail lights",
            "mirrors": "Mirrors and glass",
        },
        "ENGINE": {
            "engine-oil": "Engine oil level",
            "coolant": "Coolant level",
            "hydraulic-oil": "Hydraulic oil level",
            "transmission": "Transmission oil level",
            "belts": "Belts",
            "filter": "Air filter indicator",
            "battery": "Battery and cables",
            "water-separator": "Water separator drained",
        },
    },
    {
        "CAB": {
            "seat": "Seat and seat belt",
            "horn": "Horn",
            "backup-alarm": "Backup alarm",
            "gauges": "Gauges and warning lights",
            "wipers": "Wipers and washer",
            "defroster": "Heater, A/C, defroster",
            "extinguisher": "Fire extinguisher",
            "radio": "Two-way radio",
            "housekeeping": "Cab clean, no loose items",
        },
        "OPERATION": {
            "service-brake": "Service brakes",
            "parking-brake": "Parking brake",
            "steering": "Steering, both directions",
            "controls": "Lift and tilt controls",
            "strobe": "Strobe light",
        },
        "END OF SHIFT": {
            "parked": "Parked on level, bucket down",
            "fueled": "Fueled and greased",
            "master-switch": "Master switch off",
        },
    },
)
DUMP_TRUCK: tuple[dict[str, str], dict[str, str], dict[str, str]] = (
    {
        "air-compressor": "Air compressor",
        "air-lines": "Air lines",
        "battery": "Battery",
        "belts": "Belts and hoses",
        "body": "Dump body, tailgate",
        "brakes": "Brakes, service",
        "parking-brake": "Brakes, parking",
        "clutch": "Clutch",
        "coupling": "Pintle hitch, coupling",
        "defroster": "Defroster, heater",
    },
    {
        "driveline": "Drive line",
        "engine": "Engine",
        "exhaust": "Exhaust",
        "fluids": "Fluid levels",
        "frame": "Frame and springs",
        "fuel": "Fuel tanks",
        "hoist": "Hoist, PTO, hydraulics",
        "horn": "Horn",
        "lights": "Lights, all",
        "mirrors": "Mirrors",
    },
    {
        "mud-flaps": "Mud flaps",
        "reflectors": "Reflectors",
        "emergency-equipment": "Fire ext., triangles",
        "seat": "Seat belts",
        "steering": "Steering",
        "tarp": "Tarp and arms",
        "tires": "Tires",
        "transmission": "Transmission",
        "wheels": "Wheels and rims",
        "wipers": "Windshield, wipers",
    },
)
GRADER: dict[str, dict[str, str]] = {
    "Before starting": {
        "engine-oil": "Engine oil",
        "coolant": "Coolant",
        "hydraulic-oil": "Hydraulic oil",
        "fuel": "Fuel, water drained",
        "belts": "Belts and hoses",
        "tires": "Tires and lug nuts",
        "circle": "Circle, drawbar, shoes",
        "moldboard": "Moldboard and cutting edges",
        "ripper": "Scarifier / ripper teeth",
        "wing": "Wing plow (winter)",
        "leaks": "Leaks",
        "steps": "Steps and handrails",
    },
    "In the cab": {
        "seat": "Seat belt",
        "gauges": "Gauges",
        "horn": "Horn",
        "backup-alarm": "Backup alarm",
        "wipers": "Wipers and glass",
        "extinguisher": "Fire extinguisher",
        "flags": "Flags, triangles",
    },
    "Moving": {
        "service-brake": "Brakes",
        "parking-brake": "Parking brake",
        "steering": "Steering, wheel lean",
        "blade-controls": "Blade controls",
        "lights": "Lights and strobe",
    },
}
HAUL_TRUCK: tuple[dict[str, dict[str, str]], dict[str, dict[str, str]]] = (
    {
        "GROUND LEVEL": {
            "tires": "Tires and rims",
            "wheels": "Lug nuts, wedges",
            "struts": "Suspension struts",
            "leaks": "Fluid leaks",
            "steering-linkage": "Steering linkage",
            "body": "Dump body, pads, pins",
            "hoist": "Hoist cylinders",
            "lights": "Lights and reflectors",
            "steps": "Ladder and handrails",
            "chocks": "Wheel chocks",
        },
        "ENGINE": {"engine-oil": "Engine oil", "coolant": "Coolant", "belts": "Belts and fan", "fuel": "Fuel cap"},
    },
    {
        "CAB": {
            "seat": "Seat belt",
            "mirrors": "Mirrors",
            "glass": "Windshield, wipers",
            "gauges": "Gauges, warning lamps",
            "horn": "Horn",
            "radio": "Two-way radio",
            "extinguisher": "Fire extinguisher",
            "suppression": "Fire suppression",
        },
        "BRAKE TEST": {
            "service-brake": "Service brake",
            "parking-brake": "Parking brake",
            "retarder": "Retarder",
            "secondary-brake": "Secondary brake",
            "steering": "Steering, secondary",
            "backup-alarm": "Backup alarm",
        },
    },
)
BUCKET_TRUCK: tuple[dict[str, dict[str, str]], dict[str, dict[str, str]]] = (
    {
        "Chassis": {
            "tires": "Tires, wheels, lugs",
            "lights": "Headlights, turn, brake lights",
            "strobe": "Strobes / arrow board",
            "brakes": "Brakes and parking brake",
            "horn": "Horn and backup alarm",
            "mirrors": "Mirrors, windshield, wipers",
            "fluids": "Oil, coolant, washer fluid",
            "hitch": "Pintle hook, trailer plug",
        },
        "On board": {
            "chocks": "Wheel chocks (2)",
            "cones": "Cones and signs",
            "extinguisher": "Fire extinguisher",
            "first-aid": "First aid kit",
        },
    },
    {
        "Aerial unit": {
            "boom": "Boom, fiberglass wiped clean",
            "bucket": "Bucket, liner, step",
            "leveling": "Leveling rods / cables",
            "hoses": "Hoses, fittings, leaks",
            "hydraulic-oil": "Hydraulic oil level",
            "outriggers": "Outriggers, pads, alarm",
            "lower-controls": "Lower controls tried",
            "upper-controls": "Upper controls tried",
            "emergency-stop": "Emergency stop, let-down",
        },
        "Fall protection": {"harness": "Harness", "lanyard": "Lanyard", "gloves": "Rubber gloves in date"},
    },
)
BACKHOE: dict[str, dict[str, str]] = {
    "Outside": {
        "tires": "Tires and lug nuts",
        "leaks": "Leaks (look underneath)",
        "bucket": "Loader bucket and edge",
        "hoe-bucket": "Hoe bucket, teeth, pins",
        "hoses": "Hoses and cylinders",
        "stabilizers": "Stabilizers and pads",
        "boom-lock": "Boom and swing locks",
        "lights": "Lights, flashers, SMV sign",
    },
    "Under the hood": {
        "engine-oil": "Engine oil",
        "coolant": "Coolant",
        "hydraulic-oil": "Hydraulic oil",
        "belts": "Fan belt",
        "battery": "Battery",
    },
    "From the seat": {
        "seat": "Seat belt",
        "gauges": "Gauges",
        "horn": "Horn and backup alarm",
        "brakes": "Brakes, pedals latched for road",
        "steering": "Steering",
        "controls": "Loader and hoe controls",
        "extinguisher": "Fire extinguisher",
    },
}
