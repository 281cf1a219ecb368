"""Dead volume of a probe from its geometry, and what was purged.

Dead volume = tubing bore + tip + void left by retraction + porosity x annulus over the sand pack and over the dry seal
+ train volume if given + a glass bulb that was not evacuated (California EPA and Regional Water Boards, Advisory -
Active Soil Gas Investigations, 2015, section 4.2.3; for driven probes the void of the retracted rod from a work plan
that applies it). Lengths in m, volumes in mL.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.evidence.cells import Known, numbers, words
from vaporqa.tables.values import Bool, Float, Table, Texts

#: Porosity of sand and dry bentonite where none is recorded: 0.30, as one work plan that applies the 2015 advisory has
#: it (criteria/field.md, WP-1; secondary).
DEFAULT_POROSITY = 0.30
_ML_PER_M3 = 1e6


@dataclass(frozen=True, slots=True)
class DeadVolume:
    """Dead volume of each probe without train and container, (n,) by row of probes.

    Attributes
    ----------
    value : float64
        mL; where `unknown_void` or another part is missing, the sum of the known parts (a lower bound).
    want : object
        Phrase of the first part that is missing, empty where all are known.
    place : object
        Column of the probes table that would supply it.
    hard : bool
        A needed cell is unreadable.
    tubing, tip, void, pack, seal : float64
        The parts, mL.
    assumed : object
        What was taken for granted, for the sentence ("porosity 0.30, tip volume 0").
    """

    value: Float
    want: Texts
    place: Texts
    hard: Bool
    tubing: Float
    tip: Float
    void: Float
    pack: Float
    seal: Float
    assumed: Texts


def _cylinder(diameter: Float, length: Float) -> Float:
    return np.asarray(np.pi / 4.0 * diameter**2 * length * _ML_PER_M3)


def dead_volumes(probes: Table, tubing_length: Known | None = None) -> DeadVolume:
    """Compute the dead volume of every probe row.

    A probe without sand pack and dry seal has none where it is driven or sub-slab; for an implant their lack leaves
    the volume unproven. Tubing length or bore missing: unproven.

    Parameters
    ----------
    probes : Table
        n rows.
    tubing_length : Known, optional
        Lengths to reckon with instead of the recorded ones, m (n,): a tubing that is still to be cut.
    """
    n = probes.rows
    kind, kind_hard = words(probes, "kind")
    tip_use, _ = words(probes, "tip_use")
    length = numbers(probes, "tubing_length") if tubing_length is None else tubing_length
    bore = numbers(probes, "tubing_inner_diameter")
    outer, hole = numbers(probes, "tubing_outer_diameter"), numbers(probes, "bore_diameter")
    top, bottom = numbers(probes, "sand_pack_top"), numbers(probes, "sand_pack_bottom")
    seal_length = numbers(probes, "dry_seal_length")
    tip = numbers(probes, "tip_volume")
    rod, retraction = numbers(probes, "rod_outer_diameter"), numbers(probes, "retraction")
    pack_porosity, seal_porosity = numbers(probes, "sand_pack_porosity"), numbers(probes, "dry_seal_porosity")

    want = np.full(n, "", object)
    place = np.full(n, "", object)
    hard = np.zeros(n, bool)

    def need(part: Known, rows: Bool, phrase: str, column: str) -> None:
        nonlocal hard
        lacks = rows & ~part.known & (want == "")
        want[lacks] = phrase
        place[lacks] = column
        hard = hard | (rows & part.hard)

    everywhere = np.ones(n, bool)
    kind_known = Known(np.zeros(n), kind != "", kind_hard)
    need(kind_known, everywhere, "the kind of probe", "kind")
    need(length, everywhere, "the tubing length", "tubing_length")
    need(bore, everywhere, "the tubing inner diameter", "tubing_inner_diameter")

    driven = kind == "driven"
    # A dedicated tip stays in the ground: its void counts only where the retraction is stated.
    needs_void = driven & ((tip_use != "dedicated") | retraction.known | retraction.hard)
    need(retraction, needs_void, "the retraction that opened the tip", "retraction")
    opened = needs_void & (~retraction.known | (retraction.value > 0))
    void_bore = rod.or_else(hole)
    need(void_bore, opened, "the rod outer diameter", "rod_outer_diameter")

    has_pack = top.known | bottom.known | top.hard | bottom.hard
    has_seal = (seal_length.known & (seal_length.value > 0)) | seal_length.hard
    implant = kind == "implant"
    bare = implant & ~has_pack & ~(seal_length.known | seal_length.hard)
    lacks = bare & (want == "")
    want[lacks], place[lacks] = "the sand pack and dry seal of the implant", "sand_pack_top"
    need(top, has_pack, "the top of the sand pack", "sand_pack_top")
    need(bottom, has_pack, "the bottom of the sand pack", "sand_pack_bottom")
    annular = has_pack | has_seal
    need(hole, annular, "the bore diameter", "bore_diameter")
    need(outer, annular, "the tubing outer diameter", "tubing_outer_diameter")

    def refuse(impossible: Bool, phrase: str, column: str) -> None:
        """Cells that cannot be read or contradict each other are no evidence, and nothing steps in for them."""
        nonlocal hard
        lacks = impossible & (want == "")
        want[lacks], place[lacks] = phrase, column
        hard = hard | impossible

    refuse(tip.hard, "the tip volume", "tip_volume")
    refuse(has_pack & pack_porosity.hard, "the porosity of the sand pack", "sand_pack_porosity")
    refuse(seal_length.hard, "the length of the dry seal", "dry_seal_length")
    refuse(has_seal & seal_porosity.hard, "the porosity of the dry seal", "dry_seal_porosity")
    with np.errstate(invalid="ignore"):
        refuse(
            (length.value <= 0) | (bore.value <= 0), "a tubing length and inner diameter above nought", "tubing_length"
        )
        refuse(tip.value < 0, "a tip volume that is not negative", "tip_volume")
        refuse(needs_void & (retraction.value < 0), "a retraction that is not negative", "retraction")
        refuse(has_pack & (bottom.value < top.value), "a sand pack whose bottom lies below its top", "sand_pack_bottom")
        refuse(seal_length.value < 0, "a dry seal length that is not negative", "dry_seal_length")
        refuse(annular & (hole.value < outer.value), "a bore that is wider than its tubing", "bore_diameter")

    def part(value: Float, rows: Bool) -> Float:
        return np.where(rows & np.isfinite(value), value, 0.0)

    tubing = part(_cylinder(bore.value, length.value), everywhere)
    tip_part = part(tip.value, everywhere)
    void = part(_cylinder(void_bore.value, retraction.value), needs_void)
    annulus = np.pi / 4.0 * (hole.value**2 - outer.value**2) * _ML_PER_M3
    pack_share = np.where(pack_porosity.known, pack_porosity.value, DEFAULT_POROSITY)
    seal_share = np.where(seal_porosity.known, seal_porosity.value, DEFAULT_POROSITY)
    pack = part(annulus * (bottom.value - top.value) * pack_share, has_pack)
    seal = part(annulus * seal_length.value * seal_share, has_seal)
    return DeadVolume(
        value=tubing + tip_part + void + pack + seal,
        want=want,
        place=place,
        hard=hard,
        tubing=tubing,
        tip=tip_part,
        void=void,
        pack=pack,
        seal=seal,
        assumed=_assumed(~tip.known, has_pack & ~pack_porosity.known, has_seal & ~seal_porosity.known),
    )


def _assumed(no_tip: Bool, pack: Bool, seal: Bool) -> Texts:
    out = np.full(len(no_tip), "", object)
    for rows, phrase in ((no_tip, "tip volume 0"), (pack, "sand pack porosity 0.30"), (seal, "dry seal porosity 0.30")):
        out[rows] = np.where(out[rows] == "", phrase, out[rows] + ", " + phrase)
    return out


@dataclass(frozen=True, slots=True)
class Purged:
    """Volume drawn by each purge, (n,) by row of purges: mL, and which record it came from."""

    volume: Known
    by: Texts


def purged_volumes(purges: Table, minutes: Known) -> Purged:
    """`volume`, else strokes x stroke volume, else flow x minutes."""
    stated = numbers(purges, "volume")
    strokes, stroke = numbers(purges, "strokes"), numbers(purges, "stroke_volume")
    flow = numbers(purges, "flow")
    pumped = product(strokes, stroke)
    drawn = product(flow, minutes)
    volume = stated.or_else(pumped).or_else(drawn)
    by = np.where(stated.known, "volume", np.where(pumped.known, "strokes", np.where(drawn.known, "flow and time", "")))
    return Purged(volume, by.astype(object))


def product(left: Known, right: Known) -> Known:
    """Product of two quantities, unknown where either is; hard where one is hard and the other at least stands."""
    known = left.known & right.known
    stands = (left.known | left.hard) & (right.known | right.hard)
    return Known(np.where(known, left.value * right.value, np.nan), known, stands & ~known)
