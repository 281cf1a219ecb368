"""The data dictionary: every table and column that vaporqa knows, with kind, dimension and meaning.

Hand-written and free of pandas, so that `vaporqa tables` and the schemas start at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """One column of the contract.

    Attributes
    ----------
    name : str
    kind : str
        `id`, `text`, `word`, `yes_no`, `time`, `number`, `percent`, `fraction`, `quantity`, `amount`, `unit`,
        `span`, `coordinate`.
    dimension : str
        For `quantity`: length, volume, flow, pressure, duration, temperature.
    words : tuple of str
        The closed list of a `word` column.
    key, required : bool
    unit_column : str
        For `amount`: the column that holds its unit, row by row.
    lab_time : bool
        Local times of this column are in the laboratory's zone.
    empty_is_no : bool
        An empty cell says no (it is no missing evidence).
    about : str
    supplier : str
        One of `SUPPLIERS`, where it is another than that of the table; see `supplier_of`.
    """

    name: str
    kind: str = "text"
    dimension: str = ""
    words: tuple[str, ...] = ()
    key: bool = False
    required: bool = False
    unit_column: str = ""
    lab_time: bool = False
    empty_is_no: bool = False
    about: str = ""
    supplier: str = ""


@dataclass(frozen=True, slots=True)
class TableSpec:
    """One table of the contract.

    `side` is field or laboratory (the default zone of its local times); `supplier`, one of `SUPPLIERS`, is who can fill
    in what is missing in it.
    """

    name: str
    about: str
    columns: tuple[ColumnSpec, ...]
    side: str = "field"
    supplier: str = "field crew"

    @property
    def keys(self) -> tuple[str, ...]:
        """Names of the key columns, in order."""
        return tuple(column.name for column in self.columns if column.key)

    def column(self, name: str) -> ColumnSpec | None:
        """The column called `name`, or None."""
        for column in self.columns:
            if column.name == name:
                return column
        return None


#: Who can supply what is missing.
SUPPLIERS = ("field crew", "laboratory", "project")
SAMPLE_KINDS = (
    "primary", "field_duplicate", "field_replicate", "equipment_blank", "trip_blank", "field_blank",
    "container_blank", "material_blank", "laboratory_blank", "ambient_air", "reference", "unknown",
)  # fmt: skip
MATRICES = ("soil_gas", "subslab_gas", "ambient_air", "indoor_air", "soil", "water", "unknown")
CONTAINERS = (
    "canister", "bag", "glass_bulb", "syringe", "plastic_syringe", "sorbent_tube", "passive_sampler", "vial",
    "core_sampler",
)  # fmt: skip
RESULT_KINDS = ("target", "surrogate", "internal_standard", "tentative", "observation")
QC_KINDS = (
    "method_blank", "container_blank", "control_sample", "control_sample_duplicate", "laboratory_duplicate",
    "initial_calibration", "second_source_check", "calibration_check", "tune",
)  # fmt: skip
EQUIPMENT_KINDS = ("tip", "rod", "syringe", "gauge", "manifold", "tubing", "auger", "other")
FLAG_MEANINGS = (
    "nondetect", "below_reporting_limit", "over_range", "in_blank", "diluted", "surrogate_outside",
    "control_outside", "late", "estimated", "tentative", "rejected_by_laboratory", "interference",
    "laboratory_solvent", "other",
)  # fmt: skip


def _id(
    name: str, about: str = "", *, key: bool = False, required: bool = False, empty_is_no: bool = False
) -> ColumnSpec:
    return ColumnSpec(name, "id", key=key, required=required, empty_is_no=empty_is_no, about=about)


def _text(name: str, about: str = "", *, required: bool = False, empty_is_no: bool = False) -> ColumnSpec:
    return ColumnSpec(name, "text", required=required, empty_is_no=empty_is_no, about=about)


def _word(name: str, words: tuple[str, ...], about: str = "", *, required: bool = False) -> ColumnSpec:
    return ColumnSpec(name, "word", words=words, required=required, about=about)


def _yes(name: str, about: str = "") -> ColumnSpec:
    return ColumnSpec(name, "yes_no", about=about)


def _time(name: str, about: str = "", *, required: bool = False, key: bool = False, lab: bool = False) -> ColumnSpec:
    return ColumnSpec(name, "time", required=required, key=key, lab_time=lab, about=about)


def _size(name: str, dimension: str, about: str = "", *, required: bool = False) -> ColumnSpec:
    return ColumnSpec(name, "quantity", dimension=dimension, required=required, about=about)


def _number(name: str, about: str = "", *, kind: str = "number", required: bool = False) -> ColumnSpec:
    return ColumnSpec(name, kind, required=required, about=about)


def _amount(name: str, about: str = "", *, unit: str = "", required: bool = False) -> ColumnSpec:
    return ColumnSpec(name, "amount", unit_column=unit, required=required, about=about)


def _unit(name: str, *, required: bool = False) -> ColumnSpec:
    return ColumnSpec(name, "unit", required=required, about="unit of the amounts in this row")


def _by(supplier: str, column: ColumnSpec) -> ColumnSpec:
    """The column, which another than the supplier of its table fills in."""
    return replace(column, supplier=supplier)


def _forms(suffix: str) -> tuple[ColumnSpec, ...]:
    unit = f"unit_{suffix}"
    return (
        _amount(f"result_{suffix}", f"the result by {suffix}", unit=unit),
        _unit(unit),
        _amount(f"reporting_limit_{suffix}", unit=unit),
        _amount(f"detection_limit_{suffix}", unit=unit),
        _amount(f"limit_of_detection_{suffix}", unit=unit),
    )


LOCATIONS = TableSpec(
    "locations",
    "Where.",
    (
        _id("location_id", key=True, required=True),
        ColumnSpec("x", "coordinate", about="in the unit of crs; without one, in its header's unit (deg included)"),
        ColumnSpec("y", "coordinate", about="as x"),
        _by("project", _text("crs", "coordinate reference system")),
        _size("ground_elevation", "length"),
        _text("setting"),
        _text("note"),
    ),
)

PROBES = TableSpec(
    "probes",
    "What stands in the ground.",
    (
        _id("probe_id", key=True, required=True),
        _id("location_id", required=True),
        _word("kind", ("driven", "implant", "subslab", "passive")),
        _word(
            "install_method",
            (
                "hand_driven",
                "direct_push",
                "hand_auger",
                "hollow_stem_auger",
                "rotary",
                "sonic",
                "air_hammer",
                "core_drill",
            ),
        ),
        _word("pilot_hole", ("none", "driven", "augered")),
        _time("installed_at"),
        _time("removed_at"),
        _size("depth_top", "length", "top of the open interval, below ground"),
        _size("depth_bottom", "length", "bottom of the open interval, below ground"),
        _size("total_depth", "length"),
        _size("sand_pack_top", "length"),
        _size("sand_pack_bottom", "length"),
        _number("sand_pack_porosity", kind="fraction"),
        _size("dry_seal_length", "length"),
        _number("dry_seal_porosity", kind="fraction"),
        _size("bore_diameter", "length"),
        _size("rod_length", "length", "the assembled string"),
        _size("rod_outer_diameter", "length"),
        _size("stick_up", "length"),
        _size("tubing_length", "length"),
        _size("tubing_inner_diameter", "length"),
        _size("tubing_outer_diameter", "length"),
        _word("tubing_material", ("ptfe", "fep", "peek", "nylon", "stainless", "ldpe", "hdpe", "vinyl", "other")),
        _id("tubing_lot"),
        _id("tip_id"),
        _word("tip_use", ("reusable", "dedicated")),
        _size("tip_volume", "volume"),
        _size("retraction", "length", "how far the string was drawn back to open the tip"),
        _yes("joints_checked"),
        _text("surface_seal"),
        _time("services_cleared_at", "buried services located and cleared"),
        _text("refusal"),
        _id("replaces_probe_id", empty_is_no=True),
        _size("water_depth", "length"),
        _size("structure_depth", "length"),
        _text("soil_texture"),
    ),
)

EQUIPMENT_LOG = TableSpec(
    "equipment_log",
    "What touched what, in time order.",
    (
        _id("event_id", key=True, required=True),
        _id("equipment_id", required=True),
        _word("equipment_kind", EQUIPMENT_KINDS),
        _time("at", required=True),
        _word("event", ("used", "cleaned", "blank", "retired"), required=True),
        _id("location_id"),
        _id("probe_id"),
        _id("sample_id", "the blank's, for `blank`"),
        _text("cleaning_method"),
        _yes("dried"),
        _text("by"),
    ),
)

SHUT_IN_TESTS = TableSpec(
    "shut_in_tests",
    "The train held under vacuum.",
    (
        _id("test_id", key=True, required=True),
        _id("sample_id"),
        _id("probe_id"),
        _time("started_at"),
        _time("ended_at"),
        _size("duration", "duration"),
        _size("vacuum_start", "pressure"),
        _size("vacuum_end", "pressure"),
        _id("gauge_id"),
        _size("gauge_resolution", "pressure"),
        _yes("train_changed_after"),
    ),
)

TRACER_TESTS = TableSpec(
    "tracer_tests",
    "The leak tracer.",
    (
        _id("test_id", key=True, required=True),
        _id("sample_id"),
        _id("probe_id"),
        _time("at"),
        _text("tracer", "a CAS number or a name"),
        _word("approach", ("shroud", "cloth")),
        _word("basis", ("field", "laboratory")),
        _amount("shroud_low"),
        _amount("shroud_high"),
        _amount("train_reading"),
        _yes("train_detected"),
        _amount("train_reporting_limit"),
        _amount("background"),
        _id("instrument_id"),
        _word("detector", ("thermal_conductivity", "mass_spectrometer", "other")),
    ),
)

PURGES = TableSpec(
    "purges",
    "The line cleared.",
    (
        _id("purge_id", key=True, required=True),
        _id("sample_id"),
        _id("probe_id"),
        _time("started_at"),
        _time("ended_at"),
        _size("flow", "flow"),
        _size("volume", "volume"),
        _number("strokes"),
        _size("stroke_volume", "volume"),
        _size("vacuum_highest", "pressure"),
        _number("volumes_target"),
        _size("train_volume", "volume", "manifold and others, if it counts"),
    ),
)

SAMPLES = TableSpec(
    "samples",
    "What was collected.",
    (
        _id("sample_id", key=True, required=True),
        _id("probe_id"),
        _id("location_id"),
        _word("kind", SAMPLE_KINDS, "empty is unknown"),
        _id("parent_sample_id"),
        _id("pair_id"),
        _word("matrix", MATRICES),
        _word("container", CONTAINERS),
        _id("container_id"),
        _size("container_volume", "volume"),
        _id("controller_id", empty_is_no=True),
        _id("tubing_lot"),
        _time("started_at"),
        _time("ended_at"),
        _size("flow", "flow"),
        _size("volume", "volume"),
        _by("laboratory", _size("vacuum_dispatch", "pressure")),
        _size("vacuum_start", "pressure"),
        _size("vacuum_end", "pressure"),
        _by("laboratory", _size("vacuum_receipt", "pressure")),
        _size("vacuum_highest", "pressure", "while sampling"),
        _by("laboratory", _time("received_at", lab=True)),
        _size("barometer", "pressure"),
        _size("temperature", "temperature"),
        _size("probe_pressure", "pressure", "before the draw, positive above ambient"),
        _word("water_seen", ("no", "line", "container")),
        _time("surrogate_added_at"),
        _word("preserved", ("none", "methanol", "acid", "frozen", "sealed_core")),
        _time("preserved_at"),
        _id("shipment_id"),
        _text("laboratory"),
        _text("crew"),
    ),
)

CUSTODY = TableSpec(
    "custody",
    "Hand to hand.",
    (
        _id("custody_id", key=True, required=True),
        _id("sample_id", required=True),
        _number("step", "sorts as a number", required=True),
        _text("released_by"),
        _time("released_at"),
        _by("laboratory", _text("received_by")),
        _by("laboratory", _time("received_at", "the last receipt of a sample is in the laboratory's zone")),
        _by("laboratory", _size("temperature", "temperature")),
        _by("laboratory", _yes("seal_intact")),
        _by("laboratory", _size("vacuum_receipt", "pressure")),
        _id("container_id"),
        _id("controller_id", empty_is_no=True),
        _by("laboratory", _text("condition")),
    ),
)

CONTAINERS_TABLE = TableSpec(
    "containers",
    "Canisters, bags and tubes as the laboratory sent them.",
    (
        _id("container_id", key=True, required=True),
        _word("container", CONTAINERS),
        _size("container_volume", "volume"),
        _size("vacuum_dispatch", "pressure"),
        _word("certified", ("individual", "lot", "none")),
        _time("certified_at", lab=True),
        _id("cleaning_lot"),
        _time("cleaned_at", lab=True),
        _time("leak_checked_at", lab=True),
    ),
    supplier="laboratory",
)

WEATHER = TableSpec(
    "weather",
    "Rain and barometer.",
    (
        _time("at", "end of the period", key=True, required=True),
        _size("rain", "length"),
        _size("rain_period", "duration"),
        _size("barometer", "pressure"),
        _size("temperature", "temperature"),
        _yes("ponded"),
    ),
)

INSTRUMENT_CHECKS = TableSpec(
    "instrument_checks",
    "Meters against known gas.",
    (
        _id("check_id", key=True, required=True),
        _id("instrument_id", required=True),
        _time("at", required=True),
        _word("stage", ("opening", "bump", "midday", "closing")),
        _text("gas"),
        _amount("expected", unit="unit"),
        _amount("reading", unit="unit"),
        _unit("unit"),
    ),
)

FIELD_READINGS = TableSpec(
    "field_readings",
    "Meters at the probe.",
    (
        _id("reading_id", key=True, required=True),
        _id("probe_id"),
        _id("location_id"),
        _id("instrument_id"),
        _time("at", required=True),
        _text("gas", "a CAS number or a name", required=True),
        _amount("reading", unit="unit", required=True),
        _unit("unit", required=True),
        _word("setting", ("soil", "ambient", "structure", "boundary")),
        _word(
            "detector",
            (
                "combustion",
                "infrared",
                "electrochemical",
                "photoionisation",
                "flame_ionisation",
                "thermal_conductivity",
                "mass_spectrometer",
                "other",
            ),
        ),
        _id("recheck_of", empty_is_no=True),
        _yes("liquid_checked"),
        _yes("control_well_checked"),
        _size("barometer", "pressure"),
    ),
)

RESULTS = TableSpec(
    "results",
    "One row a reported value.",
    (
        _id("result_id", "made if absent", key=True),
        _id("sample_id", required=True),
        _id("lab_sample_id"),
        _text("laboratory"),
        _id("delivery_group"),
        _id("batch_id", "preparation or analysis batch"),
        _id("run_id"),
        _word("run_kind", ("first", "dilution", "reanalysis")),
        _id("run_of", empty_is_no=True),
        _id("calibration_id"),
        _id("tune_id", "the qc_id of a tune row"),
        _text("method"),
        _text("fraction"),
        _id("cas"),
        _text("analyte", required=True),
        _word("kind", RESULT_KINDS, "empty is target"),
        _amount("result", unit="unit"),
        _unit("unit"),
        _yes("detected"),
        _amount("nondetect_at", unit="unit"),
        _amount("reporting_limit", unit="unit"),
        _amount("detection_limit", unit="unit"),
        _amount("limit_of_detection", unit="unit"),
        *_forms("mass"),
        *_forms("volume"),
        _number("dilution"),
        _text("lab_flag", empty_is_no=True),
        _yes("in_use"),
        _id("pair_id"),
        _number("recovery", kind="percent"),
        _number("recovery_low", kind="percent"),
        _number("recovery_high", kind="percent"),
        ColumnSpec("recovery_range", "span", about="70-130"),
        _number("area"),
        _number("area_low"),
        _number("area_high"),
        _text("internal_standard"),
        _by("field crew", _time("collected_at", "field time; used where samples has none")),
        _time("received_at", lab=True),
        _time("prepared_at", lab=True),
        _time("analyzed_at", lab=True),
        _id("instrument_id"),
    ),
    side="laboratory",
    supplier="laboratory",
)

LAB_QC = TableSpec(
    "lab_qc",
    "The laboratory's own control samples.",
    (
        _id("qc_id", key=True, required=True),
        _text("laboratory"),
        _id("batch_id"),
        _id("run_id"),
        _id("calibration_id"),
        _word("kind", QC_KINDS, required=True),
        _id("cas"),
        _text("analyte"),
        _text("method"),
        _amount("result", unit="unit"),
        _unit("unit"),
        _yes("detected"),
        _amount("reporting_limit", unit="unit"),
        _number("dilution"),
        _amount("spiked", unit="unit"),
        _number("recovery", kind="percent"),
        _number("recovery_low", kind="percent"),
        _number("recovery_high", kind="percent"),
        _number("rpd", kind="percent"),
        _number("rpd_high", kind="percent"),
        _number("rsd", kind="percent"),
        _number("difference", kind="percent"),
        _number("response_factor"),
        _number("area"),
        _id("parent_qc_id"),
        _id("sample_id"),
        _id("cleaning_lot"),
        _time("analyzed_at", lab=True),
        _yes("passed"),
    ),
    side="laboratory",
    supplier="laboratory",
)

SCREENING_LEVELS = TableSpec(
    "screening_levels",
    "What the numbers will be held against.",
    (
        _id("cas", key=True, required=True),
        _text("analyte"),
        ColumnSpec("matrix", "word", words=MATRICES, key=True),
        _amount("level", unit="unit", required=True),
        _unit("unit", required=True),
        _text("basis"),
    ),
    side="laboratory",
    supplier="project",
)

REQUIRED_ANALYTES = TableSpec(
    "required_analytes",
    "What the project asked the laboratory to report.",
    (_id("cas", key=True, required=True), _text("analyte"), _text("method")),
    side="laboratory",
    supplier="project",
)

ANALYTE_NAMES = TableSpec(
    "analyte_names",
    "Spellings of this project.",
    (_id("name", key=True, required=True), _id("cas", required=True)),
    side="laboratory",
    supplier="project",
)

#: Every table, in the order in which a person fills them.
TABLES: dict[str, TableSpec] = {
    spec.name: spec
    for spec in (
        LOCATIONS, PROBES, EQUIPMENT_LOG, SHUT_IN_TESTS, TRACER_TESTS, PURGES, SAMPLES, CUSTODY, CONTAINERS_TABLE,
        WEATHER, INSTRUMENT_CHECKS, FIELD_READINGS, RESULTS, LAB_QC, SCREENING_LEVELS, REQUIRED_ANALYTES,
        ANALYTE_NAMES,
    )
}  # fmt: skip


def supplier_of(table: str, column: str = "*") -> str:
    """Return who can supply a column, or a whole table: one of `SUPPLIERS`.

    What is in no table of the dictionary (keys of project.yaml stand under the table name `project`) is the project's.

    Examples
    --------
    >>> supplier_of("custody", "released_at"), supplier_of("custody", "received_at")
    ('field crew', 'laboratory')
    """
    spec = TABLES.get(table)
    if spec is None:
        return "project"
    found = spec.column(column)
    return found.supplier if found is not None and found.supplier else spec.supplier


#: Pointer -> table it points to. `tune_id` points to a lab_qc row of kind tune.
POINTERS: dict[str, dict[str, str]] = {
    "probes": {"location_id": "locations", "replaces_probe_id": "probes"},
    "equipment_log": {"location_id": "locations", "probe_id": "probes", "sample_id": "samples"},
    "shut_in_tests": {"sample_id": "samples", "probe_id": "probes"},
    "tracer_tests": {"sample_id": "samples", "probe_id": "probes"},
    "purges": {"sample_id": "samples", "probe_id": "probes"},
    "samples": {
        "probe_id": "probes",
        "location_id": "locations",
        "parent_sample_id": "samples",
        "container_id": "containers",
    },
    "custody": {"sample_id": "samples"},
    "field_readings": {"probe_id": "probes", "location_id": "locations", "recheck_of": "field_readings"},
    "results": {"sample_id": "samples", "tune_id": "lab_qc"},
    "lab_qc": {"parent_qc_id": "lab_qc", "sample_id": "samples"},
}
