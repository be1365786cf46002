"""manage.py record_stage: record that a stage of a jacket is done, as a scan would."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from production.errors import ProductionError
from production.planning.standing import STAGES
from production.tracking import Action, record, said


class Command(BaseCommand):
    help = (
        "Records that a stage of a jacket is done, as a tap on its page would; it then waits for"
        " the next stage. With --back the jacket goes back to STAGE to be mended."
        " --format json prints the jacket, the stage that was recorded, and the event (done or"
        " sent_back)."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("jacket_code", help="as printed on the bundle tag")
        parser.add_argument("stage", help=", ".join(STAGES))
        parser.add_argument("--back", metavar="REASON", help="what is to be mended")
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        stage, reason = options["stage"], options["back"]
        if stage not in STAGES:
            raise CommandError(f"'{stage}' is no stage; stages are {', '.join(STAGES)}.")
        action = Action.DONE if reason is None else Action.SEND_BACK
        try:
            event = record(options["jacket_code"], action, stage, None, reason or "")
        except ProductionError as error:
            raise CommandError(str(error)) from error
        if options["format"] == "json":
            told = {"jacket": event.jacket.code, "stage": event.stage, "event": event.kind}
            self.stdout.write(json.dumps(told, ensure_ascii=False))
        else:
            self.stdout.write(said(event))
