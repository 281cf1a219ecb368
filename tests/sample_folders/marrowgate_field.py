"""Faults of the field forms of Marrowgate Plating: installation, tests of the train, purge, draw, custody, meters."""

from __future__ import annotations

from datetime import datetime

from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder, Row, minutes, stamp, standard_atmosphere
from planting import J_UJ, LOW, REJECTED, Letters, Plant, change, result_key, unproven, whole

ALTITUDE, LAB_ALTITUDE = 650, 400
HIGH: Letters = ("J+", "-")


def fault(story: str, plant: Plant | None, *findings: Finding) -> Fault:
    """A fault whose findings can be written down without looking at the rows."""
    return Fault(story, plant or (lambda _: None), lambda _: findings)


def form(table: str, number: str, **cells: str) -> Plant:
    """Other texts on a probe's or a sample's form, its shut-in test, its tracer test or its purge."""
    key, prefix = {
        "probes": ("probe_id", "P-"), "samples": ("sample_id", "MG-"), "shut_in_tests": ("test_id", "SI-"),
        "tracer_tests": ("test_id", "TT-"), "purges": ("purge_id", "PU-"),
    }[table]  # fmt: skip
    return change(table, {key: prefix + number}, **cells)


def together(*plants: Plant) -> Plant:
    """Several changes."""

    def plant(folder: Folder) -> None:
        for one in plants:
            one(folder)

    return plant


def on_form(
    rule: str, table: str, number: str, letters: Letters, outcome: str = "broken", *, air: bool = True,
    reaches: bool = True,
) -> Finding:  # fmt: skip
    """A finding on one of the forms of a sample."""
    prefix = {"probes": "P-", "samples": "MG-", "shut_in_tests": "SI-", "tracer_tests": "TT-", "purges": "PU-"}[table]
    return Finding(rule, table, prefix + number, outcome, letters, whole(f"MG-{number}") if reaches else (), air)


def on_custody(story: str, rule: str, number: str, letters: Letters, outcome: str, **cells: str) -> Fault:
    """Other texts in the second step of a sample's custody, and the finding on it."""
    wanted = {"sample_id": f"MG-{number}", "step": "2"}
    return Fault(
        story, change("custody", wanted, **cells),
        lambda f: [Finding(rule, "custody", f.one("custody", **wanted)["custody_id"], outcome, letters,
                           whole(f"MG-{number}"))],
    )  # fmt: skip


def interval(number: str, by: float) -> Plant:
    """Move the top of the open interval so many inches deeper than the retraction says."""

    def plant(folder: Folder) -> None:
        probe = folder.one("probes", probe_id=f"P-{number}")
        top = float(probe["depth_bottom"]) - (float(probe["retraction"]) - by) / 12
        probe["depth_top"] = f"{top:.3f}"

    return plant


def five_feet(folder: Folder) -> None:
    """P-A03 opens at exactly 5.00 ft, over exactly 2 in more than it was drawn back."""
    probe = folder.one("probes", probe_id="P-A03")
    rods = 5.5 + float(probe["stick_up"]) / 12
    probe |= {
        "depth_top": "5.00", "depth_bottom": "5.50", "total_depth": "5.50", "retraction": "4.0",
        "rod_length": f"{rods:.2f}", "tubing_length": f"{rods + 0.75:.2f}",
    }  # fmt: skip
    purge = folder.one("purges", purge_id="PU-A03")
    purge |= {"flow": "190", "volume": "570"}


def moved(number: str, **after: float) -> Plant:
    """Times of a shut-in test in minutes from the start of its purge."""

    def plant(folder: Folder) -> None:
        began = datetime.fromisoformat(folder.one("purges", purge_id=f"PU-{number}")["started_at"])
        test = folder.one("shut_in_tests", test_id=f"SI-{number}")
        test |= {name: stamp(began + minutes(at)) for name, at in after.items()}
        test["duration"] = f"{after['ended_at'] - after['started_at']:.0f}"

    return plant


