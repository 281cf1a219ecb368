"""The faults of Ridgeback Landfill, and the gas that they need."""

from __future__ import annotations

from datetime import datetime, timedelta

from chemistry import CARBON_DIOXIDE, HELIUM
from faults import NOTE, UNPROVEN, Fault, Finding
from paper import Folder, minutes, stamp, standard_atmosphere
from planting import J_UJ, LOW, REJECTED, Plant, change, fault, whole

ALTITUDE, LAB_ALTITUDE = 900, 600
#: Probe -> methane, carbon dioxide, oxygen and nitrogen in %v, where waste gas has come through.
WASTE_GAS = {
    "A08": (2.6, 6.0, 11.3, 79.2), "A09": (3.4, 7.2, 8.6, 79.9), "A10": (14.0, 17.1, 2.2, 65.8),
    "B06": (5.0, 8.8, 6.4, 78.9), "B07": (5.6, 9.1, 5.9, 78.5), "B08": (6.2, 9.9, 5.1, 77.9),
    "B09": (7.1, 10.6, 4.4, 77.0), "B10": (8.3, 11.4, 3.6, 75.8),
}  # fmt: skip
#: (sample, CAS number) -> %v, None for not detected: where the meter saw hardly any, the laboratory saw none.
GIVEN: dict[tuple[str, str], float | None] = {("RL-A01", CARBON_DIOXIDE): None}
#: Readings that warn people, which change the standing of no row.
CAUTIONS = frozenset({
    ("methane-explosive", "FR-A10-methane"), ("methane-explosive", "FR-B07-methane"),
    ("methane-explosive", "FR-B08-methane"), ("methane-explosive", "FR-B09-methane"),
    ("methane-explosive", "FR-B10-methane"), ("methane-explosive", "FR-HOUSE-methane"),
    ("oxygen-deficient", "FR-HOUSE-oxygen"),
})  # fmt: skip
HIGH = ("A08", "A09", "A10", "B06", "B07", "B08", "B09", "B10", "HOUSE")


def check(meter: str, at: str, gas: str, reading: str) -> Plant:
    """What a meter showed of the known gas at one check."""
    return change("instrument_checks", {"instrument_id": meter, "at": at, "gas": gas}, reading=reading)


def on_reading(rule: str, key: str, letters: tuple[str, str], outcome: str = "broken") -> Finding:
    """A finding on a meter's reading."""
    return Finding(rule, "field_readings", f"FR-{key}", outcome, letters)


def on_sample(rule: str, number: str, letters: tuple[str, str], *, air: bool = True) -> Finding:
    """A finding on the sample's form."""
    return Finding(rule, "samples", f"RL-{number}", "broken", letters, whole(f"RL-{number}"), air)


def drawn(number: str, volume: float, receipt: float | None = None, **gauge: str) -> Plant:
    """Other gauge readings of a canister, drawn over six minutes at the flow that fits them.

    The receipt follows from the field's end and the two altitudes, unless it is given.
    """

    def plant(folder: Folder) -> None:
        row = folder.one("samples", sample_id=f"RL-{number}")
        ended = datetime.fromisoformat(row["started_at"]) + minutes(6)
        row |= {"ended_at": stamp(ended), "flow": f"{volume / 6:.0f}", **gauge}
        at_lab = receipt
        if at_lab is None:
            field = standard_atmosphere(ALTITUDE)
            at_lab = standard_atmosphere(LAB_ALTITUDE) - (field - float(row["vacuum_end"]))
        folder.one("custody", sample_id=row["sample_id"], step="2")["vacuum_receipt"] = f"{at_lab:.1f}"

    return plant


def waited(number: str, hours: float) -> Plant:
    """Bored so many hours before its purge."""

    def plant(folder: Folder) -> None:
        purge = folder.one("purges", purge_id=f"PU-{number}")
        installed = datetime.fromisoformat(purge["started_at"]) - timedelta(hours=hours)
        folder.one("probes", probe_id=f"P-{number}")["installed_at"] = stamp(installed)

    return plant


def recheck(number: str, at: str, reading: str, liquid: str = "yes") -> Plant:
    """The probe read again, with a look at what the regulation names."""

    def plant(folder: Folder) -> None:
        first = folder.one("field_readings", reading_id=f"FR-{number}-methane")
        folder.sheets["field_readings"].rows.append(
            first | {
                "reading_id": f"FR-{number}-again", "at": at, "reading": reading, "recheck_of": first["reading_id"],
                "liquid_checked": liquid, "control_well_checked": "yes", "barometer": "28.95",
            }
        )  # fmt: skip

    return plant


