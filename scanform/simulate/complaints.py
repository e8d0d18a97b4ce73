"""Invented complaints as a crew would write them, by what they are about."""

from __future__ import annotations

import numpy as np

__all__ = ["COMPLAINTS", "complaint_about"]

# Keyword as it occurs in an item's name -> what is written. Written for this project.
COMPLAINTS: dict[str, tuple[str, ...]] = {
    "leak": (
        "oil drip under rear axle",
        "fresh coolant on ground",
        "hyd oil puddle below pump",
        "fuel smell, wet under tank",
        "drip at left final drive",
    ),
    "tire": (
        "left front tire low, cut in sidewall",
        "RR tire worn to cords",
        "right rear flat, nail in tread",
        "two lug nuts loose LF",
        "inner dual soft on left side",
        "chunk out of right front tire",
    ),
    "wheel": ("rim cracked right rear", "3 wheel nuts missing", "rust streaks from nuts, left front"),
    "bucket": ("cutting edge bolt missing", "two bucket teeth gone", "pin keeper broken left side"),
    "fork": ("left fork heel worn thin", "fork lock pin missing", "crack at right fork heel"),
    "mast": ("lift chain slack on left", "mast roller noisy", "mast chain dry and rusty"),
    "backrest": ("backrest bolts loose", "backrest bent at top"),
    "guard": ("overhead guard bolt missing", "weld cracked on guard post"),
    "plate": ("data plate can't be read", "load decal torn off"),
    "coupl": ("coupler lock pin worn", "safety chain hook bent", "quick coupler won't lock fully"),
    "trailer": ("air line chafed at gladhand", "trailer plug loose, lights flicker"),
    "articul": ("pin worn, joint knocks", "grease line torn at hinge"),
    "light": (
        "left tail light out",
        "no work lights rear",
        "brake lights stay on",
        "right headlamp broken",
        "turn signal fast, bulb out",
    ),
    "reflect": ("beacon not turning", "rear reflector cracked", "marking tape peeled off"),
    "step": ("bottom step bent", "handrail loose at cab", "step bolts sheared"),
    "ladder": ("ladder bolt missing", "grab rail loose"),
    "mirror": ("right mirror cracked", "mirror arm won't stay set", "left mirror gone"),
    "body": ("tailgate latch won't close", "tarp torn at front", "body pin worn"),
    "oil": ("engine oil below mark, added 2 qt", "oil milky on dipstick", "hyd oil low, hose weeping"),
    "coolant": ("coolant low again, added 1 gal", "radiator packed with dust", "lower hose soft"),
    "radiator": ("fan shroud cracked", "fins bent, runs hot"),
    "belt": ("fan belt frayed", "alternator belt squeals", "belt glazed and loose"),
    "hose": ("hose rubbed through at frame", "loose clamp on intake hose"),
    "battery": ("battery cable corroded", "hold down missing", "slow crank this morning"),
    "filter": ("air filter light on", "filter housing clip broken"),
    "fuel": ("fuel cap missing", "gas bottle bracket loose", "water in fuel bowl"),
    "seat": ("seat belt frayed", "belt won't latch", "seat stuck, won't slide", "seat switch dead"),
    "extinguish": ("extinguisher empty", "fire ext pin missing", "no extinguisher in cab"),
    "kit": ("one triangle missing", "extinguisher gauge in red"),
    "windshield": ("windshield cracked, driver side", "rear window loose in frame"),
    "window": ("door glass cracked", "window won't close"),
    "wiper": ("wiper blade torn", "wiper stops halfway", "washer pump dead"),
    "pedal": ("pedal pad gone, slippery", "oil on cab floor"),
    "gauge": ("temp gauge dead", "hour meter stuck", "oil light flickers at idle"),
    "air-pressure": ("air builds slow", "low air buzzer dead", "air leak behind cab"),
    "horn": ("horn dead", "horn weak", "horn works now and then"),
    "alarm": ("no backup alarm", "reverse alarm very faint", "alarm cuts out"),
    "camera": ("camera picture gone", "camera lens cracked"),
    "defrost": ("heater blows cold", "defroster fan dead"),
    "control": ("boom lever sticks", "joystick jerky when cold", "bucket drifts down"),
    "hydraul": ("lift slow when hot", "mast drifts down", "tilt cylinder weeps"),
    "rollover": ("crack in weld at left post", "rops bolt missing"),
    "door": ("door latch broken",),
    "service-brake": ("pedal goes to floor", "brakes pull left", "grinding from right rear brake", "soft brake pedal"),
    "parking-brake": ("park brake won't hold on ramp", "park brake light stays on", "brake lever slips"),
    "brake": ("brakes squeal and grab", "low brake fluid"),
    "steering": ("steering loose, 3 in play", "steers hard to the left", "steering cylinder leaks"),
    "inching": ("inching pedal sticks", "jumps when shifted to reverse"),
    "stop": ("emergency stop button stuck", "e-stop cover broken"),
    "report": ("last report not in cab",),
    "transmission": ("slips in second", "hard shift 2 to 3"),
    "greas": ("no grease in upper pins", "grease fitting broken off"),
}
ANYTHING: tuple[str, ...] = (
    "needs looked at",
    "loose, rattles when moving",
    "worn out, replace soon",
    "broken bracket",
    "same as yesterday, not fixed",
    "bolt missing",
    "bent, hit by a rock",
    "noise when cold",
)


def complaint_about(item_name: str, rng: np.random.Generator) -> str:
    """Words for a defect of the item; the longest keyword in its name decides, else something that fits anything."""
    fitting = sorted((word for word in COMPLAINTS if word in item_name), key=len)
    if not fitting or rng.random() < 0.06:
        return str(rng.choice(ANYTHING))
    return str(rng.choice(COMPLAINTS[fitting[-1]]))
