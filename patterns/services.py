"""Functions that write patterns, blockings and materials."""

from __future__ import annotations

from typing import Any

import msgspec
from django.db import transaction

from patterns import shipped
from patterns.geometry.blocks import Allowances, cut_blocks
from patterns.geometry.blocks import Block as BlockShape
from patterns.geometry.blocks import StyleLine as StyleLineShape
from patterns.geometry.drafting import BODIES, Body, Ease, draft
from patterns.geometry.outline import Outline
from patterns.geometry.seams import jacket_seams
from patterns.models import (
    Block,
    Blocking,
    Elastic,
    Fabric,
    FabricColor,
    Notion,
    Operation,
    Pattern,
    PatternSize,
    Piece,
    PieceOutline,
    Seam,
    StyleLine,
    Supplier,
    ThreadColor,
    Workroom,
    Zipper,
)

BODY_MEASURES = ("height", "chest", "hip", "neck", "shoulder_width", "arm", "wrist")


def workroom() -> Workroom:
    """The workroom's settings, made with the defaults at the first call."""
    return Workroom.objects.get_or_create(pk=1)[0]


def allowances() -> Allowances:
    room = workroom()
    return Allowances(seam_mm=float(room.seam_allowance_mm), hem_mm=float(room.hem_allowance_mm))


@transaction.atomic
def install_shipped() -> Pattern:
    """The base jacket with sizes, seams, blockings, operations and materials; only what is not
    there yet is added, so that a workroom's own changes stay."""
    workroom()
    pattern = Pattern.objects.filter(code=shipped.PATTERN_CODE).first() or install_base_pattern()
    for blocking in shipped.BLOCKINGS:
        if not Blocking.objects.filter(code=blocking.code).exists():
            save_blocking(
                pattern, blocking.code, blocking.name, blocking.style_lines, note=blocking.note
            )
    for position, values in enumerate(shipped.OPERATIONS):
        Operation.objects.get_or_create(
            code=values["code"], defaults={**values, "position": position}
        )
    _install_materials()
    return pattern


def install_base_pattern() -> Pattern:
    """Draft the base jacket in every shipped size and store pieces, outlines and seams."""
    ease = Ease()
    pattern = Pattern.objects.create(
        code=shipped.PATTERN_CODE,
        name=shipped.PATTERN_NAME,
        chest_ease_mm=round(ease.chest_mm),
        hip_ease_mm=round(ease.hip_mm),
        neck_ease_mm=round(ease.neck_mm),
        wrist_ease_mm=round(ease.wrist_mm),
        cap_ease_mm=round(ease.cap_mm),
    )
    for position, seam in enumerate(jacket_seams(ease.cap_mm)):
        Seam.objects.create(
            pattern=pattern,
            position=position,
            code=seam.code,
            name=seam.name,
            kind=seam.kind,
            leads=msgspec.to_builtins(seam.leads),
            follows=msgspec.to_builtins(seam.follows),
            ease_mm=round(seam.ease_mm, 2),
            topstitched=seam.topstitched,
            runs=seam.runs,
        )
    for position, body in enumerate(BODIES):
        _store_size(pattern, position, body, ease)
    return pattern


def _store_size(pattern: Pattern, position: int, body: Body, ease: Ease) -> None:
    drafted = draft(body, ease)
    size = PatternSize.objects.create(
        pattern=pattern,
        code=body.code,
        name=body.name,
        position=position,
        age_group=body.age_group,
        zipper_mm=round(drafted.zipper_mm),
        hem_girth_mm=round(drafted.hem_girth_mm),
        cuff_girth_mm=round(drafted.cuff_girth_mm),
        **{f"{measure}_mm": round(getattr(body, f"{measure}_mm")) for measure in BODY_MEASURES},
    )
    for place, outline in enumerate(drafted.pieces):
        piece, _ = Piece.objects.get_or_create(
            pattern=pattern,
            code=outline.code,
            defaults={"name": outline.name, "pairing": outline.pairing, "position": place},
        )
        PieceOutline.objects.create(piece=piece, size=size, outline=msgspec.to_builtins(outline))