def helium_drifted(folder: Folder) -> None:
    """A poor check in the evening, and no laboratory value to go by."""
    check("HE-A", "2026-03-03T21:45", "helium", "8.80")(folder)
    for sample in ("RL-A04", "RL-A05"):
        folder.drop("results", sample_id=sample, cas=HELIUM)


def other_courier(folder: Folder) -> None:
    """The laboratory received the canister from a waybill that had never taken it over."""
    folder.one("custody", sample_id="RL-A02", step="2")["released_by"] = "courier waybill 39006"


def second_use(folder: Folder) -> None:
    """The tubing of A03 was used again at A09."""
    folder.one("equipment_log", probe_id="P-A09")["equipment_id"] = "SL-A03"


def tear(number: str) -> Plant:
    """The seal was found broken at the laboratory."""
    return change("custody", {"sample_id": f"RL-{number}", "step": "2"}, seal_intact="no")


def on_custody(story: str, plant: Plant, rule: str, number: str, letters: tuple[str, str]) -> Fault:
    """A fault of the second custody step of a sample."""
    return Fault(
        story, plant,
        lambda f: [
            Finding(rule, "custody", f.one("custody", sample_id=f"RL-{number}", step="2")["custody_id"], "broken",
                    letters, whole(f"RL-{number}"))
        ],
    )  # fmt: skip


def house(folder: Folder) -> None:
    """A stop at the scale house on the second morning."""
    folder.sheets["locations"].add(location_id="L-HOUSE", x="55.0", y="40.0", setting="scale house")
    for gas, reading, detector in (
        ("methane", "1.4", "infrared"), ("oxygen", "19.1", "electrochemical"),
    ):  # fmt: skip
        folder.sheets["field_readings"].add(
            reading_id=f"FR-HOUSE-{gas}", location_id="L-HOUSE", instrument_id="GM-A", at="2026-03-04T07:40", gas=gas,
            reading=reading, unit="%v", setting="structure", detector=detector,
        )  # fmt: skip


