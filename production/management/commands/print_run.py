"""manage.py print_run: write the paper of a run as PDF files."""

from __future__ import annotations

import json
import os
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from patterns.services import workroom
from production.buying.shopping import shopping_of
from production.changing.change_state import load_supplement
from production.changing.supplement_paper import paper_of
from production.cutting import laying_by_hand
from production.errors import ProductionError
from production.handing_over import hand_over_paper
from production.handing_over.hand_over_paper import KINDS as HAND_OVER
from production.models import Recut, Run, Supplement
from production.planning.plan import PlanError
from production.reporting import recut_paper
from production.reporting.reports_state import ticket_report_url
from production.scanning import tag_paper
from production.services import load_plan, load_snapshot
from production.sewing import sewing_paper
from production.stock import cloth_paper

PAPER = {
    "tickets": "cut-tickets",
    "tags": "bundle-tags",
    "supplements": "supplement",
    "recuts": "recut",
    "lays": "lay",
    "shopping": "shopping-list",
    "sewing": "sewing-sheets",
    **HAND_OVER,
}
#: Metres of paper, prices, and what is for a later stage: only for those who ask for it.
ONLY_ASKED = ("lays", "shopping", "sewing", *HAND_OVER)


class Command(BaseCommand):
    help = (
        "Writes the cut tickets and bundle tags of a run as PDF files, and those of each change"
        " after its freeze and of each recut."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("run", help="code of the run, such as R-0001")
        parser.add_argument("--out", type=Path, required=True, metavar="DIR")
        parser.add_argument(
            "--only",
            help=f"some of {','.join(PAPER)}, with commas between; lays are at full size;"
            f" {', '.join(ONLY_ASKED)} are only written when asked for",
        )
        parser.add_argument(
            "--base-url",
            default=os.environ.get("JACKET_MUSTER_URL", "http://localhost:8000"),
            help="address of the site, for the codes that phones read (default: the environment's"
            " JACKET_MUSTER_URL, else %(default)s)",
        )
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        names = chosen_paper(options["only"])
        base = checked_base(options["base_url"])
        run = Run.objects.filter(code=options["run"]).first()
        if run is None:
            known = ", ".join(Run.objects.values_list("code", flat=True)[:20]) or "none yet"
            raise CommandError(f"There is no run '{options['run']}'. Runs: {known}.")
        try:
            options["out"].mkdir(parents=True, exist_ok=True)
            files = [
                file for name in names for file in write_paper(run, name, options["out"], base)
            ]
        except OSError as error:
            raise CommandError(
                f"Cannot write into {options['out']}: {error.strerror}. Choose another folder."
            ) from error
        except (ProductionError, PlanError) as error:
            raise CommandError(str(error)) from error
        if not files:
            raise CommandError(
                f"Run {run.code} has no {' and no '.join(names)}, so nothing was printed."
            )
        if warning := font_warning_for(run):
            self.stderr.write(warning)
        if options["format"] == "json":
            self.stdout.write(json.dumps({"run": run.code, "files": [str(file) for file in files]}))
        else:
            for file in files:
                self.stdout.write(f"{file}")


def chosen_paper(only: str | None) -> list[str]:
    if only is None:
        return [name for name in PAPER if name not in ONLY_ASKED]
    asked = [name.strip() for name in only.split(",")]
    if unknown := [name for name in asked if name not in PAPER]:
        raise CommandError(
            f"--only takes {', '.join(PAPER)}; not {', '.join(repr(name) for name in unknown)}."
        )
    return [name for name in PAPER if name in asked]


def checked_base(url: str) -> str:
    parts = urlsplit(url)
    if parts.scheme not in {"http", "https"} or not parts.netloc:
        raise CommandError(f"--base-url is '{url}'; give an address such as http://workroom:8000.")
    return url.rstrip("/")


def font_warning_for(run: Run) -> str:
    from production.documents.paper import font_warning

    snapshot = load_snapshot(run)
    names = {jacket.member for jacket in snapshot.jackets}
    names |= {jacket.name_on_jacket for jacket in snapshot.jackets}
    return font_warning(names | {order.club for order in snapshot.orders})


def write_paper(run: Run, name: str, folder: Path, base: str) -> list[Path]:
    if name == "supplements":
        return [
            file
            for supplement in run.supplements.order_by("number")
            for file in write_supplement(supplement, folder, base)
        ]
    if name == "recuts":
        return [write_recut(recut, folder, base) for recut in run.recuts.order_by("number")]
    if name == "shopping":
        return [write_shopping_list(run, folder)]
    if name == "lays":
        return [write_lay(run, lay, folder) for lay in laying_by_hand.lays_of_run(run)]
    if name == "sewing":
        return sewing_paper.write_for_run(run, folder, base)
    if name in HAND_OVER:
        return hand_over_paper.write_for_run(run, folder, base, name)
    # Here and not above: the documents load reportlab, which most commands do without.
    from production.documents import bundle_tags, cut_tickets

    path = folder / f"{PAPER[name]}-{run.code}.pdf"
    snapshot, plan = load_snapshot(run), load_plan(run)
    if name == "tickets":
        extras = cloth_paper.ticket_extras(run)
        cut_tickets.write(path, snapshot, plan, ticket_url(run, base), extras)
    else:
        bundle_tags.write(path, snapshot, plan, jacket_url(base), tag_paper.usual_paper())
    return [path]


def write_supplement(supplement: Supplement, folder: Path, base: str) -> list[Path]:
    """The paper of a supplement, and the tag of its jacket unless that was cancelled."""
    from production.documents import bundle_tags, supplements

    run = supplement.run
    code = f"{run.code}-S{supplement.number}"
    path = folder / f"supplement-{code}.pdf"
    own = base + reverse("changes:supplement", args=[run.code, supplement.number])
    supplements.write(path, paper_of(supplement), ticket_url(run, base), own)
    snapshot, plan = load_supplement(supplement)
    if snapshot is None or plan.cut is None:
        return [path]
    tags = folder / f"bundle-tags-{code}.pdf"
    bundle_tags.write(tags, snapshot, plan.cut, jacket_url(base), tag_paper.usual_paper())
    return [path, tags]


def write_lay(run: Run, lay: str, folder: Path) -> Path:
    """A lay at full size as one long page."""
    from production.documents import full_scale

    path = folder / f"lay-{lay}.pdf"
    laid = laying_by_hand.laid_out(run.code, lay)
    full_scale.write_long_page(path, laying_by_hand.full_lay_of(laid))
    return path


def write_shopping_list(run: Run, folder: Path) -> Path:
    """What the run still has to buy, as of today."""
    from production.documents import shopping_list

    path, room = folder / f"{PAPER['shopping']}-{run.code}.pdf", workroom()
    shopping_list.write(path, shopping_of(run), room.length_unit, room.name)
    return path


def write_recut(recut: Recut, folder: Path, base: str) -> Path:
    from production.documents import recut as paper

    path = folder / f"recut-{recut.run.code}-C{recut.number}.pdf"
    paper.write(path, recut_paper.paper_of(recut), ticket_url(recut.run, base))
    return path


def ticket_url(run: Run, base: str) -> Callable[[str], str]:
    return lambda ticket: base + ticket_report_url(run.code, ticket)


def jacket_url(base: str) -> Callable[[str], str]:
    return lambda jacket: base + reverse("production:jacket", args=[jacket])
