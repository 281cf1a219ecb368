"""The rulebook's laboratory topics, intake and cautions written out by hand; the form is that of `field_rules_by_hand`.

A scheme's outcomes stand as the baseline's: U at a limit, else J+; R only where another scheme says so. ``broken`` is
the letter of a rule that has no limit of its own. A caution never touches a row, so that its letters are a note.
"""

LABORATORY = {
    "intake": """
readable-number | any | unproven | row | 1
readable-time | any | unproven | row | 1
known-word | any | unproven | sample | 1
known-unit | any | unproven | row | 1
known-flag | any | unproven | row | 1
one-value-a-key | any | unproven | row | 1
required-filled | any | unproven | row | 1
keys-meet | any | unproven | row | 1
duplicate-rows | any | unproven | sample | 1
local-time-exists | any | unproven | row | 1
units-as-declared | any | unproven | row | 1
""",
    "holding_times": """
holding-time | results | unproven | row | 1
    syringe | at most 30 min | V | J- / UJ
    glass_bulb | at most 24 h | V | J- / UJ
    bag_methane | at most 24 h | V | J- / UJ
    bag_reactive | at most 6 h | V | J- / UJ
    bag_lasting | at most 6 h | V | J- / UJ
    bag_other | at most 6 h | V | J- / UJ
    canister_sulfur | at most 7 d | V | J- / UJ
    canister_short | at most 7 d | V | J- / UJ
    canister | at most 30 d | V | J- / UJ
    sorbent_tube | at most 30 d | V | J- / UJ
    passive_sampler | at most 14 d | V | J- / UJ
    core_sampler | at most 48 h | V2 | J- / UJ
    soil_vial | at most 14 d | M | J- / UJ
    water_preserved | at most 14 d | M | J- / UJ
    water_unpreserved | at most 7 d | M | J- / UJ
holding-time-gross | results | - | row | 1
    gross | at most 2 | M | J- / R
dates-in-order | results | unproven | row | 1
    order | in order | P | unproven
holding-time-left | results | - | row | 1
    half | at most 50 % | V | note
""",
    "blanks": """
method-blank | results | unproven | row | 2A
    nondetect | a nondetect at a stated limit | V | U / -
    high | estimated high | V | J+ / -
container-blank | results | note | row | 2A
    nondetect | a nondetect at a stated limit | V | U / -
    high | estimated high | V | J+ / -
    in_water | a detect in water, never by number | - | J+ / -
trip-blank | results | unproven | row | 2A
    nondetect | a nondetect at a stated limit | V | U / -
    high | estimated high | V | J+ / -
    in_water | a detect in water, never by number | - | J+ / -
material-blank | results | note | row | 2A
    nondetect | a nondetect at a stated limit | V | U / -
    high | estimated high | V | J+ / -
    in_water | a detect in water, never by number | - | J+ / -
container-certified | containers | note | row | 2A
    certified | certified, individually or by lot | - | note
blank-units | results | - | row | 2A
    broken | one unit | - | unproven
""",
    "recovery": """
surrogate-recovery | results | note | run | 2A
    high | at most 130 % | V | J+ / -
    low | at least 70 % | V | J- / UJ
    printed_high | as printed | - | J+ / -
    printed_low | as printed | - | J- / UJ
    gross | at least 10 % | V2 | J- / R
surrogate-diluted-out | results | - | row | 2A
    dilution | at most 5 | M | note
control-sample-recovery | lab_qc | unproven | batch | 2A
    high | at most 130 % | V | J+ / -
    low | at least 70 % | V | J- / UJ
    printed_high | as printed | - | J+ / -
    printed_low | as printed | - | J- / UJ
    gross | at least 10 % | M | J- / R
control-sample-precision | lab_qc | note | batch | 2A
    rpd | at most 25 % | V | J / -
    printed | as printed | - | J / -
internal-standard-area | results | unproven | standard | 2B
    high | at most 140 % | M | J- / -
    low | at least 60 % | M | J+ / UJ
    printed_high | over area_high | - | J- / -
    printed_low | under area_low | - | J+ / UJ
    gross | at least 20 % | M | J+ / R
surrogate-flag-agrees | results | - | row | 2A
    flag | flag and number agree | D | note
""",
    "calibration": """
tune-clock | results | unproven | row | 2B
    window | at most 12 h | V | R / R
    before | after its tune | - | R / R
    failed | a tune which passed | V | R / R
initial-calibration | lab_qc | unproven | calibration | 2B
    spread | at most 30 % | V2 | J / UJ
    allowed | at most 40 % | - | J / UJ
    level | within 30 % | V | J / UJ
    failed | passed, where no number tells | - | J / UJ
    disagrees | number and `passed` agree | - | note
calibration-check | lab_qc | unproven | calibration | 2B
    high | at most 30 % | M | J+ / -
    low | at least -30 % | M | J- / UJ
    failed | passed, where no number tells the sign | - | J / UJ
    disagrees | number and `passed` agree | - | note
second-source-check | lab_qc | unproven | calibration | 2B
    high | at most 30 % | V2 | J+ / -
    low | at least -30 % | V2 | J- / UJ
    failed | passed, where no number tells the sign | - | J / UJ
    disagrees | number and `passed` agree | - | note
response-factor | lab_qc | unproven | calibration | 2B
    least | at least 0.05 | M | J / R
""",
    "duplicates": """
duplicate-agreement | results | unproven | row | 1
    rpd | at most 50 % | V2 | J / UJ
    difference | at most 1 | M | J / UJ
duplicate-parent | samples results | - | sample | 1
    named | names its parent | D | unproven
    analyte | the parent has the analyte | D | unproven
duplicate-frequency | samples | note | row | 1
    share | at least 5 % | V | note
    least | at least 1 | V | note
duplicate-kind | results | note | row | 1
    together | a duplicate is drawn together | V | note
    one_after_the_other | a replicate is drawn one after the other | V | note
laboratory-duplicate-agreement | lab_qc | note | batch | 2A
    rpd | at most 25 % | V | J / -
    difference | at most 1 | M | J / -
""",
    "reporting": """
collection-time-agrees | results | - | row | 1
    inside | inside the sample's start to end | - | unproven
below-reporting-limit | results | - | row | 1
    limit | at least 100 % | V2 | J / -
over-range | results | - | row | 1
    run_again | not linked to a run in range | V2/M | note
    in_range | in range | V2/M | J / -
    sibling | no likely sibling without a link | - | unproven
one-value-in-use | results | - | row | 1
    one_value | the only run | D | note
    set_aside | in use | D | note
    undecided | decided | D | unproven
sensitivity | results | note | row | 1
    level | at most 100 % | V/M | note
limit-follows-dilution | results | - | row | 1
    scaled | within 5 % | D | note
forms-agree | results | - | row | 1
    agree | at most 0.2 % | D | note
    wrong | at most 5 % | D | unproven
cas-number | results | note | row | 1
    format | format | - | unproven
    check_digit | check digit | V | unproven
    spreadsheet_date | no spreadsheet date | - | unproven
analyte-name | results | note | row | 1
    belongs | the name belongs to the CAS number | D | note
result-consistent | results | - | row | 1
    status | detected and flags agree | D | unproven
    stated | a status | D | unproven
    zero | no zero result | D | unproven
    under_detection_limit | a detect over its detection limit | D | unproven
    flag | flags and numbers agree | D | unproven
    negative | not negative | - | note
    limits_in_order | detection limit at most LOD at most reporting limit | D | note
    one_of_the_limits | the number beside a mark is one of the row's limits | D | note
analytes-complete | samples | - | row | 1
    none_missing | at most 0 | D | note
parts-and-totals | results | - | row | 1
    sum | within 30 % | V2 | note
tentative | results | - | row | 1
    identified | not tentative | V/M | NJ / -
laboratory-flag | results | - | row | 1
    shown | evidence in the tables | D | note
""",
    "cautions": """
methane-explosive | field_readings results | - | row | 1
    structure | at most 25 %LEL | V | note
    reading | at most 5 %v | V | note
oxygen-deficient | field_readings | - | row | 1
    oxygen | at least 19.5 %v | V2 | note
hydrogen-sulfide | field_readings | - | row | 1
    hydrogen_sulfide | at most 10 ppmv | M | note
""",
}