def dedicated(*numbers: str) -> Plant:
    """The same dedicated tip at several probes; the log of reusable tips knows nothing of it."""

    def plant(folder: Folder) -> None:
        for number in numbers:
            folder.drop("equipment_log", probe_id=f"P-{number}", event="used")
            folder.one("probes", probe_id=f"P-{number}").update(tip_id="DT-5", tip_use="dedicated")

    return plant


def bare_form(folder: Folder) -> None:
    """Nothing but the name, the place and the way of driving stands on the form of P-B07; its tip was dedicated."""
    folder.drop("equipment_log", probe_id="P-B07", event="used")
    probe = folder.one("probes", probe_id="P-B07")
    kept = {
        "probe_id", "location_id", "kind", "install_method", "pilot_hole", "joints_checked", "tubing_material",
        "tubing_lot", "setting",
    }  # fmt: skip
    probe |= {name: "" for name in probe if name not in kept}
    probe["tip_use"] = "dedicated"


def first_hole(folder: Folder) -> None:
    """P-B05 replaces a hole that was given up, whose place was never measured."""
    probe = folder.one("probes", probe_id="P-B05")
    folder.sheets["locations"].add(location_id="L-B05X", setting="yard", note="refusal, not surveyed")
    folder.sheets["probes"].rows.append(
        probe | {"probe_id": "P-B05X", "location_id": "L-B05X", "tip_id": "DT-B05X", "tip_use": "dedicated"}
    )
    probe["replaces_probe_id"] = "P-B05X"


def drawn(number: str, flow: str, spent: float, volume: float) -> Plant:
    """Another flow and time of a draw; the canister holds `volume` mL when it is shut."""

    def plant(folder: Folder) -> None:
        row = folder.one("samples", sample_id=f"MG-{number}")
        barometer = standard_atmosphere(ALTITUDE)
        left = float(row["vacuum_start"]) - volume / 1000 * barometer
        ended = stamp(datetime.fromisoformat(row["started_at"]) + minutes(spent))
        row |= {"flow": flow, "ended_at": ended, "vacuum_end": f"{left:.1f}"}
        for result in folder.rows("results", sample_id=row["sample_id"]):
            result["collected_at"] = ended
        at_lab = standard_atmosphere(LAB_ALTITUDE) - barometer + left
        folder.one("custody", sample_id=row["sample_id"], step="2")["vacuum_receipt"] = f"{at_lab:.1f}"

    return plant


def received_early(folder: Folder) -> None:
    """The laboratory signed before the courier let go."""
    row = folder.one("custody", sample_id="MG-A01", step="2")
    row["released_at"] = stamp(datetime.fromisoformat(row["received_at"]) + minutes(25))


def other_container(folder: Folder) -> None:
    """The label of A05 was written down as that of a canister of another sample."""
    other = folder.one("samples", sample_id="MG-A06")["container_id"]
    folder.one("custody", sample_id="MG-A05", step="2")["container_id"] = other


def container(number: str, **cells: str) -> Plant:
    """Cells of the container of a sample."""

    def plant(folder: Folder) -> None:
        own = folder.one("samples", sample_id=f"MG-{number}")["container_id"]
        folder.one("containers", container_id=own).update(cells)

    return plant


def on_container(story: str, number: str, outcome: str, certified: str) -> Fault:
    """A container without its certificate."""
    return Fault(
        story, container(number, certified=certified),
        lambda f: [Finding("container-certified", "containers",
                           f.one("samples", sample_id=f"MG-{number}")["container_id"], outcome, NOTE)],
    )  # fmt: skip


def reading(folder: Folder, number: str, gas: str) -> Row:
    """A meter's reading at a probe."""
    return folder.one("field_readings", probe_id=f"P-{number}", gas=gas)


