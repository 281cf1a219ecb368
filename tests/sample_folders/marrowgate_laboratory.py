"""Faults of the laboratory's control of Marrowgate Plating: blanks, recoveries, internal standards."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from chemistry import PCE, TCE, TOLUENE
from deliverable import CIS_DCE, NAPHTHALENE, O_XYLENE, XYLENES, kept_in
from expected import number
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from marrowgate_field import HIGH, container, together
from paper import Folder, Row
from planting import LOW, Letters, Plant, change, is_detect

GROSS: Letters = ("J-", "R")
IN_LOT = ("MG-B01", "MG-B02")
BLANKS = ("equipment_blank", "trip_blank", "field_blank", "material_blank")


def rows_with_keys(folder: Folder, **wanted: str) -> Iterator[tuple[str, Row]]:
    """Keys and rows of results whose cells equal all of `wanted`."""
    for key, row in zip(folder.keys("results"), folder.sheets["results"].rows, strict=True):
        if all((number(row) if name == "cas" else row[name]) == text for name, text in wanted.items()):
            yield key, row


def keys(folder: Folder, **wanted: str) -> tuple[str, ...]:
    """Keys of target results."""
    return tuple(key for key, _ in rows_with_keys(folder, kind="target", **wanted))


def result(sample: str, cas: str, **cells: str) -> Plant:
    """Other texts in a sample's result."""
    return change("results", {"sample_id": sample, "cas": cas}, **cells)


def qc(key: str, **cells: str) -> Plant:
    """Other texts in a control sample."""
    return change("lab_qc", {"qc_id": key}, **cells)


def primary(folder: Folder, of: Callable[[Row], bool]) -> set[str]:
    """Samples that blanks may qualify: those that are no blanks."""
    return {r["sample_id"] for r in folder.sheets["samples"].rows if r["kind"] not in BLANKS and of(r)}


def by_scheme(
    rule: str, blank: float, cas: str, of: Callable[[Row], bool] = lambda _: True, **wanted: str
) -> Callable[[Folder], list[Finding]]:  # fmt: skip
    """The scheme `five-times` on every detect of an analyte: over 5 B none; at most LOD: U there; else J+."""

    def findings(folder: Folder) -> list[Finding]:
        inside, out = primary(folder, of), []
        for key, row in rows_with_keys(folder, cas=cas, kind="target", **wanted):
            if row["sample_id"] not in inside or not is_detect(row) or float(row["result"]) > 5 * blank * (1 + 1e-9):
                continue
            if float(row["result"]) <= float(row["limit_of_detection"]):
                out.append(Finding(rule, "results", key, "broken", ("U", "-"), limit=row["limit_of_detection"]))
            else:
                out.append(Finding(rule, "results", key, "broken", ("J+", "-")))
        return out

    return findings


def surrogate(sample: str, name: str, **cells: str) -> Plant:
    """What came back of a surrogate."""
    return change("results", {"sample_id": sample, "analyte": name, "kind": "surrogate"}, **cells)


def on_surrogate(
    sample: str, name: str, letters: Letters, outcome: str = "broken", flag: str = ""
) -> Callable[[Folder], list[Finding]]:  # fmt: skip
    """It reaches the targets of its run; where the flag disagrees with the number, that is noted."""

    def findings(folder: Folder) -> list[Finding]:
        row = first(folder, sample, name)
        out = [Finding("surrogate-recovery", "results", row["result_id"], outcome, letters,
                       (Reach(keys=tuple(key for key, r in rows_with_keys(folder, run_id=row["run_id"])
                                         if r["kind"] in ("target", "tentative"))),))]  # fmt: skip
        if flag:
            out.append(Finding("surrogate-flag-agrees", "results", row["result_id"], flag, NOTE))
        return out

    return findings


def first(folder: Folder, sample: str, name: str) -> Row:
    """A surrogate in the first run of a sample."""
    return folder.rows("results", sample_id=sample, analyte=name, kind="surrogate")[0]


