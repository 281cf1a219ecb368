"""The rulebook's field and custody topics written out by hand, to hold the rule files against; never copied from one.

A line at the margin is a rule: ``id | row | no evidence | reaches | stage``, and ``air`` where outside air let in is
the reason. A line set in is a limit: ``name | limit | backing | letters for a detect / for a nondetect``. The name is
that of the rule file, all else the rulebook's. A limit that the rulebook puts in words stands in words. Backing: V
read, V2 read in a second document, M from memory, P common practice, D derived, ``-`` where the rulebook gives none.
Letters are ``aside`` where a limit only says for what or how surely another is judged, so that nothing breaks it.
"""

FIELD = {
    "installation": """
equilibration-time | probes | unproven | sample | 1
    subslab | at least 2 h | V | J / UJ
    augered | at least 48 h | V2 | J / UJ
    pushed | at least 2 h | V2 | J / UJ
    implanted | at least 2 h | V2 | J / UJ
    drilled | rotary, sonic, air hammer | - | note
probe-depth | probes | unproven | sample | 1 | air
    least | at least 5 ft | V | J- / UJ
above-water | probes | - | sample | 1 | air
    above | over 0 ft | V | R / R
tip-opened | probes | unproven | sample | 1 | air
    opened | over 0 in | - | R / R
    enough | at least 1 in | V | J- / UJ
    usual | at least 2 in | P | note
    point | at most 6 in | V | note
tubing-reaches-tip | probes | unproven | sample | 1 | air
    reaches | at least 0 in | D | R / R
tubing-tail | probes | - | row | 1
    tail | at least 6 in | P | note
stick-up-clearance | probes | - | row | 1
    clearance | between 6 in and 8 in | P | note
interval-matches-retraction | probes | - | row | 1
    gap | within 2 in | D | note
joints-tight | probes | note | sample | 1 | air
    checked | yes | P | J- / UJ
tubing-material | probes | unproven | analyte | 1
    never_ldpe | ldpe never | V | R / R
    naphthalene | nylon with naphthalene | V | J- / UJ
    hydrogen_sulfide | stainless with hydrogen sulfide | V | J- / UJ
    soft_plastic | vinyl or hdpe | P | J- / UJ
tubing-new | equipment_log | - | sample | 1
    one_location | at most 1 | V | J+ / -
dedicated-point-single-use | probes | - | sample | 1
    one_probe | at most 1 | D | J+ / -
replacement-distance | probes | note | row | 1
    away | at least 5 ft | V | note
depth-plausible | probes | - | row | 1
    most | at most 20 ft | P | note
""",
    "shut_in": """
shut-in-vacuum | shut_in_tests | unproven | sample | 1 | air
    least | at least 100 inH2O | V | J- / UJ
shut-in-hold | shut_in_tests | unproven | sample | 1 | air
    least | at least 1 min | V | J- / UJ
shut-in-decay | shut_in_tests | unproven | sample | 1 | air
    loss | under 0.5 inH2O | V/D | J- / UJ
    gauge | at most 0.5 inH2O | V/D | aside
shut-in-order | shut_in_tests | - | sample | 1 | air
    before | at least 0 min | V | J- / UJ
    unchanged | not yes | V | J- / UJ
shut-in-done | samples | unproven | sample | 1
    every_sample | at least 1 | V | unproven
""",
    "leak_tracer": """
leak-tracer-recovery | tracer_tests | unproven | sample | 1 | air
    leak | at most 5 % | V | J- / UJ
    gross_leak | at most 20 % | D | R / R
leak-tracer-undetected | tracer_tests | unproven | sample | 1
    leak | at most 5 % | D | unproven
shroud-concentration | tracer_tests | unproven | sample | 1
    least | at least 10 %v | V2 | unproven
    multiple | at least 100 | V2 | unproven
leak-test-done | samples | unproven | sample | 1
    every_sample | at least 1 | V | unproven
cloth-tracer-recovery | tracer_tests | unproven | analyte | 1 | air
    multiple | under 10 | V | J- / R
cloth-tracer-reported | samples | unproven | sample | 1
    listed | at least 1 | V | unproven
tracer-not-a-target | tracer_tests | - | sample | 1
    none_listed | at most 0 | V | unproven
tracer-meter-interference | tracer_tests | - | sample | 1
    methane | at most 1 %v | V2 | unproven
""",
    "purge": """
purge-volumes | purges | unproven | sample | 1
    enough | at least 3 | V | J / UJ
    line_gas | at least 1 | D | R / R
purge-flow | purges | unproven | sample | 1
    highest | at most 200 mL/min | V | J / UJ
purge-vacuum | purges | unproven | sample | 1 | air
    highest | at most 100 inH2O | V | J- / UJ
purge-arithmetic | purges | - | row | 1
    gap | at most 20 % | D | note
purge-to-sample | purges | unproven | sample | 1
    pause | at most 10 min | V2 | J / UJ
    purged_first | at least 0 min | - | J / UJ
purge-done | samples | unproven | sample | 1
    every_sample | at least 1 | V | unproven
over-purge | purges | - | row | 1
    most | at most 10 | M | note
""",
    "sampling": """
sampling-flow | samples | unproven | sample | 1
    most | at most 200 mL/min | V | J / UJ
sampling-vacuum | samples | - | sample | 1 | air
    most | at most 100 inH2O | V | J- / UJ
canister-start | samples | unproven | sample | 1 | air
    evacuated | at least 25 inHg | V | R / R
canister-end | samples | unproven | sample | 1 | air
    flow_lost | at least 1 inHg | - | J / UJ
    flow_lost_long_draw | at least 1 inHg | - | J / UJ
    long_draw | over 30 min | - | aside
    least | at least 2 inHg | V/M | note
    most | at most 10 inHg | V/M | note
canister-held | samples | unproven | sample | 1 | air
    leak | at most 5 % | D | J- / UJ
    gross_leak | at most 20 % | D | R / R
    gauges | within 2 inHg | D | note
canister-fill | samples | - | row | 1
    gap | within 20 % | D | note
water-in-train | samples | - | sample | 1 | air
    line | no | V | J- / UJ
    container | no | V | J- / R
container-suits | samples | - | analyte | 1
    no_plastic_syringe | no plastic syringe | V | R / R
    heavy_compounds | no bag at or above naphthalene | M | J- / UJ
sampling-order | samples | - | row | 1
    cleaner_first | expected | V2 | note
rain-wait | samples | note | sample | 1
    wait | at least 48 h | V | J / UJ
    heavy | at least 0.5 in | V | aside
suction-present | samples | - | sample | 1 | air
    suction | at least -1 inH2O | V | R / R
readings-chain | samples | - | row | 1
    all_four | at least 4 | V | note
""",
    "decontamination": """
clean-between-locations | equipment_log probes | unproven | sample | 1
    every_move | cleaned | V | J+ / -
carry-over | results | - | row | 1
    share | over 1 % | D | R / -
equipment-blank-clean | equipment_log | - | analyte | 1
    no_detect | no detect | - | J+ / -
equipment-blank-frequency | equipment_log | note | row | 1
    share | at least 5 % | V | note
    least | at least 1 | V | note
cleaning-method | equipment_log | note | row | 1
    stated | stated | V | note
""",
    "field_instruments": """
instrument-checked | field_readings tracer_tests | unproven | sample | 1
    reading | within 10 % | M | J / UJ
    tracer_test | within 10 % | M | unproven
instrument-drift | field_readings tracer_tests | note | sample | 1
    reading | within 10 % | M | J / UJ
    tracer_test | within 10 % | M | unproven
gas-balance | field_readings | - | row | 1
    sum | between 95 % and 105 % | M | J / UJ
looks-like-outside-air | field_readings | - | row | 1
    oxygen | under 20.5 %v | D | note
    carbon_dioxide | over 0.1 %v | D | note
combustion-meter-oxygen | field_readings | unproven | row | 1
    oxygen | at least 10 %v | M | R / R
methane-confirmed | field_readings | - | row | 1
    share | at least 10 % | V | note
    high | over 5000 ppmv | V | aside
exceedance-rechecked | field_readings | note | row | 1
    days | at most 7 d | V | note
    looked_at | liquid, control-well and barometer | V | note
    exceedance | over 5 %v | V | aside
""",
    "custody": """
custody-order | custody | note | sample | 1
    in_order | released after collected, received after released, in step order | P | unproven
custody-unbroken | custody | note | sample | 1
    same_party | each receiver is the next releaser | P | unproven
identities-match | custody | note | sample | 1
    same | ids agree | V | unproven
seal-intact | custody | note | sample | 1
    intact | intact | P | J / UJ
storage-temperature | custody | note | sample | 1
    tube | under 4 degC | V2 | J- / UJ
    canister | not chilled | V2 | note
    vial | between 2 degC and 6 degC | M | J- / UJ
custody-done | samples | note | row | 1
    every_sample | at least 1 | P | note
""",
}