def sulfide(folder: Folder) -> None:
    """A meter for hydrogen sulfide, checked on the first day, and what it and the gas meter showed off the probes."""
    folder.sheets["locations"].add(location_id="L-PIT", x="610.0", y="120.0", setting="boiler house, pit")
    for key, at, stage in (("S1", "2026-04-20T06:10", "bump"), ("S2", "2026-04-20T21:50", "closing")):
        folder.sheets["instrument_checks"].add(
            check_id=f"IC-{key}", instrument_id="SM-A", at=at, stage=stage, gas="hydrogen sulfide", expected="25.0",
            reading="24.2", unit="ppmv",
        )  # fmt: skip
    for key, at, gas, value, unit, setting in (
        ("S1", "2026-04-20T07:02", "hydrogen sulfide", "12.5", "ppmv", "structure"),
        ("S2", "2026-04-20T07:09", "hydrogen sulfide", "10.0", "ppmv", "structure"),
        ("S3", "2026-04-20T07:15", "hydrogen sulfide", "0.4", "ppmv", "ambient"),
        ("S4", "2026-04-20T07:20", "hydrogen sulfide", "3.1", "ppmv", ""),
        ("S5", "2026-04-21T07:05", "hydrogen sulfide", "0.6", "ppmv", "ambient"),
        ("M1", "2026-04-20T07:20", "methane", "0.1", "%v", ""),
        ("O1", "2026-04-20T07:03", "oxygen", "19.5", "%v", "structure"),
        ("O2", "2026-04-20T07:20", "oxygen", "20.8", "%v", ""),
        ("O3", "2026-04-20T07:15", "oxygen", "20.9", "%v", "ambient"),
    ):
        folder.sheets["field_readings"].add(
            reading_id=f"FR-{key}", location_id="L-PIT", at=at,
            instrument_id="SM-A" if gas == "hydrogen sulfide" else "GM-A",
            gas=gas, reading=value, unit=unit, setting=setting, detector="electrochemical",
        )  # fmt: skip


def combustion(folder: Folder) -> None:
    """Methane by a combustion sensor, and no oxygen read beside it."""
    reading(folder, "B03", "methane")["detector"] = "combustion"
    folder.sheets["field_readings"].rows.remove(reading(folder, "B03", "oxygen"))


def cloth(folder: Folder) -> None:
    """A second test of B08, with a cloth, on whose form the tracer was not named."""
    first = folder.one("tracer_tests", test_id="TT-B08")
    folder.sheets["tracer_tests"].add(
        test_id="TT-B08C", sample_id="MG-B08", at=first["at"], approach="cloth", basis="laboratory",
    )  # fmt: skip


def idle_tubing(folder: Folder) -> None:
    """Sampling tubing whose place was not written down, and a rinse that names no sample."""
    for event, kind, cells in (
        ("E-901", "tubing", {"equipment_id": "SL-31", "event": "used"}),
        ("E-902", "tip", {"equipment_id": "MA-2", "event": "blank"}),
    ):
        folder.sheets["equipment_log"].add(
            event_id=event, equipment_kind=kind, at="2026-04-21T19:10", by="crew A", **cells,
        )  # fmt: skip


def no_custody(folder: Folder) -> None:
    """The bulb of A10 has no custody record."""
    sheet = folder.sheets["custody"]
    sheet.rows = [r for r in sheet.rows if r["sample_id"] != "MG-A10"]