@transaction.atomic
def save_blocking(
    pattern: Pattern, code: str, name: str, lines: tuple[StyleLineShape, ...], *, note: str = ""
) -> Blocking:
    """Store a new blocking after cutting it in every size; PatternError says which line fails."""
    blocking = Blocking.objects.create(pattern=pattern, code=code, name=name, note=note)
    for position, line in enumerate(lines):
        StyleLine.objects.create(blocking=blocking, position=position, **_line_fields(line))
    cut: tuple[BlockShape, ...] = ()
    for size in pattern.sizes.all():
        outlines = PieceOutline.objects.filter(size=size).order_by("piece__position")
        pieces = tuple(msgspec.convert(row.outline, Outline) for row in outlines)
        cut = cut_blocks(pieces, lines, allowances())
    pieces_by_code = {piece.code: piece for piece in pattern.pieces.all()}
    Block.objects.bulk_create(
        Block(
            blocking=blocking,
            piece=pieces_by_code[block.piece],
            code=block.code,
            name=block.name,
            pairing=block.pairing,
            position=place,
        )
        for place, block in enumerate(cut)
    )
    return blocking


def _line_fields(line: StyleLineShape) -> dict[str, Any]:
    return {
        "code": line.code,
        "name": line.name,
        "cuts": line.cuts,
        "start_edge": line.start.edge,
        "start_fraction": str(line.start.fraction),
        "end_edge": line.end.edge,
        "end_fraction": str(line.end.fraction),
        "bends": [list(bend) for bend in line.bends],
        "left_code": line.left.code,
        "left_name": line.left.name,
        "right_code": line.right.code if line.right else "",
        "right_name": line.right.name if line.right else "",
        "topstitched": line.topstitched,
    }


def _install_materials() -> None:
    mill, haberdashery = (
        Supplier.objects.get_or_create(name=name, defaults={"lead_days": days})[0]
        for name, days in (shipped.CLOTH_SUPPLIER, shipped.NOTIONS_SUPPLIER)
    )
    fabric, _ = Fabric.objects.get_or_create(
        code=shipped.FABRIC["code"], defaults={**shipped.FABRIC, "supplier": mill}
    )
    for code, name, hex_color in shipped.COLORS:
        thread, _ = ThreadColor.objects.get_or_create(
            code=code,
            defaults={
                "name": name,
                "hex_color": hex_color,
                "spool_m": shipped.SPOOL_M,
                "price_per_spool": shipped.SPOOL_PRICE,
                "cone_m": shipped.CONE_M,
                "price_per_cone": shipped.CONE_PRICE,
                "supplier": haberdashery,
            },
        )
        FabricColor.objects.get_or_create(
            code=code,
            defaults={
                "fabric": fabric,
                "name": name,
                "hex_color": hex_color,
                "hatch": shipped.HATCHES[code],
                "thread": thread,
            },
        )
        for length_mm in shipped.ZIPPER_LENGTHS_MM:
            Zipper.objects.get_or_create(
                color_code=code,
                length_mm=length_mm,
                defaults={
                    "color_name": name,
                    "hex_color": hex_color,
                    "price": shipped.ZIPPER_PRICE_BASE
                    + shipped.ZIPPER_PRICE_PER_M * length_mm / 1000,
                    "supplier": haberdashery,
                },
            )
    for values in shipped.ELASTICS:
        Elastic.objects.get_or_create(
            place=values["place"], defaults={**values, "supplier": haberdashery}
        )
    for position, values in enumerate(shipped.NOTIONS):
        Notion.objects.get_or_create(
            code=values["code"],
            defaults={**values, "position": position, "supplier": haberdashery},
        )
