"""Shared by all tests: quick password hashing, plain static files."""

from __future__ import annotations

from django.conf import settings as site_settings
from hypothesis import settings as random_settings

# Hashed file names exist only after collectstatic; tests read the files as they are.
site_settings.STORAGES = {
    **site_settings.STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# The strong hasher costs a quarter of a second per person made.
site_settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# A busy machine is no fault of the code; speed is measured in tests/benchmarks.
random_settings.register_profile("muster", deadline=None)
random_settings.load_profile("muster")