FAULTS: tuple[Fault, ...] = (
    fault(
        "On the first morning meter GM-A showed 3.00 % of 2.50 % methane. Its check at noon was good, so its morning "
        "readings of methane at A01 to A03 alone are in doubt.",
        check("GM-A", "2026-03-03T06:05", "methane", "3.00"),
        *(on_reading("instrument-checked", f"A{n:02d}-methane", J_UJ) for n in (1, 2, 3)),
    ),
    fault(
        "On the second evening meter GM-B showed 23.50 % of 20.9 % oxygen. Its readings after the good check at noon, "
        "at B09 and B10, are in doubt.",
        check("GM-B", "2026-03-04T21:45", "oxygen", "23.50"),
        *(on_reading("instrument-drift", f"B{n:02d}-oxygen", J_UJ) for n in (9, 10)),
    ),
    fault(
        "On the first evening helium meter HE-A showed 8.80 % of 10.0 %. The leak tests after noon, at A04 and A05, "
        "prove nothing; the laboratory reported no helium for them.",
        helium_drifted,
        *(
            Finding("instrument-drift", "tracer_tests", f"TT-A{n:02d}", "broken", UNPROVEN, whole(f"RL-A{n:02d}"))
            for n in (4, 5)
        ),
    ),
    fault(
        "The gases read at A04 add up to some 109 %.",
        change("field_readings", {"reading_id": "FR-A04-nitrogen"}, reading="88.4"),
        *(on_reading("gas-balance", f"A04-{gas}", J_UJ) for gas in ("methane", "carbon dioxide", "oxygen", "nitrogen")),
    ),
    fault(
        "At A01 the meter read 20.7 % oxygen and 0.1 % carbon dioxide, as outside air reads.",
        lambda folder: [
            folder.one("field_readings", reading_id=f"FR-A01-{gas}").update(reading=reading)
            for gas, reading in (("oxygen", "20.7"), ("carbon dioxide", "0.1"), ("nitrogen", "79.0"))
        ],
        on_reading("looks-like-outside-air", "A01-oxygen", NOTE),
    ),
    fault(
        "The methane at A10 was read by a combustion sensor in 2.2 % oxygen; at A08, in 11.3 %, that holds.",
        lambda folder: [
            folder.one("field_readings", reading_id=f"FR-{n}-methane").update(detector="combustion")
            for n in ("A08", "A10")
        ],
        on_reading("combustion-meter-oxygen", "A10-methane", REJECTED),
    ),
    fault(
        "At the scale house the meter read 1.4 % methane and 19.1 % oxygen: a caution each, which moves no row.",
        house,
    ),
    fault(
        "B06: exactly 5.0 % methane at the boundary is no exceedance.", lambda _: None,
    ),
    fault(
        "B08: 6.2 % methane at the boundary, read again after three days with everything that the regulation names.",
        recheck("B08", "2026-03-07T10:30", "3.9"),
    ),
    fault(
        "B07: 5.6 %, read again after three days, without a look at the liquid in the probe.",
        recheck("B07", "2026-03-07T10:10", "4.1", liquid="no"),
        on_reading("exceedance-rechecked", "B07-methane", NOTE),
    ),
    fault(
        "B09: 7.1 %, read again after nine days.",
        recheck("B09", "2026-03-13T10:30", "4.4"), on_reading("exceedance-rechecked", "B09-methane", NOTE),
    ),
    fault(
        "B10: 8.3 %, never read again.", lambda _: None,
        on_reading("exceedance-rechecked", "B10-methane", NOTE, "unproven"),
    ),
    fault(
        "Nine readings of methane over 5,000 ppmv, and three more when they were read again by the same meter; none "
        "confirmed: the laboratory was not asked for methane.",
        lambda _: None,
        Finding("methane-confirmed", "field_readings", "*", "broken", NOTE,
                named=(*(f"FR-{n}-methane" for n in HIGH), *(f"FR-B{n:02d}-again" for n in (7, 8, 9)))),
    ),
    fault(
        "The probe of RL-B01 stood under 1.4 in of water of suction before the draw; nothing could be drawn from it.",
        change("samples", {"sample_id": "RL-B01"}, probe_pressure="-1.40"),
        on_sample("suction-present", "B01", REJECTED, air=False),
    ),
    fault(
        "The probe of RL-A06 stood under exactly 1 in, which passes.",
        change("samples", {"sample_id": "RL-A06"}, probe_pressure="-1.00"),
    ),
    fault(
        "P-A07 was augered only 30 hours before it was purged.",
        waited("A07", 30), Finding("equilibration-time", "probes", "P-A07", "broken", J_UJ, whole("RL-A07")),
    ),
    fault("P-A08 was augered exactly 48 hours before it was purged.", waited("A08", 48)),
    Fault(
        "The sampling tubing of A03 was used again at A09.",
        second_use,
        lambda f: [
            Finding("tubing-new", "equipment_log", f.one("equipment_log", probe_id="P-A09")["event_id"], "broken",
                    ("J+", "-"), whole("RL-A09"))
        ],
    ),
    on_custody(
        "RL-A02 was handed to one courier's waybill and released to the laboratory by another.",
        other_courier, "custody-unbroken", "A02", UNPROVEN,
    ),
    on_custody(
        "The seal of RL-A01 was broken when the laboratory received it.", tear("A01"), "seal-intact", "A01", J_UJ,
    ),
    fault(
        "The canister of RL-B02 began at 22.0 inHg, a quarter of an atmosphere: it had not been emptied.",
        drawn("B02", 587, vacuum_start="22.0"), on_sample("canister-start", "B02", REJECTED),
    ),
    fault(
        "The canister of RL-B03, with a flow controller, ended at 0.6 inHg.",
        drawn("B03", 930, vacuum_end="0.6"), on_sample("canister-end", "B03", J_UJ),
    ),
    fault(
        "The canister of RL-B04 ended at 1.5 inHg, less than is usual.",
        drawn("B04", 900, vacuum_end="1.5"), on_sample("canister-end", "B04", NOTE),
    ),
    fault(
        "The canister of RL-B05 left the field at 9.0 inHg and came in at 4.9: a tenth of it is outside air.",
        drawn("B05", 660, receipt=4.9, vacuum_end="9.0"), on_sample("canister-held", "B05", LOW),
    ),
    fault(
        "The canister of RL-B06 left the field at 9.8 inHg and came in at 1.2: a quarter of it is outside air.",
        drawn("B06", 635, receipt=1.2, vacuum_end="9.8"), on_sample("canister-held", "B06", REJECTED),
    ),
)  # fmt: skip
