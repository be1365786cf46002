"""manage.py add_person: let someone log in."""

from __future__ import annotations

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.models import Group, User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

ROLES = ("maker", "helper")


class Command(BaseCommand):
    help = (
        "Adds a person who can log in. Asks for the password, or reads it from standard input."
        " A maker may do everything; a helper sees tickets and records stages."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name")
        parser.add_argument("--role", choices=ROLES, required=True)

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["name"]
        if User.objects.filter(username=name).exists():
            raise CommandError(f"There is a person named {name} already; choose another name.")
        password = (
            getpass.getpass("Password: ") if sys.stdin.isatty() else sys.stdin.readline().strip()
        )
        person = User(username=name)
        try:
            person.full_clean(exclude=["password"])
            validate_password(password, person)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        person.set_password(password)
        with transaction.atomic():
            person.save()
            person.groups.add(Group.objects.get_or_create(name=options["role"])[0])
        self.stdout.write(f"{name} can log in as {options['role']}.")
