"""The project file of Bramblegate Dyeworks: a mapping that uses every word that a mapping knows."""

PROJECT = """\
project: Bramblegate Dyeworks       # invented
purpose: property transaction
time_zone: America/New_York
lab_time_zone: America/New_York
altitude: 120 ft
lab_altitude: 60 ft
reference: {{temperature: 25 degC, pressure: 1 atm}}
stage: 2A
leave_out:
  shut_in: no form of a shut-in test was supplied; the consultant was told in writing
  leak_tracer: no form of a leak test was supplied; the consultant was told in writing
  sampling: gauges and flows of the containers were not supplied
  decontamination: every tip was dedicated, and no wash log was kept
  custody: the custody forms are with the consultant's lawyer
  field_instruments: no meter was used
  container-blank: the cleaning lots of the containers are not named
  container-certified: the cleaning lots of the containers are not named
  material-blank: the lots of tubing are not named
  control-sample-recovery: control samples were not asked for
  control-sample-precision: control samples were not asked for
missing: ["--"]
tables:
  probes:
    - file: field/crew_a_probes.csv
      header_row: 2                 # a title stands above it
      columns:
        probe_id: Hole
        location_id: "Loc."
        installed_at: [Date in, Time in]
        install_method: How
        depth_top: "Top (ft)"
        depth_bottom: "Bottom (ft)"
        retraction: "Drawn back (in)"
        rod_length: "String (ft)"
        rod_outer_diameter: "Rod OD (in)"
        tubing_length: "Tube (ft)"
        tubing_inner_diameter: "Tube ID (in)"
        tubing_material: Tube made of
        tip_id: Tip
        joints_checked: Joints OK
      formats: {{installed_at: "%m/%d/%Y %I:%M %p"}}
      values: {{install_method: {{DP: direct_push}}, tubing_material: {{T: ptfe, "*": other}}}}
      fixed: {{kind: driven, pilot_hole: none, tip_use: dedicated}}
      units: {{depth_top: ft, depth_bottom: ft, retraction: in, rod_length: ft, rod_outer_diameter: in,
              tubing_length: ft, tubing_inner_diameter: in}}
    - file: field/crew_b_probes.tsv
      columns:
        probe_id: Probe no.
        location_id: Station
        installed_at: Set
        depth_top: Top
        depth_bottom: Bottom
        retraction: Pulled
        rod_length: Rods
        rod_outer_diameter: Rod OD
        tubing_length: Tubing
        tubing_length_unit: Tubing unit    # row by row
        tubing_inner_diameter: Bore
        tubing_material: Material
        tip_id: Tip no.
        joints_checked: Joints
      fixed: {{kind: driven, install_method: direct_push, pilot_hole: none, tip_use: dedicated}}
  purges:
    - file: field/crew_a_purges.csv
      skip_rows: [2]                # a units row
      columns: {{purge_id: "No.", sample_id: Sample, started_at: [Day, Start], ended_at: [Day, Stop], flow: Rate,
                volume: Amount, vacuum_highest: Peak}}
      formats: {{started_at: "%m/%d/%Y %H:%M", ended_at: "%m/%d/%Y %H:%M"}}
      units: {{flow: mL/min, volume: mL, vacuum_highest: inH2O}}
    - file: field/crew_b_purges.csv
      columns: {{purge_id: Purge, sample_id: For, started_at: From, ended_at: To, flow: L/min, volume: L,
                vacuum_highest: Vac}}
      units: {{flow: L/min, volume: L}}
  results:
    - file: deliveries/laboratory_a.xlsx
      sheet: Page 1
      header_row: 6
      skip_rows: {page_1}       # a units row, and notes below
      two_forms: true
      columns: {{sample_id: [Site, Client ID], cas: "CAS No.", analyte: Parameter, result: Result, unit: Units,
                reporting_limit: RL, lab_flag: Q, received_at: Received, analyzed_at: Analyzed, batch_id: Batch,
                dilution: Dilution}}
      units: {{reporting_limit: unit}}
      fixed: {{method: TO-15, laboratory: Laboratory A}}
      lab_flags: {{U: nondetect, J: below_reporting_limit, E: over_range, S: surrogate_outside}}
      kinds: {{surrogate: ["% Toluene-d8", "% Bromofluorobenzene"]}}
    - file: deliveries/laboratory_a.xlsx
      sheet: Page 2
      header_row: 6
      skip_rows: {page_2}
      two_forms: true
      columns: {{sample_id: [Site, Client ID], cas: "CAS No.", analyte: Parameter, result: Result, unit: Units,
                reporting_limit: RL, lab_flag: Q, received_at: Received, analyzed_at: Analyzed, batch_id: Batch,
                dilution: Dilution}}
      units: {{reporting_limit: unit}}
      formats: {{analyzed_at: ["%m/%d/%Y %H:%M", "%m/%d/%y %H:%M"]}}
      fixed: {{method: TO-15, laboratory: Laboratory A}}
      values: {{cas: {{"2075-01-04": 75-01-4}}}}      # the laboratory confirmed it for this sheet alone
      lab_flags: {{U: nondetect, J: below_reporting_limit, E: over_range, S: surrogate_outside}}
      kinds: {{surrogate: ["% Toluene-d8", "% Bromofluorobenzene"]}}
      rerun_suffixes: [DL]
    - file: deliveries/laboratory_b/*.csv
      decimal: ","
      missing: {{cas: ["-"]}}
      columns: {{result_id: Record, sample_id: Client Sample, cas: CAS, analyte: Compound, result: Result, unit: Unit,
                reporting_limit: LOQ, analyzed_at: Analysed, batch_id: Batch}}
      units: {{reporting_limit: unit}}
      formats: {{analyzed_at: "%d.%m.%Y %H:%M"}}
      values: {{unit: {{"ug/rn3": ug/m3}}}}
      fixed: {{method: TO-15, laboratory: Laboratory B}}
    - file: deliveries/mobile.tsv
      columns: {{sample_id: Sample, laboratory: Lab, collected_at: [Date, Time, Zone], analyzed_at: Run at,
                analyte: Compound, cas: "No.", result: Value, unit: Unit, reporting_limit: PQL, lab_flag: Q,
                batch_id: Lab}}
      units: {{reporting_limit: unit}}
      formats: {{analyzed_at: ["%m/%d/%Y %H:%M", "%d/%m/%Y %H:%M"]}}
      zones: {{EDT: "-04:00"}}
      values: {{batch_id: {{Laboratory C: M1, Laboratory D: M2}}}}
      fixed: {{method: "8260"}}
      lab_flags:
        by: Lab
        Laboratory C: {{S: surrogate_outside, J: below_reporting_limit, B: in_blank}}
        Laboratory D: {{S: laboratory_solvent, J: below_reporting_limit}}
      kinds: {{surrogate: [Toluene-d8]}}
    - file: deliveries/fixed_gases.csv
      columns: {{sample_id: "Client No.", analyzed_at: Run}}
      date_only: [analyzed_at]
      units: {{result: "%v", reporting_limit: "%v"}}
      fixed: {{method: D1946, laboratory: Laboratory E, batch_id: F1, reporting_limit: "0.1"}}
      wide: {{from: [Oxygen, Carbon dioxide], to: analyte, value: result}}
  samples:
    - from: results                 # Laboratory A
      columns: {{sample_id: [Site, Client ID], probe_id: Point, kind: Type, parent_sample_id: Parent,
                matrix: Matrix, container: Vessel, started_at: Began, ended_at: [Date Sampled, Ended, TZ]}}
      values: {{kind: {{N: primary, FD: field_duplicate, "*": unknown}}, matrix: {{Soil vapor: soil_gas}},
               container: {{1 L can: canister}}}}
      zones: {{EDT: "-04:00"}}
    - from: results                 # Laboratory B
      columns: {{sample_id: Client Sample, probe_id: Point, kind: Type, matrix: Matrix,
                started_at: Opened, ended_at: Sampled}}
      formats: {{started_at: "%d.%m.%Y %H:%M", ended_at: "%d.%m.%Y %H:%M"}}
      values: {{kind: {{N: primary, FD: field_duplicate, "*": unknown}}, matrix: {{Soil gas: soil_gas}}}}
      fixed: {{container: canister}}
    - from: results                 # the laboratories on wheels
      columns: {{sample_id: Sample, probe_id: Point, started_at: [Date, Time, Zone]}}
      zones: {{EDT: "-04:00"}}
      fixed: {{kind: primary, matrix: soil_gas, container: canister}}
  lab_qc:
    - file: deliveries/blanks.parquet
      columns: {{qc_id: Blank, laboratory: Lab, batch_id: Batch, cas: CAS, analyte: Compound, reporting_limit: Limit,
                unit: Units, detected: Found, analyzed_at: Run}}
      units: {{reporting_limit: unit}}
      fixed: {{kind: method_blank}}
"""