def note_on_surrogate(rule: str, sample: str, name: str) -> Callable[[Folder], list[Finding]]:
    """A note on a surrogate that taints nothing."""
    return lambda f: [
        Finding(rule, "results", first(f, sample, name)["result_id"],
                "broken", NOTE)
    ]  # fmt: skip


def in_batch(rule: str, key: str, letters: Letters, outcome: str = "broken") -> Finding:
    """A control sample taints its analyte throughout its batch."""
    _, batch, *cas = key.split("-", 2)
    laboratory = "Laboratory B" if batch == "M2" else "Laboratory A"
    return Finding(rule, "lab_qc", key, outcome, letters, (Reach(laboratory=laboratory, batch=batch, cas=tuple(cas)),))


def recovered(key: str, per_cent: float, spiked: float = 20.0) -> Plant:
    """What came back of a control sample, in number and in per cent."""
    return qc(key, spiked=f"{spiked:.1f}", result=f"{spiked * per_cent / 100:.2f}", recovery=f"{per_cent:g}", rpd="")


def standard(sample: str, name: str, **cells: str) -> Plant:
    """The area of an internal standard."""
    return change("results", {"sample_id": sample, "analyte": name, "kind": "internal_standard"}, **cells)


def on_standard(
    sample: str, name: str, letters: Letters, outcome: str = "broken"
) -> Callable[[Folder], list[Finding]]:  # fmt: skip
    """It reaches the targets that are divided by it in its run."""

    def findings(folder: Folder) -> list[Finding]:
        row = folder.one("results", sample_id=sample, analyte=name, kind="internal_standard")
        reached = keys(folder, run_id=row["run_id"], internal_standard=name)
        return [
            Finding("internal-standard-area", "results", row["result_id"], outcome, letters, (Reach(keys=reached),))
        ]

    return findings


def on_run(rule: str, sample: str, letters: Letters, outcome: str = "broken") -> Callable[[Folder], list[Finding]]:
    """The same finding on each target of a sample."""
    return lambda f: [Finding(rule, "results", key, outcome, letters) for key in keys(f, sample_id=sample)]


def area(sample: str, name: str, share: float, nominal: int) -> Plant:
    """So large a share of the area of the check standard."""
    return standard(sample, name, area=f"{nominal * share:.0f}")


def other_lot(folder: Folder) -> None:
    """Blanks of another cleaning lot."""
    sheet = folder.sheets["lab_qc"]
    for row in folder.rows("lab_qc", cleaning_lot=kept_in("canister")):
        sheet.rows.append(row | {"qc_id": f"CB-CL-0931-{row['cas']}", "cleaning_lot": "CL-0931"})


def several(*ways: Callable[[Folder], Iterable[Finding]]) -> Callable[[Folder], list[Finding]]:
    """The findings of all of these."""
    return lambda f: [one for way in ways for one in way(f)]


def said(*findings: Finding) -> Callable[[Folder], tuple[Finding, ...]]:
    """Findings that can be written down without looking at the rows."""
    return lambda _: findings


