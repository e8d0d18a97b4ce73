"""What the forms of set N ask about: item names, each with its words, as firms of those trades would put them.

The points follow common practice of the trades; the words are this project's own.
"""

from __future__ import annotations

__all__ = ["BACKHOE", "BOOM_LIFT", "CRAWLER_CRANE", "PAVER", "SWEEPER", "WATER_TRUCK", "WHEELED"]

WATER_TRUCK: dict[str, dict[str, str]] = {
    "Walk round": {
        "leaks": "Ground under truck - fresh oil, fuel or coolant",
        "tyres": "Tyres - cuts, pressure, stones between duals",
        "wheel-nuts": "Wheel nuts and rims",
        "suspension": "Struts and steering linkage",
        "steps": "Steps, ladder and handrails",
        "mirrors": "Mirrors, windscreen and wipers",
    },
    "Engine compartment": {
        "engine-oil": "Engine oil level",
        "coolant": "Coolant level",
        "hydraulic-oil": "Hydraulic oil level",
        "belts": "Fan and alternator belts",
    },
    "Water system": {
        "tank": "Tank, baffles and hatch - no leaks",
        "water-pump": "Water pump and drive",
        "spray-heads": "Spray heads clear, cut off cleanly",
        "cannon": "Monitor (water cannon) moves and locks",
        "fill-pipe": "Fill pipe and valve",
    },
    "In the cab": {
        "seat-belt": "Seat and seat belt",
        "service-brake": "Service brake, tested at walking pace",
        "park-brake": "Park brake holds on ramp",
        "retarder": "Retarder",
        "steering": "Steering and secondary steering",
        "horn": "Horn and reversing alarm",
        "lights": "Lights and flashing beacon",
        "radio": "Two-way radio, call to control",
        "extinguisher": "Fire extinguisher in date, pin in",
    },
}

BOOM_LIFT: dict[str, dict[str, str]] = {
    "Walk-around": {
        "tires": "Are tires and wheels free of damage and are all lug nuts in place?",
        "leaks": "Is the machine free of oil, fuel and coolant leaks?",
        "fluids": "Are engine oil, coolant and hydraulic oil at the proper level?",
        "boom": "Are boom sections, pins and wear pads in good condition?",
        "hoses": "Are hoses, cables and the carrier track free of wear?",
        "turntable": "Are turntable bolts and covers secure?",
        "decals": "Are the decals and the capacity plate legible?",
        "manual": "Is the operator's manual in its box?",
    },
    "Ground controls": {
        "ground-stop": "Does the emergency stop shut the engine off?",
        "ground-functions": "Do all boom functions work from the ground?",
        "auxiliary-power": "Does the auxiliary (emergency) power lower the boom?",
        "tilt-alarm": "Does the tilt alarm sound?",
    },
    "Platform": {
        "gate": "Does the gate close and latch by itself?",
        "rails": "Are guard rails and anchor points sound?",
        "foot-switch": "Do controls stay dead until the foot switch is pressed?",
        "platform-stop": "Does the platform emergency stop work?",
        "drive": "Do drive, steer and brakes work normally?",
        "horn": "Do the horn and the travel alarm sound?",
        "slow-drive": "Is drive speed cut back with the boom raised?",
    },
}

CRAWLER_CRANE: tuple[dict[str, dict[str, str]], ...] = (
    {
        "Base machine": {
            "tracks": "Track pads, pins and tension",
            "rollers": "Rollers, idlers, sprockets",
            "slew-ring": "Slew ring bolts and grease",
            "counterweight": "Counterweight pinned",
            "slew-lock": "Slew lock and alarm",
            "leaks": "Oil, fuel or coolant leaks",
            "access": "Ladders, walkways, handrails",
        },
        "Engine": {
            "engine-oil": "Engine oil",
            "coolant": "Coolant",
            "hydraulic-oil": "Hydraulic oil",
            "fuel": "Fuel and water trap",
            "belts": "Fan belts and hoses",
            "batteries": "Batteries and isolator",
        },
    },
    {
        "Boom, ropes and hook": {
            "boom": "Boom lacings and chords",
            "boom-foot": "Boom foot pins",
            "sheaves": "Boom head sheaves and guards",
            "pendants": "Pendants, pins, keepers",
            "hoist-rope": "Hoist rope and anchorage",
            "boom-rope": "Boom hoist rope",
            "hook": "Hook block, latch, swivel",
        },
        "Cab and devices": {
            "load-indicator": "Load indicator, set for duty",
            "hoist-limit": "Hoist limit switch",
            "boom-limit": "Boom upper limit switch",
            "brakes": "Hoist and slew brakes",
            "wind-gauge": "Anemometer",
            "extinguisher": "Fire extinguisher",
        },
    },
)

