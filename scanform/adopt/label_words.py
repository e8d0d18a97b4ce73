"""The trade's words in labels, by what they tell of: abbreviations written out, kinds of people, places, numbers.

No outside source: usual words of check sheets in the English of several countries.
"""

from __future__ import annotations

from collections.abc import Mapping

from scanform.adopt.usual_labels import KINDS_OF_UNIT

__all__ = [
    "ABBREVIATED",
    "ALL_WORDS",
    "DATE",
    "DOCUMENT",
    "END",
    "FILLING",
    "FLUID",
    "KINDS",
    "LOOKED",
    "METER",
    "MORE_KINDS",
    "NAME",
    "NUMBER",
    "ODOMETER",
    "OTHER_DATE",
    "OTHER_PERSON",
    "OVERSEER",
    "PASSED",
    "PEOPLE",
    "PLACE",
    "PUT_RIGHT",
    "REMARKS",
    "SHIFT",
    "SHIFTS",
    "SIGN",
    "START",
    "TOLD",
    "WEEK",
    "WEEK_STARTS",
    "WORK_NUMBERED",
]  # fmt: skip

# Written short: without points, small. A stroke between two letters is dropped before this is looked up.
ABBREVIATED: Mapping[str, str] = {
    **dict.fromkeys(("op", "opr", "oper", "optr", "oprtr", "ops"), "operator"),
    **dict.fromkeys(("drv", "drvr"), "driver"),
    **dict.fromkeys(("supvr", "supv", "supr", "spvr", "sup", "super", "superv", "supvsr"), "supervisor"),
    **dict.fromkeys(("fmn", "frmn"), "foreman"),
    **dict.fromkeys(("mgr", "mngr", "mangr"), "manager"),
    **dict.fromkeys(("sig", "sgn", "sgd", "signat", "sigs"), "signature"),
    **dict.fromkeys(("dt", "dte"), "date"),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), "hours"),
    **dict.fromkeys(("mtr", "metre", "meters"), "meter"),
    **dict.fromkeys(("veh", "vehc", "vhcl", "vehcl"), "vehicle"),
    **dict.fromkeys(("equip", "eqpt", "equipt", "eqp", "eqt"), "equipment"),
    **dict.fromkeys(("mach", "mc", "mch", "machinery"), "machine"),
    **dict.fromkeys(("trk", "trks"), "truck"),
    **dict.fromkeys(("excav", "exc", "exca"), "excavator"),
    **dict.fromkeys(("gen", "genset", "gensets", "gennie"), "generator"),
    **dict.fromkeys(("loc", "locn"), "location"),
    **dict.fromkeys(("bldg", "blding"), "building"),
    **dict.fromkeys(("wk", "wks"), "week"),
    **dict.fromkeys(("mth", "mnth"), "month"),
    **dict.fromkeys(("emp", "empl"), "employee"),
    **dict.fromkeys(("tech",), "technician"),
    **dict.fromkeys(("mech",), "mechanic"),
    **dict.fromkeys(("insp", "inspr"), "inspector"),
    **dict.fromkeys(("inspd", "insptd"), "inspected"),
    **dict.fromkeys(("chk", "chkd", "ckd", "chckd"), "checked"),
    **dict.fromkeys(("rmks", "rem", "remark"), "remarks"),
    **dict.fromkeys(("cmts", "comment"), "comments"),
    **dict.fromkeys(("obs",), "observations"),
    **dict.fromkeys(("shft",), "shift"),
    **dict.fromkeys(("proj",), "project"),
    **dict.fromkeys(("odo", "spdo", "speedo"), "odometer"),
    **dict.fromkeys(("kms", "klms"), "km"),
    **dict.fromkeys(("init", "inits", "initial"), "initials"),
    **dict.fromkeys(("nr", "nbr", "num", "numb", "number", "numbers", "nos"), "no"),
}


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