FAULTS: tuple[Fault, ...] = (
    fault("The string of A01 stood out 5.5 in, too little for the jack.",
          form("probes", "A01", stick_up="5.5"),
          on_form("stick-up-clearance", "probes", "A01", NOTE, reaches=False)),
    fault("The open interval of P-A02 is 2.5 in shorter than its string was drawn back.",
          together(form("probes", "A02", retraction="4.0"), interval("A02", 2.5)),
          on_form("interval-matches-retraction", "probes", "A02", NOTE, reaches=False)),
    fault("P-A03 opens at exactly 5.00 ft, over exactly 2 in more than its string was drawn back: both hold.",
          five_feet),
    fault("The dedicated tip of P-A05 was set again the next day, at P-B06.",
          dedicated("A05", "B06"), on_form("dedicated-point-single-use", "probes", "B06", HIGH, air=False)),
    fault("P-B05 replaces a hole of which no coordinates were taken.",
          first_hole, on_form("replacement-distance", "probes", "B05", NOTE, "unproven", reaches=False)),
    fault("The form of P-B07 is bare but for its place and the way of driving.",
          bare_form,
          *(on_form(rule, "probes", "B07", UNPROVEN, "unproven", air=False)
            for rule in ("equilibration-time", "probe-depth", "tubing-reaches-tip")),
          on_form("purge-volumes", "purges", "B07", UNPROVEN, "unproven", air=False)),
    fault("How far the string of P-A10 was drawn back was not written down, nor how much gas the void then holds.",
          form("probes", "A10", retraction=""),
          on_form("tip-opened", "probes", "A10", UNPROVEN, "unproven", air=False),
          on_form("purge-volumes", "purges", "A10", UNPROVEN, "unproven", air=False)),
    fault("A length of tubing was used at a place that the log does not name, and a rinse names no sample: counted in "
          "coverage, and said nowhere else.",
          idle_tubing),
    fault("The train of A01 was held at 99 in of water.",
          form("shut_in_tests", "A01", vacuum_start="99.0", vacuum_end="98.8"),
          on_form("shut-in-vacuum", "shut_in_tests", "A01", LOW)),
    fault("The train of A02 was held for exactly one minute at exactly 100 in, and until the very minute of its purge.",
          together(moved("A02", started_at=-1, ended_at=0),
                   form("shut_in_tests", "A02", vacuum_start="100.0", vacuum_end="99.8"))),
    fault("The train of A03 was held for half a minute.",
          form("shut_in_tests", "A03", duration="0.5"), on_form("shut-in-hold", "shut_in_tests", "A03", LOW)),
    fault("The train of A05 lost exactly half an inch of water.",
          form("shut_in_tests", "A05", vacuum_start="110.0", vacuum_end="109.5"),
          on_form("shut-in-decay", "shut_in_tests", "A05", LOW)),
    fault("The train of A06 lost 0.4 in, which holds, and a fitting was changed after that.",
          form("shut_in_tests", "A06", vacuum_start="110.0", vacuum_end="109.6", train_changed_after="yes"),
          on_form("shut-in-order", "shut_in_tests", "A06", LOW)),
    fault("The shut-in test of A07 ended a minute after its purge had begun.",
          moved("A07", started_at=-1, ended_at=1), on_form("shut-in-order", "shut_in_tests", "A07", LOW)),
    fault("On the form of the shut-in test of A08 stand neither the vacuum at the start nor how long it was held.",
          form("shut_in_tests", "A08", vacuum_start="", duration="", ended_at=""),
          *(on_form(rule, "shut_in_tests", "A08", UNPROVEN, "unproven", air=False)
            for rule in ("shut-in-vacuum", "shut-in-hold", "shut-in-decay"))),
    fault("No tracer was seen in the train of A09, whose meter would have seen 0.01 %: that holds.",
          form("tracer_tests", "A09", train_detected="no", train_reading="")),
    fault("No tracer was seen in the train of A10, and what the meter could have seen is not written down.",
          form("tracer_tests", "A10", train_detected="no", train_reading="", train_reporting_limit=""),
          on_form("leak-tracer-undetected", "tracer_tests", "A10", UNPROVEN, "unproven", air=False)),
    fault("B08 was tested a second time with a cloth, on whose form no tracer is named.",
          cloth,
          Finding("cloth-tracer-recovery", "tracer_tests", "TT-B08C", "unproven", UNPROVEN, whole("MG-B08")),
          on_form("cloth-tracer-reported", "samples", "B08", UNPROVEN, "unproven", air=False)),
    fault("Neither flow nor end stand on the purge form of B09.",
          form("purges", "B09", flow="", ended_at=""),
          *(on_form(rule, "purges", "B09", UNPROVEN, "unproven", air=False)
            for rule in ("purge-flow", "purge-to-sample"))),
    fault("B01 was drawn at 210 mL/min.",
          drawn("B01", "210", 4, 830), on_form("sampling-flow", "samples", "B01", J_UJ, air=False)),
    fault("B02 was drawn at exactly 200 mL/min, and the gauge of B01 showed exactly 100 in of water.",
          together(drawn("B02", "200", 4, 800), form("samples", "B01", vacuum_highest="100"))),
    fault("The gauge of B03 showed 101 in of water during the draw.",
          form("samples", "B03", vacuum_highest="101"), on_form("sampling-vacuum", "samples", "B03", LOW)),
    fault("The canister of B06 holds 800 mL by its gauges and 500 mL by flow and time.",
          drawn("B06", "100", 5, 800), on_form("canister-fill", "samples", "B06", NOTE, reaches=False)),
    fault("The flow of the bag B09 was not written down, nor its vacuum, the pressure of its probe, or water.",
          form("samples", "B09", flow="", vacuum_highest="", probe_pressure="", water_seen=""),
          on_form("sampling-flow", "samples", "B09", UNPROVEN, "unproven", air=False)),
    Fault("B09 is a bag, to whose walls naphthalene is lost.", lambda _: None,
          lambda f: [Finding("container-suits", "samples", "MG-B09", "broken", LOW,
                             (Reach(keys=(result_key(f, "MG-B09", "91-20-3"),)),))]),
    fault("B10 was taken in a plastic syringe.", None,
          on_form("container-suits", "samples", "B10", REJECTED, air=False)),
    fault("The vacuum of the canister of A02 at dispatch was not written down.",
          form("samples", "A02", vacuum_dispatch=""),
          on_form("readings-chain", "samples", "A02", NOTE, reaches=False)),
    on_custody("The tube of A08 came in at 39.2 degF, which is exactly 4 degC; it had to be colder.",
               "storage-temperature", "A08", LOW, "broken", temperature="39.2"),
    Fault("The laboratory signed for A01 25 minutes before the courier let go of it.", received_early,
          lambda f: [Finding("custody-order", "custody", f.one("custody", sample_id="MG-A01", step="2")["custody_id"],
                             "broken", UNPROVEN, whole("MG-A01"))]),
    on_custody("When the courier let go of A02 was not written down.",
               "custody-order", "A02", NOTE, "unproven", released_at=""),
    on_custody("Who handed A03 to the laboratory was not written down.",
               "custody-unbroken", "A03", NOTE, "unproven", released_by=""),
    Fault("The laboratory wrote down another canister for A05.", other_container,
          lambda f: [Finding("identities-match", "custody",
                             f.one("custody", sample_id="MG-A05", step="2")["custody_id"], "broken", UNPROVEN,
                             whole("MG-A05"))]),
    on_custody("Nothing is said of the seal of A06.", "seal-intact", "A06", NOTE, "unproven", seal_intact=""),
    fault("The bulb of A10 has no custody record.",
          no_custody, on_form("custody-done", "samples", "A10", NOTE, reaches=False)),
    on_container("The canister of B06 was not certified.", "B06", "broken", "none"),
    on_container("Whether the canister of B05 was certified is not said.", "B05", "unproven", ""),
    Fault("Methane at P-B03 was read by a combustion sensor, and oxygen was not read.", combustion,
          lambda f: [Finding("combustion-meter-oxygen", "field_readings", reading(f, "B03", "methane")["reading_id"],
                             "unproven", UNPROVEN)]),
    fault("Carbon dioxide was not read at P-B02.",
          lambda f: f.sheets["field_readings"].rows.remove(reading(f, "B02", "carbon dioxide"))),
    fault("In the pit of the boiler house a meter showed 12.5 ppmv of hydrogen sulfide, a caution, and then exactly "
          "10, which passes, as exactly 19.5 % of oxygen does. The meter was checked on the first day alone, so the "
          "reading of the second stands on nothing; of three readings nobody wrote down where they were taken.",
          sulfide,
          unproven("instrument-checked", "field_readings", "FR-S5"),
          Finding("instrument-drift", "field_readings", "FR-S5", "unproven", NOTE)),
)  # fmt: skip