BACKHOE: dict[str, dict[str, str]] = {
    "Before starting": {
        "engine-oil": "Engine oil level",
        "coolant": "Coolant level",
        "hydraulic-oil": "Hydraulic oil level",
        "fuel": "Fuel, and water drained from filter",
        "tyres": "Tyres, wheels and wheel nuts",
        "grease": "Pins and bushes greased",
        "hoses": "Hoses, pipes and rams for leaks",
    },
    "Loader, backhoe and stabilisers": {
        "front-bucket": "Front bucket, cutting edge and arms",
        "rear-bucket": "Rear bucket, teeth and pins",
        "quick-hitch": "Quick hitch and safety pin",
        "stabilisers": "Stabiliser legs and pads",
        "kingpost": "Kingpost clamps and slide",
    },
    "Cab and road": {
        "seat-belt": "Seat belt and seat lock",
        "brakes": "Foot brakes linked, hand brake holds",
        "steering": "Steering",
        "horn": "Horn and reversing bleeper",
        "lights": "Road lights, indicators and beacon",
        "glass": "Windows, mirrors and wipers clean",
        "plates": "Number plates clean and readable",
    },
}

SWEEPER: tuple[tuple[str, dict[str, str]], ...] = (
    (
        "LORRY",
        {
            "tyres": "Tyres and wheel nuts",
            "lights": "Lights and indicators",
            "beacons": "Beacons and work lamps",
            "mirrors": "Mirrors, cameras, glass",
            "wipers": "Wipers and washers",
            "engine-oil": "Engine oil and coolant",
            "adblue": "Fuel and AdBlue",
            "air": "Air pressure builds, no leaks",
            "brakes": "Foot and parking brake",
            "steering": "Steering",
            "horn": "Horn and reversing alarm",
            "tachograph": "Tachograph",
        },
    ),
    (
        "SWEEPING GEAR",
        {
            "channel-brushes": "Channel brushes, wear and fixings",
            "wide-broom": "Wide sweep broom",
            "nozzle": "Suction nozzle and rubbers",
            "fan": "Fan runs without shaking",
            "boom-hose": "Wander hose and boom",
            "water": "Water tank filled, filter clean",
            "jets": "Spray jets",
            "hopper": "Hopper empty and washed out",
            "door": "Rear door seal and locks",
            "prop": "Body prop in its place",
            "aux-engine": "Auxiliary engine oil and belts",
            "aux-stop": "Emergency stop on sweeping gear",
        },
    ),
)

PAVER: tuple[tuple[str, dict[str, str]], ...] = (
    (
        "TRACTOR UNIT",
        {
            "engine-oil": "Engine oil",
            "coolant": "Coolant",
            "hydraulic-oil": "Hydraulic oil",
            "leaks": "No leaks underneath",
            "tracks": "Tracks, pads and tension",
            "guards": "Guards and side panels",
            "steps": "Steps and platform clean",
            "extinguisher": "Fire extinguishers (2)",
            "stops": "Emergency stops, all tried",
            "horn": "Horn, beacon, reverse alarm",
        },
    ),
    (
        "HOPPER AND AUGERS",
        {
            "hopper": "Hopper wings and rams",
            "push-rollers": "Push rollers turn freely",
            "conveyors": "Conveyor bars and chains",
            "augers": "Auger flights and bearings",
            "feed-sensors": "Feed sensors",
            "flaps": "Front flaps and rubbers",
            "auto-grease": "Grease system topped up",
            "release-agent": "Release agent on board",
        },
    ),
    (
        "SCREED",
        {
            "screed-plates": "Plates flat and clean",
            "tampers": "Tampers and vibrators",
            "gas": "Gas bottles, hoses, burners",
            "heating": "Heating up to temperature",
            "extensions": "Extensions slide both sides",
            "screed-walk": "Walkway and end guards",
            "crown": "Crown and depth screws",
            "levelling": "Levelling control, skis",
            "locks": "Screed locks for travel",
        },
    ),
)

WHEELED: dict[str, dict[str, str]] = {
    "Engine off": {
        "engine-oil": "Engine oil",
        "coolant": "Coolant",
        "hydraulic-oil": "Hydraulic oil",
        "fuel": "Fuel / water separator",
        "leaks": "Leaks, hoses and rams",
        "tyres": "Tyres and wheel nuts",
        "blade": "Dozer blade / stabilisers",
        "bucket": "Bucket, teeth and pins",
        "hitch": "Quick hitch",
        "grease": "Greased",
        "glass": "Glass, mirrors, camera",
        "steps": "Steps and handrails",
    },
    "Engine running": {
        "gauges": "Gauges and warning lamps",
        "seat-belt": "Seat belt and lever lock",
        "service-brake": "Service and park brake",
        "steering": "Steering",
        "slew-lock": "Slew brake and road lock",
        "check-valves": "Hose burst valves / overload buzzer",
        "horn": "Horn and travel alarm",
        "lights": "Lights and beacon",
    },
}