BCM, CB, TD8, BFB = "Bromochloromethane", "Chlorobenzene-d5", "Toluene-d8", "4-Bromofluorobenzene"
FAULTS: tuple[Fault, ...] = (
    Fault("The method blank of V1 held cis-1,2-dichloroethene, 2.38 ug/m3. A01 holds no more than its limit of "
          "detection; A03 exactly five times the blank.",
          together(qc(f"MB-V1-{CIS_DCE}", result="2.38", detected="yes"),
                   result("MG-A01", CIS_DCE, result="0.792", result_volume="0.200", lab_flag="J"),
                   result("MG-A03", CIS_DCE, result="11.9", result_volume="3.00")),
          by_scheme("method-blank", 2.38, CIS_DCE, batch_id="V1")),
    Fault("The canisters of B01 and B02 come from another cleaning lot, whose blank held toluene.",
          together(*(container(s[3:], cleaning_lot="CL-0931") for s in IN_LOT),
                   other_lot, qc(f"CB-CL-0931-{TOLUENE}", detected="yes", result="3.39")),
          by_scheme("container-blank", 3.39, TOLUENE, lambda r: r["sample_id"] in IN_LOT)),
    Fault("The trip blank of the first shipment held trichloroethene.",
          result("MG-TB1", TCE, result="13.4", result_volume="2.50"),
          by_scheme("trip-blank", 13.4, TCE, lambda r: r["shipment_id"] == "SHP-1")),
    Fault("The blank of the other lot of tubing held o-xylene, and so its total.",
          together(*(result("MG-MB2", cas, result="8.68", result_volume="2.00") for cas in (O_XYLENE, XYLENES))),
          several(*(by_scheme("material-blank", 8.68, cas, lambda r: r["tubing_lot"] == "TUB-131")
                    for cas in (O_XYLENE, XYLENES)))),
    Fault("The method blank of the tubes holds 12 ng of toluene, which no volume brings to ug/m3.",
          qc(f"MB-S2-{TOLUENE}", result="12", unit="ng", detected="yes"),
          lambda f: [Finding(rule, "results", key, outcome, UNPROVEN)
                     for rule, outcome in (("blank-units", "broken"), ("method-blank", "unproven"))
                     for sample in ("MG-A08", "MG-B08") for key in keys(f, sample_id=sample, cas=TOLUENE)]),
    Fault("A surrogate of A02 came back to 65 %.",
          surrogate("MG-A02", TD8, recovery="65", lab_flag="S"), on_surrogate("MG-A02", TD8, LOW)),
    Fault("A surrogate of A03 came back to 135 %.",
          surrogate("MG-A03", BFB, recovery="135", lab_flag="S"), on_surrogate("MG-A03", BFB, HIGH)),
    Fault("A surrogate of A05 came back to 8 %.",
          surrogate("MG-A05", TD8, recovery="8", lab_flag="S"), on_surrogate("MG-A05", TD8, GROSS)),
    Fault("The surrogates of A06 came back to exactly 70 and exactly 130 %; the laboratory flagged the second.",
          together(surrogate("MG-A06", TD8, recovery="70"), surrogate("MG-A06", BFB, recovery="130", lab_flag="S")),
          note_on_surrogate("surrogate-flag-agrees", "MG-A06", BFB)),
    Fault("A surrogate of A07, which was diluted twelve times, came back to 40 %.",
          surrogate("MG-A07", TD8, recovery="40", lab_flag="S"),
          note_on_surrogate("surrogate-diluted-out", "MG-A07", TD8)),
    Fault("What came back of a surrogate of B01 was not printed, and it is flagged.",
          surrogate("MG-B01", TD8, recovery="", lab_flag="S"),
          on_surrogate("MG-B01", TD8, NOTE, "unproven")),
    Fault("A surrogate of B06 came back to 62 %, and the laboratory did not flag it.",
          surrogate("MG-B06", BFB, recovery="62"), on_surrogate("MG-B06", BFB, LOW, flag="broken")),
    Fault("A surrogate of B07 came back to 60 %; how far it was diluted stands on the other rows of its run alone.",
          surrogate("MG-B07", TD8, recovery="60", lab_flag="S", dilution=""), on_surrogate("MG-B07", TD8, LOW)),
    Fault("Tetrachloroethene in the control samples of V1 came back to 60 and 64 %.",
          together(recovered(f"CS-V1-{PCE}", 60), recovered(f"CD-V1-{PCE}", 64)),
          said(in_batch("control-sample-recovery", f"CS-V1-{PCE}", LOW),
               in_batch("control-sample-recovery", f"CD-V1-{PCE}", LOW))),
    Fault("Naphthalene in the control samples of V2 came back to 9 and 9.5 %.",
          together(recovered(f"CS-V2-{NAPHTHALENE}", 9), recovered(f"CD-V2-{NAPHTHALENE}", 9.5)),
          said(in_batch("control-sample-recovery", f"CS-V2-{NAPHTHALENE}", GROSS),
               in_batch("control-sample-recovery", f"CD-V2-{NAPHTHALENE}", GROSS))),
    Fault("o-Xylene in a control sample of the tubes came back to 131 %.",
          together(recovered(f"CS-S2-{O_XYLENE}", 131), recovered(f"CD-S2-{O_XYLENE}", 125)),
          said(in_batch("control-sample-recovery", f"CS-S2-{O_XYLENE}", HIGH))),
    Fault("Control samples at exactly 70 and exactly 130 %, and a pair that is exactly 25 % apart, hold.",
          together(recovered(f"CS-M2-{PCE}", 70), recovered(f"CD-M2-{PCE}", 75),
                   recovered(f"CS-V2-{PCE}", 130), recovered(f"CD-V2-{PCE}", 120),
                   recovered(f"CS-V2-{CIS_DCE}", 87.5), recovered(f"CD-V2-{CIS_DCE}", 112.5)),
          said()),
    Fault("What was spiked into a control sample of V2 and what came back of its toluene was not printed.",
          qc(f"CS-V2-{TOLUENE}", spiked="", recovery=""),
          said(in_batch("control-sample-recovery", f"CS-V2-{TOLUENE}", UNPROVEN, "unproven"))),
    Fault("Toluene in the pair of control samples of V1 came back to 80 and 110 %, 32 % apart.",
          together(recovered(f"CS-V1-{TOLUENE}", 80), recovered(f"CD-V1-{TOLUENE}", 110)),
          said(in_batch("control-sample-precision", f"CD-V1-{TOLUENE}", ("J", "-")))),
    Fault("The second control sample of M2 has no first one for cis-1,2-dichloroethene.",
          together(lambda f: f.drop("lab_qc", qc_id=f"CS-M2-{CIS_DCE}"),
                   qc(f"CD-M2-{CIS_DCE}", parent_qc_id="", rpd="")),
          said(in_batch("control-sample-precision", f"CD-M2-{CIS_DCE}", NOTE, "unproven"))),
    Fault("The laboratory's own duplicate of A07 has no number for trichloroethene.",
          qc(f"LD-V2-{TCE}", result="", detected=""),
          said(in_batch("laboratory-duplicate-agreement", f"LD-V2-{TCE}", NOTE, "unproven"))),
    Fault("The areas of the internal standards of A01 and A02 stand exactly at the ends of the printed window.",
          together(area("MG-A01", BCM, 0.6, 182_000), area("MG-A02", BCM, 1.4, 182_000)), said()),
    Fault("An internal standard of A04D reads half as high again as its check standard.",
          area("MG-A04D", CB, 1.5, 640_000), on_standard("MG-A04D", CB, ("J-", "-"))),
    Fault("An internal standard of B02 has half the area of its check standard: results read high.",
          area("MG-B02", BCM, 0.5, 182_000), on_standard("MG-B02", BCM, ("J+", "UJ"))),
    Fault("An internal standard of B03 has a tenth of the area of its check standard.",
          area("MG-B03", CB, 0.1, 640_000), on_standard("MG-B03", CB, ("J+", "R"))),
    Fault("Laboratory B prints no windows. Of the area of their check standards A09 has exactly 60 % and A10 exactly "
          "140 %, which hold.",
          together(area("MG-A09", BCM, 0.6, 182_000), area("MG-A10", BCM, 1.4, 182_000)), said()),
    Fault("B09 has 59 % of the area of its check standard.",
          area("MG-B09", CB, 0.59, 640_000), on_standard("MG-B09", CB, ("J+", "UJ"))),
    Fault("The area of an internal standard of B10 was not printed.",
          standard("MG-B10", BCM, area=""), on_standard("MG-B10", BCM, UNPROVEN, "unproven")),
)  # fmt: skip