KINDS = _words(KINDS_OF_UNIT)
# More machines, vehicles and what carries a number of its own.
MORE_KINDS = _words(
    "set pumpset locomotive loco engine kiln mill saw rake mast jack ladder tug spreader feeder charger hopper "
    "auger baler sprayer swather combine topper tedder mulcher shredder trommel classifier cyclone blower fan "
    "drier dryer boiler furnace press lathe robot cell line cart waggon float bogie wagonette motorcycle "
    "motorbike bike scooter cab minibus ambulance appliance aircraft helicopter drone launch workboat ship tender "
    "hovercraft derrick gantry hoister monorail winder cage skip shuttle car lhd jumbo bolter borer tbm piler "
    "piledriver vibro plate trowel poker screed finisher chipspreader planer milling jetter jumper stacker "
    "trencher ditcher flail brushcutter strimmer quadbike buggy atv utv rtv sidebyside genie mewp scissor "
    "cherrypicker bucketlift sidelift reachstacker straddle shunter dolly chassis semitrailer rigid artic hgv lgv "
    "psv pcv suv wheeler dozer excavator hauler handler lifter trucks machines vehicles loaders"
)
NUMBER = _words(
    "no id ident identity identification identifier code tag ref reference reg regn rego registration plate mark "
    "serial sn index callsign designation asset badge rn fleet vin"
)
METER = _words("hours hourmeter meter clock smu smr reading readings counter hrm ehm hm")
ODOMETER = _words("odometer mileage miles kilometres kilometers km speedometer distance")
# Of these a meter may also be one; it is not the machine's hours.
FLUID = _words(
    "fuel water flow kwh electricity electric pressure gas litres liters gallons amps volts oil temperature "
    "worked working lost down downtime standing idle man overtime travelled tide speed rain depth"
)
START = _words("start begin beginning opening open out on initial commence commencing started am")
END = _words("end finish finished close closing back off stop final in return returned after pm")
DATE = _words("date dated day dates today dmy mdy ymd ddmmyy ddmmyyyy mmddyy yyyymmdd")
OTHER_DATE = _words(
    "next last previous due expiry expires expiring birth until renewal renewed repaired rectified fixed closed "
    "cleared received ordered required hired delivered back returned serviced purchased issued corrected before "
    "since certified"
)
WEEK = _words("week weekly wc we wb fortnight")
WEEK_STARTS = _words("commencing beginning ending starting start ended begins")
PEOPLE = _words(
    "operator driver rider pilot helmsman skipper coxswain cox inspector checker examiner tester assessor "
    "mechanic fitter technician engineer electrician attendant keeper caretaker custodian janitor worker labourer "
    "laborer hand employee person user miner driller burner sawyer banksman slinger rigger plantman machinist "
    "crew competent staff member officer handler trucker haulier farmhand stockman guard watchman ranger lineman "
    "groundsman greenkeeper stoker boilerman winchman signaller teamster operative observer drover shearer "
    "loaderman craneman hoistman kilnman banksperson carter porter apprentice shotfirer blaster digger topman "
    "deckhand mate crewman lampman artisan tradesman operators drivers colleague associate"
)
OVERSEER = _words(
    "foreman forewoman foreperson supervisor superintendent manager boss leader lead ganger overseer chargehand "
    "agent controller director principal supervising charge leading chargeman deputy overman undermanager "
    "shiftboss coordinator gaffer warden"
)
OTHER_PERSON = _words(
    "customer client company contractor hirer visitor witness owner insurer supplier lessee renter firm helper "
    "passenger escort spotter second"
)
SIGN = _words("signature signed sign signoff autograph")
NAME = _words("name names print printed fullname")
LOOKED = _words(
    "checked inspected done examined completed carried conducted performed prepared filled tested operated driven "
    "used recorded assessed undertaken looked entered visited attended walked surveyed check inspection compiled"
)
PASSED = _words("approved authorised authorized reviewed verified countersigned accepted released passed endorsed")
TOLD = _words("reported told informed notified handed given passed advised escalated")
PUT_RIGHT = _words(
    "repaired rectified fixed serviced corrected cleared closed repairs mended right supplied delivered ordered "
    "received"
)
PLACE = _words(
    "site location place where area yard depot pit quarry bench project jobsite worksite job building warehouse bay "
    "hall station terminal branch base zone district farm field paddock floor level wharf quay dock hangar store "
    "compound address premises face road forest plot section sump heading stope shaft block estate park workplace "
    "factory works garage workshop shed department division region camp sector town"
)
SHIFT = _words("shift turn roster watch swing tour shifts")
SHIFTS = _words(
    "day night days nights ds ns dn afternoon morning evening early late back am pm or a b c d n i ii iii 1 2 3 "
    "1st 2nd 3rd first second third"
)
REMARKS = _words(
    "remarks comments notes defects defect faults fault problems repairs trouble complaints observations "
    "deficiencies discrepancies findings snags issues hazards details description explanation actions "
    "abnormalities particulars reasons reason damage memo"
)
WORK_NUMBERED = _words("job contract project order work docket ticket task permit")
DOCUMENT = _words(
    "docket sheet register record report log book card form check checks checklist list inspection ticket"
)
FILLING = _words(
    "the a an of your please this full and or in at block letters capitals legible print clearly here for time to "
    "be on it its that is used checked inspected current present actual total todays today engine machine run "
    "running operating service service-meter reading readings value taken from figure approx hoist main plant "
    "daily weekly own first shown both new type"
)
ALL_WORDS = frozenset().union(
    *(ABBREVIATED.values(), KINDS, MORE_KINDS, NUMBER, METER, ODOMETER, FLUID, START, END, DATE, OTHER_DATE, WEEK),
    *(WEEK_STARTS, PEOPLE, OVERSEER, OTHER_PERSON, SIGN, NAME, LOOKED, PASSED, TOLD, PUT_RIGHT, PLACE, SHIFT, REMARKS),
    *(WORK_NUMBERED, DOCUMENT, FILLING),
)
